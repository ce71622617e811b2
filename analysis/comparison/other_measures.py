"""What else differed between two formulas: the same difference in the other measures, for
trade-offs.
"""

from __future__ import annotations

from ...trials import Trial, TrialError
from ...trials.columns import MEASURES, label, label_inside, unit
from ...trials.fairness.pairing import choose_pairs
from ...trials.measuring.lids import capped_loaves
from ..asking.question import read_question
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.coding import DesignError
from ..result import DIFFERENCE
from .formula_fit import FORMULA, FormulaFit, compared_factors, fit_asked
from .pair_tests import judge_pairs
from .result import Difference

USUAL = tuple(name for name, measure in MEASURES.items() if measure.beside)


def other_measures(trial: Trial, main: str) -> tuple[str, ...]:
    """Return the measures beside the main one: those on the card, then the usual ones; no
    scores.
    """
    loaves = trial.counted
    wanted = dict.fromkeys((*trial.card.measures, *USUAL))
    return tuple(
        name
        for name in wanted
        if name != main
        and name in loaves
        and not name.startswith("crumb_")
        and loaves[name].dtype.kind == "f"
        and loaves[name].nunique() > 1
    )


def other_difference(
    trial: Trial, formula: str, against: str, measure: str, confidence: float
) -> Difference:
    """Return the difference in one measure, judged as ``compare_formulas`` judges it.

    Raises
    ------
    TrialError: the measure cannot be compared; says why.
    """
    pairing = choose_pairs(trial, formula, against)
    matters = trial.card.matters_for(measure)
    try:
        fitted = _fitted(trial, measure, confidence)
        told = judge_pairs(fitted, pairing.pairs, pairing.family, matters).iloc[0]
    except (DesignError, NoVariation, NotIdentifiable) as fault:
        raise TrialError.one(
            "cannot-compare",
            f"{measure!r} cannot be compared: {fault}.",
            "Ask about fewer factors on the card, or bake more loaves.",
        ) from None
    numbers = {name: float(told[name]) for name in DIFFERENCE}
    return Difference(
        measure=measure,
        label=label(measure, trial.card),
        label_inside=label_inside(measure, trial.card),
        unit=unit(measure, trial.card),
        formula=formula,
        against=against,
        matters=matters,
        verdict=told["verdict"],
        n_mixes=fitted.n_mixes,
        n_loaves=fitted.fit.n_loaves,
        **numbers,
    )


def _fitted(trial: Trial, measure: str, confidence: float) -> FormulaFit:
    """Return the fit of the loaves that no lid stopped, with the factors that still vary among
    them.
    """
    asked = read_question(trial, measure, compared_factors(trial), confidence)
    free = asked.table[~capped_loaves(asked.table, trial.card, measure)]
    if free[FORMULA].nunique() < 2:
        raise DesignError("no two formulas are left to compare")
    return fit_asked(asked, free)
