"""One attribute's scores on the mixed-model engine, loaf and assessor crossed, judged by the rule of `mix_rule`.

A score is made of the formula and the other factors, the day, the mix, the loaf, the assessor, and how this
assessor sees this formula. Assessors are fixed blocks; repeated scores count by their mean.

Assessor × formula is random where assessors scored several loaves of a formula and its variance is estimated above
zero: then the interval also covers that people see a difference differently, and its degrees of freedom are those
of Kenward and Roger, but never fewer than the smaller of the mixes' and of assessor × formula. Where that variance
is estimated at zero or below, the mixes alone judge. Chosen by simulation: leaving the term out gives up to a third
false alarms at a nominal 5 % when people differ; always keeping it gives next to none when they do not, and finds
little. What the rule achieves: tests/benchmarks/test_score_calibration.py.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.special import fdtrc, stdtr, stdtrit

from ...trials import Trial
from ...trials.columns import CRUMB_PREFIX
from ..asked import Asked, read_question
from ..comparing.formula_fit import FORMULA, FormulaFit, fit_formulas
from ..mixed_model import NotIdentifiable, NoVariation
from ..model.coding import DesignError
from ..model.design import Term
from ..model.mix_rule import Estimate, TrialFit, TrialModel
from ..model.units import GROUPINGS

SCORE = "score"
PAIR = f"assessor × {FORMULA}"
CANNOT = (DesignError, NoVariation, NotIdentifiable)


@dataclass(frozen=True, slots=True)
class PanelFit(FormulaFit):
    """A fit with assessor × formula among its random terms; ``least_df`` are the fewest degrees of freedom."""

    least_df: float

    def difference(self, formula: str, against: str) -> Estimate:
        """Return the difference of two formulas with its degrees of freedom held at ``least_df`` or above."""
        return at_least_df(self.fit.contrast(self.row(formula, against)), self.least_df)


def at_least_df(estimate: Estimate, least: float) -> Estimate:
    """Return an estimate with these degrees of freedom, p-value and interval to match, where it has fewer."""
    if not estimate.df < least:
        return estimate
    reach = float(stdtrit(least, (1 + estimate.confidence) / 2)) * estimate.standard_error
    return replace(estimate, df=least, p_value=float(2 * stdtr(least, -abs(estimate.t_value))),
                   ci_low=estimate.estimate - reach, ci_high=estimate.estimate + reach)


@dataclass(frozen=True, slots=True)
class Question:
    """What is fitted to the scores: terms, numbers (as in `mix_rule.fit_trial`), and the level of the intervals."""

    terms: tuple[Term, ...]
    numbers: Mapping[str, int]
    confidence: float


Models = dict[Hashable, TrialModel]     # designs and layouts of the same loaves and assessors, for all attributes


@dataclass(frozen=True, slots=True)
class ScoreFit:
    """One attribute, fitted.

    fitted : formulas in the model. rows : the scores used, one a loaf and assessor, with the loaf's factors and
    units. question : what was fitted; None when each loaf has one score and no panel stands behind it.
    """

    fitted: FormulaFit
    rows: pd.DataFrame
    question: Question | None = None

    def without(self, assessors: Sequence[str], models: Models) -> ScoreFit | None:
        """Return the terms fitted to the scores of the others; None without a panel. Raises as `fit_scores`."""
        if self.question is None:
            return None
        rows = self.rows[~self.rows["assessor"].isin(assessors)]
        return replace(self, fitted=fit_panel(rows, self.question, models), rows=rows)


def fit_scores(trial: Trial, rows: pd.DataFrame, attribute: str, confidence: float, models: Models) -> ScoreFit:
    """Fit the scores of one attribute.

    rows : `score_rows` of this attribute. models : filled, and used again by the next attribute. The terms are
    those that the loaves can bear, as in every other measure.
    Raises TrialError (nothing to compare), DesignError, NoVariation, NotIdentifiable.
    """
    cells = rows.groupby(["row", "assessor"], dropna=False)[SCORE].mean().reset_index()
    asked = _asked(trial, cells, attribute, confidence)
    units = [name for name in GROUPINGS if name in asked.layout.labels]
    table = cells.join(asked.table[list(asked.factors)], on="row", how="inner")
    table = table.join(asked.layout.labels[units].add_suffix(" unit"), on="row")
    is_panel = table["assessor"].nunique() > 1
    if is_panel and asked.factors == (FORMULA,):
        question = Question((Term((FORMULA,)),), asked.numbers, confidence)
    else:
        by_loaf = fit_formulas(asked.table, asked.measure, asked.factors, numbers=asked.numbers,
                               order=3 if trial.card.three_way else 2, confidence=confidence)
        if not is_panel:
            return ScoreFit(by_loaf, table)
        question = Question(by_loaf.terms, by_loaf.numbers, confidence)
    table[PAIR] = table.groupby(["assessor", FORMULA], observed=True).ngroup()
    return ScoreFit(fit_panel(table, question, models), table, question)


def _asked(trial: Trial, cells: pd.DataFrame, attribute: str, confidence: float) -> Asked:
    """The question put to the loaves that have a score, with the loaf's plain mean as the measure."""
    measure = f"{CRUMB_PREFIX}{attribute}"
    loaves = trial.loaves.assign(**{measure: cells.groupby("row")[SCORE].mean()})
    outcome = {"proof_min"} if trial.card.proof_to == "height" else set()
    factors = [name for name in dict.fromkeys((FORMULA, *trial.factors)) if name in loaves and name not in outcome]
    return read_question(replace(trial, loaves=loaves), measure, factors, confidence)


