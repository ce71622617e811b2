"""The rule for judging a contrast when loaves share a mix: what it is compared with, and how.

    fit = fit_trial(trial.counted, "specific_volume", terms)
    L = fit.design.at({"formula": "malted"}) - fit.design.at({"formula": "house"})
    fit.contrast(L)                                               # an Estimate
    fit.f_test(fit.design.term_hypothesis(Term(("formula",))))    # a TermTest

The rule. Days, bakers, oven loads and assessors are fixed blocks; random only when there are many
incomplete ones, when the contrast cannot be estimated otherwise (then they are its unit), or when
comparing within them leaves too little (`between_blocks`). The mix is random, whatever its
variance; only for a contrast whose unit crosses the mixes (a tin changed by oven load) are the
mixes blocks to compare within. Variance of the unit at or above zero: REML with Kenward and Roger's
test. Negative and balanced: the same, which is then the classical split-plot analysis. Negative and
unbalanced, or stuck at the edge: t or F on the unweighted means of the units. Stuck at the edge
where groupings cross, so that there are no such means: variances held at zero or above, which is
conservative. Contrasts inside the unit: unbounded REML throughout. Chosen and confirmed by
simulation: tests/benchmarks/test_calibration.py.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from typing import cast

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from ...trials.columns import BLOCKS
from ..codes import Way, Why
from ..mixed_model.fitting import Contrast
from .arrangement import Arrangement
from .between_blocks import CLEARLY, choices, expected_reach, recovers, shares, units_apart
from .coding import Category, Coded, DesignError
from .design import Design, Term, code_all, design_of
from .estimability import independent_rows
from .judging import ROUNDING, Fitted, Judged, tied
from .kept import MOST_LOAVES, Alike, Response, alike
from .layout import MANY_INCOMPLETE, MOST_FIXED, Layout, find_layout, incomplete
from .units import GROUPINGS, LIES_INSIDE, combined, is_nested

MOST_KEPT = 128  # models, and fits, of small trials


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate(Contrast):
    """A contrast judged, in the measure's unit; all NaN but the estimate where `way` is "none".

    way : how it was judged: "reml", "means", "bounded", "none" (see `judging`). why : the reason, a
        code.
    unit : what is independent for this contrast ("day", "oven_load", "mix", "loaf"); n_units : how
        many there are.
    between : blocks that are not compared within alone; ignored : blocks that are taken as alike,
        since nothing could
        be judged otherwise (see `between_blocks`).
    """

    way: Way
    why: Why
    unit: str
    n_units: int
    between: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TermTest:
    """An F test judged by the same rule; NaN where `way` is "none"."""

    f_value: float
    num_df: int
    den_df: float
    p_value: float
    way: Way
    why: Why
    unit: str
    n_units: int


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitTable:
    """The units that a contrast is judged by.

    unit : what they are called. means : (units,) adjusted for what varies inside them.
    unit_of_loaf : (n,) the row of each loaf's unit.
    fixed : blocks that are compared within; between : those that are not alone (`between_blocks`).
    """

    unit: str
    means: np.ndarray
    unit_of_loaf: np.ndarray
    fixed: tuple[str, ...]
    between: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ManyEstimates:
    """The same contrast, or the same F test, on many responses: arrays (m,)."""

    estimate: np.ndarray  # of the (first) contrast
    standard_error: np.ndarray  # of the (first) contrast
    df: np.ndarray  # of t, or the denominator's of F
    p_value: np.ndarray
    way: np.ndarray


class TrialModel:
    """A trial's terms and layout before any measure: for one measure or for many responses.

    design : the terms without blocks, to make contrasts with. layout : of these loaves.
    """

    def __init__(
        self,
        loaves: pd.DataFrame,
        terms: Sequence[Term],
        numbers: Mapping[str, int] | None = None,
        groupings: Sequence[str] = GROUPINGS,
    ) -> None:
        factors = list(dict.fromkeys(factor for term in terms for factor in term.factors))
        self.numbers = numbers
        self._coded = code_all(loaves, factors, numbers or {})
        self.design: Design = design_of(self._coded, terms, {}, len(loaves))
        self.layout: Layout = find_layout(loaves, factors, groupings)
        self._arrangements: dict[tuple[str, ...], Arrangement] = {}
        self._chosen: dict[bytes, Arrangement | None] = {}
        self._shares: dict[tuple[tuple[str, ...], ...], Arrangement] = {}
        self._opened: dict[Arrangement, Arrangement] = {}
        self._ignored: dict[tuple[tuple[str, ...], ...], Arrangement] = {}

    def arrangement_for(self, L: np.ndarray) -> Arrangement | None:
        """As many blocks fixed as the contrasts L (q, P) allow, coarse ones first; then what
        crosses their unit.

        None when L is tied to another effect however the groupings are arranged.
        """
        key = np.ascontiguousarray(L, dtype=float).tobytes()
        if key not in self._chosen:
            self._chosen[key] = self._choose(L)
        return self._chosen[key]

    def _choose(self, L: np.ndarray) -> Arrangement | None:
        if not self.design.estimable(L).all():
            return None
        arrangement = self._fix(self.layout.blocks, self.arranged(()), L)
        crossing = arrangement.crossing(arrangement.unit_of(arrangement.design.reduced(L)))
        few = [name for name in crossing if self.layout.n(name) <= MOST_FIXED]
        within = self._fix(few, arrangement, L)
        if not len(L) or within.means(within.unit_of(within.design.reduced(L))) is None:
            return within  # nothing is asked, or what is random crosses
        chosen = self._between_too(within, L)
        return (
            chosen
            if chosen.instead or np.isfinite(expected_reach(chosen, L))
            else self._ignoring(chosen, L)
        )

    def _ignoring(self, arrangement: Arrangement, L: np.ndarray) -> Arrangement:
        """Take as few blocks as alike as it takes to judge by anything at all
        (`between_blocks`).
        """
        for left in choices(
            [name for name in (*arrangement.fixed, *arrangement.between) if name in BLOCKS]
        ):
            key = ((*arrangement.fixed, *arrangement.between), left)
            if key not in self._ignored:
                base = self.arranged(tuple(name for name in key[0] if name not in left))
                groups = {name: labels for name, labels in base.groups.items() if name not in left}
                self._ignored[key] = Arrangement(base.design, groups, base.fixed, ignored=left)
            if np.isfinite(expected_reach(self._ignored[key], L)):
                return self._ignored[key]
        return arrangement

    def _between_too(self, within: Arrangement, L: np.ndarray) -> Arrangement:
        """Leave comparing within blocks alone, where that promises a narrower interval
        (`between_blocks`).
        """
        labels = self.layout.codes
        mixes = labels["mix"]
        codes = {factor: self._coded[factor].which for factor in self.design.asked(L)}
        asked = tuple(factor for factor, code in codes.items() if is_nested(mixes, code))
        around = [
            name for name in within.fixed if name in BLOCKS and is_nested(mixes, labels[name])
        ]
        many = tuple(
            name
            for name in within.groups
            if self.layout.groups.get(name) == MANY_INCOMPLETE and is_nested(mixes, labels[name])
        )
        if not asked:
            return within
        if many and not set(many) & {within.unit_of(within.design.reduced(L))}:
            return self._random(self._apart(within.fixed, many, asked))
        best, least = within, expected_reach(within, L)
        if np.isfinite(least):
            around = [
                name
                for name in around
                if any(incomplete(labels[name], codes[factor]) for factor in asked)
            ]
        for left in choices(around):
            apart = self._apart(within.fixed, left, asked)
            reach = expected_reach(apart, L, units_apart(within, apart, L))
            if reach < least * (1 - CLEARLY) and recovers(within, apart, L):
                best, least = apart, reach
        if best is within or not np.isfinite(expected_reach(within, L)):
            return best
        return self._random(best)

    def _apart(
        self, fixed: tuple[str, ...], left: tuple[str, ...], asked: tuple[str, ...]
    ) -> Arrangement:
        """What each of these blocks had of one level of what is asked about, as a unit; the other
        blocks fixed.
        """
        key = (fixed, left, asked)
        if key not in self._shares:
            base = self.arranged(tuple(name for name in fixed if name not in left))
            codes = [self._coded[factor].which for factor in asked]
            self._shares[key] = Arrangement(
                base.design, shares(base.groups, left, codes), base.fixed, between=left
            )
        return self._shares[key]

    def _random(self, apart: Arrangement) -> Arrangement:
        """The same blocks random as they are, judged by their shares where that fit has no inner
        optimum.
        """
        if apart not in self._opened:
            base = self.arranged(apart.fixed)
            self._opened[apart] = Arrangement(
                base.design, base.groups, base.fixed, apart.between, instead=apart
            )
        return self._opened[apart]

    def _fix(self, names: Sequence[str], arrangement: Arrangement, L: np.ndarray) -> Arrangement:
        """Fix all of these groupings; or one after the other, as long as L can still be
        estimated.
        """
        together = self.arranged((*arrangement.fixed, *names))
        if together.design.estimable(L).all():
            return together
        for name in names:
            tried = self.arranged((*arrangement.fixed, name))
            if tried.design.estimable(L).all():
                arrangement = tried
        return arrangement

    def mixes_of(self, factor: str) -> dict[Hashable, int]:
        """Level of a factor → in how many mixes it occurs."""
        coded, mix = self._coded[factor], self.layout.codes["mix"]
        n = int(mix.max()) + 1
        times = np.bincount(np.unique(coded.which * n + mix) // n)
        return dict(zip(coded.coding.levels, times.tolist(), strict=True))

    def cells_of(self, factors: Sequence[str]) -> np.ndarray:
        """Which combination of these factors' levels each loaf had: codes (n,), from 0 on."""
        return combined([self._coded[factor].which for factor in factors])

    def judge(self, responses: np.ndarray, L: np.ndarray) -> ManyEstimates:
        """Judge one contrast (1, P), or one hypothesis (q, P), on every response, a column of (n,
        m).
        """
        L = np.atleast_2d(L)
        arrangement = self.arrangement_for(L)
        if arrangement is None:
            raise DesignError("this contrast cannot be estimated: it is tied to another effect")
        judged = _test(
            Fitted(arrangement, np.asarray(responses, dtype=float)), arrangement.design.reduced(L)
        )
        return ManyEstimates(
            estimate=judged.estimate,
            standard_error=judged.standard_error,
            df=judged.df,
            p_value=judged.p_value,
            way=judged.way,
        )

    def arranged(self, fixed: tuple[str, ...]) -> Arrangement:
        """The trial with these blocks fixed and every other kept grouping random."""
        if fixed not in self._arrangements:
            labels = self.layout.codes
            columns = [block for block in fixed if not self.layout.covered(block, fixed)]
            within = {name: self._block(name) for name in columns}
            design = (
                design_of(self._coded, self.design.terms, within, len(self.layout.labels))
                if columns
                else self.design
            )
            groups = {name: labels[name] for name in self.layout.kept if name not in fixed}
            self._arrangements[fixed] = Arrangement(design, groups, fixed)
        return self._arrangements[fixed]

    def _block(self, name: str) -> Coded:
        """A grouping as a category; its labels are codes from 0 on."""
        levels = tuple(range(self.layout.n(name)))
        return Coded(Category(name, levels), self.layout.codes[name])


