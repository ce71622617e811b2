"""Invented bakes that behave like real ones, for tests and benchmarks of the checks; nobody
measured them.
"""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd
from fairloaf.trials import Trial, TrialCard
from fairloaf.trials.card import Tin
from fairloaf.trials.loading import planned_factors, with_measures

FORMULAS = ("house", "malted", "seeded")
PROOF_TIMES = (45.0, 60.0, 75.0)
TINS = {"open": Tin(volume_ml=2100.0), "lidded": Tin(volume_ml=2100.0, lid=True)}
SIZES = {"formulas": (2, 3), "mixes": (2, 6), "tins": (1, 2), "proofs": (1, 3), "repeats": (1, 4)}
ROUNDED_TO = {"dough_g": 1, "loaf_g": 1, "loaf_ml": 5, "height_mm": 1, "dough_temp_c": 0.1}


def random_layout(rng: np.random.Generator) -> dict[str, int]:
    """Draw a layout of 12 to 96 loaves."""
    while True:
        layout = {name: int(rng.integers(least, most + 1)) for name, (least, most) in SIZES.items()}
        if 12 <= np.prod(list(layout.values())) <= 96:
            return layout


def bake(
    rng: np.random.Generator,
    *,
    formulas: int = 2,
    mixes: int = 4,
    tins: int = 2,
    proofs: int = 1,
    repeats: int = 2,
) -> pd.DataFrame:
    """Bake ``mixes`` mixes of each formula, one of each a day, and divide every mix over tins and
    proof times.

    Relative standard deviations, from memory of bench work: days 3 %, mixes 3 %, loaves 2.5 % of
    the volume (a third of that under a lid), volume reading 1 %, bake loss 0.5 points a mix and 0.6
    a loaf, scaling 1.5 g.
    """
    rows, loaf = [], itertools.count(1)
    formula_effect, day_effect = rng.normal(0, 0.06, formulas), rng.normal(0, 0.03, mixes)
    for day, f in itertools.product(range(mixes), rng.permutation(formulas)):
        mix_effect, mix_loss, temperature = (
            rng.normal(0, 0.03),
            rng.normal(0, 0.5),
            rng.normal(26, 0.5),
        )
        for t, p, _ in itertools.product(range(tins), range(proofs), range(repeats)):
            lidded = t == 1
            dough = 460 + rng.normal(0, 1.5)
            mass = dough * (0.88 - (mix_loss + rng.normal(0, 0.6)) / 100 + 0.01 * lidded)
            spread = (0.008 if lidded else 0.025) * rng.normal() + 0.01 * rng.normal()
            sv = 4.1 * np.exp(
                formula_effect[f] + day_effect[day] + mix_effect - 0.1 * lidded + 0.04 * p + spread
            )
            rows.append(
                {
                    "loaf": f"L{next(loaf):03d}",
                    "day": f"2026-03-{day + 1:02d}",
                    "mix": f"M{day * formulas + f + 1:02d}",
                    "formula": FORMULAS[f],
                    "tin": list(TINS)[t],
                    "proof_min": PROOF_TIMES[p],
                    "dough_g": dough,
                    "loaf_g": mass,
                    "loaf_ml": sv * mass,
                    "height_mm": 110 * (sv / 4.1) ** 0.9 * np.exp(rng.normal(0, 0.015)),
                    "dough_temp_c": temperature,
                    "cool_min": 150.0,
                }
            )
    loaves = pd.DataFrame(rows)
    for name, step in ROUNDED_TO.items():
        loaves[name] = (loaves[name] / step).round() * step
    return loaves


def as_trial(loaves: pd.DataFrame, card: TrialCard | None = None, **tables: pd.DataFrame) -> Trial:
    """Return a trial of these loaves, as loading would make it; lines count from 2."""
    card = card or TrialCard(tins=TINS)
    table = with_measures(loaves.assign(line=np.arange(2, len(loaves) + 2)), card)
    return Trial(
        name="invented",
        card=card,
        loaves=table,
        factors=planned_factors(table, card),
        files={"loaves": "loaves.csv", "scores": "scores.csv", "readings": "readings.csv"},
        **tables,
    )
