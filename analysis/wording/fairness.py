"""What is said of a fair test."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...trials import Finding
from ...trials.columns import label, unit
from ...trials.words.numbers import amount, decimals

if TYPE_CHECKING:
    from ...trials.fairness.conditions import Pair
    from ..model.mix_rule import Estimate


def drift_finding(pair: Pair, slope: Estimate, first: float, last: float) -> Finding:
    """Return the finding that the measure drifted over the baking order; ``slope`` is per place in the order."""
    measure, card = pair.measure or "", pair.trial.card
    change, reach = slope.estimate * (last - first), abs(slope.ci_high - slope.ci_low) / 2 * (last - first)
    way = "rose" if change > 0 else "fell"
    by = amount(abs(change), unit(measure, card), decimals(reach, change))
    return Finding(
        code="drift-over-baking-order", severity="warning", column="bake_order",
        message=f"{label(measure, card)} {way} while baking: by about {by} from the first loaf to the last.",
        why="The oven, the dough's age or the seed changed while baking; an order by lot spreads that evenly.",
        fix="Draw the baking order by lot within each day; look at the difference adjusted for the baking order.",
    )
