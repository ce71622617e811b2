"""One loaf a combination: effects, Lenth's limits, half-normal scores, aliases, curvature."""

import json
from itertools import product

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import factor_effects
from fairloaf.analysis.factors.unreplicated import lenth, unreplicated_effects

from .trials_from_tables import REFERENCE, reference_table, trial_from

ENTRIES = json.loads((REFERENCE / "expected.json").read_text("utf-8"))
EXPECTED = {entry["name"]: entry["expected"] for entry in ENTRIES}


def as_published(term):
    """``A × C`` as the reference has it: ``AC``."""
    return term.replace(" × ", "")


@pytest.mark.parametrize(
    ("name", "measure"), [("filtration", "filtration"), ("drill", "drill_rate")]
)
def test_effects_and_lenths_limits_as_published(name, measure):
    """Montgomery, 8th ed., example 6.2; Daniel 1976 (drill); limits by Lenth 1989."""
    expected = EXPECTED[f"{name}_2_4"]
    found = unreplicated_effects(reference_table(f"{name}.csv"), measure, list("ABCD"))
    effects = dict(
        zip(found.effects["term"].map(as_published), found.effects["effect"], strict=True)
    )
    assert effects == pytest.approx(expected["effects"])
    limits = expected["lenth"]
    assert found.limits.s0 == pytest.approx(limits["s0"])
    assert found.limits.pse == pytest.approx(limits["pse"])
    assert found.limits.df == limits["df"]
    assert found.limits.margin == pytest.approx(limits["margin_of_error"], rel=1e-9)
    assert found.limits.simultaneous_margin == pytest.approx(
        limits["simultaneous_margin_of_error"], rel=1e-9
    )
    beyond = found.effects.set_index(found.effects["term"].map(as_published))["beyond"]
    assert set(beyond[beyond == "simultaneous"].index) == set(limits["beyond_simultaneous"])
    assert set(beyond[beyond != "no"].index) == set(limits["beyond_margin"])


def test_the_drills_rates_in_logarithms():
    table = reference_table("drill.csv").assign(log_rate=lambda d: np.log(d["drill_rate"]))
    found = unreplicated_effects(table, "log_rate", list("ABCD"))
    expected = EXPECTED["drill_2_4"]["log_scale"]
    assert found.limits.pse == pytest.approx(expected["lenth"]["pse"], rel=1e-9)
    assert found.limits.margin == pytest.approx(expected["lenth"]["margin_of_error"], rel=1e-9)


def test_half_normal_quantiles_as_published():
    found = unreplicated_effects(reference_table("filtration.csv"), "filtration", list("ABCD"))
    got = found.effects.set_index(found.effects["term"].map(as_published))["half_normal"]
    for row in EXPECTED["filtration_2_4"]["half_normal"]:
        assert got[row["effect"]] == pytest.approx(row["half_normal_quantile"], rel=1e-9)


def test_the_half_fraction_and_its_aliases():
    """Montgomery, 8th ed., example 8.1: I = ABCD."""
    table = reference_table("filtration.csv").query("A * B * C == D")
    found = unreplicated_effects(table, "filtration", list("ABCD"))
    expected = EXPECTED["filtration_half_fraction"]
    assert found.fraction == 0.5
    assert [as_published(word) for word in found.defining_words] == ["ABCD"]
    rows = found.effects.assign(term=found.effects["term"].map(as_published)).set_index("term")
    assert rows["effect"].to_dict() == pytest.approx(expected["effects"])
    assert {
        term: as_published(aliases[0]) for term, aliases in rows["aliases"].items()
    } == expected["aliases"]


def test_the_other_half_carries_its_aliases_with_the_opposite_sign():
    table = reference_table("filtration.csv").query("A * B * C == -D")
    rows = unreplicated_effects(table, "filtration", list("ABCD")).effects.set_index("term")
    assert rows.loc["A", "aliases"] == ("−B × C × D",)


def test_a_quarter_fraction_has_three_defining_words():
    """2^(5−2) with D = AB and E = AC, so that BCDE is the third word (Box and Hunter 1961)."""
    codes = pd.DataFrame(list(product([-1, 1], repeat=3)), columns=list("ABC"))
    table = codes.assign(
        D=codes["A"] * codes["B"], E=codes["A"] * codes["C"], y=np.arange(8.0) ** 1.5
    )
    found = unreplicated_effects(table, "y", list("ABCDE"))
    assert {as_published(word) for word in found.defining_words} == {"ABD", "ACE", "BCDE"}
    assert {
        as_published(alias) for alias in found.effects.set_index("term").loc["A", "aliases"]
    } == {"BD", "CE", "ABCDE"}


