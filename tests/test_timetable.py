"""The timetable: kitchens with a known earliest end, random kitchens against a checker, and what
would help.
"""

import numpy as np
import pytest
from fairloaf.trials.planning.plan import plan_trial
from fairloaf.trials.planning.timetable import bench_timetable
from fairloaf.trials.reading.card_file import read_card

from .bench_kitchens import KITCHENS, check_day, minute, random_card, rough_plan

SMALL = KITCHENS["small_bakery"]["card"]


def table_of(card, **changes):
    for old, new in changes.values():
        assert old in card
        card = card.replace(old, new)
    return bench_timetable(rough_plan(read_card(card)))


# Earliest ends of the reference kitchens, minutes after opening:
# tests/reference/kitchens_public.json, computed.
@pytest.mark.parametrize("name", KITCHENS)
def test_the_reference_kitchens_end_as_early_as_they_can(name):
    expected = KITCHENS[name]["expect"]["timetable"]
    plan = rough_plan(read_card(KITCHENS[name]["card"]))
    table = bench_timetable(plan)
    opens = plan.card.kitchen.opens
    last_out = max(minute(t) for t in table.steps["ends"][table.steps["step"] == "out"])
    assert (table.fits, table.proven) == (expected["fits"], expected["proven_least"])
    assert (last_out - opens, minute(table.ends) - opens) == (
        expected["last_out_min"],
        expected["ends_min"],
    )
    for day in plan.loaves["day"].unique():
        check_day(plan, table, day)


@pytest.mark.parametrize("seed", [0, 1, 2, 3, 4, 5, 7, 8])
def test_a_random_kitchens_timetable_keeps_every_limit(seed):
    plan = rough_plan(random_card(np.random.default_rng(seed)))
    table = bench_timetable(plan)
    if not table.steps.empty:
        check_day(plan, table)
    assert table.fits == (not table.conflicts)


@pytest.mark.parametrize(
    ("factor", "notes"),
    [
        ('tin = ["open", "lidded"]', ["dough-waits"]),
        ("proof_min = [45, 60]", ["rest-for-proof", "dough-waits"]),
    ],
)
def test_mixes_divided_over_loads_wait_and_that_is_told(factor, notes):
    card = KITCHENS["oven_heat"]["card"].replace("mixes_a_day = 4", "mixes_a_day = 2")
    card = card.replace("loaves_a_mix = 2", "loaves_a_mix = 4").replace(
        'tin = ["open", "lidded"]', factor
    )
    plan = plan_trial(read_card(card), seed=2)
    assert plan.loads == "mixes divided over loads"
    table = bench_timetable(plan)
    assert table.fits
    for day in plan.loaves["day"].unique():
        check_day(plan, table, day)
    assert [(note.code, note.severity) for note in table.notes] == [
        (code, "note") for code in notes
    ]
    assert bench_timetable(rough_plan(read_card(SMALL))).notes == ()


def test_no_rest_is_worth_a_later_end():
    """With hours of rest to save, the day still ends as early as it can: the rest may be long, and
    is short.
    """
    long = table_of(
        SMALL,
        rest=("rest = [50, 60]", "rest = [50, 900]"),
        cool=("[120, 360]", "[120, 900]"),
        mixes=("mixes_a_day = 2", "mixes_a_day = 4"),
        days=("days = 4", "days = 1"),
    )
    short = table_of(
        SMALL,
        cool=("[120, 360]", "[120, 900]"),
        mixes=("mixes_a_day = 2", "mixes_a_day = 4"),
        days=("days = 4", "days = 1"),
    )
    assert minute(long.ends) <= minute(short.ends)


def test_one_day_is_the_same_as_in_the_whole():
    plan = rough_plan(read_card(SMALL))
    whole, one = bench_timetable(plan), bench_timetable(plan, "3")
    assert set(one.steps["day"]) == {"3"}
    assert one.steps.to_dict("records") == whole.steps[whole.steps["day"] == "3"].to_dict("records")
    with pytest.raises(ValueError, match="no day '9'; it has 1, 2, 3, 4"):
        bench_timetable(plan, "9")


def test_the_same_plan_gives_the_same_table():
    assert table_of(SMALL).to_dict() == table_of(SMALL).to_dict()


