"""Two formulas, compared fairly: the difference, how sure it is, and whether it matters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from ...trials import Finding, Trial, TrialError
from ...trials.columns import label, label_inside, unit
from ...trials.fairness.conditions import Pair
from ...trials.fairness.pairing import Pairing, choose_pairs
from ...trials.findings import worst_first
from ...trials.measuring.lids import capped_loaves
from ...trials.words.lists import listed
from ..asking.question import Asked, fill_in, read_question
from ..methods.ties import largest
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.coding import DesignError
from ..model.estimates import Estimate
from ..result import DIFFERENCE
from ..verdict import verdict
from .fair_test import adjusted_for, fair_test
from .formula_fit import FORMULA, FormulaFit, compared_factors, fit_ahead, fit_asked, without_tied
from .pair_tests import ADJUSTMENT, family_adjustment, judge_pair, judge_pairs
from .percent import percent_of
from .reached import reached
from .relabelling import second_opinion
from .result import Comparison
from .settle import Settle, what_would_settle
from .steadiness import Judge, leave_one_out, without_each

SETTLED = ("matters", "real but small", "no difference that matters")


def compare(
    trial: Trial,
    formula: str | None = None,
    against: str | None = None,
    measure: str | None = None,
    matters: float | None = None,
    confidence: float = 0.95,
) -> Comparison:
    """Return how far one formula lies from another, whether that is real, and whether it matters.

    Parameters
    ----------
    formula, against : the card's control, or the other of two formulas, where not given; with three
        or more and
        neither given, all against the control (Dunnett), or all pairs (Tukey) where there is none
    measure : a column of the loaves; the card's measure where not given
    matters : smallest difference worth acting on, in the measure's unit; the card's where not given

    Raises
    ------
    TrialError: a formula or measure is not there, what matters is no number above zero, fewer than
    two formulas, the
        formula cannot be told apart from a day or another condition, or nothing can be estimated;
        names the reason and what to do.
    """
    pairing, asked = _questions(trial, formula, against, measure, matters, confidence)
    pairing, tied = without_tied(trial, pairing, asked.measure)
    matters = trial.card.matters_for(asked.measure) if matters is None else matters
    capped = capped_loaves(asked.table, trial.card, asked.measure)
    free = _free(asked, capped, pairing)
    try:
        fitted = fit_asked(asked, free)
        pairing, unknown = _estimable(fitted, pairing)
        pairs = judge_pairs(fitted, pairing.pairs, pairing.family, matters)
        pairs["reached"] = pd.Series(
            [reached(fitted, *pair) for pair in pairing.pairs], dtype=object
        )
        comparison = _compared(
            trial, asked, fitted, pairing, pairs, matters, _left_out(asked, capped)
        )
    except (DesignError, NoVariation, NotIdentifiable) as fault:
        raise TrialError.one(
            "cannot-compare",
            f"{asked.measure!r} cannot be compared: {fault}.",
            "Ask about fewer factors on the card, or bake more loaves.",
        ) from None
    return replace(comparison, findings=worst_first((*tied, *unknown, *comparison.findings)))


def _questions(
    trial: Trial,
    formula: str | None,
    against: str | None,
    measure: str | None,
    matters: float | None,
    confidence: float,
) -> tuple[Pairing, Asked]:
    """Return which formulas are compared, and in which loaves; every fault of the question is told
    at once.
    """
    faults: list[Finding] = []
    if matters is not None and not 0 < matters < np.inf:
        faults.append(
            Finding(
                code="matters",
                severity="error",
                message=f"A difference of {matters:g} cannot matter.",
                fix="Give a number above zero in the measure's unit, such as 0.2.",
            )
        )
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
        raise TrialError.one(
            "nothing-to-compare",
            f"No loaf of {listed(gone)} has {asked.measure!r}{lid}.",
            fill_in(asked.measure),
            column=asked.measure,
        )
    return free


def _estimable(fitted: FormulaFit, pairing: Pairing) -> tuple[Pairing, tuple[Finding, ...]]:
    """Return the pairs whose difference these loaves can estimate, and a warning of each other one,
    naming what goes with the formula. Raises TrialError where none can.
    """
    known = fitted.fit.design.estimable(np.array([fitted.row(*pair) for pair in pairing.pairs]))
    tied = {name for tie in fitted.fit.design.ties if tie.term == FORMULA for name in tie.tied_to}
    what = listed(sorted(tied)) if tied else "the other conditions together"
    findings = tuple(
        Finding(
            code="formula-not-told-apart",
            severity="warning" if known.any() else "error",
            message=f"{formula} and {against} cannot be told apart from {what}.",
            fix="Bake both formulas at every level of it, or ask about the levels that had both.",
        )
        for (formula, against), found in zip(pairing.pairs, known, strict=True)
        if not found
    )
    if not known.any():
        raise TrialError(findings)
    left = [pair for pair, found in zip(pairing.pairs, known, strict=True) if found]
    return (pairing.among(left) if findings else pairing), findings


def _left_out(asked: Asked, capped: pd.Series) -> pd.DataFrame:
    """Return the loaves that are not used, with the reason."""
    lidded = asked.table[capped]
    rows = pd.DataFrame(
        {"line": lidded.get("line"), "loaf": lidded.get("loaf"), "reason": "lid"},
        index=lidded.index,
    )
    tables = [table for table in (asked.left_out[["line", "loaf", "reason"]], rows) if len(table)]
    return pd.concat(tables, ignore_index=True) if tables else rows


def _compared(
    trial: Trial,
    asked: Asked,
    fitted: FormulaFit,
    pairing: Pairing,
    pairs: pd.DataFrame,
    matters: float | None,
    left_out: pd.DataFrame,
) -> Comparison:
    """Gather everything that is said of the pair that is told, without the sentence."""
    told = _headline(pairs)
    formula, against = told["formula"], told["against"]
    plain_difference = fitted.difference(formula, against)
    half_width = (told["ci_high"] - told["ci_low"]) / 2
    has_interval = bool(np.isfinite(half_width))
    again = _again(pairing, told, matters)
    pair = Pair(trial=trial, formula=formula, against=against, measure=asked.measure)
    adjusted = adjusted_for(pair.conditions, pair, fitted)
    left_out_units = without_each(fitted, (formula, against), has_interval)
    fit_ahead(
        [*adjusted.values(), *(without for *_, without in left_out_units)], (formula, against)
    )
    fairness = fair_test(pair, fitted, adjusted, again)
    by_level = fitted.by_level(
        formula, against, family_adjustment(fitted, pairing.pairs, pairing.family)
    )
    return Comparison(
        measure=asked.measure,
        label=label(asked.measure, trial.card),
        label_inside=label_inside(asked.measure, trial.card),
        unit=unit(asked.measure, trial.card),
        formula=formula,
        against=against,
        matters=matters,
        confidence=asked.confidence,
        **{name: told[name] for name in DIFFERENCE},
        verdict=told["verdict"],
        percent=percent_of(
            fitted, formula, against, told["standard_error"], half_width / told["standard_error"]
        ),
        means=fitted.means(),
        way=told["way"],
        why=told["why"],
        unit_of_analysis=told["unit"],
        n_units=int(told["n_units"]),
        variances=fitted.variances,
        n_mixes=fitted.n_mixes,
        n_loaves=fitted.fit.n_loaves,
        left_out=left_out,
        by_level=by_level.assign(
            verdict=[verdict(*ends, matters) for ends in _intervals(by_level)]
        ),
        pairs=pairs,
        between=told["between"],
        ignored=told["ignored"],
        reached=told["reached"],
        adjustment=ADJUSTMENT[pairing.family],
        choice=pairing.choice,
        second_opinion=(
            None
            if told["reached"] or not has_interval
            else second_opinion(fitted, formula, against, plain_difference)
        ),
        settle=(
            _settle(fitted, told, plain_difference, half_width, matters, pairing)
            if has_interval
            else None
        ),
        steadiness=leave_one_out(
            fitted, (formula, against), left_out_units, again, told["verdict"], has_interval
        ),
        fairness=fairness,
        findings=fairness.findings,
    )


def _headline(pairs: pd.DataFrame) -> pd.Series:
    """Return the pair that is told: the one with the largest difference for its standard error, or
    the largest where none has one.
    """
    size = pairs["difference"].abs()
    told = largest(size / pairs["standard_error"]) or largest(size) or [0]
    return pairs.iloc[told[0]]


def _intervals(by_level: pd.DataFrame) -> Sequence[tuple[float, float]]:
    return list(zip(by_level["ci_low"], by_level["ci_high"], strict=True))


def _settle(
    fitted: FormulaFit,
    told: pd.Series,
    d: Estimate,
    half_width: float,
    matters: float | None,
    pairing: Pairing,
) -> Settle | None:
    """Return what would settle it, where it is not settled and more mixes would do it."""
    if told["verdict"] in SETTLED or d.why == "people" or d.unit == "assessor":
        return None
    real = told["ci_low"] > 0 or told["ci_high"] < 0
    return what_would_settle(
        fitted, told["formula"], told["against"], d, half_width, matters, real, pairing.family
    )


def _again(pairing: Pairing, told: pd.Series, matters: float | None) -> Judge:
    """Return how the told pair is judged once more, when a unit is left out."""

    def judge(fitted: FormulaFit) -> dict[str, Any]:
        left = {str(level) for level in fitted.fit.design.levels[FORMULA]}
        pairs = [pair for pair in pairing.pairs if set(pair) <= left]
        adjust = family_adjustment(fitted, pairs, pairing.family)
        return judge_pair(fitted, (told["formula"], told["against"]), adjust, matters)

    return judge
