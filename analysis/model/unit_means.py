"""A contrast judged on the unweighted means of its units: mixes (or days) as single observations.

Loaves are averaged to mixes, mixes to days, each mean counting once however many it is made of.
What varies inside a unit is adjusted for by its own comparison inside the units, so that a mix that
lost its lidded loaves is not taken for a bigger one. The test is the classical one of the unit's
own stratum: t or F with the residual degrees of freedom between units (the containment degrees of
freedom).

Source: unweighted means, Yates 1934 (J. Am. Stat. Assoc. 29, 51-66); combining a between and a
within variance, Satterthwaite 1946 (Biometrics Bulletin 2, 110-114).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
from scipy.special import fdtrc

from ...trials.frozen import frozen
from ..mixed_model.by_setting import BySetting, Centred

TOLERANCE = 1e-9
ROUNDING = 1e-13
ROUGHLY = 1e-6  # of a side's weights: shares are compared no closer


class Averaging:
    """Means over groups of rows, from their labels (n,)."""

    def __init__(self, labels: np.ndarray) -> None:
        codes = np.unique(labels, return_inverse=True)[1]
        self.codes = codes.astype(np.int32)
        self.sizes = np.bincount(codes)
        self._order = np.argsort(codes, kind="stable").astype(np.int32)
        self._starts = np.cumsum(self.sizes) - self.sizes

    @property
    def n_groups(self) -> int:
        return len(self.sizes)

    def sum(self, values: np.ndarray | BySetting) -> np.ndarray:
        """(groups, columns) from (n, columns)."""
        if isinstance(values, BySetting):
            which = values.which[self._order]
            columns = (values.values[:, j][which] for j in range(values.shape[1]))
            return np.column_stack([np.add.reduceat(part, self._starts) for part in columns])
        return np.add.reduceat(values[self._order], self._starts, axis=0)

    def mean(self, values: np.ndarray | BySetting) -> np.ndarray:
        """(groups, columns) from (n, columns)."""
        return self.sum(values) / self.sizes[:, None]

    def centre(self, values: np.ndarray) -> np.ndarray:
        """Each value less the mean of its group."""
        return values - self.mean(values)[self.codes]

    def inside(self, columns: BySetting) -> Centred:
        """A design's columns less the means of the groups."""
        return Centred(columns, [self.mean(columns)], [self.codes])


