"""How many slips the checks find, and how often they object to a sound trial. Run with  -m
benchmark -s

Sound trials are invented (tests/simulated_bakes.py): 12 to 96 loaves, formulas, days, mixes, tins
with and without a lid, proof times, rounded as a bench sheet is. A slip is found when a warning or
an error names its line.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials.checks import run_checks
from fairloaf.trials.checks.robust import Groups, cutoff, free_values, polish, robust_scale

from ..simulated_bakes import as_trial, bake, random_layout

TRIALS = 200
CLEAN_TRIALS = 500
WEIGHED = ("dough_g", "loaf_g", "loaf_ml")
Plant = Callable[[pd.DataFrame, int, np.random.Generator], None]


def times(factor: float) -> Plant:
    """Multiply one measured value."""

    def plant(loaves: pd.DataFrame, row: int, rng: np.random.Generator) -> None:
        column = rng.choice(WEIGHED)
        loaves.loc[row, column] = float(f"{loaves.loc[row, column] * factor:.4g}")

    return plant


def write(column: str, change: Callable[[object], object]) -> Plant:
    """Write something else into one cell."""

    def plant(loaves: pd.DataFrame, row: int, rng: np.random.Generator) -> None:
        loaves[column] = loaves[column].astype(object)
        loaves.loc[row, column] = change(loaves.loc[row, column])

    return plant


def exchange_mass_and_volume(loaves: pd.DataFrame, row: int, rng: np.random.Generator) -> None:
    loaves.loc[row, ["loaf_g", "loaf_ml"]] = loaves.loc[row, ["loaf_ml", "loaf_g"]].to_numpy()


def exchange_digits(loaves: pd.DataFrame, row: int, rng: np.random.Generator) -> None:
    """Exchange two neighbouring digits that differ, wherever they stand."""
    column = rng.choice(WEIGHED)
    text = f"{loaves.loc[row, column]:.0f}"
    i = rng.choice([i for i in range(len(text) - 1) if text[i] != text[i + 1]])
    loaves.loc[row, column] = float(text[:i] + text[i + 1] + text[i] + text[i + 2 :])


def number_of_another(loaves: pd.DataFrame, row: int, rng: np.random.Generator) -> None:
    loaves.loc[row, "loaf"] = loaves.loc[(row + 1) % len(loaves), "loaf"]


def formula_of_another_mix(loaves: pd.DataFrame, row: int, rng: np.random.Generator) -> None:
    others = loaves.loc[loaves["formula"] != loaves.loc[row, "formula"], "formula"]
    loaves.loc[row, "formula"] = others.iloc[0]


def copy_the_row_above(loaves: pd.DataFrame, row: int, rng: np.random.Generator) -> None:
    copied = [name for name in loaves if name != "loaf"]
    loaves.loc[row, copied] = loaves.loc[row - 1 if row else 1, copied]


def drag_down(loaves: pd.DataFrame, row: int, rng: np.random.Generator) -> None:
    """Drag one volume over the next five loaves."""
    start = min(row, len(loaves) - 6)
    loaves.loc[start : start + 5, "loaf_ml"] = loaves.loc[start, "loaf_ml"]


KINDS: dict[str, Plant] = {
    "÷ 10": times(1 / 10),
    "× 10": times(10),
    "÷ 1000": times(1 / 1000),
    "× 1000": times(1000),
    "÷ 28.35": times(1 / 28.35),
    "× 28.35": times(28.35),
    "mass and volume exchanged": exchange_mass_and_volume,
    "two digits exchanged": exchange_digits,
    "number of another loaf": number_of_another,
    "number missing": write("loaf", lambda _: None),
    "formula in capitals": write("formula", lambda name: str(name).upper()),
    "formula missing": write("formula", lambda _: None),
    "formula of another mix": formula_of_another_mix,
    "row copied": copy_the_row_above,
    "volume dragged down": drag_down,
    "dough mass under baked mass": lambda loaves, row, rng: loaves.loc.__setitem__(
        (row, "loaf_g"), loaves.loc[row, "dough_g"]
    ),
    "no under void": lambda loaves, row, rng: loaves.insert(
        0, "void", pd.Series([None] * len(loaves), dtype=object).where(loaves.index != row, "no")
    ),
}


@pytest.mark.benchmark
def test_slips_are_found():
    found, beside = {}, Counter()
    for kind, plant in KINDS.items():
        rng = np.random.default_rng(7)
        hits = 0
        for _ in range(TRIALS):
            loaves = bake(rng, **random_layout(rng))
            row = int(rng.integers(len(loaves)))
            plant(loaves, row, rng)
            told = [f for f in run_checks(as_trial(loaves)) if f.severity != "note"]
            hits += any(row + 2 in f.rows for f in told)
            beside[kind] += sum(row + 2 not in f.rows for f in told)
        found[kind] = 100 * hits / TRIALS
        print(
            f"{kind:<30} found {found[kind]:5.1f} %   other lines told {beside[kind] / TRIALS:.3f}"
            " a trial"
        )
    overall = float(np.mean(list(found.values())))
    print(f"{'all kinds':<30} found {overall:5.1f} %   ({TRIALS} trials a kind, 12 to 96 loaves)")
    assert overall >= 95


@pytest.mark.benchmark
def test_sound_trials_are_left_in_peace():
    rng = np.random.default_rng(11)
    said, trials_with = Counter(), 0
    for _ in range(CLEAN_TRIALS):
        told = [
            f for f in run_checks(as_trial(bake(rng, **random_layout(rng)))) if f.severity != "note"
        ]
        trials_with += bool(told)
        said.update(f"{f.code} {f.column}" for f in told)
    print(
        f"\n{sum(said.values())} false warnings in {CLEAN_TRIALS} sound trials; {trials_with}"
        f" trials have one: {dict(said)}"
    )
    assert sum(said.values()) <= CLEAN_TRIALS / 10


@pytest.mark.benchmark
@pytest.mark.parametrize(
    "layout", [(2, 6, 1, 4), (2, 6, 2, 2), (2, 24, 1, 8), (3, 20, 3, 2), (4, 20, 4, 2)]
)
def test_the_cut_of_large_trials_gives_the_alarms_it_promises(layout):
    formula, mix, combination, _ = (axis.ravel() for axis in np.indices(layout))
    groupings = (Groups.of(formula * layout[2] + combination), Groups.of(formula * layout[1] + mix))
    n, free = formula.size, free_values(groupings)
    residuals = polish(np.random.default_rng(3).standard_normal((n, 2000)), groupings)
    ratios = np.abs(residuals) / robust_scale(residuals, free)
    cut = cutoff(groupings, np.zeros(n, int), free, 0.1, simulated=0)
    alarms = (ratios > cut).sum() / 2000
    print(
        f"\n{n} loaves, {free} free: {alarms:.3f} false alarms a trial beyond {cut:.2f} scales (0.1"
        " promised)"
    )
    assert 0.03 < alarms < 0.2