def fit_panel(table: pd.DataFrame, question: Question, models: Models) -> FormulaFit:
    """Fit single scores by the rule above.

    table : score, row (the loaf), assessor, the factors, "mix unit" and other units, and the code of PAIR.
    """
    units = [name for name in GROUPINGS if f"{name} unit" in table]
    rows = table.rename(columns={"row": "loaf"} | {f"{name} unit": name for name in units})
    mixes = _fit(rows, question, [*units, "loaf", "assessor"], models)
    first, second, *_ = mixes.fit.design.levels[FORMULA]
    if np.isnan(mixes.difference(str(second), str(first)).estimate):
        return _by_loaf(rows, question, units)
    if not _repeated(rows):
        return mixes
    test = mixes.fit.f_test(mixes.fit.design.term_hypothesis(Term((FORMULA,))))
    people = _fit(rows, question, [*units, "loaf", "assessor", PAIR], models)
    if test.way == "none" or not people.fit.variances.get(PAIR, 0.0) > 0:
        return mixes
    df = (rows["assessor"].nunique() - 1) * test.num_df
    return PanelFit(people.fit, people.loaves, people.terms, people.numbers, min(test.den_df, df))


def _by_loaf(rows: pd.DataFrame, question: Question, units: Sequence[str]) -> FormulaFit:
    """Fit the loaves' mean scores: where random assessors leave a difference without a standard error, its size."""
    factors = dict.fromkeys(factor for term in question.terms for factor in term.factors)
    means = rows.groupby("loaf", as_index=False).agg({SCORE: "mean"} | dict.fromkeys([*factors, *units], "first"))
    return _fit(means, question, units, {})


def _fit(rows: pd.DataFrame, question: Question, groupings: Sequence[str], models: Models) -> FormulaFit:
    """Fit scores, none missing, with the model that another attribute of the same loaves and assessors has made."""
    same = pd.util.hash_pandas_object(rows.drop(columns=SCORE), index=False).to_numpy().tobytes()
    key = (same, tuple(groupings), question.terms, tuple(question.numbers.items()))
    if key not in models:
        models[key] = TrialModel(rows, question.terms, question.numbers, groupings)
    fit = TrialFit(measure=SCORE, confidence=question.confidence, left_out=pd.DataFrame(columns=["row", "reason"]),
                   response=rows[SCORE].to_numpy(float), model=models[key])
    return FormulaFit(fit, rows, question.terms, question.numbers)


def _repeated(rows: pd.DataFrame) -> bool:
    """Whether some assessor scored two loaves of a formula."""
    return bool(rows.groupby(PAIR)["loaf"].nunique().max() > 1)


def factor_tests(fit: ScoreFit) -> pd.DataFrame:
    """Return an F test of every term: term, num_df, den_df, f_value, p_value."""
    rows = []
    for term in fit.fitted.fit.design.terms:
        test = fit.fitted.fit.f_test(fit.fitted.fit.design.term_hypothesis(term))
        df = max(test.den_df, _least_df(fit.fitted))
        rows.append((term.name, test.num_df, df, test.f_value, float(fdtrc(test.num_df, df, test.f_value))))
    return pd.DataFrame(rows, columns=["term", "num_df", "den_df", "f_value", "p_value"])


def formula_means(fit: ScoreFit) -> pd.DataFrame:
    """Return the marginal mean of every formula with its interval, and what it rests on."""
    design, rows = fit.fitted.fit.design, fit.rows.assign(formula=fit.rows[FORMULA].astype(str))
    found = []
    for formula, n_mixes in fit.fitted.n_mixes.items():
        mean = at_least_df(fit.fitted.fit.contrast(design.at({FORMULA: formula})), _least_df(fit.fitted))
        own = rows[rows[FORMULA] == formula]
        found.append((formula, mean.estimate, mean.standard_error, mean.df, mean.ci_low, mean.ci_high, n_mixes,
                      own["row"].nunique(), len(own)))
    return pd.DataFrame(found, columns=["formula", "mean", "standard_error", "df", "ci_low", "ci_high", "n_mixes",
                                        "n_loaves", "n_scores"])


def _least_df(fitted: FormulaFit) -> float:
    return fitted.least_df if isinstance(fitted, PanelFit) else 0.0


def mean_matrix(rows: pd.DataFrame, column: str) -> np.ndarray:
    """Return mean scores, one row an assessor and one column a level; NaN where there is none."""
    return rows.pivot_table(index="assessor", columns=column, values=SCORE, observed=True).to_numpy(float)
