"""In what else a factor's two levels stood apart, and what its effect becomes adjusted for that.

The rule is that of two formulas (`comparison/fair_test.py`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from ...trials import Trial
from ...trials.fairness.conditions import Pair
from ..asking.question import Asked
from ..comparison.fair_test import COLUMNS, stood_apart
from ..comparison.formula_fit import FormulaFit
from ..model.design import Term
from ..plain_data import records
from ..verdict import verdict
from .effect_sizes import Row, contrasts_of
from .parts import Part

STOOD_APART = ["factor", *COLUMNS]


def stood_apart_in(
    trial: Trial, asked: Asked, parts: Sequence[Part], effects: pd.DataFrame
) -> pd.DataFrame:
    """Return the conditions in which the two levels of a settled effect stood visibly apart.

    One row a factor and condition, by the names of `STOOD_APART`. A number that enters as a curve
    has no two levels whose loaves could be held against each other, and no row.
    """
    matters = trial.card.matters_for(asked.measure)
    tables = [
        _of_effect(effect, trial, asked, part)
        for effect in records(effects)
        for part in parts
        if verdict(effect["ci_low"], effect["ci_high"], matters) != "not settled"
        and effect["factor"] not in asked.numbers
        and part.answers(effect["factor"])
    ]
    found = [table for table in tables if len(table)]
    return pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=STOOD_APART)


def _of_effect(effect: Mapping[Any, Any], trial: Trial, asked: Asked, part: Part) -> pd.DataFrame:
    factor, high, low = (effect[name] for name in ("factor", "high_level", "low_level"))
    pair = Pair(trial=trial, formula=high, against=low, measure=asked.measure, factor=factor)
    terms = part.analysis.fit.design.terms
    fitted_for = {name for term in terms for name in term.factors}
    numbers = {name: n for name, n in asked.numbers.items() if name in fitted_for}
    fitted = FormulaFit(part.analysis.fit, part.loaves, terms, numbers)

    def judge(again: FormulaFit) -> dict[str, Any]:
        pairs = contrasts_of(again.fit, Term((factor,)), trial.card.control)
        return _high_less_low(pairs, high, low)

    table = stood_apart(pair, fitted, judge).table
    return table.assign(factor=factor)[STOOD_APART]


def _high_less_low(pairs: Sequence[Row], high: object, low: object) -> dict[str, float]:
    """Return one pair of levels as it is told, the one that lay higher less the other; NaN where
    the pair can no longer be estimated.
    """
    for row in pairs:
        if (row["first"], row["second"]) == (high, low):
            return {name: row[name] for name in ("difference", "ci_low", "ci_high")}
        if (row["first"], row["second"]) == (low, high):
            ends = (-row["difference"], -row["ci_high"], -row["ci_low"])
            return dict(zip(("difference", "ci_low", "ci_high"), ends, strict=True))
    return dict.fromkeys(("difference", "ci_low", "ci_high"), math.nan)
