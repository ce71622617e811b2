"""A plan of every kitchen is what it must be, with every seed; what cannot be planned is told with
its fix.
"""

from functools import cache

import numpy as np
import pytest
from fairloaf.trials import TrialError, plan_trial
from fairloaf.trials.card import TrialCard
from fairloaf.trials.planning.even_order import spread
from fairloaf.trials.planning.plan import pairs_to_check, unfair
from fairloaf.trials.reading.card_file import read_card

from .planned_kitchens import card_text_of, kitchens, slips_of

NAMES = tuple(kitchens())
PLACES = {"mix_order": "mix_order", "day": "day", "place": "oven_place"}


def drawn(name, seed):
    return plan_trial(read_card(kitchens()[name]["card"]), seed=seed)


@cache
def plan_of(name, seed=1):
    return drawn(name, seed)


@pytest.mark.parametrize("name", NAMES)
def test_a_kitchen_gets_the_layout_it_must_have(name):
    expect = kitchens()[name]["expect"]
    for seed in kitchens()[name]["seeds"]:
        plan = plan_of(name, seed)
        assert plan.layout in expect["layout"]
        assert plan.inside == expect["inside"]
        assert plan.loads == expect.get("loads", "none")
        assert (plan.loaves["day"].nunique(), len(plan.mixes), len(plan.loaves)) == (
            expect["days"],
            expect["mixes"],
            expect["loaves"],
        )
        assert set(plan.loaves.groupby("mix").size()) == {expect["loaves_a_mix"]}
        assert {n: plan.made_per[n] for n in expect["factors"]} == {
            n: of["unit"] for n, of in expect["factors"].items()
        }
        for factor, against in expect["spread"].items():
            for place, most in against.items():
                units = (
                    plan.mixes
                    if plan.made_per[factor] == "mix" and place != "place"
                    else plan.loaves
                )
                label, kind = (
                    np.unique(units[c], return_inverse=True)[1] for c in (factor, PLACES[place])
                )
                assert spread(label, kind) <= most


def test_what_cannot_be_told_apart_is_named():
    expect = kitchens()["four_changes"]["expect"]["tied"]
    for seed in range(5):
        tied = [set(group) for group in plan_of("four_changes", seed).tied]
        for group in expect["must"]:
            assert any(set(group) <= one for one in tied)
        assert any("day" in group and any(" × " in effect for effect in group) for group in tied)
        assert not any(
            factor in group for group in tied for factor in ("water", "yeast", "mix_min", "salt")
        )


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("seed", range(5))
def test_every_seed_is_even_fair_and_safe_from_slips(name, seed):
    plan = plan_of(name, seed)
    assert (plan.balance["spread"] <= plan.balance["promised"]).all()
    assert not unfair(plan.card, plan.loaves)
    codes = set(plan.loaves["loaf"])
    assert len(codes) == len(plan.loaves)
    assert not any(codes & slips_of(code) for code in codes)
    for order in ("bake_order", "measure_order"):
        assert all(
            sorted(day[order]) == list(range(1, len(day) + 1))
            for _, day in plan.loaves.groupby("day")
        )


def test_the_same_seed_gives_the_same_plan_and_another_one_another():
    once, again, other = (drawn("oven_heat", seed) for seed in (7, 7, 8))
    assert once.to_dict() == again.to_dict()
    assert once.loaves["loaf"].tolist() != other.loaves["loaf"].tolist()


TWO = 'formula = ["a", "b"]'
FOUR_DAYS = "days = 4\nmixes_a_day = 2\nloaves_a_mix = 4"


@pytest.mark.parametrize(
    ("factors", "kitchen", "rest", "code", "said"),
    [
        ('formula = ["a"]', FOUR_DAYS, "", "plan-one-level", "formula has one level only: a."),
        (
            f"{TWO}\nroom = [1, 2]",
            FOUR_DAYS,
            "",
            "plan-made-per",
            '[made_per]  and below it  room = "mix"',
        ),
        (
            "proof_min = [40, 60]",
            FOUR_DAYS,
            'proof_to = "height"',
            "proof-is-an-outcome",
            'proof_to = "time"',
        ),
        (
            'formula = ["a", "b", "c"]',
            "days = 2\nmixes_a_day = 1\nloaves_a_mix = 4",
            "",
            "too-few-mixes",
            "2 mixes cannot tell apart what is changed",
        ),
        (f"{TWO}\noven_c = [220, 240]", FOUR_DAYS, "", "too-few-mixes", "loads_a_day = 2"),
    ],
)
def test_what_cannot_be_planned_is_told_with_its_fix(factors, kitchen, rest, code, said):
    with pytest.raises(TrialError) as stopped:
        plan_trial(read_card(card_text_of(factors, kitchen, rest)), seed=1)
    assert code in {finding.code for finding in stopped.value.findings}
    assert said in str(stopped.value)


def test_a_card_without_kitchen_is_given_lines_to_copy():
    with pytest.raises(TrialError) as stopped:
        plan_trial(read_card(f"[factors]\n{TWO}\nroom = [1, 2]"), seed=1)
    codes = [finding.code for finding in stopped.value.findings]
    assert codes == ["plan-no-kitchen", "plan-made-per"]
    lines = stopped.value.findings[0].fix.split(":\n", 1)[1]
    assert plan_trial(read_card(f"[factors]\n{TWO}\n{lines}"), seed=1).layout == "complete days"


