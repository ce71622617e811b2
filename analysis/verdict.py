"""The verdict on a difference: what an interval says beside the smallest difference that
matters.
"""

from __future__ import annotations

import math
from typing import Literal

Verdict = Literal[
    "matters", "real, size unsure", "real but small", "no difference that matters", "not settled"
]


def verdict(ci_low: float, ci_high: float, matters: float | None) -> Verdict:
    """Return what the interval alone says of a difference; the five cases exclude one another.

    ``matters`` is the smallest difference worth acting on, above 0, in the interval's unit. Where
    nobody said it (None) a difference can only be real with its size unsure, or not settled. An
    interval that is missing (NaN) settles nothing.

    Source of the two cases inside ±matters (equivalence): Schuirmann 1987, J. Pharmacokin.
    Biopharm. 15: 657-680, here at the interval's own level.
    """
    if not (math.isfinite(ci_low) and math.isfinite(ci_high)):
        return "not settled"
    real = ci_low > 0 or ci_high < 0
    if matters is None:
        return "real, size unsure" if real else "not settled"
    inside = -matters < ci_low and ci_high < matters
    if real and (ci_low >= matters or ci_high <= -matters):
        return "matters"
    if real:
        return "real but small" if inside else "real, size unsure"
    return "no difference that matters" if inside else "not settled"
