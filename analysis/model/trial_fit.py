"""One measure of one trial, fitted once for all that is asked of it.

    fit = fit_trial(trial.counted, "specific_volume", terms)
    L = fit.design.at({"formula": "malted"}) - fit.design.at({"formula": "house"})
    fit.contrast(L)                                               # an Estimate
    fit.f_test(fit.design.term_hypothesis(Term(("formula",))))    # a TermTest

Every contrast and hypothesis is judged by the rule of ``mix_rule``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field
from functools import cached_property, lru_cache

import numpy as np
import pandas as pd

from ...trials.frozen import frozen
from .arrangement import Arrangement
from .coding import DesignError
from .design import Design, Term
from .estimability import independent_rows
from .estimates import Estimate, TermTest, UnitTable, estimate_of, term_test_of, tested
from .judging import ROUNDING, Fitted, tied
from .kept import MOST_KEPT, MOST_LOAVES, Response
from .layout import Layout
from .mix_rule import TrialModel, trial_model
from .units import GROUPINGS


@frozen(kw_only=True, slots=False)
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

    def without(self, gone: np.ndarray) -> TrialFit:
        """The same terms fitted to the loaves that are not gone (bool, of those used)."""
        return TrialFit(
            measure=self.measure,
            confidence=self.confidence,
            left_out=self.left_out,
            model=self.model.without(gone),
            response=self.response[~gone],
        )

    def contrast(self, L: np.ndarray) -> Estimate:
        """Judge one contrast L (P,) over `design.column_names`; why is "tied" where it cannot be
        estimated.
        """
        L = np.atleast_2d(L)
        fitted = self._fitted_for(L)
        if fitted is None:
            return estimate_of(tied(1, self.n_loaves), self.confidence)
        return estimate_of(fitted.contrast(fitted.arrangement.design.reduced(L)), self.confidence)

    def f_test(self, L: np.ndarray) -> TermTest:
        """Judge a hypothesis L (q, P); rows that depend on others count once. No rows at all: why
        is "tied".
        """
        L = independent_rows(np.atleast_2d(L))
        fitted = self._fitted_for(L) if len(L) else None
        if fitted is None:
            return term_test_of(tied(len(L), self.n_loaves))
        return term_test_of(tested(fitted, fitted.arrangement.design.reduced(L)))

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
        return _kept_fit(arrangement, self._kept_response)

    @cached_property
    def _kept_response(self) -> Response:
        return Response(self.response.tobytes(), self.response)

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


def _variances(fitted: Fitted) -> dict[str, float]:
    """Of the unbounded fit; held at zero or above where that has no inner optimum and would say
    anything.
    """
    fits = fitted.bounded if fitted.fits.at_edge[0] else fitted.fits
    return dict(zip(fits.names, fits.variances[0].tolist(), strict=True))
