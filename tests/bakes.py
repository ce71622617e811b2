"""A small invented bake for the tests of the comparison: nobody baked it. Spoil one thing and see
who notices.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from fairloaf.trials import Trial, TrialCard

DAYS = ("Mon", "Tue", "Wed", "Thu")
ORDER = ((1, 2), (2, 1), (2, 1), (1, 2))  # which of house and malted came first on each day


def bake(
    difference: float = 0.4, days: int = 4, loaves: int = 4, seed: int = 20261125
) -> pd.DataFrame:
    """One mix of house and of malted on each day, their loaves half in open and half in long tins.

    In mL/g: days 0.1, mixes 0.05 and loaves 0.08 standard deviation. Everything else is the same.
    """
    rng = np.random.default_rng(seed)
    rows = []
    for d in range(days):
        day_effect = rng.normal(0, 0.1)
        for f, formula in enumerate(("house", "malted")):
            mix_effect = day_effect + rng.normal(0, 0.05)
            for loaf in range(loaves):
                rise = 4.0 + difference * f + mix_effect + 0.2 * (loaf % 2) + rng.normal(0, 0.08)
                place = (ORDER[d % 4][f] - 1) * loaves + loaf + 1
                rows.append(
                    (
                        DAYS[d % 4] + "'" * (d // 4),
                        f"{formula[0].upper()}{d + 1}",
                        formula,
                        ("open", "long")[loaf % 2],
                        float(place),
                        rise,
                        1600.0 + loaf,
                    )
                )
    table = pd.DataFrame(
        rows, columns=["day", "mix", "formula", "tin", "bake_order", "specific_volume", "loaf_ml"]
    )
    return table.assign(
        loaf=[f"L{i + 1:02d}" for i in range(len(table))],
        dough_temp_c=26.0,
        cool_min=150.0,
        dough_g=460.0,
        baker="R",
        oven_place="middle",
    )


def as_trial(
    loaves: pd.DataFrame, changed: tuple[str, ...] = ("formula", "tin"), **card: Any
) -> Trial:
    """Return the trial of these loaves, as loading would make it; 0.2 mL/g matters unless told
    otherwise.
    """
    known = {"measure": "specific_volume", "matters": 0.2, "control": "house"} | card
    table = loaves.assign(line=range(2, len(loaves) + 2))
    return Trial(
        name="invented",
        card=TrialCard(**known),
        loaves=table,
        factors=changed,
        files={"loaves": "loaves.csv"},
    )


def in_turn(slope: float, factor: str = "formula") -> Trial:
    """Return a trial in which on every day all loaves of one level of a factor were baked before
    those of the other, and rose by so much from place to place.

    Of formula: two that do the same. Of tin: one formula, in tins that differ by 0.2 mL/g.
    """
    loaves = bake(difference=0.0, seed=5).sort_values(["day", factor]).reset_index(drop=True)
    if factor == "tin":
        loaves = loaves[loaves["formula"] == "house"].reset_index(drop=True)
    place = loaves.groupby("day").cumcount() + 1.0
    rise = loaves["specific_volume"] + slope * place
    changed = ("formula", "tin") if factor == "formula" else ("tin",)
    return as_trial(loaves.assign(bake_order=place, specific_volume=rise), changed)
