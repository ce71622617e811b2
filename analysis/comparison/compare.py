"""Two formulas, compared fairly: the difference, how sure it is, and whether it matters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from ...trials import Finding, Trial, TrialError
from ...trials.columns import label, unit
from ...trials.fairness.conditions import Pair
from ...trials.fairness.pairing import Pairing, choose_pairs
from ...trials.measuring.lids import capped_loaves
from ...trials.words.numbers import listed
from ..asking.question import Asked, read_question
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.coding import DesignError
from ..model.mix_rule import Estimate
from ..plain_data import plain
from ..verdict import Verdict, verdict
from ..wording.comparison import answer
from .fair_test import FairTest, fair_test
from .formula_fit import FORMULA, FormulaFit, compared_factors, fit_asked, refuse_what_is_tied
from .pair_tests import ADJUSTMENT, judge_pairs
from .percent import Percent, percent_of
from .randomisation import RandomisationTest
from .relabelling import second_opinion
from .settle import Settle, what_would_settle
from .steadiness import Judge, Steadiness, leave_one_out

SETTLED = ("matters", "real but small", "no difference that matters")


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One formula held against another, in the measure's unit, at full precision.

    Where no standard error can be given (one mix of a formula) ``standard_error``, ``df``, the interval and
    ``p_value`` are NaN and ``verdict`` is "not settled". With three formulas or more and none asked for, the pair
    told here is the one that differs most for its standard error; ``pairs`` has all of them.

    Attributes
    ----------
    measure, label, unit : the column compared, what a person reads for it, its unit ("" where it has none)
    formula, against : ``difference`` is the mean of ``formula`` less the mean of ``against``
    matters : smallest difference worth acting on; None where nobody said
    confidence : level of every interval, 0.95 by default
    difference, standard_error, df, ci_low, ci_high, p_value : the interval and p are adjusted by ``adjustment``
    percent : the difference as a percentage of ``against``; None where that mean is not above zero
    verdict : by the interval alone
    sentence : the answer for a person
    means : one row a formula: formula, mean, standard_error, df, ci_low, ci_high, n_mixes, n_loaves;
        marginal means (every other factor's levels weighted equally), intervals for the loaves of these days
    way, why : how the contrast was judged and why so (see ``judging.py``)
    unit_of_analysis, n_units : what was independent ("mix", "day", …) and how many there were
    variances : estimated variances ("mix", "residual", …), squared unit
    n_mixes : formula → number of mixes; n_loaves : loaves used
    left_out : line, loaf, reason: void loaves ("void: …"), loaves without the measure or a factor ("no …"), loaves
        from a lidded tin that was filled ("lid")
    by_level : one row a level of every other factor: factor, level, difference, standard_error, df, ci_low,
        ci_high, verdict, interaction_p, interacts (F test of formula × factor at 5 %)
    pairs : every pair looked at: formula, against, difference, standard_error, df, ci_low, ci_high, p_value
        (adjusted), verdict, way, why, unit, n_units; one row with two formulas
    adjustment : "none" (one pair), "Dunnett" (all against one), "Tukey" (all pairs)
    choice : what was chosen for the reader where it was not asked (see ``pairing.Pairing``), "" where it was
    second_opinion : the randomisation test; None where there is nothing to rearrange (see `relabelling.py`)
    settle : how many more mixes would settle it; None where the verdict is settled, where nothing can be told, or
        where people saw the difference differently, so that it takes more of them
    steadiness : whether the verdict hangs on one mix or one day
    fairness : the table of conditions and its findings
    findings : what stands beside the answer, worst first (the same as of ``fairness``)
    """

    measure: str
    label: str
    unit: str
    formula: str
    against: str
    matters: float | None
    confidence: float
    difference: float
    standard_error: float
    df: float
    ci_low: float
    ci_high: float
    p_value: float
    percent: Percent | None
    verdict: Verdict
    sentence: str
    means: pd.DataFrame
    way: str
    why: str
    unit_of_analysis: str
    n_units: int
    variances: dict[str, float]
    n_mixes: dict[str, int]
    n_loaves: int
    left_out: pd.DataFrame
    by_level: pd.DataFrame
    pairs: pd.DataFrame
    adjustment: str
    choice: str
    second_opinion: RandomisationTest | None
    settle: Settle | None
    steadiness: Steadiness
    fairness: FairTest
    findings: tuple[Finding, ...]

    @property
    def interacting(self) -> tuple[str, ...]:
        """Return the factors by whose levels the formula's effect differs."""
        return tuple(dict.fromkeys(self.by_level.loc[self.by_level["interacts"].astype(bool), "factor"]))

    def _repr_html_(self) -> str:
        from ..report.notebook import comparison_html

        return comparison_html(self)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data under stable names, as ``--json`` prints it; NaN becomes None."""
        hangs_on = [{"kind": kind, "left_out": name} for kind, name in self.steadiness.hangs_on]
        data: dict[str, Any] = plain(self)
        data["steadiness"]["hangs_on"] = hangs_on
        return data | {"interacting": list(self.interacting)}


def compare_formulas(
    trial: Trial, formula: str | None = None, against: str | None = None, measure: str | None = None,
    matters: float | None = None, confidence: float = 0.95,
) -> Comparison:
    """Return how far one formula lies from another, whether that is real, and whether it matters.

    Parameters
    ----------
    formula, against : the card's control, or the other of two formulas, where not given; with three or more and
        neither given, all against the control (Dunnett), or all pairs (Tukey) where there is none
    measure : a column of the loaves; the card's measure where not given
    matters : smallest difference worth acting on, in the measure's unit; the card's where not given

    Raises
    ------
    TrialError: a formula or measure is not there, what matters is no number above zero, fewer than two formulas, the
        formula cannot be told apart from a day or another condition, or nothing can be estimated; names the reason
        and what to do.
    """
    pairing, asked = _questions(trial, formula, against, measure, matters, confidence)
    refuse_what_is_tied(trial, pairing, asked.measure)
    matters = trial.card.matters_for(asked.measure) if matters is None else matters
    capped = capped_loaves(asked.table, trial.card, asked.measure)
    free = _free(asked, capped, pairing)
    try:
        fitted = fit_asked(asked, free)
        pairs = judge_pairs(fitted, pairing.pairs, pairing.family, matters)
        if pairs["difference"].isna().any():
            raise _not_estimable(fitted, pairs)
        comparison = _compared(trial, asked, fitted, pairing, pairs, matters, _left_out(asked, capped))
    except (DesignError, NoVariation, NotIdentifiable) as fault:
        raise TrialError.one("cannot-compare", f"{asked.measure!r} cannot be compared: {fault}.",
                             "Ask about fewer factors on the card, or bake more loaves.") from None
    return replace(comparison, sentence=answer(comparison))


def _questions(trial: Trial, formula: str | None, against: str | None, measure: str | None, matters: float | None,
               confidence: float) -> tuple[Pairing, Asked]:
    """Return which formulas are compared, and in which loaves; every fault of the question is told at once."""
    faults: list[Finding] = []
    if matters is not None and not 0 < matters < np.inf:
        faults.append(Finding(code="matters", severity="error", message=f"A difference of {matters:g} cannot matter.",
                              fix="Give a number above zero in the measure's unit, such as 0.2."))
    pairing = asked = None
    try:
        pairing = choose_pairs(trial, formula, against)
    except TrialError as stop:
        faults += stop.findings
    try:
        asked = read_question(trial, measure, compared_factors(trial), confidence)
    except TrialError as stop:
        faults += stop.findings
    if pairing is None or asked is None or faults:
        raise TrialError(dict.fromkeys(faults))
    return pairing, asked


def _free(asked: Asked, capped: pd.Series, pairing: Pairing) -> pd.DataFrame:
    """Return the loaves that no lid stopped; refuse where a formula has none."""
    free = asked.table[~capped]
    formulas = {formula for pair in pairing.pairs for formula in pair}
    gone = sorted(formulas - set(free[FORMULA].astype(str)))
    if gone:
        lid = " that was not stopped by a lid" if capped.any() else ""
        raise TrialError.one("nothing-to-compare", f"No loaf of {listed(gone)} has {asked.measure!r}{lid}.",
                             "Fill in its column, or ask for another measure.", column=asked.measure)
    return free


def _not_estimable(fitted: FormulaFit, pairs: pd.DataFrame) -> TrialError:
    """Return the refusal of pairs that the loaves cannot tell apart, naming what goes with the formula."""
    row = pairs[pairs["difference"].isna()].iloc[0]
    tied = {name for tie in fitted.fit.design.ties if tie.term == FORMULA for name in tie.tied_to}
    what = listed(sorted(tied)) if tied else "the other conditions together"
    return TrialError.one(
        "formula-not-told-apart", f"{row['formula']} and {row['against']} cannot be told apart from {what}.",
        "Bake both formulas at every level of it, or ask about the levels that had both.")


def _left_out(asked: Asked, capped: pd.Series) -> pd.DataFrame:
    """Return the loaves that are not used, with the reason."""
    lidded = asked.table[capped]
    rows = pd.DataFrame({"line": lidded.get("line"), "loaf": lidded.get("loaf"), "reason": "lid"},
                        index=lidded.index)
    tables = [table for table in (asked.left_out[["line", "loaf", "reason"]], rows) if len(table)]
    return pd.concat(tables, ignore_index=True) if tables else rows


def _compared(trial: Trial, asked: Asked, fitted: FormulaFit, pairing: Pairing, pairs: pd.DataFrame,
              matters: float | None, left_out: pd.DataFrame) -> Comparison:
    """Gather everything that is said of the pair that is told, without the sentence."""
    told = _headline(pairs)
    formula, against = told["formula"], told["against"]
    plain_difference = fitted.difference(formula, against)
    half_width = (told["ci_high"] - told["ci_low"]) / 2
    has_interval = bool(np.isfinite(half_width))
    fairness = fair_test(Pair(trial=trial, formula=formula, against=against, measure=asked.measure), fitted)
    by_level = fitted.by_level(formula, against)
    return Comparison(
        measure=asked.measure, label=label(asked.measure, trial.card), unit=unit(asked.measure, trial.card),
        formula=formula, against=against, matters=matters, confidence=asked.confidence,
        difference=told["difference"], standard_error=told["standard_error"], df=told["df"], ci_low=told["ci_low"],
        ci_high=told["ci_high"], p_value=told["p_value"], verdict=told["verdict"], sentence="",
        percent=percent_of(fitted, formula, against, told["standard_error"], half_width / told["standard_error"]),
        means=fitted.means(), way=told["way"], why=told["why"], unit_of_analysis=told["unit"],
        n_units=int(told["n_units"]), variances=fitted.variances, n_mixes=fitted.n_mixes,
        n_loaves=fitted.fit.n_loaves, left_out=left_out,
        by_level=by_level.assign(verdict=[verdict(*ends, matters) for ends in _intervals(by_level)]),
        pairs=pairs, adjustment=ADJUSTMENT[pairing.family], choice=pairing.choice,
        second_opinion=second_opinion(fitted, formula, against, plain_difference) if has_interval else None,
        settle=_settle(fitted, told, plain_difference, half_width, matters) if has_interval else None,
        steadiness=leave_one_out(fitted, (formula, against), _again(pairing, told, matters), told["verdict"],
                                 has_interval),
        fairness=fairness, findings=fairness.findings,
    )


def _headline(pairs: pd.DataFrame) -> pd.Series:
    """Return the pair that is told: the one with the largest difference for its standard error."""
    t = (pairs["difference"] / pairs["standard_error"]).abs()
    return pairs.iloc[0 if t.isna().all() else int(t.fillna(-1.0).to_numpy().argmax())]


def _intervals(by_level: pd.DataFrame) -> Sequence[tuple[float, float]]:
    return list(zip(by_level["ci_low"], by_level["ci_high"], strict=True))


def _settle(fitted: FormulaFit, told: pd.Series, d: Estimate, half_width: float, matters: float | None
            ) -> Settle | None:
    """Return what would settle it, where it is not settled and more mixes would do it."""
    if told["verdict"] in SETTLED or d.why == "people" or d.unit == "assessor":
        return None
    real = told["ci_low"] > 0 or told["ci_high"] < 0
    return what_would_settle(fitted, told["formula"], told["against"], d, half_width, matters, real)


def _again(pairing: Pairing, told: pd.Series, matters: float | None) -> Judge:
    """Return how the told pair is judged once more, when a unit is left out."""

    def judge(fitted: FormulaFit) -> pd.Series:
        left = {str(level) for level in fitted.fit.design.levels[FORMULA]}
        pairs = [pair for pair in pairing.pairs if set(pair) <= left]
        rows = judge_pairs(fitted, pairs, pairing.family, matters)
        return rows[(rows["formula"] == told["formula"]) & (rows["against"] == told["against"])].iloc[0]
    return judge
