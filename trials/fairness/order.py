"""Does the order of baking or of measuring follow the formula? Then whatever changed meanwhile
looks like it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from pandas.api.typing import DataFrameGroupBy

from ..checks.check import Spot
from ..frozen import frozen
from ..measuring.mixes import mix_codes
from ..words.naming import set_apart
from .conditions import Pair
from .fair_check import fair
from .rearrangement import exchanged, share_as_extreme, smallest_p

BY_CHANCE = 0.05  # an order that chance gives less often than this follows the formula


@fair(
    "baking-order-follows-formula",
    "warning",
    "Whatever changed while baking looks like the formula.",
)
def baking_order(pair: Pair) -> Iterator[Spot]:
    """Was the order of baking drawn by lot?"""
    yield from _follows(pair, "bake_order", "baked")


@fair(
    "measuring-order-follows-formula",
    "warning",
    "Whatever changed while measuring looks like the formula.",
)
def measuring_order(pair: Pair) -> Iterator[Spot]:
    """Was the order of measuring drawn by lot?"""
    yield from _follows(pair, "measure_order", "measured")


@frozen
class RankTest:
    """Whether one formula's mixes come earlier: two-sided p, the smallest p possible, and whether
    it is earlier.
    """

    p_value: float
    smallest_p: float
    earlier: bool
    within_days: bool


def order_test(loaves: pd.DataFrame, name: str, formula: str) -> RankTest:
    """Return the exact rank test of the mixes' mean places, within days where both formulas were
    baked on each.

    Source: Wilcoxon 1945 (Biometrics Bulletin 1: 80-83); within blocks, van Elteren 1960.
    """
    mixes = loaves.groupby(mix_codes(loaves), sort=True)
    is_formula = (mixes["formula"].first() == formula).to_numpy()
    days = _days(mixes, is_formula) if "day" in loaves else np.zeros(len(is_formula), int)
    ranks = mixes[name].mean().groupby(days).rank()
    centred = (ranks - ranks.groupby(days).transform("mean")).to_numpy()
    observed, dealt = exchanged(is_formula, centred, days)
    return RankTest(
        share_as_extreme(observed, dealt), smallest_p(dealt), observed < 0, bool(days.any())
    )


def _days(mixes: DataFrameGroupBy, is_formula: np.ndarray) -> np.ndarray:
    """Return the number of each mix's day, or zeros where some day had only one of the formulas."""
    days = pd.factorize(mixes["day"].first())[0]
    both = all(0 < is_formula[days == day].sum() < (days == day).sum() for day in np.unique(days))
    return days - days.min() if both else np.zeros(len(days), int)


def _follows(pair: Pair, name: str, done: str) -> Iterator[Spot]:
    """Say so when one formula comes earlier than chance explains, or as much earlier as it can."""
    loaves = pair.loaves
    if name not in loaves or loaves[name].isna().any():
        return
    test = order_test(loaves, name, pair.formula)
    wholly = test.p_value <= test.smallest_p * (1 + 1e-9) and test.smallest_p < 0.5
    if test.p_value <= BY_CHANCE or wholly:
        first, second = (
            (pair.formula, pair.against) if test.earlier else (pair.against, pair.formula)
        )
        within = " within the days" if test.within_days else ""
        yield Spot(
            message=(
                f"Mixes of {set_apart(first)} were {done} earlier than mixes of"
                f" {set_apart(second)}{within}: by lot, the"
                f" two would come so far apart {_one_in(test.p_value)}."
            ),
            column=name,
            fix="Next time draw the order by lot within each day (fairloaf plan does it).",
        )


def _one_in(chance: float) -> str:
    return (
        f"once in {1 / chance:.0f} times" if chance >= 0.0005 else "less than once in 2,000 times"
    )
