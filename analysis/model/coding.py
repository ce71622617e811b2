"""How a factor enters the design: as a category coded to sum to zero, or as a number, centred and
scaled.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from ...trials.frozen import frozen


class DesignError(ValueError):
    """A design that cannot be built, or a question that it cannot answer; says which column and
    why.
    """


@frozen
class Category:
    """A factor as levels: k levels make k − 1 columns, the last level being −1 in all of them."""

    factor: str
    levels: tuple

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(f"{self.factor} {level}" for level in self.levels[:-1])

    def rows(self) -> np.ndarray:
        """(k, k − 1): one row a level."""
        k = len(self.levels)
        rows = np.eye(k, k - 1)
        rows[-1] = -1.0
        return rows

    def row(self, level: object | None) -> np.ndarray:
        """(k − 1,) at one level; None averages all levels equally, which is zero."""
        if level is None:
            return np.zeros(len(self.levels) - 1)
        if level not in self.levels:
            raise DesignError(
                f"{self.factor} {level!r} was not baked; there are "
                f"{', '.join(map(str, self.levels))}"
            )
        place, width = self.levels.index(level), len(self.levels) - 1
        return -np.ones(width) if place == width else np.eye(1, width, place)[0]


@frozen
class Number:
    """A factor as a polynomial of z = (x − centre) / scale; the centre is the loaves' mean."""

    factor: str
    degree: int
    centre: float
    scale: float
    levels: tuple

    @classmethod
    def of(cls, factor: str, degree: int, levels: tuple, which: np.ndarray) -> Number:
        values = np.array(levels, dtype=float)[which]
        centre = float(values.mean())
        return cls(factor, degree, centre, float(np.abs(values - centre).max()), levels)

    @property
    def names(self) -> tuple[str, ...]:
        return (self.factor, *(f"{self.factor}^{power}" for power in range(2, self.degree + 1)))

    def rows(self) -> np.ndarray:
        """(k, degree): one row a value that was baked."""
        return self._powers(np.array(self.levels, dtype=float))

    def row(self, value: object | None) -> np.ndarray:
        """(degree,) at one value; None is the mean, which is zero."""
        return self._powers(np.array([self.centre if value is None else value], dtype=float))[0]

    def _powers(self, values: np.ndarray) -> np.ndarray:
        z = (values - self.centre) / self.scale
        return z[:, None] ** np.arange(1, self.degree + 1)


def is_line(coding: object) -> bool:
    """Return whether a factor enters as a straight line."""
    return isinstance(coding, Number) and coding.degree == 1


def ordered_levels(values: pd.Series) -> tuple:
    """The levels that occur, in a lasting order that does not depend on the rows'."""
    return numbered_levels(values)[0]


def numbered_levels(values: pd.Series) -> tuple[tuple, np.ndarray]:
    """The levels that occur, in a lasting order, and which of them each row has (n,), −1 where it
    is missing.

    In the order of a pandas Categorical; sorted otherwise.
    """
    if isinstance(values.array, pd.Categorical):
        codes, categories = values.array.codes, values.array.categories
        used = np.flatnonzero(np.bincount(codes[codes >= 0], minlength=len(categories)))
        place = np.full(len(categories) + 1, -1)  # the last is for what is missing
        place[used] = np.arange(len(used))
        return tuple(categories[used].tolist()), place[codes]
    codes, distinct = pd.factorize(values)
    found = distinct.tolist()
    try:
        order = sorted(range(len(found)), key=found.__getitem__)
    except TypeError:
        order = sorted(range(len(found)), key=lambda i: str(found[i]))
    place = np.append(np.argsort(order), -1)  # the last is for what is missing
    return tuple(found[i] for i in order), place[codes]


@frozen
class Coded:
    """A factor of some loaves: how it enters, and which of its levels each loaf had (n,)."""

    coding: Category | Number
    which: np.ndarray

    @classmethod
    def of(cls, factor: str, degree: int | None, levels: tuple, which: np.ndarray) -> Coded:
        """Raises DesignError: too few levels."""
        needed = 2 if degree is None else degree + 1
        if len(levels) < needed:
            raise DesignError(f"{factor} has {len(levels)} level(s) and needs at least {needed}")
        if degree is None:
            return cls(Category(factor, levels), which)
        return cls(Number.of(factor, degree, levels, which), which)

    def without(self, gone: np.ndarray) -> Coded:
        """The factor of the loaves that are not gone (bool). Raises DesignError: too few levels."""
        left, which = np.unique(self.which[~gone], return_inverse=True)
        levels = tuple(self.coding.levels[level] for level in left.tolist())
        degree = self.coding.degree if isinstance(self.coding, Number) else None
        return Coded.of(self.coding.factor, degree, levels, which)


def code_factor(loaves: pd.DataFrame, factor: str, degree: int | None) -> Coded:
    """Code one column: a category (the levels that occur, in the order of a pandas Categorical,
    sorted otherwise), or a number of this degree.

    Raises DesignError: no such column, missing values, no number, or too few levels.
    """
    if factor not in loaves:
        raise DesignError(f"there is no column {factor!r}")
    values = loaves[factor]
    levels, which = numbered_levels(values)
    if (which < 0).any():
        raise DesignError(f"{factor} is missing for {int((which < 0).sum())} loaves")
    if degree is not None and not pd.api.types.is_numeric_dtype(values):
        raise DesignError(f"{factor} has values that are no numbers")
    return Coded.of(factor, degree, levels, which)


def centred(table: pd.DataFrame, factors: Iterable[str]) -> list[str]:
    """Return the numbers whose middle value was baked just where that of the others was, half-way;
    none where there is only one.
    """
    middle: dict[str, pd.Series] = {}
    for name in factors:
        values = table[name]
        if pd.api.types.is_numeric_dtype(values) and values.nunique() == 3:
            half = (values.min() + values.max()) / 2
            middle[name] = (values - half).abs() <= 1e-6 * max(abs(half), 1.0)
    found = [name for name, at in middle.items() if at.any()]
    together = all(middle[name].equals(middle[found[0]]) for name in found)
    return found if together and len(found) > 1 else []