@dataclass(frozen=True, kw_only=True)
class TrialFit:
    """One measure of one trial, fitted.

    design : the terms without blocks, to make contrasts with. layout : of the loaves that were
        used.
    left_out : one row a loaf not used: row (its index label) and reason ("no specific_volume", "no
        tin").
    """

    measure: str
    confidence: float
    left_out: pd.DataFrame
    model: TrialModel = field(repr=False)
    response: np.ndarray = field(repr=False)  # (n,) of the loaves used
    _fitted: dict[Arrangement, Fitted] = field(default_factory=dict, repr=False)

    @property
    def design(self) -> Design:
        return self.model.design

    @property
    def layout(self) -> Layout:
        return self.model.layout

    @property
    def n_loaves(self) -> int:
        return len(self.response)

    @property
    def n_mixes(self) -> int:
        """Every loaf is a mix of its own where no mixes were recorded."""
        return self.layout.n("mix")

    def again(
        self, loaves: pd.DataFrame, terms: Sequence[Term], numbers: Mapping[str, int]
    ) -> TrialFit:
        """The same measure fitted to other loaves, or with other terms; errors as of
        `fit_trial`.
        """
        return fit_trial(loaves, self.measure, terms, numbers=numbers, confidence=self.confidence)

    def contrast(self, L: np.ndarray) -> Estimate:
        """Judge one contrast L (P,) over `design.column_names`; why is "tied" where it cannot be
        estimated.
        """
        L = np.atleast_2d(L)
        fitted = self._fitted_for(L)
        if fitted is None:
            return _estimate(tied(1, self.n_loaves), self.confidence)
        return _estimate(fitted.contrast(fitted.arrangement.design.reduced(L)), self.confidence)

    def f_test(self, L: np.ndarray) -> TermTest:
        """Judge a hypothesis L (q, P); rows that depend on others count once. No rows at all: why
        is "tied".
        """
        L = independent_rows(np.atleast_2d(L))
        fitted = self._fitted_for(L) if len(L) else None
        if fitted is None:
            return _term_test(tied(len(L), self.n_loaves))
        return _term_test(_test(fitted, fitted.arrangement.design.reduced(L)))

    def rests_on(self, L: np.ndarray) -> list[Fitted]:
        """What a contrast L (P,) is judged by; `judging.fit_ahead` fits that of many together."""
        fitted = self._fitted_for(np.atleast_2d(L))
        return [each for each in (fitted, fitted and fitted.instead) if each]

    def covariance_of(self, L: np.ndarray) -> np.ndarray:
        """Joint covariance (q, q) of contrasts L (q, P), for Tukey and Dunnett; NaN where none can
        be given.
        """
        fitted = self._fitted_for(np.atleast_2d(L))
        if fitted is None:
            return np.full((len(L), len(L)), np.nan)
        return fitted.covariance(fitted.arrangement.design.reduced(L))[0]

    def compared_within(self, L: np.ndarray) -> tuple[str, ...]:
        """The blocks that one contrast L (P,) is compared within."""
        fitted = self._fitted_for(np.atleast_2d(L))
        return fitted.arrangement.fixed if fitted else ()

    def units_of(self, L: np.ndarray) -> UnitTable | None:
        """The units that one contrast L (P,) is judged by; None where groupings cross or it cannot
        be judged.
        """
        fitted = self._fitted_for(np.atleast_2d(L))
        if fitted is None:
            return None
        fitted = fitted.instead or fitted
        arrangement = fitted.arrangement
        unit = arrangement.unit_of(arrangement.design.reduced(L))
        means = arrangement.means(unit)
        if means is None:
            return None
        return UnitTable(
            unit=unit,
            means=fitted.means_fit(unit).values[:, 0],
            unit_of_loaf=means.unit_of_loaf,
            fixed=arrangement.fixed,
            between=arrangement.between,
        )

    def apart_p_value(self, L: np.ndarray, gone: np.ndarray) -> float:
        """Chance that the units of these loaves (bool) would lie as far from what the others say
        (`unit_means`).

        L (P,) : the contrast by whose units they are judged. NaN where a unit is gone in part, or
        nothing tells.
        """
        fitted = self._fitted_for(np.atleast_2d(L))
        fitted = fitted and (fitted.instead or fitted)
        if fitted is None:
            return np.nan
        unit = fitted.arrangement.unit_of(fitted.arrangement.design.reduced(L))
        means = fitted.arrangement.means(unit)
        if means is None:
            return np.nan
        whole = np.bincount(means.unit_of_loaf[gone], minlength=means.n_units)
        away = whole == np.bincount(means.unit_of_loaf)
        return (
            means.apart_p_value(fitted.means_fit(unit), away) if whole[~away].sum() == 0 else np.nan
        )

    def variances_of(self, L: np.ndarray) -> dict[str, float]:
        """Variances that contrasts L (q, P) rest on, as `variances`; none where L is tied to
        another effect.
        """
        fitted = self._fitted_for(np.atleast_2d(L))
        return _variances(fitted) if fitted else {}

    @cached_property
    def variances(self) -> dict[str, float]:
        """Variances that the tests rest on ("mix", "residual", …), the measure's unit squared; may
        be negative.
        """
        return _variances(self._main)

    @cached_property
    def all_variances(self) -> dict[str, float]:
        """The same with days, oven loads and assessors random too: shares of the scatter, not for
        tests.
        """
        return _variances(Fitted(self.model.arranged(()), self.response[:, None]))

    def residuals(self) -> pd.DataFrame:
        """One row a loaf, with its index: fitted, residual (inside its mix), standardised (0 df:
        NaN). Empty where groupings cross."""
        table = self._unit_table("loaf")
        return table.set_index(self.layout.labels.index) if len(table) else table

    def unit_residuals(self, unit: str = "mix") -> pd.DataFrame:
        """One row a mix (or other random grouping), indexed by its code in `layout.labels`.

        fitted, residual (of its adjusted mean from what terms and blocks say), standardised (0 df:
        NaN). Empty where groupings cross, or where all terms together leave the unit out of the
        model.
        """
        table = self._unit_table(unit)
        if unit not in self._main.arrangement.groups:
            return table.iloc[:0]
        first = self.layout.labels[unit].drop_duplicates()
        return table.set_index(first.to_numpy()) if len(table) else table

    @cached_property
    def _main(self) -> Fitted:
        """Fitted with every block fixed that all terms together allow."""
        L = np.vstack([self.design.term_hypothesis(term) for term in self.design.terms])
        fitted = self._fitted_for(L)
        assert fitted is not None  # a hypothesis holds only what can be estimated
        return fitted

    def _fitted_for(self, L: np.ndarray) -> Fitted | None:
        arrangement = self.model.arrangement_for(L)
        if arrangement is None:
            return None
        if self.n_loaves > MOST_LOAVES:
            return self._fitted.setdefault(arrangement, Fitted(arrangement, self.response[:, None]))
        return _kept_fit(arrangement, Response(self.response.tobytes(), self.response))

    def _unit_table(self, unit: str) -> pd.DataFrame:
        means = self._main.arrangement.means(unit)
        columns = ["fitted", "residual", "standardised"]
        if means is None:
            return pd.DataFrame(columns=columns, dtype=float)
        fit = self._main.means_fit(unit)
        residual = fit.residuals[:, 0]
        residual = np.where(
            np.abs(residual) < ROUNDING * np.abs(self.response).max(), 0.0, residual
        )
        room = np.sqrt(fit.variance[0] * np.where(means.lone, 0.0, 1 - means.leverage))
        standardised = np.divide(residual, room, out=np.full_like(residual, np.nan), where=room > 0)
        return pd.DataFrame(
            np.column_stack([fit.values[:, 0] - residual, residual, standardised]), columns=columns
        )