def test_a_day_too_short_names_the_single_changes_that_help():
    table = table_of(SMALL, shut=('closes = "18:00"', 'closes = "12:00"'))
    assert not table.fits
    [found] = table.conflicts
    assert (found.code, found.severity) == ("does-not-fit", "warning")
    assert (
        found.message
        == "Days 1, 2, 3, 4 do not fit: the work would end at 12:45, and the kitchen closes at"
        " 12:00."
    )
    assert (
        found.fix
        == "Any one of these would do: close at 12:45; measuring on the next day (if loaves may"
        " cool for longer than 360 minutes). These alone would not: more hands; twice the oven"
        " places; 30 minutes more of rest where needed; fewer mixes."
    )
    helped = table_of(SMALL, shut=('closes = "18:00"', 'closes = "12:45"'))
    assert helped.fits
    unmeasured = table_of(
        SMALL, shut=('closes = "18:00"', 'closes = "12:00"'), measure=("measure = 3\n", "")
    )
    assert unmeasured.fits


# A kitchen that needs until 14:51 closes at 14:20: each change that is named is made on the card
# and tried.
TIGHT = {
    "days": ("days = 4", "days = 1"),
    "mixes": ("mixes_a_day = 2", "mixes_a_day = 4"),
    **{zone: (f"{zone} = 4", f"{zone} = 2") for zone in ("front", "middle", "back")},
}


@pytest.mark.parametrize(
    ("words", "change"),
    [
        ("close at 14:51", {"shut": ("18:00", "14:51")}),
        ("a second pair of hands", {"hands": ("hands = 1", "hands = 2")}),
        (
            "twice the oven places",
            {zone: (f"{zone} = 2", f"{zone} = 4") for zone in ("front", "middle", "back")},
        ),
        ("measuring on the next day", {"measure": ("measure = 3\n", "")}),
        ("2 mixes a day", {"fewer": ("mixes_a_day = 4", "mixes_a_day = 2")}),
    ],
)
def test_each_single_change_that_is_named_helps(words, change):
    shut = {} if "shut" in change else {"shut": ("18:00", "14:20")}
    assert table_of(
        SMALL, **TIGHT, **shut, **{f"then {name}": edit for name, edit in change.items()}
    ).fits
    [found] = table_of(SMALL, **TIGHT, shut=("18:00", "14:20")).conflicts
    assert words in found.fix.partition(" These alone")[0]


def test_a_change_that_is_said_not_to_help_does_not():
    tried = table_of(
        SMALL, **TIGHT, shut=("18:00", "14:20"), rest=("rest = [50, 60]", "rest = [50, 90]")
    )
    assert not tried.fits
    [found] = table_of(SMALL, **TIGHT, shut=("18:00", "14:20")).conflicts
    assert found.fix.endswith("These alone would not: 30 minutes more of rest where needed.")


def test_loaves_that_cool_too_long_have_no_order_at_all():
    """Eight mixes of six by one pair of hands: the first loaf is six hours out before the last is
    measured.
    """
    table = table_of(
        SMALL, mixes=("mixes_a_day = 2", "mixes_a_day = 8"), days=("days = 4", "days = 1")
    )
    assert not table.fits
    assert table.ends is None
    [found] = table.conflicts
    assert (
        "no order of the work was found that keeps rest, proof and cooling within their limits"
        in found.message
    )
    for words in ("a second pair of hands (hands = 2)", "on the next day", "5 mixes a day"):
        assert words in found.fix.partition("would not")[0]
    assert "a later closing time" in found.fix.partition("would not")[2]


def test_more_loaves_than_places_are_told_first():
    table = table_of(
        SMALL,
        front=("front = 4", "front = 1"),
        middle=("middle = 4", "middle = 1"),
        back=("back = 4", "back = 1"),
        proof=("proof_min = [45, 60, 75]", 'shape = ["round", "long"]'),
    )
    assert (
        table.conflicts[0].message
        == "Days 1, 2, 3, 4 do not fit: mix 1 has 2 loaves for the oven's back, which takes 1."
    )


def test_a_card_without_minutes_gets_a_note():
    table = table_of(
        SMALL,
        minutes=("[minutes]\nweigh = 4\nmix = 12\nattend = 3\nrest = [50, 60]\n", "[minutes]\n"),
    )
    assert (table.fits, table.ends, len(table.steps)) == (None, None, 0)
    [found] = table.conflicts
    assert (found.code, found.severity) == ("no-minutes", "note")
    assert (
        found.message == "There is no timetable: the card does not say under [minutes] mix, rest."
    )
    assert found.fix == "Write under  [minutes]  mix = 12  ,  rest = [50, 60]"


def test_without_a_closing_time_any_day_fits():
    assert table_of(SMALL, shut=('closes = "18:00"\n', "")).fits
