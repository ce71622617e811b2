"""Picking the largest, and numbers that leave the package: the last bits of a sum decide
nothing.
"""

import math

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis import compare_formulas, factor_effects
from fairloaf.analysis.methods.multiplicity import tukey_p_value
from fairloaf.analysis.methods.ties import largest, rounded, smallest
from fairloaf.analysis.plain_data import plain, significant

from .report_examples import trial
from .simulated_bakes import as_trial

HAIR = 1 + 4e-16


@pytest.mark.parametrize(
    ("values", "top", "bottom"),
    [
        ([1.0, 3.0, 2.0], [1], [0]),
        ([1.5392, -2.0, 1.5392 * HAIR], [0, 2], [1]),
        ([math.nan, 2.0, 2.0], [1, 2], [1, 2]),
        ([math.nan, math.nan], [], []),
        ([], [], []),
        ([0.0, -0.0], [0, 1], [0, 1]),
    ],
)
def test_what_differs_in_the_last_bits_is_a_tie(values, top, bottom):
    assert (largest(values), smallest(values)) == (top, bottom)


def test_sorting_does_not_see_the_last_bits():
    table = pd.DataFrame({"name": ["a", "b", "c"], "size": [0.3, 0.1 + 0.2, 0.4]})
    assert 0.1 + 0.2 > 0.3
    assert list(table.sort_values("size", kind="stable", key=rounded)["name"]) == ["a", "b", "c"]


@pytest.mark.parametrize(
    ("value", "kept"),
    [
        (0.1 + 0.2, 0.3),
        (4.0, 4.0),
        (4006381333931.0, 4006381333931.0),
        (-1 / 3, -0.3333333333),
        (2e-30 / 3, 6.666666667e-31),
    ],
)
def test_a_number_leaves_with_ten_digits_and_a_whole_one_with_all(value, kept):
    assert significant(value) == kept
    assert plain(np.float64(value)) == kept


def test_what_is_missing_stays_missing():
    assert plain([math.nan, math.inf, None]) == [None, None, None]


def test_a_chance_of_many_pairs_is_told_to_twelve_decimals_and_never_as_zero():
    assert tukey_p_value(60.0, 30.0, 4) == 1e-12
    assert tukey_p_value(9.0, 30.0, 4) == round(tukey_p_value(9.0, 30.0, 4), 12)


def test_both_mixes_of_the_example_that_lie_farthest_off_are_named():
    """In a balanced trial a day's two mixes lie equally far off."""
    checks = factor_effects(trial("small_bakery")).residual_checks
    mixes = [found for found in checks.strange if found.unit == "mix"]
    assert len(mixes) == 2
    assert abs(mixes[0].standardised + mixes[1].standardised) < 1e-9


@pytest.mark.parametrize("answer", [compare_formulas, factor_effects])
def test_sums_in_another_order_give_the_same_data(answer):
    """A loaf moved up or down changes the last bits of every sum, and nothing that is told."""
    one = trial("small_bakery")
    moved = one.loaves.iloc[::-1]
    again = type(one)(
        **{name: getattr(one, name) for name in one.__dataclass_fields__} | {"loaves": moved}
    )
    first, second = answer(one).to_dict(), answer(again).to_dict()
    kept = (
        "means",
        "pairs",
        "contrasts",
        "by_level",
        "effects",
        "tests",
        "difference",
        "ci_low",
        "p_value",
    )
    assert {k: first[k] for k in kept if k in first} == {k: second[k] for k in kept if k in second}


def test_levels_that_lie_as_far_apart_are_all_named():
    """Two formulas above the third by the same: neither is the one that is told."""
    rows = [
        {"loaf": f"{i}", "mix": f"M{i // 2}", "formula": "abc"[i // 2 % 3], "loaf_g": 100.0}
        for i in range(18)
    ]
    rise = {"a": 400.0, "b": 450.0, "c": 450.0}
    for i, row in enumerate(rows):
        row["loaf_ml"] = rise[row["formula"]] + (3, -3, 1, -1)[(i + i // 6) % 4]
    table = pd.DataFrame(rows)
    table["loaf_ml"] += table["formula"].map(rise) - table.groupby("formula")["loaf_ml"].transform(
        "mean"
    )
    trial_of_three = as_trial(table.assign(specific_volume=table["loaf_ml"] / 100))
    said = factor_effects(trial_of_three).sentence
    assert "“b” above “a” by" in said
    assert ", and “c” above “a” by as much (likely between" in said
