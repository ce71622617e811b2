"""The layout: what each factor was applied to, what groups loaves, and what was never baked."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.model.coding import DesignError
from fairloaf.analysis.model.layout import find_layout

REFERENCE = Path(__file__).parent / "reference"


def two_days():
    """Two formulas a day, one mix of each, four loaves in two tins and two oven loads."""
    rows = [
        (day, formula, f"{day}{formula}", tin, f"{day} {tin}")
        for day in ("Mon", "Tue")
        for formula in "AB"
        for tin in ("open", "open", "lidded", "lidded")
    ]
    return pd.DataFrame(rows, columns=["day", "formula", "mix", "tin", "oven_load"])


def relation(layout, first, second):
    table = layout.relations
    row = table[table["first"].isin([first, second]) & table["second"].isin([first, second])].iloc[
        0
    ]
    return row["first"], row["second"], row["relation"]


def test_each_factor_is_applied_to_the_coarsest_unit_that_holds_it():
    loaves = two_days().assign(flour_lot=lambda d: d["day"], place=["left", "right"] * 8)
    layout = find_layout(loaves, ["formula", "tin", "flour_lot", "place"])
    assert layout.factors.set_index("factor")["applied_to"].to_dict() == {
        "formula": "mix",
        "tin": "oven_load",
        "flour_lot": "day",
        "place": "loaf",
    }


def test_cake_is_a_split_plot_in_blocks():
    """Cook 1938 in Cochran and Cox 1957, p. 300: recipe to the mix, temperature to the cake,
    replicates blocks.
    """
    cake = pd.read_csv(REFERENCE / "cake.csv").rename(
        columns={"recipe": "formula", "replicate": "day"}
    )
    layout = find_layout(cake.assign(mix=cake["formula"]), ["formula", "temperature"])
    assert layout.factors["applied_to"].tolist() == ["mix", "loaf"]
    assert layout.factors["kind"].tolist() == ["category", "number"]
    assert (layout.n("day"), layout.n("mix"), layout.n("loaf"), layout.n("oven_load")) == (
        15,
        45,
        270,
        0,
    )
    assert (layout.blocks, layout.groups) == (("day",), {"mix": "shared dough"})
    assert relation(layout, "mix", "day") == ("mix", "day", "nested")
    assert relation(layout, "formula", "temperature")[2] == "crossed"


def test_a_mix_label_used_again_is_another_mix():
    loaves = two_days().assign(mix=lambda d: np.where(d["formula"] == "A", "mix 1", "mix 2"))
    layout = find_layout(loaves, ["formula"])
    assert layout.n("mix") == 4
    assert layout.relabelled == ("mix",)
    assert find_layout(two_days(), ["formula"]).relabelled == ()


def test_oven_loads_are_numbered_afresh_every_day():
    layout = find_layout(two_days().assign(oven_load=lambda d: d["tin"]), ["formula"])
    assert layout.n("oven_load") == 4
    assert layout.relabelled == ("oven_load",)


def test_without_a_mix_column_every_loaf_is_its_own_mix_and_that_is_said():
    layout = find_layout(two_days().drop(columns="mix"), ["formula", "tin"])
    assert layout.mix_assumed
    assert layout.left_out["mix"] == "not recorded"
    assert layout.labels["mix"].nunique() == 16
    assert not find_layout(two_days(), ["formula"]).mix_assumed


def test_a_loaf_without_a_mix_is_a_mix_of_its_own():
    loaves = two_days()
    loaves.loc[[0, 1], "mix"] = None
    layout = find_layout(loaves, ["formula"])
    assert layout.n("mix") == 6
    assert layout.missing_labels == {"mix": 2}


@pytest.mark.parametrize(
    ("change", "grouping", "reason"),
    [
        ({"day": "Mon"}, "day", "one only"),
        ({"oven_load": range(16)}, "oven_load", "one loaf each"),
        ({"oven_load": lambda d: d["mix"]}, "oven_load", "same as mix"),
        ({"oven_load": lambda d: d["day"]}, "oven_load", "same as day"),
        ({"mix": range(16)}, "mix", "one loaf each"),
    ],
    ids=["one day", "loads of one loaf", "load is mix", "load is day", "mixes of one loaf"],
)
def test_groupings_that_tell_nothing_are_left_out_with_a_reason(change, grouping, reason):
    assert find_layout(two_days().assign(**change), ["formula"]).left_out[grouping] == reason


def test_loads_inside_a_mix_are_random_and_loads_across_mixes_are_blocks():
    inside = two_days().assign(oven_load=lambda d: d["mix"] + d["tin"])
    assert find_layout(inside, ["formula"]).groups == {
        "mix": "shared dough",
        "oven_load": "inside the mix",
    }
    assert find_layout(two_days(), ["formula"]).blocks == ("day", "oven_load")


def days_of_two(days):
    """Days with one formula missing in turn: incomplete blocks."""
    rows = [
        (d, formula, f"{d}{formula}")
        for d in range(days)
        for formula in "ABC".replace("ABC"[d % 3], "")
        for _ in range(2)
    ]
    return pd.DataFrame(rows, columns=["day", "formula", "mix"])


@pytest.mark.parametrize(("days", "blocks"), [(19, ("day",)), (20, ())])
def test_many_incomplete_days_are_random(days, blocks):
    layout = find_layout(days_of_two(days), ["formula"])
    assert layout.blocks == blocks
    assert layout.groups.get("day") == (None if blocks else "many incomplete blocks")


def test_tied_factors_and_empty_combinations_are_listed():
    loaves = two_days().assign(place=lambda d: d["tin"].map({"open": "top", "lidded": "bottom"}))
    loaves = loaves[~((loaves["formula"] == "B") & (loaves["tin"] == "lidded"))]
    layout = find_layout(loaves, ["formula", "tin", "place"])
    assert ("tin", "place") in layout.tied
    empty = layout.empty_combinations["formula", "tin"]
    assert empty.to_dict("records") == [{"formula": "B", "tin": "lidded"}]


def test_row_order_changes_nothing():
    loaves = two_days()
    mixed = find_layout(loaves.sample(frac=1, random_state=1), ["formula", "tin"])
    straight = find_layout(loaves, ["formula", "tin"])
    pd.testing.assert_frame_equal(mixed.factors, straight.factors)
    pd.testing.assert_frame_equal(mixed.units, straight.units)
    assert mixed.labels.index.tolist() != straight.labels.index.tolist()


def test_a_factor_that_is_no_column_is_refused():
    with pytest.raises(DesignError, match="there is no column 'salt', 'water'"):
        find_layout(two_days(), ["formula", "salt", "water"])
