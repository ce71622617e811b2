"""How many more units would settle what a factor did, from the trial's own standard error and
degrees of freedom.

With k times as many units laid out as these were, a difference's standard error is that of now over
√k, and its degrees of freedom are the units less what is estimated beside them (Cochran and Cox
1957, Experimental Designs, 2.2). That the standard error of now may be a lucky one is allowed for,
as for two formulas (`comparison/settle.py`).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping
from typing import Any

from ...trials.frozen import frozen
from ..codes import Goal
from ..methods.power import USUAL, assurance, mean_of_possible_sd, own_critical
from ..verdict import verdict
from .result import FactorEffects

MOST_TIMES = 20  # as many units as now, beyond which no number is told
POINTS = 40  # of what the variance may be, where power is averaged over it
SETTLED = ("matters", "real but small", "no difference that matters")


@frozen(kw_only=True)
class HowMany:
    """How many units in all would settle it; ``needed`` is None where that is more than
    ``MOST_TIMES`` as many.

    goal : "power" (an 80 % chance to show ``matters``) or "half width" (a likely range half as
        wide as now, in the mean over trials like this one)
    """

    goal: Goal
    unit: str
    now: int
    needed: int | None
    matters: float | None
    most_times: int = MOST_TIMES


def how_many(f: FactorEffects, effect: Mapping[str, Any]) -> HowMany | None:
    """Return how many units would settle an effect (a row of ``f.effects``); None where it is
    settled or unknown.
    """
    test = f.tests[f.tests["term"] == effect["factor"]]
    error, df = float(effect["standard_error"]), float(effect["df"])
    if (
        test.empty
        or not (math.isfinite(error) and error > 0 and df > 0)
        or effect["adjustment"] == "Lenth"
    ):
        return None
    if verdict(effect["ci_low"], effect["ci_high"], f.matters) in SETTLED:
        return None
    unit = str(test["applied_to"].iloc[0])
    now = f.layout.n(unit) if unit != "loaf" else f.n_loaves
    reach = (effect["ci_high"] - effect["size"]) / error
    beside, wider = now - df, reach / own_critical(df, f.confidence)
    real = effect["ci_low"] > 0

    def reaches(units: int) -> bool:
        error_then, df_then = error * math.sqrt(now / units), units - beside
        critical = wider * own_critical(df_then, f.confidence)
        if f.matters is not None and not real:
            return assurance(f.matters / error_then, df_then, critical, df, POINTS) >= USUAL
        return critical * error_then * mean_of_possible_sd(df) <= reach * error / 2

    tried = range(now + 1, MOST_TIMES * now + 1)
    at = bisect_left(tried, True, key=reaches)  # the more units, the surer
    needed = tried[at] if at < len(tried) else None
    return HowMany(
        goal="power" if f.matters is not None and not real else "half width",
        unit=unit,
        now=now,
        needed=needed,
        matters=f.matters,
    )
