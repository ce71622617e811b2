"""Did the loaves change in the order of baking? A description beside the fair-test table, not a
test.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ...trials import Trial
from ...trials.frozen import frozen

FEWEST_LOAVES = 6


@frozen(kw_only=True)
class BakingOrder:
    """The loaves in the order of baking, and the straight line through what the factors leave
    unexplained.

    loaves : one row a loaf: loaf, formula ("" where there is none), bake_order, left_over (the
        measure's unit)
    slope : the measure's change from one place in the order to the next, by least squares
    middle : the mean place, where the line is zero
    """

    loaves: pd.DataFrame
    measure: str
    slope: float
    middle: float

    def line(self, order: float) -> float:
        """Return the line's height at a place in the order, in the measure's unit."""
        return self.slope * (order - self.middle)


def baking_order(trial: Trial, measure: str, left_over: pd.DataFrame) -> BakingOrder | None:
    """Return the loaves in the order of baking, or None where it was not written down or did not
    vary.

    left_over : one row a loaf (``line``, ``residual``): what the factors and mixes do not explain
    """
    if "bake_order" not in trial.counted:
        return None
    wanted = [c for c in ("line", "loaf", "formula", "bake_order") if c in trial.counted]
    loaves = (
        trial.counted[wanted]
        .merge(left_over[["line", "residual"]], on="line")
        .dropna(subset=["bake_order"])
    )
    loaves = loaves.rename(columns={"residual": "left_over"})
    if len(loaves) < FEWEST_LOAVES or loaves["bake_order"].nunique() < 3:
        return None
    if "formula" not in loaves:
        loaves["formula"] = ""
    loaves["formula"] = loaves["formula"].fillna("")
    slope, _ = np.polyfit(loaves["bake_order"], loaves["left_over"], 1)
    return BakingOrder(
        loaves=loaves[["loaf", "formula", "bake_order", "left_over"]],
        measure=measure,
        slope=float(slope),
        middle=float(loaves["bake_order"].mean()),
    )
