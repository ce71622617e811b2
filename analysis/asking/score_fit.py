"""A measure that several people scored, fitted score by score, loaf and assessor crossed.

A score is made of the terms (formula, tin …), the day, the mix, the loaf, the assessor, and how
this assessor sees what is asked about. Assessors are fixed blocks; repeated scores count by their
mean.

That last part, assessor × formula for a question about the formula, is random where assessors
scored several loaves of a formula and its variance is estimated above zero: then the interval also
covers that people see a difference differently, and its degrees of freedom are those of Kenward and
Roger, but never fewer than the smaller of the mixes' and of assessor × formula. Where that variance
is estimated at zero or below, the mixes alone judge. Chosen by simulation: leaving the term out
gives up to half false alarms at a nominal 5 % when people differ; always keeping it gives next to
none when they do not, and finds little. The rule has 2.2 to 7.3 % of false alarms (above 6.2 in
15 of 250 cells, most of them with two mixes of each formula and six people or more), and no
published rule that was tried keeps within 3.5 to 6.2: tests/benchmarks/test_score_calibration.py.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from functools import cached_property

import numpy as np
import pandas as pd
from scipy.special import fdtrc, stdtr, stdtrit

from ...trials.frozen import frozen
from ..model.design import Design, Term
from ..model.estimates import Estimate, TermTest
from ..model.judging import LEAST_DF, Fitted
from ..model.mix_rule import trial_model
from ..model.trial_fit import TrialFit, fit_trial
from ..model.units import GROUPINGS, combined

SCORE = "score"
# a grouping: how each assessor sees each level of what is asked about
PEOPLE = "assessor × asked"


@frozen
class PanelScores:
    """The scores behind a measure: row (the loaf's index), assessor, score; one row a loaf and
    assessor.
    """

    scores: pd.DataFrame

    def fit(
        self,
        loaves: pd.DataFrame,
        measure: str,
        terms: Sequence[Term],
        *,
        numbers: Mapping[str, int] | None = None,
        confidence: float = 0.95,
    ) -> PanelFit:
        """Fit the terms to the scores of these loaves; arguments and errors as of
        `trial_fit.fit_trial`.
        """
        base = fit_trial(loaves, measure, terms, numbers=numbers, confidence=confidence)
        labels = base.layout.labels
        factors = list(dict.fromkeys(factor for term in terms for factor in term.factors))
        units = [name for name in GROUPINGS if name in labels and name not in factors]
        known = loaves.loc[labels.index, factors].join(labels[units])
        rows = self.scores.join(known, on="row", how="inner").rename(columns={"row": "loaf"})
        return PanelFit(
            measure=measure,
            confidence=confidence,
            left_out=base.left_out,
            model=base.model,
            response=base.response,
            panel=self,
            rows=rows.reset_index(drop=True),
            units=(*units, "loaf", "assessor"),
            numbers=numbers or {},
        )

    def without(self, assessors: Sequence[str]) -> PanelScores:
        """Return the scores of the others."""
        return PanelScores(self.scores[~self.scores["assessor"].isin(assessors)])


@frozen(kw_only=True, slots=False)
class PanelFit(TrialFit):
    """A measure fitted to the scores behind it: contrasts and tests by the rule above.

    What speaks of loaves and mixes (layout, variances, residuals) is that of the loaves' scores
    (`loaf_score.py`).
    rows : loaf, assessor, score, the factors and the units' labels, one row a score. units : what
        scores share. alike : fitted as if everybody saw every difference alike, where that was
        done before.
    """

    panel: PanelScores
    rows: pd.DataFrame = field(repr=False)
    units: tuple[str, ...]
    numbers: Mapping[str, int]
    alike: TrialFit | None = field(default=None, repr=False)
    _scored: dict[tuple[str, ...], TrialFit | None] = field(default_factory=dict, repr=False)

    @property
    def design(self) -> Design:
        return self._alike.design

    def again(
        self, loaves: pd.DataFrame, terms: Sequence[Term], numbers: Mapping[str, int]
    ) -> TrialFit:
        return self.panel.fit(
            loaves, self.measure, terms, numbers=numbers, confidence=self.confidence
        )

    def without(self, gone: np.ndarray) -> TrialFit:
        left = super().without(gone)
        stay = self.rows["loaf"].isin(left.layout.labels.index).to_numpy()
        return replace(
            self,
            model=left.model,
            response=left.response,
            rows=self.rows[stay].reset_index(drop=True),
            alike=self._alike.without(~stay),
            _scored={},
        )

    def contrast(self, L: np.ndarray) -> Estimate:
        """Judge one contrast; where scores leave it without a standard error, its size is that of
        the loaves.
        """
        alike, people = self._alike.contrast(L), self._people(L)
        if np.isnan(alike.estimate):
            return replace(alike, estimate=super().contrast(L).estimate)
        unit = "loaf" if alike.unit == "mix" and self.layout.mix_assumed else alike.unit
        if people is None or alike.way == "none":
            return told(replace(alike, unit=unit))
        found = at_least_df(people.contrast(L), min(alike.df, self._people_df(L)))
        return told(
            replace(
                found,
                estimate=alike.estimate if found.way == "none" else found.estimate,
                why="people",
                unit=unit,
                n_units=alike.n_units,
            )
        )

    def f_test(self, L: np.ndarray) -> TermTest:
        alike, people = self._alike.f_test(L), self._people(L)
        if people is None or alike.way == "none":
            return alike
        found = people.f_test(L)
        df = max(found.den_df, min(alike.den_df, self._people_df(L)))
        return replace(
            found,
            den_df=df,
            p_value=float(fdtrc(found.num_df, df, found.f_value)),
            why="people",
            unit=alike.unit,
            n_units=alike.n_units,
        )

    def rests_on(self, L: np.ndarray) -> list[Fitted]:
        people = self._differently(self.design.asked(L))
        return [*self._alike.rests_on(L), *(people.rests_on(L) if people else ())]

    def covariance_of(self, L: np.ndarray) -> np.ndarray:
        return (self._people(L) or self._alike).covariance_of(L)

    @cached_property
    def _alike(self) -> TrialFit:
        """Fitted as if everybody saw every difference alike, by a model that another attribute of
        the same loaves and assessors may have made.
        """
        return self.alike or TrialFit(
            measure=self.measure,
            confidence=self.confidence,
            left_out=self.left_out,
            model=trial_model(self.rows, self.model.design.terms, self.numbers, self.units),
            response=self.rows[SCORE].to_numpy(float),
        )

    def _people(self, L: np.ndarray) -> TrialFit | None:
        """Fitted with what people see differently in L (q, P); None where that shows no variance of
        its own.
        """
        people = self._differently(self.design.asked(L))
        return people if people and people.variances_of(L).get(PEOPLE, 0.0) > 0 else None

    def _differently(self, asked: tuple[str, ...]) -> TrialFit | None:
        """As `_seen_differently`, once for each question."""
        if asked not in self._scored:
            self._scored[asked] = self._seen_differently(asked)
        return self._scored[asked]

    def _seen_differently(self, asked: Sequence[str]) -> TrialFit | None:
        """Fitted with assessor × asked; None where nobody scored two loaves of one kind."""
        if not asked or self._n_assessors < 2:
            return None
        assessors = pd.factorize(self.rows["assessor"])[0]
        cells = combined([assessors, self._alike.model.cells_of(asked)])
        if np.bincount(cells).max() < 2:  # an assessor has one row a loaf
            return None
        return replace(self._alike, model=self._alike.model.with_grouping(PEOPLE, cells))

    def _people_df(self, L: np.ndarray) -> float:
        """Degrees of freedom of assessor × what L asks about."""
        cells = self._alike.model.cells_of(self.design.asked(L))
        return float((self._n_assessors - 1) * cells.max())

    @cached_property
    def _n_assessors(self) -> int:
        return int(self.rows["assessor"].nunique())


def told(estimate: Estimate) -> Estimate:
    """Return an estimate, its size alone where less than one degree of freedom stands behind its
    error.
    """
    if not estimate.df < LEAST_DF:
        return estimate
    return replace(
        estimate,
        standard_error=np.nan,
        df=np.nan,
        t_value=np.nan,
        p_value=np.nan,
        ci_low=np.nan,
        ci_high=np.nan,
        way="none",
        why="too few",
    )


def at_least_df(estimate: Estimate, least: float) -> Estimate:
    """Return an estimate with these degrees of freedom, p-value and interval to match, where it has
    fewer.
    """
    if not estimate.df < least:
        return estimate
    reach = float(stdtrit(least, (1 + estimate.confidence) / 2)) * estimate.standard_error
    return replace(
        estimate,
        df=least,
        p_value=float(2 * stdtr(least, -abs(estimate.t_value))),
        ci_low=estimate.estimate - reach,
        ci_high=estimate.estimate + reach,
    )
