"""The design matrix of a trial: its terms, marginal means and contrasts, and what can be estimated at all.

A contrast is a row L over `Design.column_names`, the columns of all terms. Blocks add columns to the matrix
but never to L: they are coded to sum to zero and averaged equally, so their part of every L is zero.

Sources: marginal means, Searle, Speed and Milliken 1980 (American Statistician 34, 216-221);
estimability, Searle 1971, Linear Models, ch. 5.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd


class DesignError(ValueError):
    """A design that cannot be built; says which column and what to do."""


@dataclass(frozen=True, slots=True)
class Term:
    """A main effect (one factor) or an interaction (several)."""
    factors: tuple[str, ...]

    @property
    def name(self) -> str:
        """`formula`, `formula × tin`."""
        return " × ".join(self.factors)


@dataclass(frozen=True, slots=True)
class Tie:
    """An effect that could not be told apart from others in this trial.

    term : the term that lost `n_columns` of its columns; with : names of the terms or blocks it is tied to.
    """
    term: str
    with_: tuple[str, ...]
    n_columns: int
    of_columns: int


@dataclass(frozen=True, slots=True)
class Means:
    """Marginal means to be estimated: `levels` (one row each), `L` (k, P) and `estimable` (k,)."""
    levels: pd.DataFrame
    L: np.ndarray
    estimable: np.ndarray


@dataclass(frozen=True, slots=True)
class Design:
    """Terms and blocks as columns; `matrix` has full rank, `column_names` are all columns of the terms.

    matrix : (n, p) what the engine fits: the kept columns of the terms, then of the blocks.
    column_names : (P,) every column of the terms, kept or not; contrasts L have this width.
    columns_of : term name → indices into `column_names` ("mean" is the intercept).
    levels : factor → its levels in order (numbers: the distinct values that were baked).
    numbers : factor → degree, for factors that enter as a line (1) or a curve (2).
    ties : what cannot be told apart.
    """
    matrix: np.ndarray
    column_names: tuple[str, ...]
    terms: tuple[Term, ...]
    blocks: tuple[str, ...]
    columns_of: Mapping[str, np.ndarray]
    levels: Mapping[str, tuple]
    numbers: Mapping[str, int]
    ties: tuple[Tie, ...]

    def at(self, values: Mapping[str, object]) -> np.ndarray:
        """L (P,) of the mean at these settings; other categories averaged equally, other numbers at their mean."""
        raise NotImplementedError

    def means(self, factors: Sequence[str]) -> Means:
        """Marginal means of every combination of these factors' levels (numbers: their baked values)."""
        raise NotImplementedError

    def term_hypothesis(self, term: Term) -> np.ndarray:
        """L (q, P): marginal hypothesis that the term has no effect; only its estimable part, so q may be 0."""
        raise NotImplementedError

    def powers(self, factor: str) -> np.ndarray:
        """L (degree, P): coefficients of (x − centre), (x − centre)², in the factor's own unit; averaged over
        the other factors. The centre is `centre(factor)`."""
        raise NotImplementedError

    def centre(self, factor: str) -> float:
        """The mean of a number over the loaves: where the powers are taken from."""
        raise NotImplementedError

    def lack_of_fit(self, factor: str, degree: int) -> np.ndarray:
        """L (levels − 1 − degree, P): for a number entered as a category, that its marginal means lie on a
        polynomial of this degree."""
        raise NotImplementedError

    def estimable(self, L: np.ndarray) -> np.ndarray:
        """Which rows of L can be estimated from this trial: bool (q,)."""
        raise NotImplementedError

    def reduced(self, L: np.ndarray) -> np.ndarray:
        """The same rows over the columns of `matrix` (q, p), for the engine. DesignError if not estimable."""
        raise NotImplementedError


def build_design(loaves: pd.DataFrame, terms: Sequence[Term], blocks: Sequence[str] = (),
                 numbers: Mapping[str, int] | None = None) -> Design:
    """Build the design of these loaves (no missing values in any factor or block).

    numbers : factors to enter as a polynomial of this degree, centred and scaled inside; all others are
        categories, coded to sum to zero. A pandas Categorical keeps its order of levels; else they are sorted.
    Raises DesignError: a factor that is not a column, has missing values, or one level only; names all.
    """
    raise NotImplementedError


def interactions(factors: Sequence[str], order: int) -> tuple[Term, ...]:
    """All terms of these factors up to this order, main effects first: order 2 gives pairs too."""
    raise NotImplementedError