@frozen
class LeastSquares:
    """Ordinary least squares on columns that may be dependent, made once for any number of
    responses.

    columns : (n, p); sizes : (k,) their singular values.
    seen, unseen : (p, k), (p, p − k) orthonormal directions of the coefficients that vary here, and
        that do not.
    """

    columns: Centred
    sizes: np.ndarray
    seen: np.ndarray
    unseen: np.ndarray

    @classmethod
    def of(cls, columns: Centred) -> LeastSquares:
        """Factor the columns (n, p) by the singular values of their R."""
        _, sizes, directions = np.linalg.svd(columns.root(), full_matrices=True)
        rank = _rank(sizes)
        return cls(columns, sizes[:rank], directions[:rank].T, directions[rank:].T)

    @property
    def rank(self) -> int:
        return len(self.sizes)

    @property
    def turn(self) -> np.ndarray:
        """(p, k): what makes an orthonormal basis of the columns."""
        return self.seen / self.sizes

    @property
    def basis(self) -> BySetting:
        """(n, k) orthonormal, spans columns of which nothing was taken off."""
        return self.columns.rows.turned(self.turn)

    def fit(self, Y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Coefficients (k, m) in the directions seen, and residuals (n, m), of responses that were
        centred as the columns were.

        Projected twice: what the first leaves of the columns by rounding, the second takes (Björck
        1987, Linear Algebra and its Applications 88/89, 31-48).
        """
        projected, left = self.project(Y)
        more, left = self.project(left)
        return (projected + more) / self.sizes[:, None], left

    def project(self, Y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Centred responses (n, m) on the basis (k, m), and what is left of them (n, m)."""
        projected = self.turn.T @ self.columns.products(Y)
        return projected, Y - self.columns @ (self.turn @ projected)

    def weights(self, seen: np.ndarray) -> np.ndarray:
        """(q, n): what combinations (q, k) of the coefficients take from each row."""
        return (self.columns @ (self.turn @ (seen / self.sizes).T)).T

    def leverage(self) -> np.ndarray:
        """(n,) how much of each row's fit is its own."""
        turn = self.turn
        return np.concatenate([np.sum((part @ turn) ** 2, axis=1) for part in self.columns.parts()])


@frozen
class _Step:
    """One averaging: rows to groups, with what varies inside the groups adjusted for."""

    averaging: Averaging
    inside: LeastSquares
    mean_inside: np.ndarray  # (groups, k) means of the inside columns
    df: int

    def values(self, Y: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Adjusted means (groups, m), the inside coefficients (k, m) and the variance inside
        (m,).
        """
        coefficients, residuals = self.inside.fit(self.averaging.centre(Y))
        variance = _mean_square(residuals, self.df, np.abs(Y).max(axis=0))
        return self.averaging.mean(Y) - self.mean_inside @ coefficients, coefficients, variance


def _rank(sizes: np.ndarray) -> int:
    """How many singular values are not rounding."""
    return int(np.sum(sizes > TOLERANCE * max(1.0, sizes.max(initial=0.0))))


def _mean_square(residuals: np.ndarray, df: int, size: np.ndarray) -> np.ndarray:
    """(m,); no number where nothing is left to judge by, zero where all is rounding beside the
    values' size.
    """
    if df <= 0:
        return np.full(residuals.shape[1], np.nan)
    squares = np.sum(residuals**2, axis=0)
    return np.where(squares > (ROUNDING * size) ** 2, squares / df, 0.0)


@frozen
class _Weights:
    """A contrast taken apart: `between` (q, units) on the adjusted means, and per step what it
    leans on inside.
    """

    between: np.ndarray
    inside: tuple[np.ndarray, ...]


@frozen
class MeansFit:
    """The responses' adjusted means: one row a unit, one column a response."""

    values: np.ndarray  # (units, m)
    coefficients: np.ndarray  # (k, m) of the directions seen between units
    residuals: np.ndarray  # (units, m)
    variance: np.ndarray  # (m,) between units
    inside_coefficients: tuple[np.ndarray, ...]
    inside_variances: tuple[np.ndarray, ...]


class UnitMeans:
    """The means analysis of one design at one unit.

    X : (n, p) design; chain : labels (n,) of the nested groupings from the finest to the unit
    itself (none: the loaf is the unit); within : labels (n,) of a coarser grouping to compare
    within, or None.
    """

    def __init__(
        self, X: BySetting, chain: Sequence[np.ndarray], within: np.ndarray | None
    ) -> None:
        self._steps: list[_Step] = []
        rows = X
        self._to_unit = np.arange(len(X), dtype=np.int32)
        for labels in chain:
            step, rows = _take_step(rows, labels[self._first_rows])
            self._steps.append(step)
            self._to_unit = step.averaging.codes[self._to_unit]
        self._within = Averaging(within[self._first_rows]) if within is not None else None
        self._between = LeastSquares.of(
            self._within.inside(rows) if self._within else Centred(rows)
        )
        self.n_units = len(rows)
        lost = self._within.n_groups if self._within else 0
        self.df = self.n_units - self._between.rank - lost
        sizes = self._within.sizes[self._within.codes] if self._within else np.inf
        self.leverage = self._between.leverage() + 1 / sizes

    @property
    def _first_rows(self) -> np.ndarray:
        """A loaf of each present row, to read a grouping's label from."""
        return np.unique(self._to_unit, return_index=True)[1]

    @property
    def unit_of_loaf(self) -> np.ndarray:
        """Which row of the means each loaf went into: (n,)."""
        return self._to_unit

    @cached_property
    def lone(self) -> np.ndarray:
        """(units,) which units have no like, so that they are fitted exactly."""
        return self.leverage > 1 - 1e-7

    def rests_on_one(self, L: np.ndarray) -> bool:
        """More than half of one side of L (1, p) hangs on a single unit that has no like; exactly
        half does not.
        """
        if not self.lone.any():
            return False
        weights = self._weights(L).between[0]
        lone = self.lone & (np.abs(weights) > 1e-9)
        sides = (np.where(weights > 0, weights, 0.0), np.where(weights < 0, -weights, 0.0))
        return any(bool((side[lone] > (0.5 + ROUGHLY) * side.sum()).any()) for side in sides)

    def lacks_inside(self, L: np.ndarray) -> bool:
        """Whether L (q, p) leans on what varies inside units of which nothing is left to judge
        by.
        """
        spent = [step.df <= 0 for step in self._steps]
        return any(spent) and any(
            none_left and np.abs(part / step.inside.sizes).max(initial=0.0) > TOLERANCE
            for none_left, step, part in zip(
                spent, self._steps, self._weights(L).inside, strict=True
            )
        )

    def spread(self, L: np.ndarray) -> float:
        """Variance of the contrasts L (q, p), averaged over them, were the variance of a unit
        one.
        """
        between = self._weights(L).between
        return float(np.sum(between**2) / len(between))

    def apart_p_value(self, fit: MeansFit, gone: np.ndarray) -> float:
        """Chance that these units (bool) would lie as far from what the others say; NaN where
        nothing tells.

        F test of a mean of their own for each direction in which they are free, of the first
        response (the mean shift of one unit is its externally studentised residual: Cook and
        Weisberg 1982, Residuals and Influence in Regression, section 2.2.2).
        """
        basis = self._between.columns.at(gone) @ self._between.turn
        free = np.eye(int(gone.sum())) - basis @ basis.T
        if self._within:
            codes = self._within.codes[gone]
            free -= (codes[:, None] == codes[None, :]) / self._within.sizes[codes]
        q = int(np.sum(np.linalg.eigvalsh(free) > ROUGHLY))
        residual = fit.residuals[gone, 0]
        explained = float(residual @ np.linalg.pinv(free, rcond=ROUGHLY, hermitian=True) @ residual)
        rest, df = float(fit.variance[0]) * self.df - explained, self.df - q
        if q == 0 or df < 1 or not fit.variance[0] > 0:
            return np.nan
        return float(fdtrc(q, df, explained / q / (rest / df))) if rest > 0 else 0.0

    def fit(self, Y: np.ndarray) -> MeansFit:
        """Average the responses (n, m)."""
        inside, variances = [], []
        for step in self._steps:
            Y, coefficients, variance = step.values(Y)
            inside.append(coefficients)
            variances.append(variance)
        centred = self._within.centre(Y) if self._within else Y
        coefficients, residuals = self._between.fit(centred)
        variance = _mean_square(residuals, self.df, np.abs(Y).max(axis=0))
        return MeansFit(Y, coefficients, residuals, variance, tuple(inside), tuple(variances))

    def estimates(self, L: np.ndarray, fit: MeansFit) -> np.ndarray:
        """(q, m) of the contrasts L (q, p)."""
        seen = self._seen(L)
        total = seen[-1] @ fit.coefficients
        for part, coefficients in zip(seen[:-1], fit.inside_coefficients, strict=True):
            total = total + part @ coefficients
        return total

    def covariances(self, L: np.ndarray, fit: MeansFit) -> np.ndarray:
        """(m, q, q): the part between units and the parts inside them."""
        return np.sum(self._parts(L, fit), axis=0)

    def df_of(self, L: np.ndarray, fit: MeansFit) -> np.ndarray:
        """(m,) degrees of freedom of one contrast L (1, p): Satterthwaite where it also leans on
        what is inside.
        """
        parts = [part[:, 0, 0] for part in self._parts(L, fit)]
        dfs = [self.df, *(step.df for step in self._steps)]
        below = sum(part**2 / df for part, df in zip(parts, dfs, strict=True) if df > 0)
        total = sum(parts)
        return np.divide(total**2, below, out=np.full_like(total, float(self.df)), where=below > 0)

    def _parts(self, L: np.ndarray, fit: MeansFit) -> list[np.ndarray]:
        weights = self._weights(L)
        parts = [fit.variance[:, None, None] * (weights.between @ weights.between.T)]
        for step, part, variance in zip(
            self._steps, weights.inside, fit.inside_variances, strict=True
        ):
            scaled = part / step.inside.sizes
            leans = np.abs(scaled).max(initial=0.0) > TOLERANCE
            parts.append(
                (variance if leans else np.zeros_like(variance))[:, None, None]
                * (scaled @ scaled.T)
            )
        return parts

    def _seen(self, L: np.ndarray) -> list[np.ndarray]:
        """L in the directions of each step's inside columns, and last of the columns between
        units.
        """
        seen = []
        for step in self._steps:
            seen.append(L @ step.inside.seen)
            L = L @ step.inside.unseen
        return [*seen, L @ self._between.seen]

    def _weights(self, L: np.ndarray) -> _Weights:
        """Follow a contrast down from the units to the loaves: what it takes from each adjusted
        mean and each inside coefficient (their error enters through the adjustment of the means
        too)."""
        seen = self._seen(L)
        on_rows = self._between.weights(seen[-1])
        between, inside = on_rows, []
        for step, part in zip(reversed(self._steps), reversed(seen[:-1]), strict=True):
            leaning = part - on_rows @ step.mean_inside
            inside.append(leaning)
            if step is self._steps[0]:
                break  # nobody asks what the single loaves weigh
            averaging = step.averaging
            on_rows = (on_rows / averaging.sizes)[:, averaging.codes] + step.inside.weights(leaning)
        return _Weights(between, tuple(reversed(inside)))


def _take_step(rows: BySetting, labels: np.ndarray) -> tuple[_Step, BySetting]:
    """Average the rows of a design over groups; returns the step and the design between the
    groups.
    """
    averaging = Averaging(labels)
    columns = averaging.inside(rows)
    inside, means = LeastSquares.of(columns), columns.taken[0]
    df = len(rows) - averaging.n_groups - inside.rank
    step = _Step(averaging, inside, means @ inside.seen, df)
    return step, BySetting.of(means @ inside.unseen)
