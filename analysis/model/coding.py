"""How a factor enters the design: as a category coded to sum to zero, or as a number, centred and scaled."""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd


class DesignError(ValueError):
    """A design that cannot be built, or a question that it cannot answer; says which column and why."""


@dataclass(frozen=True, slots=True)
class Category:
    """A factor as levels: k levels make k − 1 columns, the last level being −1 in all of them."""
    factor: str
    levels: tuple

    @classmethod
    def of(cls, values: pd.Series) -> Category:
        """The levels that occur: in the order of a pandas Categorical, sorted otherwise."""
        return cls(str(values.name), ordered_levels(values))

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(f"{self.factor} {level}" for level in self.levels[:-1])

    def columns(self, values: pd.Series) -> np.ndarray:
        """(n, k − 1)."""
        return self._table()[pd.Index(self.levels).get_indexer(pd.Index(values))]

    def row(self, level: object | None) -> np.ndarray:
        """(k − 1,) at one level; None averages all levels equally, which is zero."""
        if level is None:
            return np.zeros(len(self.levels) - 1)
        if level not in self.levels:
            raise DesignError(f"{self.factor} {level!r} was not baked; there are "
                              f"{', '.join(map(str, self.levels))}")
        return self._table()[self.levels.index(level)]

    def _table(self) -> np.ndarray:
        k = len(self.levels)
        return np.vstack([np.eye(k - 1), -np.ones((1, k - 1))])


@dataclass(frozen=True, slots=True)
class Number:
    """A factor as a polynomial of z = (x − centre) / scale; the centre is the loaves' mean."""
    factor: str
    degree: int
    centre: float
    scale: float
    levels: tuple

    @classmethod
    def of(cls, values: pd.Series, degree: int) -> Number:
        levels = ordered_levels(values)
        centre = float(values.mean())
        return cls(str(values.name), degree, centre, float(abs(values - centre).max()), levels)

    @property
    def names(self) -> tuple[str, ...]:
        return (self.factor, *(f"{self.factor}^{power}" for power in range(2, self.degree + 1)))

    def columns(self, values: pd.Series) -> np.ndarray:
        """(n, degree)."""
        z = (np.asarray(values, dtype=float) - self.centre) / self.scale
        return z[:, None] ** np.arange(1, self.degree + 1)

    def row(self, value: object | None) -> np.ndarray:
        """(degree,) at one value; None is the mean, which is zero."""
        x = self.centre if value is None else value
        return self.columns(pd.Series([x]))[0]


def ordered_levels(values: pd.Series) -> tuple:
    """The levels that occur, in a lasting order that does not depend on the rows'."""
    if isinstance(values.dtype, pd.CategoricalDtype):
        return tuple(values.cat.remove_unused_categories().cat.categories.tolist())
    distinct: Sequence = pd.unique(values.dropna()).tolist()
    try:
        return tuple(sorted(distinct))
    except TypeError:
        return tuple(sorted(distinct, key=str))


def code_factor(loaves: pd.DataFrame, factor: str, degree: int | None) -> Category | Number:
    """Code one column: a category, or a number of this degree.

    Raises DesignError: no such column, missing values, no number, or too few levels.
    """
    if factor not in loaves:
        raise DesignError(f"there is no column {factor!r}")
    values = loaves[factor]
    if values.isna().any():
        raise DesignError(f"{factor} is missing for {int(values.isna().sum())} loaves")
    if degree is not None and not pd.api.types.is_numeric_dtype(values):
        raise DesignError(f"{factor} has values that are no numbers")
    needed = 2 if degree is None else degree + 1
    if values.nunique() < needed:
        raise DesignError(f"{factor} has {values.nunique()} level(s) and needs at least {needed}")
    return Category.of(values) if degree is None else Number.of(values, degree)
