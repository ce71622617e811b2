"""Weighing out: baker's percentages in grams, the water's temperature, and what a kitchen cannot
do.
"""

import pytest
from fairloaf.trials.kitchen import Preferment, Soaker
from fairloaf.trials.planning.weigh_out import weigh_out
from fairloaf.trials.planning.weighing import ice_share, water_temperature, weighed
from fairloaf.trials.reading.card_file import read_card

from .bench_kitchens import planning_check, rough_plan

CARD = """
measure = "specific_volume"
[factors]
formula = ["house", "malted"]
[kitchen]
days = 2
mixes_a_day = 2
loaves_a_mix = 6
oven_places = 12
[dough]
piece_g = 460
waste_pct = 2
scale_g = 1
fine_scale_g = 0.1
mixer_g = [1000, 4000]
temp_c = 26
flour_c = 21
room_c = 23
friction_c = 8
tap_c = 14
[formulas.house]
flour = 100
water = 60
salt = 1.8
yeast = 1.5
[formulas.malted]
flour = 98
malted_flour = 2
water = 60
salt = 1.8
yeast = 1.5
"""
SALTY = """
[factors]
salt = [1.6, 2.4]
malted_flour = [0, 5]
[kitchen]
days = 1
mixes_a_day = 2
loaves_a_mix = 2
[dough]
piece_g = 500
[formulas.house]
flour = 98
malted_flour = 2
water = 60
salt = 1.8
"""


def weighed_out(card, **changes):
    for old, new in changes.values():
        assert old in card
        card = card.replace(old, new)
    return weigh_out(rough_plan(read_card(card)))


def grams_of(result, mix, part="dough"):
    rows = result.table[(result.table["mix"] == mix) & (result.table["part"] == part)]
    return dict(zip(rows["ingredient"], rows["grams"], strict=True))


# Worked by hand: 6 × 460 / 0.98 = 2816.33 g of dough; 2816.33 / 1.633 = 1724.63 g of flour
# (planning_checks.json).
def test_the_worked_examples():
    plain, malted, sour = planning_check("weigh_out")
    for expected, flours in ((plain, {"flour": 100}), (malted, {"flour": 98, "malted_flour": 2})):
        dough = weighed(flours | {"water": 60, "salt": 1.8, "yeast": 1.5}, 6 * 460, 2)
        assert (dough.dough_g, dough.flour_g) == pytest.approx(
            (expected["dough_g"], expected["flour_g"]), rel=1e-12
        )
        assert dough.whole == dough.final == pytest.approx(expected["whole"], rel=1e-12)
    dough = weighed(
        {"flour": 100, "water": 70, "salt": 2},
        sour["dough_g"] * 0.97,
        3,
        {"preferment": Preferment(takes=15, hydration=100)},
    )
    assert dough.whole == pytest.approx(sour["whole"], rel=1e-12)
    assert dough.preferments["preferment"] == pytest.approx(sour["preferment"], rel=1e-12)
    assert dough.final == pytest.approx(sour["final"], rel=1e-12)


@pytest.mark.parametrize("case", planning_check("water_temperature"))
def test_water_temperature(case):
    water = water_temperature(
        case["desired"], case["flour"], case["room"], case["friction"], case.get("preferment")
    )
    assert water == case["water"]
    if "ice_share" in case:
        assert ice_share(water, 18) == pytest.approx(case["ice_share"], rel=1e-12)
    assert ice_share(water, water - 5) == 0


def test_what_is_weighed_adds_up_whatever_is_made_ahead():
    parts = {"flour": 80, "rye_flour": 20, "water": 75, "salt": 2, "linseed": 8}
    dough = weighed(
        parts,
        3000,
        1.5,
        {"sour": Preferment(takes=20, hydration=90, flour="rye_flour")},
        {"seeds": Soaker(holds=("linseed",), water=12)},
    )
    assert sum(dough.whole.values()) == pytest.approx(3000 / 0.985)
    assert sum(dough.final.values()) == pytest.approx(3000 / 0.985)
    assert "rye_flour" not in dough.final  # all of it is in the preferment
    assert dough.soakers["seeds"] == pytest.approx(
        {"linseed": dough.whole["linseed"], "water": 0.12 * dough.flour_g}
    )
    assert dough.final["water"] == pytest.approx(dough.flour_g * (0.75 - 0.20 * 0.90 - 0.12))


