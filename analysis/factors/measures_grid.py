"""Several measures at once: what each factor did to each, in one grid, and the overall
desirability.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from ...trials import Trial, TrialError
from ...trials.columns import CRUMB_PREFIX, DERIVED, label, label_inside, unit
from ..plain_data import records
from ..verdict import verdict
from .analyse import factor_sizes
from .desirability import desirability_table, says_enough
from .result import FactorSizes, MeasuresGrid

GRID = [
    "factor",
    "measure",
    "low_level",
    "high_level",
    "size",
    "ci_low",
    "ci_high",
    "adjustment",
    "p_value",
    "p_holm",
    "matters",
    "verdict",
    "direction",
    "wanted",
]


def grid_of_measures(
    trial: Trial,
    measures: Sequence[str] | None = None,
    factors: Sequence[str] | None = None,
    confidence: float = 0.95,
) -> MeasuresGrid:
    """Return the effect of each factor on each measure of the card (all derived measures where the
    card is silent).

    Raises
    ------
    TrialError: no such factor, or not one of the measures can be analysed; says why for each.
    """
    wanted = tuple(measures) if measures else _on_card(trial)
    found: dict[str, FactorSizes] = {}
    stopped: dict[str, TrialError] = {}
    for name in wanted:
        try:
            found[name] = factor_sizes(trial, name, factors, confidence)
        except TrialError as stop:
            stopped[name] = stop
    if not found:
        raise TrialError(
            list(dict.fromkeys(finding for stop in stopped.values() for finding in stop.findings))
        )
    return _gathered(
        trial, wanted, found, {name: str(stop) for name, stop in stopped.items()}, confidence
    )


def _on_card(trial: Trial) -> tuple[str, ...]:
    """The card's measures and scores; where it names none, every derived measure that was
    recorded.
    """
    card = trial.card
    scored = [f"{CRUMB_PREFIX}{name}" for name in (card.scores.attributes if card.scores else ())]
    named = dict.fromkeys([*([card.measure] if card.measure else []), *card.measures, *scored])
    recorded = [column.name for column in DERIVED if column.name in trial.loaves]
    return tuple(named) or tuple(recorded)


def _gathered(
    trial: Trial,
    wanted: tuple[str, ...],
    found: dict[str, FactorSizes],
    stopped: dict[str, str],
    confidence: float,
) -> MeasuresGrid:
    factors = tuple(dict.fromkeys(name for f in found.values() for name in f.factors))
    targets = {
        name: trial.card.measures[name]
        for name in found
        if name in trial.card.measures and says_enough(trial.card.measures[name])
    }
    there = [
        f.interactions[f.interactions["there"]].assign(measure=name)[["measure", "term", "p_value"]]
        for name, f in found.items()
    ]
    some = next(iter(found.values()))
    rows = [row for factor in factors for f in found.values() for row in _rows(trial, f, factor)]
    return MeasuresGrid(
        measures=wanted,
        factors=factors,
        confidence=confidence,
        labels={name: label(name, trial.card) for name in wanted},
        labels_inside={name: label_inside(name, trial.card) for name in wanted},
        units={name: unit(name, trial.card) for name in wanted},
        factor_labels=dict(some.factor_labels),
        factor_units=dict(some.factor_units),
        ends={
            factor: found_ends for factor in factors if (found_ends := _ends(some.means, factor))
        },
        grid=pd.DataFrame(rows, columns=GRID),
        interactions=pd.concat(there, ignore_index=True),
        not_answered=stopped,
        desirability=desirability_table(trial, targets, factors) if targets else None,
    )


def _rows(trial: Trial, f: FactorSizes, factor: str) -> list[dict[str, Any]]:
    """The cell of one factor and measure; empty where nothing can be said."""
    own = f.effects[f.effects["factor"] == factor]
    said = trial.card.measures.get(f.measure)
    direction = _direction(f, factor)
    better = {"higher": "up", "lower": "down"}.get((said.better or "") if said else "")
    wanted = "" if not (direction and better) else "better" if direction == better else "worse"
    p_holm = f.tests.set_index("term")["p_holm"].get(factor, np.nan)
    more = {
        "measure": f.measure,
        "p_holm": p_holm,
        "matters": np.nan if f.matters is None else f.matters,
        "direction": direction,
        "wanted": wanted,
    }
    return [
        row | more | {"verdict": verdict(row["ci_low"], row["ci_high"], f.matters)}
        for row in records(own)
    ]


def _direction(f: FactorSizes, factor: str) -> str:
    """Where the measure went from the first to the last level, when an effect is shown."""
    effect = f.effects[f.effects["factor"] == factor]
    means = f.means[(f.means["term"] == factor) & f.means["mean"].notna()]
    if effect.empty or not effect["ci_low"].iloc[0] > 0 or _ends(f.means, factor) is None:
        return ""
    return "up" if means["mean"].iloc[-1] > means["mean"].iloc[0] else "down"


def _ends(means: pd.DataFrame, factor: str) -> tuple[object, object] | None:
    """The first and the last level, where going from one to the other has a meaning: two levels, or
    numbers.
    """
    own = means[means["term"] == factor]
    ordered = len(own) == 2 or all(isinstance(levels[0], float) for levels in own["levels"])
    return (own["level"].iloc[0], own["level"].iloc[-1]) if len(own) and ordered else None