def fit_trial(
    loaves: pd.DataFrame,
    measure: str,
    terms: Sequence[Term],
    *,
    numbers: Mapping[str, int] | None = None,
    groupings: Sequence[str] = GROUPINGS,
    confidence: float = 0.95,
) -> TrialFit:
    """Fit one measure; loaves without it, or without a factor of the terms, are left out and
    listed.

    loaves : one row a loaf (or a score), void ones already gone. groupings : columns that loaves
    share. Raises DesignError: no such column, too few levels, or no loaf left.
    """
    if measure not in loaves:
        raise DesignError(f"there is no column {measure!r}")
    factors = dict.fromkeys(factor for term in terms for factor in term.factors)
    left_out = _left_out(loaves, [name for name in (measure, *factors) if name in loaves])
    used = loaves.drop(index=left_out["row"].tolist()) if len(left_out) else loaves
    if used.empty:
        raise DesignError(f"no loaf has {measure} and every factor")
    return TrialFit(
        measure=measure,
        confidence=confidence,
        left_out=left_out,
        response=used[measure].to_numpy(float),
        model=trial_model(used, terms, numbers, groupings),
    )


def trial_model(
    loaves: pd.DataFrame,
    terms: Sequence[Term],
    numbers: Mapping[str, int] | None = None,
    groupings: Sequence[str] = GROUPINGS,
) -> TrialModel:
    """Return the model of these loaves; of a trial of the usual size, the one that another measure
    or question may have made.
    """
    if len(loaves) > MOST_LOAVES:
        return TrialModel(loaves, terms, numbers, groupings)
    factors = [factor for term in terms for factor in term.factors]
    around = [key for name in groupings for key in (name, *LIES_INSIDE.get(name, ()))]
    numbered = tuple((numbers or {}).items())
    return _kept_model(alike(loaves, (*factors, *around)), tuple(terms), numbered, tuple(groupings))


