"""A trial with every table and nothing wrong in it (invented), to be spoilt one cell at a time."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
from fairloaf.trials import Finding, Trial, TrialCard
from fairloaf.trials.card import ScoreScale
from fairloaf.trials.checks import run_checks

from .simulated_bakes import TINS, as_trial, bake

ATTRIBUTES = ("openness", "softness")
ASSESSORS = ("Ana", "Ben", "Cem", "Dot")


@dataclass
class Records:
    """Tables and card of a trial, open to change."""

    loaves: pd.DataFrame
    scores: pd.DataFrame
    readings: pd.DataFrame
    card: TrialCard
    unreadable: list[tuple[str, int, str, str]] = field(default_factory=list)

    def on_card(self, **changes: object) -> None:
        """Change fields of the card."""
        self.card = replace(self.card, **changes)

    def trial(self) -> Trial:
        """Return the trial that these records make."""
        made = as_trial(self.loaves, self.card, scores=self.scores, readings=self.readings)
        cells = pd.DataFrame(self.unreadable, columns=["file", "line", "column", "text"])
        return replace(made, unreadable=cells, factors=tuple(self.card.factors) or made.factors)

    def findings(self) -> tuple[Finding, ...]:
        """Return what the checks find."""
        return run_checks(self.trial())


def good_records() -> Records:
    """Return records that no check objects to: 32 loaves of 8 mixes on 4 days, 4 assessors, 3
    readings of 4 loaves.

    A row's line is its place + 2 in each table.
    """
    rng = np.random.default_rng(20)
    loaves = bake(rng, formulas=2, mixes=4, tins=2, proofs=1, repeats=2)
    n = len(loaves)
    loaves["oven_load"] = "load " + (loaves["mix"].factorize()[0] % 2 + 1).astype(str).astype(
        object
    )
    loaves["oven_place"] = np.resize(["left", "right"], n)
    loaves["bake_order"] = np.resize(np.arange(1.0, 9.0), n)
    loaves["measure_order"] = loaves.groupby("day")["loaf"].transform(
        lambda day: rng.permutation(len(day)) + 1.0
    )
    loaves["baker"] = np.where(loaves["day"].factorize()[0] % 2, "Baker Eve", "Baker Flo")
    loaves["crumb_even"] = rng.integers(3, 9, n).astype(float)
    loaves["crumb_open"] = rng.integers(3, 9, n).astype(float)
    loaves["void"] = pd.Series([None] * n, dtype=object)
    card = TrialCard(
        measure="specific_volume",
        matters=0.2,
        control="house",
        tins=TINS,
        min_cool_min=120.0,
        factors={"formula": ("house", "malted"), "tin": ("open", "lidded")},
        scores=ScoreScale(low=1, high=10, step=1, attributes=ATTRIBUTES),
    )
    return Records(loaves, scored(loaves, rng), read_again(loaves, rng), card)


def scored(loaves: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Return the scores of the first 8 loaves, each assessor in an order of their own."""
    rows = []
    for assessor in ASSESSORS:
        order = rng.permutation(8)
        for attribute in ATTRIBUTES:
            rows += [
                {
                    "loaf": loaves["loaf"][i],
                    "assessor": assessor,
                    "attribute": attribute,
                    "score": float(rng.integers(2, 10)),
                    "order": float(order[i] + 1),
                }
                for i in range(8)
            ]
    return pd.DataFrame(rows).assign(line=lambda table: np.arange(2, len(table) + 2))


def read_again(loaves: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Return three readings of the first four loaves, 1 % apart."""
    rows = [
        {
            "loaf": loaves["loaf"][i],
            "loaf_ml": round(loaves["loaf_ml"][i] * np.exp(rng.normal(0, 0.01))),
        }
        for i in range(4)
        for _ in range(3)
    ]
    return pd.DataFrame(rows).assign(line=lambda table: np.arange(2, len(table) + 2))
