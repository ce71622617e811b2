"""Slips of the pen in measured values: each kind is recognised for what it is, sound oddities are
left alone.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials import TrialCard
from fairloaf.trials.checks import run_checks

from .simulated_bakes import TINS, as_trial, bake


def sound(**layout: int) -> pd.DataFrame:
    return bake(np.random.default_rng(20), **layout)


def told(loaves: pd.DataFrame, card: TrialCard | None = None) -> dict[str, str]:
    """Return code → message of all but notes."""
    return {f.code: f.message for f in run_checks(as_trial(loaves, card)) if f.severity != "note"}


@pytest.mark.parametrize(
    ("column", "factor", "words"),
    [
        ("loaf_g", 1 / 1000, "Baked mass is about 1000 times too small (kg for g)"),
        ("loaf_g", 1000, "Baked mass is about 1000 times too large"),
        ("loaf_g", 10, "Baked mass is about 10 times too large"),
        ("dough_g", 1 / 28.35, "Dough mass is about 28.35 times too small (ounces)"),
        ("dough_g", 1 / 453.6, "Dough mass is about 453.6 times too small (pounds)"),
        ("loaf_ml", 1 / 10, "Loaf volume is about 10 times too small (cL for mL)"),
        ("loaf_ml", 1 / 16.39, "Loaf volume is about 16.39 times too small (cubic inches)"),
        ("height_mm", 1 / 25.4, "Height is about 25.4 times too small (inches)"),
        ("cool_min", 1 / 60, "Cooling time is about 60 times too small (hours for minutes)"),
    ],
)
def test_a_unit_is_recognised_by_what_brings_the_value_back(column, factor, words):
    loaves = sound()
    loaves.loc[9, column] *= factor
    messages = told(loaves)
    assert list(messages) == ["slip-unit"]
    assert messages["slip-unit"].startswith(f"{words} on line 11 (")
    assert messages["slip-unit"].endswith(" would fit).")


@pytest.mark.parametrize("rows", ["one mix", "two of four mixes", "a whole formula"])
def test_many_loaves_in_kilograms_are_told_as_that(rows):
    loaves = sound(mixes=4)
    n_mixes = {"one mix": 1, "two of four mixes": 2, "a whole formula": 4}[rows]
    in_kg = loaves["mix"].isin(["M01", "M03", "M05", "M07"][:n_mixes])
    loaves.loc[in_kg, "loaf_g"] /= 1000
    found = [f for f in run_checks(as_trial(loaves)) if f.severity == "error"]
    assert [f.code for f in found] == ["slip-unit"]
    assert found[0].message.startswith("Baked mass is about 1000 times too small (kg for g)")
    assert found[0].rows == tuple(np.flatnonzero(in_kg) + 2)


def test_small_loaves_beside_large_ones_are_no_slip():
    loaves = sound()
    small = loaves["tin"] == "lidded"
    loaves.loc[small, ["dough_g", "loaf_g", "loaf_ml"]] /= 9.5
    loaves["tin"] = loaves["tin"].replace({"lidded": "roll"})
    assert told(loaves, TrialCard(tins={"open": TINS["open"]})) == {}


def test_a_lid_that_keeps_loaves_alike_does_not_make_open_loaves_odd():
    rng = np.random.default_rng(8)
    alarms = 0
    for _ in range(20):
        loaves = bake(rng, formulas=2, mixes=4, tins=2, repeats=4)
        lidded = loaves["tin"] == "lidded"
        loaves.loc[lidded, "loaf_ml"] = 1600 + rng.normal(0, 4, lidded.sum()).round()
        alarms += "value-far" in told(loaves)
    assert alarms <= 5


def test_one_far_value_does_not_drag_its_mix_along():
    loaves = sound(tins=1, repeats=2, mixes=6)
    loaves.loc[5, "loaf_ml"] *= 1.45
    found = next(
        f for f in run_checks(as_trial(loaves)) if f.code == "value-far" and f.column == "loaf_ml"
    )
    assert found.rows == (7,)
    assert found.why.endswith("Among sound values alone this is said about once in 67 trials.")


def test_two_far_values_in_one_mix_are_both_named():
    loaves = sound(tins=1, repeats=6)
    loaves.loc[[6, 8], "loaf_ml"] *= [1.6, 0.62]
    found = next(
        f for f in run_checks(as_trial(loaves)) if f.code == "value-far" and f.column == "loaf_ml"
    )
    assert {8, 10} <= set(found.rows)


def test_the_seed_that_was_read_is_named_when_the_volume_is_worked_out():
    loaves = sound()
    seed = 5000 - loaves.pop("loaf_ml")
    loaves = loaves.assign(box_ml=5000.0, seed_ml=seed)
    assert loaves.loc[9, "seed_ml"] == 3190
    loaves.loc[9, "seed_ml"] = 3910
    found = next(f for f in run_checks(as_trial(loaves)) if f.code == "value-far")
    assert found.column == "seed_ml"
    assert found.message.endswith(
        "on line 11 (1090; 1800 expected; seed 3190 with two digits exchanged)."
    )


def test_no_digits_are_exchanged_in_a_mean_that_nobody_typed():
    loaves = sound()
    loaves.loc[9, "loaf_ml"] = 1080.0
    readings = pd.DataFrame(
        {"line": [2, 3], "loaf": loaves.loc[9, "loaf"], "loaf_ml": [1075.0, 1085.0]}
    )
    (found,) = (f for f in run_checks(as_trial(loaves, readings=readings)) if f.code == "value-far")
    assert found.message.endswith("on line 11 (1080; 1800 expected).")


def test_a_measure_of_the_cards_own_is_held_against_its_mix_too():
    loaves = sound()
    loaves["crumb_firmness_n"] = 1.0
    loaves["firmness_n"] = np.random.default_rng(1).normal(8, 0.3, len(loaves)).round(2)
    loaves.loc[9, "firmness_n"] = 19.0
    loaves = loaves.drop(columns="crumb_firmness_n")
    messages = told(loaves, TrialCard(measure="firmness_n", tins=TINS))
    assert messages["value-far"].startswith(
        "Firmness n is far from the other loaves of its mix and combination on"
    )


def test_the_order_of_rows_and_the_names_of_groups_change_nothing():
    loaves = sound(mixes=3, repeats=3)
    loaves.loc[9, "loaf_ml"] *= 0.6
    loaves.loc[20, "loaf_g"] /= 1000
    name = loaves.loc[[9, 20], "loaf"].to_list()
    other = loaves.sample(frac=1, random_state=3).reset_index(drop=True)
    other["mix"] = other["mix"].map(lambda mix: f"dough {mix[::-1]}")
    found = {
        f.code: [other.loc[row - 2, "loaf"] for row in f.rows]
        for f in run_checks(as_trial(other))
        if f.code in ("value-far", "slip-unit") and f.column != "height_mm"
    }
    assert found == {"slip-unit": [name[1]], "value-far": [name[0]]}
