"""Invented trials of every awkward shape, for what must hold in all of them; nobody baked any.

Two to five formulas, with days, bakers, ovens, oven loads, tins and proof times recorded or not,
loaves and whole mixes lost, and in some a formula that for part of the trial, or for all of it, was
tied to a day, a baker or a tin.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
from fairloaf.trials import Trial, TrialCard

FORMULAS = ("house", "malted", "seeded", "wholemeal", "rye")
TINS = ("open", "long", "round")
PROOF_TIMES = (45.0, 60.0, 75.0)
TIED = ("none", "day", "baker", "tin")
MIX_VARIANCES = (0.0, 0.25, 1.0, 4.0)  # times the loaf's
MOST_LOAVES = 72
NAMED = ("mix", "day", "baker", "oven_load", "formula", "tin")


def random_trial(seed: int, *, effects: bool = True, **card: Any) -> Trial:
    """Return one trial, the same for the same seed.

    effects : whether formulas, tins and proof times differ at all. card : what the card says beside
    the measure (by default what matters, and the control in half of the trials).
    """
    rng = np.random.default_rng(seed)
    loaves = random_loaves(rng)
    table = loaves.assign(
        specific_volume=_responses(loaves, rng, effects), line=range(2, len(loaves) + 2)
    )
    control = {"control": str(rng.choice(loaves["formula"]))} if rng.random() < 0.5 else {}
    told = TrialCard(**({"measure": "specific_volume", "matters": 0.2} | control | card))
    factors = tuple(name for name in ("formula", "tin", "proof_min") if loaves[name].nunique() > 1)
    return Trial(
        name="invented", card=told, loaves=table, factors=factors, files={"loaves": "loaves.csv"}
    )


def random_loaves(rng: np.random.Generator) -> pd.DataFrame:
    """Return the loaves of one layout, without a measure; two formulas at least are left."""
    while True:
        loaves = _recorded(_lost(_planned(rng), rng), rng)
        if 6 <= len(loaves) <= MOST_LOAVES and loaves["formula"].nunique() >= 2:
            return loaves


def reordered(trial: Trial, seed: int) -> Trial:
    """Return the same trial with its rows and its columns in another order."""
    rng = np.random.default_rng(seed)
    table = trial.loaves.iloc[rng.permutation(len(trial.loaves))]
    columns = list(rng.permutation(table.columns))
    return replace(trial, loaves=table[columns].reset_index(drop=True))


def renamed(trial: Trial, seed: int) -> tuple[Trial, dict[str, str]]:
    """Return the same trial with other names for mixes, days, bakers, loads, formulas and tins, and
    formula → its new name."""
    rng = np.random.default_rng(seed)
    table, formulas = trial.loaves.copy(), {}
    for name in (name for name in NAMED if name in table):
        old = sorted(table[name].dropna().unique())
        new: dict[Hashable, str] = {
            was: f"{name} {'ABCDEFGH'[i // 26 % 8]}{chr(97 + i % 26)}"
            for was, i in zip(old, rng.permutation(len(old)), strict=True)
        }
        table[name] = table[name].map(new)
        formulas = {str(was): now for was, now in new.items()} if name == "formula" else formulas
    control = trial.card.control
    card = replace(trial.card, control=formulas[control] if control is not None else None)
    return replace(trial, loaves=table, card=card), formulas


def _planned(rng: np.random.Generator) -> pd.DataFrame:
    """Every loaf that was planned, with every condition; some formula tied to something in part or
    throughout.
    """
    n_formulas = int(rng.choice([2, 2, 2, 3, 3, 4, 5]))
    n_days, per_day = int(rng.integers(1, 6)), int(rng.choice([1, 1, 1, 2]))
    n_bakers, n_ovens = int(rng.integers(1, 4)), int(rng.integers(1, 3))
    n_tins, n_proofs = int(rng.choice([1, 2, 2, 3])), int(rng.choice([1, 1, 1, 2, 3]))
    repeats, loads = int(rng.integers(1, 4)), str(rng.choice(["tin", "mix", "across", "two mixes"]))
    rows, mix = [], 0
    for day in range(n_days):
        doughs = [f for f in range(n_formulas) for _ in range(per_day)]
        for place, f in enumerate(rng.permutation(doughs)):
            mix += 1
            baker, loaf = int(rng.integers(n_bakers)), 0
            for tin in range(n_tins):
                for proof in range(n_proofs):
                    for _ in range(repeats):
                        loaf += 1
                        load = {"tin": tin, "mix": place, "across": loaf, "two mixes": place // 2}[
                            loads
                        ]
                        rows.append(
                            (
                                f"day {day + 1}",
                                f"baker {baker + 1}",
                                f"oven {load % n_ovens + 1}",
                                f"load {load + 1}",
                                f"M{mix:02d}",
                                FORMULAS[f],
                                TINS[tin],
                                PROOF_TIMES[proof],
                                float(len(rows) + 1),
                            )
                        )
    columns = [
        "day",
        "baker",
        "oven",
        "oven_load",
        "mix",
        "formula",
        "tin",
        "proof_min",
        "bake_order",
    ]
    return _tied(pd.DataFrame(rows, columns=columns), rng)


def _tied(loaves: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """In half of the trials the last formula keeps to one level of something: in the first days, or
    in all.
    """
    what = str(rng.choice(TIED, p=[0.5, 0.2, 0.15, 0.15]))
    if what == "none":
        return loaves
    days = loaves["day"].unique()
    part = loaves["day"].isin(days[: max(1, len(days) // 2)] if rng.random() < 0.7 else days)
    one = loaves["formula"] == loaves["formula"].max()
    if what == "baker":  # that formula is one baker's, the others are not
        level = loaves["baker"].min()
        other = "baker 2" if level != "baker 2" else "baker 1"
        swapped = np.where(one, level, loaves["baker"].where(loaves["baker"] != level, other))
        return loaves.assign(baker=np.where(part, swapped, loaves["baker"]))
    level = loaves[what].min()
    return loaves[~part | (one == (loaves[what] == level))]


def _lost(loaves: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Some single loaves and some whole mixes are lost."""
    share = rng.choice([0.0, 0.1, 0.25])
    mixes = loaves["mix"].unique()
    gone = (
        rng.choice(mixes, int(rng.integers(0, 1 + len(mixes) // 4)), replace=False)
        if len(mixes)
        else mixes
    )
    return loaves[(rng.random(len(loaves)) >= share) & ~loaves["mix"].isin(gone)]


def _recorded(loaves: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Not everybody writes down everything."""
    silent = [
        name
        for name, p in (
            ("day", 0.25),
            ("baker", 0.5),
            ("oven", 0.5),
            ("oven_load", 0.5),
            ("mix", 0.1),
            ("bake_order", 0.3),
        )
        if rng.random() < p
    ]
    numbered = loaves.drop(columns=silent).reset_index(drop=True)
    return numbered.assign(loaf=[f"L{i + 1:03d}" for i in range(len(numbered))])


def _responses(loaves: pd.DataFrame, rng: np.random.Generator, effects: bool) -> np.ndarray:
    """Specific volumes in mL/g: loaves 0.1, mixes 0 to 0.2, days and loads 0.1 standard
    deviation.
    """
    mixes = 0.1 * np.sqrt(rng.choice(MIX_VARIANCES))
    spread = {"mix": mixes, "day": 0.1, "oven_load": 0.05, "baker": 0.05}
    effect = {"formula": 0.2, "tin": 0.15, "proof_min": 0.1} if effects else {}
    out = 4.0 + rng.normal(0, 0.1, len(loaves))
    for name, size in (spread | effect).items():
        if name in loaves:
            codes = pd.factorize(loaves[name])[0]
            out += rng.normal(0, size, codes.max() + 1)[codes]
    return out