@lru_cache(maxsize=MOST_KEPT)
def _kept_model(
    alike: Alike,
    terms: tuple[Term, ...],
    numbers: tuple[tuple[str, int], ...],
    groupings: tuple[str, ...],
) -> TrialModel:
    return TrialModel(alike.loaves, terms, dict(numbers), groupings)


@lru_cache(maxsize=MOST_KEPT)
def _kept_fit(arrangement: Arrangement, response: Response) -> Fitted:
    """The fits of one response under one arrangement, made once for every contrast."""
    return Fitted(arrangement, response.values[:, None])


def _left_out(loaves: pd.DataFrame, needed: Sequence[str]) -> pd.DataFrame:
    """Loaves that lack something, each with the first thing that it lacks."""
    missing = np.column_stack([loaves[name].isna() for name in needed])
    lacking = np.flatnonzero(missing.any(axis=1))
    first = missing[lacking].argmax(axis=1)
    return pd.DataFrame(
        {"row": loaves.index[lacking], "reason": [f"no {needed[column]}" for column in first]}
    )


def _test(fitted: Fitted, L: np.ndarray) -> Judged:
    """An F test; of one row, the square of its t."""
    if len(L) > 1:
        return fitted.f_test(L)
    judged = fitted.contrast(L)
    return replace(judged, statistic=judged.statistic**2)