def test_centre_points_as_published():
    """Montgomery, 8th ed., example 6.7, from memory: sum of squares 0.0027, mean square for error
    0.0430.
    """
    table = pd.DataFrame(
        {
            "time": [30, 40, 30, 40, *[35] * 5],
            "heat": [150, 150, 160, 160, *[155] * 5],
            "yield": [39.3, 40.9, 40.0, 41.5, 40.3, 40.5, 40.7, 40.2, 40.6],
        }
    ).astype(float)
    curvature = unreplicated_effects(table, "yield", ["time", "heat"]).curvature
    assert (curvature.n_corners, curvature.n_centre, curvature.df) == (4, 5, 4)
    assert curvature.estimate == pytest.approx(-0.035)
    sum_of_squares = 4 * 5 / 9 * curvature.estimate**2
    assert sum_of_squares == pytest.approx(0.0027, abs=5e-5)
    assert sum_of_squares / (curvature.estimate / curvature.standard_error) ** 2 == pytest.approx(
        0.0430, abs=5e-5
    )


def test_curvature_is_told_in_words():
    rng = np.random.default_rng(1)
    corners = list(product([45.0, 75.0], [58.0, 66.0], [20.0, 26.0]))
    rows = [(*corner, 4 + rng.normal(0, 0.02)) for corner in corners]
    rows += [(60.0, 62.0, 23.0, 4.5 + rng.normal(0, 0.02)) for _ in range(4)]
    names = ["proof_min", "water", "heat"]
    f = factor_effects(
        trial_from(pd.DataFrame(rows, columns=[*names, "y"]), "y", names, numbers=names)
    )
    assert f.unreplicated.curvature.p_value < 0.001
    assert any("lies off the straight line" in words for words in f.sentences)


def test_effects_that_a_mix_holds_get_no_limits():
    """Formula by mix, three other factors by loaf: the formula's effect cannot be judged by the
    loaves'.
    """
    rng = np.random.default_rng(6)
    rows = [
        (formula, formula, *others, rng.normal(4, 0.1))
        for formula, *others in product("hm", "xy", "pq", "st")
    ]
    table = pd.DataFrame(rows, columns=["mix", "formula", "tin", "place", "shape", "y"])
    f = factor_effects(trial_from(table, "y", ["formula", "tin", "place", "shape"]))
    effects = f.unreplicated.effects.set_index("term")
    assert (effects.loc["formula", "unit"], effects.loc["formula", "beyond"]) == ("mix", "unjudged")
    assert (effects["beyond"] == "unjudged").sum() == 1
    assert f.unreplicated.limits.df == pytest.approx(14 / 3)
    assert f.effects.set_index("factor")["ci_low"].isna().to_dict() == {
        "formula": True,
        "tin": False,
        "place": False,
        "shape": False,
    }
    assert "What formula did cannot be told from what changed from mix to mix." in f.sentences


def test_one_mix_a_combination_is_judged_by_mixes():
    """Three factors of the dough, one mix each, three loaves a mix: the means of mixes are the
    data.
    """
    rng = np.random.default_rng(7)
    rows = [
        (f"{a}{b}{c}", a, b, c, 4 + 0.5 * (a == "y") + rng.normal(0, 0.05))
        for a, b, c in product("xy", "pq", "st")
        for _ in range(3)
    ]
    table = pd.DataFrame(rows, columns=["mix", "flour", "yeast", "salt", "y"])
    f = factor_effects(trial_from(table, "y", ["flour", "yeast", "salt"]))
    assert set(f.unreplicated.effects["unit"]) == {"mix"}
    assert f.effects.loc[0, "factor"] == "flour"
    by_mix = table.groupby("flour")["y"].mean()
    assert f.effects.loc[0, "size"] == pytest.approx(by_mix["y"] - by_mix["x"])


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.drop(index=3),  # a combination is missing
        lambda d: pd.concat([d, d.iloc[[0]]], ignore_index=True),  # one was baked twice
        # a third level that is no centre point
        lambda d: d.assign(A=d["A"].where(d.index != 2, 0)),
    ],
)
def test_anything_else_is_not_taken_for_single_runs(spoil):
    table = spoil(reference_table("filtration.csv"))
    assert unreplicated_effects(table, "filtration", list("ABCD")) is None


def test_fewer_than_three_effects_have_no_limits():
    assert np.isnan(lenth(np.array([1.0, 2.0])).margin)


def test_limits_scale_with_the_effects():
    effects = np.random.default_rng(0).normal(size=15)
    assert lenth(10 * effects).margin == pytest.approx(10 * lenth(effects).margin)
    assert lenth(-effects).pse == pytest.approx(lenth(effects).pse)
