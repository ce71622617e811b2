"""Formulas in the model: their means, the difference of any two, and whether it depends on tin or
proof time.

The terms are those of `term_analysis.py`, so that a comparison and the analysis of all factors give
the same numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
import pandas as pd

from ...trials import Finding, Trial, TrialError
from ...trials.fairness.conditions import Pair
from ...trials.fairness.fairness import not_told_apart
from ...trials.fairness.pairing import Pairing
from ...trials.frozen import frozen
from ..asking.question import Asked, asked_factors
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model import judging
from ..model.at_level import contrast_at_level
from ..model.design import Term
from ..model.estimates import Estimate
from ..model.layout import find_layout
from ..model.term_analysis import analyse_terms
from ..model.trial_fit import TrialFit, fit_trial

FORMULA = "formula"
# F test of formula × factor below this: the formula's effect differs by the factor's level
INTERACTS = 0.05
MEANS = ["formula", "mean", "standard_error", "df", "ci_low", "ci_high", "n_mixes", "n_loaves"]
BY_LEVEL = [
    "factor",
    "level",
    "difference",
    "standard_error",
    "df",
    "ci_low",
    "ci_high",
    "interaction_p",
    "interacts",
]


@frozen(slots=False)
class FormulaFit:
    """One measure fitted with formula among its terms; contrasts are in the measure's unit.

    loaves : those used. terms, numbers : what was fitted (see `trial_fit.fit_trial`).
    """

    fit: TrialFit
    loaves: pd.DataFrame
    terms: tuple[Term, ...]
    numbers: Mapping[str, int]

    @cached_property
    def n_mixes(self) -> dict[str, int]:
        """Return formula → number of mixes used."""
        mixes = self.fit.model.mixes_of(FORMULA)
        return {str(level): mixes.get(level, 0) for level in self.fit.design.levels[FORMULA]}

    @property
    def variances(self) -> dict[str, float]:
        """Return the variances of the fit; none where nothing is left to estimate any from."""
        try:
            return self.fit.variances
        except (NoVariation, NotIdentifiable):
            return {}

    def row(self, formula: str, against: str, **at: object) -> np.ndarray:
        """Return L (P,) of the difference of two formulas, all else averaged equally or at the
        settings given.
        """
        design = self.fit.design
        return design.at({FORMULA: formula, **at}) - design.at({FORMULA: against, **at})

    def difference(self, formula: str, against: str) -> Estimate:
        """Return the difference of two formulas, judged by the rule of `mix_rule.py`."""
        return self.fit.contrast(self.row(formula, against))

    def means(self) -> pd.DataFrame:
        """Return one row a formula: the marginal mean with its interval, and what it rests on."""
        loaves = self.loaves[FORMULA].astype(str).value_counts()
        rows = []
        for formula, n_mixes in self.n_mixes.items():
            mean = self.fit.contrast(self.fit.design.at({FORMULA: formula}))
            rows.append(
                (
                    formula,
                    mean.estimate,
                    mean.standard_error,
                    mean.df,
                    mean.ci_low,
                    mean.ci_high,
                    n_mixes,
                    int(loaves.get(formula, 0)),
                )
            )
        return pd.DataFrame(rows, columns=MEANS)

    def lacks_mixes(self, pair: Sequence[str]) -> bool:
        """Return whether one of these formulas was mixed once only, so that nothing is judged by
        it.
        """
        return min(self.n_mixes[formula] for formula in pair) < 2

    def by_level(
        self, formula: str, against: str, adjust: Callable[[Estimate], tuple[float, float]]
    ) -> pd.DataFrame:
        """Return the difference at each level of every factor that the formula was fitted to depend
        on.

        Levels are combined with everything else averaged equally. A number that enters as a curve
        is shown at its lowest, middle and highest value. NaN where a level was not baked with both
        formulas. adjust : how far an estimate's interval reaches, in standard errors
        (`pair_tests.family_adjustment`).
        """
        rows: list[tuple[object, ...]] = []
        whole = self.row(formula, against)
        alone = self.lacks_mixes((formula, against))
        for factor in self._crossed():
            levels = self._shown_levels(factor)
            L = np.array([self.row(formula, against, **{factor: level}) for level in levels])
            test = self.fit.f_test(L[1:] - L[0])
            for level, row in zip(levels, L, strict=True):
                d = contrast_at_level(self.fit, row, whole)
                error, df = (np.nan, np.nan) if alone else (d.standard_error, d.df)
                half = adjust(d)[0] * error if np.isfinite(df) else np.nan
                rows.append(
                    (
                        factor,
                        level,
                        d.estimate,
                        error,
                        df,
                        d.estimate - half,
                        d.estimate + half,
                        test.p_value,
                        bool(test.p_value < INTERACTS),
                    )
                )
        return pd.DataFrame(rows, columns=BY_LEVEL)

    def without(self, gone: pd.Series) -> FormulaFit:
        """Return the same terms fitted to the loaves that are not gone (bool, the index of
        `loaves`).
        """
        fit = self.fit.without(gone.to_numpy())
        return FormulaFit(fit, self.loaves[~gone], self.terms, self.numbers)

    def _crossed(self) -> list[str]:
        """Return the factors that have an interaction with the formula in the model."""
        pairs = [set(term.factors) - {FORMULA} for term in self.terms if FORMULA in term.factors]
        return [pair.pop() for pair in pairs if len(pair) == 1]

    def _shown_levels(self, factor: str) -> list[object]:
        levels = list(self.fit.design.levels[factor])
        return (
            [levels[0], levels[len(levels) // 2], levels[-1]] if factor in self.numbers else levels
        )


def compared_factors(trial: Trial) -> tuple[str, ...]:
    """Return formula, where it was recorded, and the other factors."""
    return tuple(
        dict.fromkeys(name for name in (FORMULA, *asked_factors(trial)) if name in trial.loaves)
    )


def without_tied(
    trial: Trial, pairing: Pairing, measure: str | None
) -> tuple[Pairing, tuple[Finding, ...]]:
    """Return the pairs that can be told apart from days and other conditions, and a warning of what
    stands in the way of the others: one of each kind for a formula that is left out wholly.

    Raises TrialError where no pair can.
    """
    tied = {
        (formula, against): not_told_apart(
            Pair(trial=trial, formula=formula, against=against, measure=measure)
        )
        for formula, against in pairing.pairs
    }
    left = tuple(pair for pair, found in tied.items() if not found)
    if not left:
        raise TrialError(found for several in tied.values() for found in several)
    compared = {formula for pair in left for formula in pair}
    told = {
        (found.code, *sorted(set(pair) - compared or pair)): found
        for pair, several in reversed(tied.items())
        for found in several
    }
    return pairing.among(left), tuple(
        replace(f, severity="warning") for f in reversed(told.values())
    )


def fit_asked(asked: Asked, free: pd.DataFrame) -> FormulaFit:
    """Fit the loaves that no lid stopped, with the factors that vary among them."""
    varied = [name for name in asked.factors if free[name].nunique() > 1]
    numbers = {name: degree for name, degree in asked.numbers.items() if name in varied}
    return fit_formulas(
        free,
        asked.measure,
        varied,
        numbers=numbers,
        order=asked.order,
        confidence=asked.confidence,
        fit_terms=asked.fit,
    )


def fit_formulas(
    loaves: pd.DataFrame,
    measure: str,
    factors: Sequence[str],
    *,
    numbers: Mapping[str, int],
    order: int,
    confidence: float,
    fit_terms: Callable[..., TrialFit] = fit_trial,
) -> FormulaFit:
    """Fit formula and the other factors with the interactions that these loaves can bear.

    loaves : no measure or factor missing, void loaves gone. fit_terms : how terms are fitted
    (`Asked.fit`). Raises DesignError, NoVariation, NotIdentifiable.
    """
    layout = find_layout(loaves, factors)
    analysis = analyse_terms(
        loaves,
        measure,
        factors,
        layout,
        order=order,
        numbers=numbers,
        confidence=confidence,
        fit_terms=fit_terms,
    )
    terms = analysis.fit.design.terms
    return FormulaFit(
        analysis.fit, loaves, terms, {name: numbers[name] for name in numbers if name in factors}
    )


def fit_ahead(several: Iterable[FormulaFit | None], formulas: tuple[str, str]) -> None:
    """Make what the difference of two formulas rests on, of several fits together; None is none."""
    judging.fit_ahead(
        each for fitted in several if fitted for each in fitted.fit.rests_on(fitted.row(*formulas))
    )


def refit(
    fitted: FormulaFit,
    loaves: pd.DataFrame,
    adjust_for: str | None = None,
    degree: int | None = None,
) -> FormulaFit:
    """Return the terms of a fit on other loaves, with one more condition to adjust for where it is
    named.

    degree : 1 for a condition that enters as a line; None for one whose levels are averaged
        equally.
    """
    numbers = dict(fitted.numbers) | ({adjust_for: degree} if adjust_for and degree else {})
    terms = (*fitted.terms, Term((adjust_for,))) if adjust_for else fitted.terms
    fit = fitted.fit.again(loaves, terms, numbers)
    used = loaves.drop(index=list(fit.left_out["row"])) if len(fit.left_out) else loaves
    return FormulaFit(fit, used, terms, numbers)
