"""The design matrix of a trial: its terms, marginal means and contrasts, and what can be estimated
at all.

A contrast is a row L over `Design.column_names`, the columns of all terms. Blocks add columns to
the matrix but never to L: they are coded to sum to zero and averaged equally, so their part of
every L is zero.

Sources: marginal means, Searle, Speed and Milliken 1980 (American Statistician 34, 216-221);
estimability by the null space of the matrix, Searle 1971, Linear Models, ch. 5.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations, product

import numpy as np
import pandas as pd

from ...trials.frozen import frozen
from ..mixed_model.by_setting import BySetting
from .coding import Category, Coded, DesignError, Number, code_factor
from .estimability import estimable_part, independent_columns, is_estimable, null_vectors
from .units import combined

MEAN = "mean"
ROUNDING = 1e-9  # of a contrast's largest weight; a smaller one is none


@frozen
class Term:
    """A main effect (one factor) or an interaction (several)."""

    factors: tuple[str, ...]

    @property
    def name(self) -> str:
        """`formula`, `formula × tin`."""
        return " × ".join(self.factors)


@frozen
class Tie:
    """A term whose hypothesis cannot be told apart, wholly or in part, from other terms or blocks.

    lost of `num_df` degrees of freedom of its hypothesis are gone; `tied_to` names the terms and
    blocks.
    """

    term: str
    tied_to: tuple[str, ...]
    lost: int
    num_df: int


@frozen
class Means:
    """Marginal means to be estimated: `levels` (one row each), `L` (k, P) and `estimable` (k,)."""

    levels: pd.DataFrame
    L: np.ndarray
    estimable: np.ndarray


@frozen(kw_only=True)
class Design:
    """Terms and blocks as columns; `matrix` has full rank, `column_names` are all columns of the
    terms.

    matrix : (n, p) what the engine fits: the kept columns of the terms, then of the blocks, held
        once for every setting.
    column_names : (P,) every column of the terms, kept or not; contrasts L have this width.
    columns_of : term name → indices into `column_names` ("mean" is the intercept).
    codings : factor → how it enters (Category or Number); use `levels` and `centre` to look inside.
    kept : indices of the columns of `matrix` among all columns, terms first, then blocks.
    null : (all columns, d) a basis of what the matrix cannot tell apart.
    ties : what cannot be told apart, by name.
    """

    matrix: BySetting
    column_names: tuple[str, ...]
    terms: tuple[Term, ...]
    blocks: tuple[str, ...]
    columns_of: Mapping[str, np.ndarray]
    codings: Mapping[str, Category | Number]
    kept: np.ndarray
    null: np.ndarray
    ties: tuple[Tie, ...]

    @property
    def levels(self) -> dict[str, tuple]:
        """Factor → its levels in order (numbers: the distinct values that were baked)."""
        return {factor: coding.levels for factor, coding in self.codings.items()}

    def at(self, values: Mapping[str, object]) -> np.ndarray:
        """L (P,) of the mean at these settings; other categories averaged equally, other numbers at
        their mean.

        Raises DesignError: a factor that is not in the design, or a level that was not baked.
        """
        unknown = set(values) - set(self.codings)
        if unknown:
            raise DesignError(
                f"not in this design: {', '.join(sorted(unknown))}; it has "
                f"{', '.join(self.codings)}"
            )
        rows = {factor: coding.row(values.get(factor)) for factor, coding in self.codings.items()}
        L = np.zeros(len(self.column_names))
        for name, factors in [(MEAN, ()), *((term.name, term.factors) for term in self.terms)]:
            L[self.columns_of[name]] = _crossed([rows[factor][None, :] for factor in factors], 1)[0]
        return L

    def means(self, factors: Sequence[str]) -> Means:
        """Marginal means of every combination of these factors' levels (numbers: their baked
        values).
        """
        levels = pd.DataFrame(
            list(product(*(self.codings[factor].levels for factor in factors))),
            columns=list(factors),
        )
        rows = [
            self.at(dict(zip(factors, row, strict=True)))
            for row in levels.itertuples(index=False, name=None)
        ]
        L = np.array(rows)
        return Means(levels, L, self.estimable(L))

    def term_hypothesis(self, term: Term) -> np.ndarray:
        """L (q, P): the marginal hypothesis that the term has no effect; only its estimable part (q
        may be 0).
        """
        return self._estimable_part(self._hypothesis(term.name))

    def lack_of_fit(self, factor: str, degree: int) -> np.ndarray:
        """L (levels − 1 − degree, P): the marginal means of a numeric category lie on such a
        polynomial.

        Raises DesignError: levels that are no numbers.
        """
        try:
            values = np.array(self.codings[factor].levels, dtype=float)
        except ValueError:
            raise DesignError(
                f"{factor} has levels that are no numbers, so no line can be tested"
            ) from None
        basis = np.vander((values - values.mean()) / np.ptp(values), degree + 1)
        beside = np.linalg.qr(basis, mode="complete")[0][:, degree + 1 :].T
        return self._estimable_part(beside @ self.means([factor]).L)

    def powers(self, factor: str) -> np.ndarray:
        """L (degree, P): coefficients of (x − centre), (x − centre)², … in the factor's own unit.

        Averaged equally over the other factors; the centre is `centre(factor)`. DesignError for a
        category.
        """
        coding = self._number(factor)
        L = np.zeros((coding.degree, len(self.column_names)))
        for power, column in enumerate(self.columns_of[factor], start=1):
            L[power - 1, column] = coding.scale**-power
        return L

    def centre(self, factor: str) -> float:
        """The mean of a number over the loaves, from which the powers are taken."""
        return self._number(factor).centre

    def asked(self, L: np.ndarray) -> tuple[str, ...]:
        """The factors between whose levels the contrasts L (q, P) go."""
        size = np.abs(np.atleast_2d(L)).max(axis=0, initial=0.0)
        used = size > ROUNDING * size.max(initial=0.0)
        named = {
            factor
            for term in self.terms
            if used[self.columns_of[term.name]].any()
            for factor in term.factors
        }
        return tuple(name for name in self.codings if name in named)

    def estimable(self, L: np.ndarray) -> np.ndarray:
        """Which rows of L (q, P) this trial can estimate: bool (q,)."""
        L = np.atleast_2d(np.asarray(L, dtype=float))
        return is_estimable(L, self.null[: L.shape[1]])

    def reduced(self, L: np.ndarray) -> np.ndarray:
        """The same rows over the columns of `matrix` (q, p), for the engine.

        Raises DesignError: a row that cannot be estimated.
        """
        if not self.estimable(L).all():
            raise DesignError("this contrast cannot be estimated: it is tied to another effect")
        L = np.atleast_2d(np.asarray(L, dtype=float))
        padded = np.zeros((len(L), len(self.null)))
        padded[:, : L.shape[1]] = L
        return padded[:, self.kept]

    def _hypothesis(self, name: str) -> np.ndarray:
        return np.eye(len(self.column_names))[self.columns_of[name]]

    def _estimable_part(self, L: np.ndarray) -> np.ndarray:
        return estimable_part(L, self.null[: L.shape[1]])

    def _number(self, factor: str) -> Number:
        coding = self.codings[factor]
        if not isinstance(coding, Number):
            raise DesignError(f"{factor} is a category in this design, not a number")
        return coding


def interactions(factors: Sequence[str], order: int) -> tuple[Term, ...]:
    """All terms of these factors up to this order, main effects first: order 2 gives the pairs
    too.
    """
    return tuple(Term(some) for size in range(1, order + 1) for some in combinations(factors, size))


def build_design(
    loaves: pd.DataFrame,
    terms: Sequence[Term],
    blocks: Sequence[str] = (),
    numbers: Mapping[str, int] | None = None,
) -> Design:
    """Build the design of these loaves, which have no missing values in any factor or block.

    numbers : factors to enter as a polynomial of this degree, centred and scaled inside; all others
        are categories,
        coded to sum to zero. A pandas Categorical keeps its order of levels; other levels are
        sorted.
    Raises DesignError: a factor that is no column, has missing values, or too few levels; names
    them all.
    """
    factors = list(dict.fromkeys(factor for term in terms for factor in term.factors))
    coded = code_all(loaves, factors, numbers or {})
    within = {block: code_factor(loaves, block, None) for block in blocks}
    return design_of(coded, terms, within, len(loaves))


def design_of(
    coded: Mapping[str, Coded], terms: Sequence[Term], within: Mapping[str, Coded], n: int
) -> Design:
    """Build the design of ``n`` loaves whose factors and blocks (`within`) are coded."""
    which, first = _distinct_settings([*coded.values(), *within.values()], n)
    columns = {
        name: part.coding.rows()[part.which[first]]
        for name, part in (*coded.items(), *within.items())
    }
    pieces = {MEAN: np.ones((len(first), 1))} | {
        term.name: _crossed([columns[factor] for factor in term.factors], len(first))
        for term in terms
    }
    every = [*pieces.items(), *((block, columns[block]) for block in within)]
    full = np.hstack([piece for _, piece in every])
    owner = [name for name, piece in every for _ in range(piece.shape[1])]
    ends = np.cumsum([piece.shape[1] for piece in pieces.values()])
    kept = independent_columns(full, owner)
    null = null_vectors(full, kept)
    positions = {
        name: np.arange(end - piece.shape[1], end)
        for (name, piece), end in zip(pieces.items(), ends.tolist(), strict=True)
    }
    codings = {factor: part.coding for factor, part in coded.items()}
    return Design(
        matrix=BySetting(full[:, kept], which),
        column_names=_column_names(terms, codings),
        terms=tuple(terms),
        blocks=tuple(within),
        columns_of=positions,
        codings=codings,
        kept=kept,
        null=null,
        ties=_ties(terms, positions, owner, null),
    )


def code_all(
    loaves: pd.DataFrame, factors: Sequence[str], numbers: Mapping[str, int]
) -> dict[str, Coded]:
    """Code every factor; one DesignError for all that cannot be."""
    coded, faults = {}, []
    for factor in factors:
        try:
            coded[factor] = code_factor(loaves, factor, numbers.get(factor))
        except DesignError as fault:
            faults.append(str(fault))
    if faults:
        raise DesignError("; ".join(faults))
    return coded


def _distinct_settings(coded: Sequence[Coded], n: int) -> tuple[np.ndarray, np.ndarray]:
    """Which distinct setting each loaf had, and the first loaf of each: rank is found on these,
    however many the loaves."""
    which = combined([np.zeros(n, dtype=int), *(part.which for part in coded)])
    return which, np.unique(which, return_index=True)[1]


def _crossed(columns: Sequence[np.ndarray], n: int) -> np.ndarray:
    """Products of every column with every other: (n, product of the widths)."""
    if not columns:
        return np.ones((n, 1))
    out = columns[0]
    for more in columns[1:]:
        out = (out[:, :, None] * more[:, None, :]).reshape(n, -1)
    return out


def _column_names(
    terms: Sequence[Term], codings: Mapping[str, Category | Number]
) -> tuple[str, ...]:
    names = [MEAN]
    for term in terms:
        names += [
            " × ".join(parts)
            for parts in product(*(codings[factor].names for factor in term.factors))
        ]
    return tuple(names)


def _ties(
    terms: Sequence[Term],
    positions: Mapping[str, np.ndarray],
    owner: Sequence[str],
    null: np.ndarray,
) -> tuple[Tie, ...]:
    """For every term that lost part of its hypothesis: the other terms and blocks that it is tied
    to.
    """
    if not null.shape[1]:
        return ()
    found = []
    for term in terms:
        mine = positions[term.name]
        if not null[mine].any():
            continue
        met = np.flatnonzero(null[:, null[mine].any(axis=0)].any(axis=1))
        others = dict.fromkeys(owner[int(column)] for column in met)
        tied_to = tuple(name for name in others if name not in (term.name, MEAN))
        found.append(Tie(term.name, tied_to, int(np.linalg.matrix_rank(null[mine])), len(mine)))
    return tuple(found)
