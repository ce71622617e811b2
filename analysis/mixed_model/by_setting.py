"""Columns of a design, held once for every setting instead of once for every loaf.

A million loaves baked at twelve settings have twelve different rows. Sums over loaves are then sums
over settings, and a combination of the columns is looked up. What lies inside the groups
(`Centred`) differs from loaf to loaf; it is worked through in parts that fit a processor's cache.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ...trials.frozen import frozen

PART = 8192  # rows that are looked at together


@frozen(eq=False)
class BySetting:
    """Columns (n, p), of which row i is `values[which[i]]`."""

    values: NDArray  # (settings, p)
    which: NDArray  # (n,)

    @classmethod
    def of(cls, columns: ArrayLike | BySetting) -> BySetting:
        """Columns of which nothing is known, every row a setting of its own."""
        if isinstance(columns, BySetting):
            return columns
        values = np.asarray(columns, float)
        return cls(values, np.arange(len(values)))

    @property
    def shape(self) -> tuple[int, int]:
        """(n, p)."""
        return len(self.which), self.values.shape[1]

    def __len__(self) -> int:
        return len(self.which)

    def __array__(self, dtype: object = None, copy: bool | None = None) -> NDArray:
        """All rows, for those who want them all."""
        return self.values[self.which]

    def __matmul__(self, weights: NDArray) -> NDArray:
        """Combinations of the columns (n, c), from weights (p, c)."""
        return (self.values @ weights)[self.which]

    @property
    def counts(self) -> NDArray:
        """(settings,) how many rows each has."""
        return np.bincount(self.which, minlength=len(self.values))

    def turned(self, weights: NDArray) -> BySetting:
        """Combinations of the columns, held the same way."""
        return BySetting(self.values @ weights, self.which)

    def column(self, j: int) -> NDArray:
        """(n,)."""
        return self.values[:, j][self.which]

    def products(self, Y: NDArray) -> NDArray:
        """XᵀY: (p, m) from (n, m)."""
        if Y.shape[1] > self.values.shape[1]:
            return np.asarray(self).T @ Y
        sums = [np.bincount(self.which, column, len(self.values)) for column in Y.T]
        return self.values.T @ np.column_stack(sums) if sums else np.zeros((self.shape[1], 0))

    def gram(self) -> NDArray:
        """XᵀX: (p, p)."""
        return (self.values.T * self.counts) @ self.values

    def root(self) -> NDArray:
        """R (p, p) with RᵀR = XᵀX, by QR of the settings."""
        return np.asarray(np.linalg.qr(np.sqrt(self.counts)[:, None] * self.values, "r"))


@frozen(eq=False)
class Centred:
    """Columns less what was taken off in each group: row i is `rows[i]` less the sum of
    `taken[k][codes[k][i]]` over the groupings k; none leaves the columns as they are.
    """

    rows: BySetting
    taken: Sequence[NDArray] = ()  # (groups, p) each
    codes: Sequence[NDArray] = ()  # (n,) each

    @property
    def shape(self) -> tuple[int, int]:
        """(n, p)."""
        return self.rows.shape

    def parts(self) -> Iterator[NDArray]:
        """The rows, PART after PART."""
        for start in range(0, len(self.rows), PART):
            yield self.at(slice(start, start + PART))

    def at(self, chosen: slice | NDArray) -> NDArray:
        """Some of the rows."""
        found = self.rows.values[self.rows.which[chosen]]
        for taken, codes in zip(self.taken, self.codes, strict=True):
            found -= taken[codes[chosen]]
        return found

    def __matmul__(self, weights: NDArray) -> NDArray:
        """Combinations of the columns (n, c), from weights (p, c)."""
        found = self.rows @ weights
        for taken, codes in zip(self.taken, self.codes, strict=True):
            found -= (taken @ weights)[codes]
        return found

    def products(self, Y: NDArray) -> NDArray:
        """XᵀY (p, m) of a Y (n, m) from which the same was taken off, so that it sums to zero in
        every group.
        """
        return self.rows.products(Y)

    def root(self) -> NDArray:
        """R (at most p rows, p) with RᵀR = XᵀX, by QR of the rows."""
        if not self.taken:
            return self.rows.root()
        roots = [np.linalg.qr(part, "r") for part in self.parts()]
        return np.asarray(roots[0] if len(roots) == 1 else np.linalg.qr(np.vstack(roots), "r"))
