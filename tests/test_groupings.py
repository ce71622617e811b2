"""What loaves share, as one list says it: an oven is a block as an oven load is, alone and with
it.
"""

import functools
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.comparison.other_measures import other_difference
from fairloaf.analysis.model.layout import find_layout
from fairloaf.analysis.model.units import GROUPINGS
from fairloaf.trials import load_trial
from fairloaf.trials.columns import BY_NAME

OVENS = ["Big", "Small", "Big", "Small"]


def two_ovens(seed: int, mixes: int = 4) -> pd.DataFrame:
    """Return loaves of two formulas, each dough's halves baked in two ovens that differ by 0.6
    mL/g; invented.
    """
    rng = np.random.default_rng(seed)
    rows = []
    for mix in range(2 * mixes):
        shift = rng.normal(0, 0.06)
        for place, oven in enumerate(OVENS[: 3 if mix % 3 else 4]):
            rise = 4 + 0.15 * (mix % 2) + shift + 0.6 * (oven == "Big") + rng.normal(0, 0.06)
            rows.append(
                (
                    f"{mix}.{place}",
                    f"day {mix // 2}",
                    f"mix {mix}",
                    ["plain", "oat"][mix % 2],
                    oven,
                    400,
                    round(400 * rise),
                )
            )
    return pd.DataFrame(
        rows, columns=["loaf", "day", "mix", "formula", "oven", "loaf_g", "loaf_ml"]
    )


@functools.cache
def compared(seed: int, column: str, header: str, inside_day: bool = False):
    """Return oat against plain where the ovens stand in a column, under a header; or in none."""
    loaves = two_ovens(seed)
    if inside_day:
        loaves["oven"] = loaves["day"] + loaves["oven"]
    loaves = loaves.rename(columns={"oven": header}) if column else loaves.drop(columns="oven")
    with tempfile.TemporaryDirectory() as folder:
        loaves.to_csv(Path(folder) / "loaves.csv", index=False)
        if column and header not in BY_NAME:
            (Path(folder) / "trial.toml").write_text(f'[columns]\n{column} = "{header}"\n', "utf-8")
        trial = load_trial(folder)
    return other_difference(trial, "oat", "plain", "specific_volume", 0.95)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    ("column", "header"), [("oven", "oven"), ("deck", "deck"), ("oven", "Ofen")]
)
def test_an_oven_is_a_block_whatever_it_is_called(seed, column, header):
    ours, ignored = compared(seed, column, header), compared(seed, "", "")
    assert (ours.ci_high - ours.ci_low) < (ignored.ci_high - ignored.ci_low)
    as_load = compared(seed, "oven_load", "oven_load", inside_day=True)
    assert ours.difference == pytest.approx(as_load.difference, abs=0.08)


def test_loads_of_two_ovens_are_told_apart_and_lie_inside_them():
    loaves = two_ovens(1).assign(oven_load="load 1")
    layout = find_layout(loaves, ["formula"])
    assert layout.n("oven_load") == 8
    assert "oven_load" in layout.relabelled
    assert layout.covered("oven", layout.blocks)
    assert set(layout.blocks) == {"day", "oven", "oven_load"}


def test_the_list_of_groupings_is_the_vocabulary_s():
    from fairloaf.trials.columns import GROUPINGS as LIST

    assert tuple(g.name for g in LIST) == GROUPINGS
    assert all(BY_NAME[g.name].kind == "text" for g in LIST)
    assert all(inside in BY_NAME for g in LIST for inside in g.inside)