def _estimate(judged: Judged, confidence: float) -> Estimate:
    """The only response's contrast, with its interval."""
    estimate, error, df = (
        float(part[0]) for part in (judged.estimate, judged.standard_error, judged.df)
    )
    reach = float(stdtrit(df, (1 + confidence) / 2)) * error
    return Estimate(
        estimate=estimate,
        standard_error=error,
        df=df,
        t_value=float(judged.statistic[0]),
        p_value=float(judged.p_value[0]),
        ci_low=estimate - reach,
        ci_high=estimate + reach,
        confidence=confidence,
        way=cast(Way, str(judged.way[0])),
        why=cast(Why, str(judged.why[0])),
        unit=judged.unit,
        n_units=judged.n_units,
        between=judged.between,
        ignored=judged.ignored,
    )


def _term_test(judged: Judged) -> TermTest:
    """The only response's F test."""
    return TermTest(
        f_value=float(judged.statistic[0]),
        num_df=judged.num_df,
        den_df=float(judged.df[0]),
        p_value=float(judged.p_value[0]),
        way=cast(Way, str(judged.way[0])),
        why=cast(Why, str(judged.why[0])),
        unit=judged.unit,
        n_units=judged.n_units,
    )


def _variances(fitted: Fitted) -> dict[str, float]:
    """Of the unbounded fit; held at zero or above where that has no inner optimum and would say
    anything.
    """
    fits = fitted.bounded if fitted.fits.at_edge[0] else fitted.fits
    return dict(zip(fits.names, fits.variances[0].tolist(), strict=True))
