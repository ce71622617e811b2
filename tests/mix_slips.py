"""Slips that befall a whole mix, a day or two labels at once, planted in invented bakes: where no
loaf looks odd beside its neighbours.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pandas as pd
from fairloaf.trials import TrialCard
from numpy.typing import NDArray

from .simulated_bakes import TINS, bake

LOAF_SCATTER = 0.027  # of the invented bakes: relative, open tins, reading included
# loaves → layouts that are taken in turn
LAYOUTS: dict[int, tuple[dict[str, int], ...]] = {
    24: (
        {"formulas": 2, "mixes": 4, "tins": 1, "proofs": 3, "repeats": 1},
        {"formulas": 2, "mixes": 3, "tins": 2, "proofs": 1, "repeats": 2},
    ),
    48: (
        {"formulas": 2, "mixes": 4, "tins": 2, "proofs": 1, "repeats": 3},
        {"formulas": 2, "mixes": 6, "tins": 2, "proofs": 1, "repeats": 2},
        {"formulas": 3, "mixes": 4, "tins": 2, "proofs": 1, "repeats": 2},
    ),
    96: (
        {"formulas": 2, "mixes": 6, "tins": 2, "proofs": 2, "repeats": 2},
        {"formulas": 3, "mixes": 4, "tins": 2, "proofs": 2, "repeats": 2},
    ),
}
# changes the loaves; returns the size of the slip (relative), or None where it could not be made
Plant = Callable[[pd.DataFrame, np.random.Generator], float | None]


def baked(rng: np.random.Generator, layout: dict[str, int]) -> pd.DataFrame:
    """Return a bake whose loaves were measured in an order drawn by lot within each day."""
    loaves = bake(rng, **layout)
    days = [rng.permutation(np.flatnonzero(loaves["day"] == day)) for day in loaves["day"].unique()]
    return loaves.iloc[np.concatenate(days)].reset_index(drop=True)


def card_of(loaves: pd.DataFrame, *names: str) -> TrialCard:
    """Return a card that names these factors with the levels that were baked."""
    return TrialCard(
        tins=TINS, factors={name: tuple(loaves[name].unique()) for name in names if name in loaves}
    )


def one_of(loaves: pd.DataFrame, name: str, rng: np.random.Generator) -> NDArray:
    """Return which rows (n,) have one mix or day, drawn by lot."""
    return (loaves[name] == rng.choice(loaves[name].unique())).to_numpy()


def other_box(name: str) -> Plant:
    """Write a box of 4400 mL where one of 4000 was used."""

    def plant(loaves: pd.DataFrame, rng: np.random.Generator) -> float:
        rows = one_of(loaves, name, rng)
        loaves["box_ml"], loaves["seed_ml"] = 4000.0, 4000.0 - loaves["loaf_ml"]
        loaves.loc[rows, "box_ml"] = 4400.0
        loaves["loaf_ml"] = loaves["box_ml"] - loaves["seed_ml"]
        return 400 / 1900

    return plant


def off(name: str, columns: Sequence[str], by: float) -> Plant:
    """Add so many grams or millilitres to every loaf of a mix or a day."""

    def plant(loaves: pd.DataFrame, rng: np.random.Generator) -> float:
        rows = one_of(loaves, name, rng)
        usual = float(loaves[columns[-1]].mean())
        for column in columns:
            loaves.loc[rows, column] += by
        return abs(by) / usual

    return plant


def drifting(columns: Sequence[str], share: float, every_day: bool = False) -> Plant:
    """Let values rise by a share from the first loaf of one day, or of every day, to the last."""

    def plant(loaves: pd.DataFrame, rng: np.random.Generator) -> float:
        every = [(loaves["day"] == day).to_numpy() for day in loaves["day"].unique()]
        for rows in every if every_day else [every[rng.integers(len(every))]]:
            for column in columns:
                loaves.loc[rows, column] *= 1 + share * np.linspace(0, 1, rows.sum())
        return abs(share)

    return plant


def tins_exchanged(loaves: pd.DataFrame, rng: np.random.Generator) -> float | None:
    """Exchange the tins of two loaves of a mix."""
    if loaves["tin"].nunique() < 2:
        return None
    mix = one_of(loaves, "mix", rng)
    two = [rng.choice(np.flatnonzero(mix & (loaves["tin"] == tin))) for tin in ("open", "lidded")]
    loaves.loc[two, "tin"] = loaves.loc[two[::-1], "tin"].to_numpy()
    return 0.1


def labels_exchanged(loaves: pd.DataFrame, rng: np.random.Generator) -> float:
    """Exchange formula, mix and day of two loaves of different formulas."""
    size = np.log(loaves["loaf_ml"]).groupby(loaves["mix"]).transform("mean")
    one = rng.integers(len(loaves))
    other = rng.choice(np.flatnonzero(loaves["formula"] != loaves["formula"][one]))
    labels = ["formula", "mix", "day"]
    loaves.loc[[one, other], labels] = loaves.loc[[other, one], labels].to_numpy()
    return abs(float(size[one] - size[other]))


def formulas_exchanged(loaves: pd.DataFrame, rng: np.random.Generator) -> float:
    """Exchange the formulas of two whole mixes."""
    size = np.log(loaves["loaf_ml"]).groupby(loaves["formula"]).mean()
    mixes = loaves.drop_duplicates("mix").set_index("mix")["formula"]
    one = rng.choice(mixes.index)
    other = rng.choice(mixes.index[mixes != mixes[one]])
    for mix, formula in ((one, mixes[other]), (other, mixes[one])):
        loaves.loc[loaves["mix"] == mix, "formula"] = formula
    return abs(float(size[mixes[one]] - size[mixes[other]]))


def month_for_day(loaves: pd.DataFrame, rng: np.random.Generator) -> float | None:
    """Exchange day and month of one mix."""
    rows = one_of(loaves, "mix", rng)
    year, month, day = loaves.loc[rows, "day"].iloc[0].split("-")
    loaves.loc[rows, "day"] = f"{year}-{day}-{month}"
    return None if month == day else 1.0


def values_of_the_row_above(loaves: pd.DataFrame, rng: np.random.Generator) -> float:
    """Write the values of the row above once more."""
    row = rng.integers(1, len(loaves))
    copied = [name for name in ("dough_g", "loaf_g", "loaf_ml", "height_mm") if name in loaves]
    loaves.loc[row, copied] = loaves.loc[row - 1, copied]
    return 1.0


def mix_renamed(loaves: pd.DataFrame, rng: np.random.Generator) -> float:
    """Write M1 for M01 on a third of the loaves of a mix."""
    rows = np.flatnonzero(loaves["mix"] == "M01")
    loaves.loc[rows[: max(1, len(rows) // 3)], "mix"] = "M1"
    return 1.0


BOTH = ("dough_g", "loaf_g")
KINDS: dict[str, Plant] = {
    "box 4400 for 4000, a mix": other_box("mix"),
    "box 4400 for 4000, a day": other_box("day"),
    "volume 400 mL too high, a mix": off("mix", ["loaf_ml"], 400),
    "volume 400 mL too high, a day": off("day", ["loaf_ml"], 400),
    "volume 300 mL too low, a mix": off("mix", ["loaf_ml"], -300),
    "scale 40 g low, a mix": off("mix", BOTH, -40),
    "scale 40 g low, a day": off("day", BOTH, -40),
    "baked mass 40 g low, a mix": off("mix", ["loaf_g"], -40),
    "baked mass 40 g low, a day": off("day", ["loaf_g"], -40),
    "scale drifts 40 g through a day": drifting(BOTH, -0.09),
    "baked mass drifts 40 g in a day": drifting(["loaf_g"], -0.1),
    "seed packs 12 % in a day": drifting(["loaf_ml"], 0.12),
    "seed packs 20 % in a day": drifting(["loaf_ml"], 0.2),
    "seed packs 12 % every day": drifting(["loaf_ml"], 0.12, every_day=True),
    "mix weighed hot, 12 g more": off("mix", ["loaf_g"], 12),
    "mix weighed hot, 16 g more": off("mix", ["loaf_g"], 16),
    "day and month exchanged": month_for_day,
    "tins of two loaves exchanged": tins_exchanged,
    "labels of two loaves exchanged": labels_exchanged,
    "formulas of two mixes exchanged": formulas_exchanged,
    "row above copied": values_of_the_row_above,
    "M01 beside M1": mix_renamed,
}