def test_loaves_give_way_before_mixes():
    plan = plan_trial(
        read_card(
            card_text_of(
                f'{TWO}\ntin = ["open", "lidded"]',
                "days = 4\nmixes_a_day = 2\nloaves_a_mix = 6\nloads_a_day = 1\noven_places = 9",
            )
        ),
        seed=1,
    )
    assert len(plan.mixes) == 8
    assert set(plan.loaves.groupby("mix").size()) == {4}
    finding = next(f for f in plan.findings if f.code == "fewer-loaves")
    assert finding.severity == "warning"
    assert (
        finding.message
        == "The card has 6 loaves a mix, but the oven takes 4: each mix is cut into 4."
    )


def test_one_mix_of_each_shows_nothing_and_says_so():
    plan = plan_trial(
        read_card(card_text_of(TWO, "days = 1\nmixes_a_day = 2\nloaves_a_mix = 8")), seed=1
    )
    assert [f.code for f in plan.findings] == ["shows-nothing"]
    assert plan.findings[0].severity == "warning"


LOAF = 'tin = ["open", "lidded"]\nproof_min = [45, 60, 75]'
THREE = "water = [58, 64]\nyeast = [1.0, 2.0]\nsalt = [1.6, 2.0]"


@pytest.mark.parametrize(
    ("factors", "kitchen", "layout", "inside", "loads"),
    [
        (
            LOAF,
            "days = 3\nmixes_a_day = 2\nloaves_a_mix = 6",
            "complete days",
            "complete mixes",
            "none",
        ),
        (
            f"{TWO}\n{LOAF}",
            "days = 4\nmixes_a_day = 3\nloaves_a_mix = 4",
            "chosen by exchange",
            "chosen by exchange",
            "none",
        ),
        (
            'flour_lot = ["x", "y"]',
            "days = 4\nmixes_a_day = 2\nloaves_a_mix = 2",
            "complete days",
            "loaves alike",
            "none",
        ),
        (
            f"{TWO}\noven_c = [220, 240]",
            "days = 4\nmixes_a_day = 2\nloaves_a_mix = 4\nloads_a_day = 2\noven_places = 4",
            "complete days",
            "loaves alike",
            "mixes divided over loads",
        ),
        (
            TWO,
            (
                "days = 2\nmixes_a_day = 4\nloaves_a_mix = 3\nloads_a_day = 2\noven_places = {"
                " front = 2, back = 4 }"
            ),
            "complete days",
            "loaves alike",
            "whole mixes",
        ),
        (
            THREE,
            "days = 2\nmixes_a_day = 5\nloaves_a_mix = 2",
            "two-level factorial",
            "loaves alike",
            "none",
        ),
        (
            f"{THREE}\nmix_min = [6, 12]",
            "days = 4\nmixes_a_day = 4\nloaves_a_mix = 1",
            "two-level factorial",
            "loaves alike",
            "none",
        ),
        (
            f'{TWO}\ntin = ["open", "lidded"]',
            "days = 4\nmixes_a_day = 4\nloaves_a_mix = 1",
            "complete days",
            "loaves alike",
            "none",
        ),
    ],
)
def test_unusual_kitchens_are_planned_whole(factors, kitchen, layout, inside, loads):
    plan = plan_trial(read_card(card_text_of(factors, kitchen)), seed=1)
    assert (plan.layout, plan.inside, plan.loads) == (layout, inside, loads)
    limits = plan.card.kitchen
    assert len(plan.mixes) == limits.days * limits.mixes_a_day
    assert (plan.balance["spread"] <= plan.balance["promised"]).all()
    for name, unit in plan.made_per.items():
        of = {"day": "day", "load": "oven_load", "mix": "mix", "loaf": "loaf"}[unit]
        assert set(plan.loaves.groupby(of)[name].nunique()) == {1}
    if loads != "none" and limits.oven_places:
        assert plan.loaves.groupby("oven_load").size().max() <= limits.oven_places
    for zone, places in limits.zones.items():
        assert (
            plan.loaves[plan.loaves["oven_place"] == zone].groupby("oven_load").size().max()
            <= places
        )


def test_a_day_with_a_mix_to_spare_gets_a_centre_point():
    plan = plan_trial(
        read_card(card_text_of(THREE, "days = 2\nmixes_a_day = 5\nloaves_a_mix = 2")), seed=1
    )
    assert plan.centre_points == 2
    centres = plan.mixes[plan.mixes["water"] == 61]
    assert centres[["yeast", "salt"]].drop_duplicates().to_numpy().tolist() == [[1.5, 1.8]]
    assert sorted(centres["day"]) == ["1", "2"]


@pytest.mark.parametrize(
    ("n", "control", "pairs"), [(10, None, 45), (11, "f3", 10), (60, None, 60)]
)
def test_of_many_formulas_each_is_checked_with_one_other(n, control, pairs):
    """All pairs of sixty formulas are 1,770, and take minutes."""
    card = TrialCard(factors={"formula": tuple(f"f{i}" for i in range(n))}, control=control)
    checked = pairs_to_check(card)
    assert len(checked) == len(set(checked)) == pairs
    assert {formula for pair in checked for formula in pair} == set(card.factors["formula"])
