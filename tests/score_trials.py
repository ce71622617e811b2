"""Trials with scores for the tests: the published bread panel, and invented ones with known
differences.
"""

from pathlib import Path

import numpy as np
import pandas as pd
from fairloaf.trials import Trial, TrialCard
from fairloaf.trials.card import Measure, ScoreScale

REFERENCE = Path(__file__).parent / "reference"


def bread_panel(**card) -> Trial:
    """Return the published bread panel as a trial: 5 salt levels as formulas, each baked twice, 8
    judges.
    """
    table = pd.read_csv(REFERENCE / "bread_panel.csv")
    breads = table.drop_duplicates("bread").reset_index(drop=True)
    loaves = pd.DataFrame(
        {
            "loaf": breads["bread"].astype(str),
            "formula": breads["salt"].astype(str),
            "line": range(2, len(breads) + 2),
        }
    )
    scores = pd.DataFrame(
        {
            "line": range(2, len(table) + 2),
            "loaf": table["bread"].astype(str),
            "assessor": "judge " + table["judge"].astype(str),
            "attribute": table["attribute"],
            "score": table["score"].astype(float),
        }
    )
    return Trial(
        name="bread panel",
        card=TrialCard(scores=ScoreScale(low=0, high=5), **card),
        loaves=loaves,
        scores=scores,
        factors=("formula",),
    )


def invented(
    differences: dict[str, float],
    *,
    assessors: int = 6,
    mixes: int = 4,
    loaves: int = 2,
    seed: int = 1,
    matters: float | None = 1.0,
    formulas: tuple[str, ...] = ("house", "malted"),
    mix_sd: float = 0.3,
    weights: dict[str, float] | None = None,
    words: dict | None = None,
) -> Trial:
    """Return an invented trial: every attribute is 5 points, and its difference more with each
    further formula.
    """
    rng = np.random.default_rng(seed)
    bread = [
        (f"{formula[0]}{m}{i}", formula, f"{formula} {m}", f"day {m}")
        for formula in formulas
        for m in range(mixes)
        for i in range(loaves)
    ]
    table = pd.DataFrame(bread, columns=["loaf", "formula", "mix", "day"]).assign(
        line=range(2, len(bread) + 2)
    )
    table["specific_volume"] = 4 + rng.normal(0, 0.1, len(table))
    above = rng.normal(0, 0.3, assessors)
    rows = []
    for attribute, difference in differences.items():
        own = {mix: rng.normal(0, mix_sd) for mix in table["mix"].unique()}
        for loaf in table.itertuples():
            true = 5 + difference * formulas.index(loaf.formula) + own[loaf.mix]
            for who in range(assessors):
                score = np.clip(np.rint(true + above[who] + rng.normal(0, 0.8)), 1, 10)
                rows.append((loaf.loaf, f"A{who + 1}", attribute, float(score)))
    scores = pd.DataFrame(rows, columns=["loaf", "assessor", "attribute", "score"])
    scores.insert(0, "line", range(2, len(scores) + 2))
    card = TrialCard(
        control=formulas[0],
        scores=ScoreScale(attributes=tuple(differences), weights=weights or {}, words=words or {}),
        measures={f"crumb_{name}": Measure(matters=matters) for name in (*differences, "total")},
    )
    return Trial(name="invented", card=card, loaves=table, scores=scores, factors=("formula",))