def test_every_mix_is_weighed_to_the_step_of_its_scale():
    result = weighed_out(CARD)
    assert grams_of(result, "1") == {"flour": 1725, "salt": 31.0, "yeast": 25.9, "water": 1035}
    assert grams_of(result, "2") == {
        "flour": 1690,
        "malted_flour": 34.5,
        "salt": 31.0,
        "yeast": 25.9,
        "water": 1035,
    }
    assert list(result.table.columns) == ["day", "mix", "part", "ingredient", "grams", "scale_g"]
    assert set(result.table["scale_g"]) == {1, 0.1}
    # 3 × 26 − 21 − 23 − 8 = 26 °C, warmer than the tap: no ice
    assert result.water.to_dict("list") == {
        "day": ["1", "1", "2", "2"],
        "mix": ["1", "2", "3", "4"],
        "temp_c": [26.0] * 4,
        "ice_g": [0.0] * 4,
    }
    assert result.findings == ()


def test_a_factor_named_like_an_ingredient_sets_its_percentage():
    result = weighed_out(SALTY)
    low, high = grams_of(result, "1"), grams_of(result, "2")
    flour_g = 1000 / 1.616
    assert low == {
        "flour": round(flour_g),
        "salt": round(0.016 * flour_g),
        "water": round(0.6 * flour_g),
    }
    flour_g = 1000 / 1.624
    assert high == {
        "flour": round(0.95 * flour_g),
        "malted_flour": round(0.05 * flour_g),
        "salt": round(0.024 * flour_g),
        "water": round(0.6 * flour_g),
    }


def test_ice_brings_the_tap_water_down():
    result = weighed_out(
        CARD, water=("temp_c = 26", "temp_c = 22"), tap=("tap_c = 14", "tap_c = 18")
    )
    # 3 × 22 − 21 − 23 − 8 = 14 °C; (18 − 14) / (18 + 80) of 1035 g
    assert set(result.water["temp_c"]) == {14.0}
    assert set(result.water["ice_g"]) == {42.2}


@pytest.mark.parametrize(
    ("change", "code", "severity", "says"),
    [
        (
            ("temp_c = 26", "temp_c = 17"),
            "water-too-cold",
            "error",
            (
                "Mixes 1, 2, 3, 4 need water of -1 °C for a dough of 17 °C: even ice does not give"
                " that."
            ),
        ),
        (
            ("[1000, 4000]", "[3000, 4000]"),
            "dough-too-small",
            "warning",
            (
                "Mixes 1, 2, 3, 4: 2816 g of dough, less than the 3000 g that the mixer takes at"
                " least."
            ),
        ),
        (
            ("[1000, 4000]", "[1000, 2500]"),
            "dough-too-large",
            "warning",
            "Mixes 1, 2, 3, 4: 2816 g of dough, more than the 2500 g that the mixer takes at most.",
        ),
        (
            ("fine_scale_g = 0.1", ""),
            "scale-too-coarse",
            "warning",
            "The scale makes 34 g of the 34.5 g of malted_flour in mix 2.",
        ),
        (
            ("[formulas.malted]", "[formulas.other]"),
            "no-formula",
            "note",
            "Not weighed out: the card has no percentages of malted.",
        ),
        (
            ("piece_g = 460", ""),
            "no-piece",
            "note",
            "Not weighed out: the card does not say how heavy a dough piece is.",
        ),
        (
            ("[formulas.house]", '[soakers.seeds]\nholds = ["salt"]\nwater = 70\n[formulas.house]'),
            "part-takes-more",
            "error",
            "Preferments and soakers take more water than mix 1 has.",
        ),
    ],
)
def test_what_cannot_be_weighed_mixed_or_kept_cool_is_told_once(change, code, severity, says):
    found = weighed_out(CARD, change=change).findings
    assert [(f.code, f.severity) for f in found] == [(code, severity)]
    assert found[0].message == says
    assert found[0].fix


def test_plain_data():
    assert weighed_out(CARD).to_dict()["table"][0] == {
        "day": "1",
        "mix": "1",
        "part": "dough",
        "ingredient": "flour",
        "grams": 1725.0,
        "scale_g": 1.0,
    }
