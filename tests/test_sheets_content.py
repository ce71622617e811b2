"""What stands on each sheet, before paper: the run, weighing, measuring, scoring orders, the key,
the workbook.
"""

from collections import Counter
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from fairloaf.trials.planning.plan import plan_trial
from fairloaf.trials.planning.timetable import bench_timetable
from fairloaf.trials.planning.weigh_out import weigh_out
from fairloaf.trials.reading.card_file import read_card
from fairloaf.trials.sheets.blind import key_rows, label_days, measure_sheet
from fairloaf.trials.sheets.run import run_days
from fairloaf.trials.sheets.score import score_pages, serving_orders, williams
from fairloaf.trials.sheets.weigh import weigh_pages
from fairloaf.trials.sheets.workbook import book_sheets

from .bench_kitchens import KITCHENS, planning_check

SCORED = '\n[scores]\nattributes = ["openness", "softness"]\nassessors = 5\n'
FORMULAS = """
[dough]
piece_g = 460
[preferments.sour]
takes = 10
hydration = 100
[formulas.house]
flour = 100
water = 62
salt = 1.8
[formulas.malted]
flour = 98
malted_flour = 2
water = 62
salt = 1.8
"""


@cache
def planned(name="small_bakery", more=""):
    return plan_trial(read_card(KITCHENS[name]["card"] + more), seed=5)


# Williams 1949, Aust. J. Sci. Res. A 2: 149–168; first rows for 6, 7 and 10 as printed
# (planning_checks.json).
@pytest.mark.parametrize("square", planning_check("williams"), ids=lambda square: str(square["n"]))
def test_williams_squares(square):
    rows = [row for part in williams(square["n"]) for row in part]
    assert [i + 1 for i in rows[0]] == square["first_row"]
    assert len(rows) == square["rows"]
    follows = Counter(pair for row in rows for pair in pairwise(row))
    assert set(follows.values()) == {square["follows_each"]}
    for place in zip(*rows, strict=True):
        assert len(set(Counter(place).values())) == 1


@pytest.mark.parametrize("loaves", range(1, 13))
@pytest.mark.parametrize("assessors", [1, 2, 5, 6, 13, 30])
def test_scoring_orders_hold_every_code_and_even_places(loaves, assessors):
    codes = [str(100 + i) for i in range(loaves)]
    orders = serving_orders(codes, assessors, np.random.default_rng(loaves))
    assert [sorted(order) for order in orders] == [codes] * assessors
    for place in zip(*orders, strict=True):
        counts = Counter(place)
        assert max(counts.values()) - min(counts.get(code, 0) for code in codes) <= 1


def test_many_loaves_are_scored_in_sets_that_hold_every_formula():
    plan = planned("class_tables", SCORED)
    formula = dict(zip(plan.loaves["loaf"], plan.loaves["formula"], strict=True))
    pages = score_pages(plan)
    assert [page.assessor for page in pages] == [1, 2, 3, 4, 5]
    for page in pages:
        assert sorted(page.loaves) == sorted(formula)
        assert [len(some) for some in page.sets] == [8, 8]
        assert [Counter(formula[code] for code in some) for some in page.sets] == [
            {"white": 4, "oat": 4}
        ] * 2


def test_without_a_number_of_assessors_pages_are_blank():
    plan = planned(more=SCORED.replace("assessors = 5\n", ""))
    assert [(page.assessor, page.sets) for page in score_pages(plan)] == [(None, ())] * 4
    assert score_pages(planned()) == ()


@pytest.mark.parametrize("name", KITCHENS)
def test_the_run_has_every_loaf_at_every_step_by_the_clock(name):
    plan = planned(name)
    days = run_days(plan, bench_timetable(plan))
    assert [day.day for day in days] == list(dict.fromkeys(plan.loaves["day"]))
    for day in days:
        codes = sorted(plan.loaves["loaf"][plan.loaves["day"] == day.day])
        times = [step.begins for step in day.steps]
        assert times == sorted(times)
        for kind in ("shape", "in", "out"):
            assert (
                sorted(
                    code
                    for step in day.steps
                    if step.step == kind
                    for _, some in step.loaves
                    for code in some
                )
                == codes
            )
        if {"oven_load", "oven_place"} & set(plan.loaves):
            assert sorted(code for place in day.oven for code in place.loaves) == codes
            zones = list(plan.card.kitchen.zones)
            at = [(place.oven_load or "", place.place) for place in day.oven]
            assert [zone for _, zone in at if zone] == [
                zone for _ in dict.fromkeys(load for load, _ in at) for zone in zones
            ]


def test_shaping_tells_apart_what_is_done_to_each_loaf():
    plan = planned()
    levels = plan.loaves.set_index("loaf")
    [day, *_] = run_days(plan, bench_timetable(plan))
    step = next(step for step in day.steps if step.step == "shape")
    assert step.made == (("formula", levels["formula"][step.loaves[0][1][0]]),)
    for (tin, proof), [code] in step.loaves:
        assert (tin[1], proof[1]) == (levels.loc[code, "tin"], levels.loc[code, "proof_min"])


def test_without_minutes_the_run_goes_dough_by_dough():
    card = KITCHENS["small_bakery"]["card"].partition("[minutes]")[0]
    plan = plan_trial(read_card(card), seed=5)
    [day, *_] = run_days(plan, bench_timetable(plan))
    assert [step.begins for step in day.steps] == [None] * 11
    assert [step.step for step in day.steps[:6]] == ["weigh", "mix", "shape", "in", "out", "weigh"]


def test_a_page_a_mix_and_the_evening_before():
    plan = planned(more=FORMULAS)
    pages = weigh_pages(plan, weigh_out(plan))
    assert [page.part for page in pages[:4]] == ["sour", "sour", None, None]
    assert Counter(page.part for page in pages) == {"sour": 8, None: 8}
    levels = plan.loaves.set_index("loaf")["formula"]
    for page in pages:
        assert {levels[code] for code in page.loaves} == {level for _, level in page.made}
        assert [line.ingredient for line in page.lines][-1] == "water"
    assert ("sour", 345.0) not in [(line.ingredient, line.grams) for line in pages[0].lines]


def test_blind_lists_follow_the_measuring_order_and_name_every_code_once():
    plan = planned()
    order = plan.loaves.sort_values(["day", "measure_order"])["loaf"].tolist()
    assert [code for day in measure_sheet(plan).days for code in day.loaves] == order
    assert [code for _, codes in label_days(plan) for code in codes] == [
        code for code in order for _ in range(2)
    ]


def test_the_key_is_whole():
    plan = planned()
    assert sorted(row.loaf for row in key_rows(plan)) == sorted(plan.loaves["loaf"])
    by_code = plan.loaves.set_index("loaf")
    for row in key_rows(plan):
        mine = by_code.loc[row.loaf]
        assert (row.day, row.mix, dict(row.places)) == (
            mine["day"],
            mine["mix"],
            {"oven_place": mine["oven_place"]},
        )
        assert dict(row.levels) == {
            "formula": mine["formula"],
            "tin": mine["tin"],
            "proof_min": mine["proof_min"],
        }


def test_seed_is_read_where_the_card_names_its_columns():
    plain, seed = (
        planned(),
        planned(more='\n[columns]\nbox_ml = "Box full"\nseed_ml = "Left over"\n'),
    )
    assert (measure_sheet(plain).by_seed, measure_sheet(seed).by_seed) == (False, True)
    loaves, readings = book_sheets(seed, ("dropped",))
    assert [column.header for column in readings.columns] == [
        "Loaf",
        "Repeat",
        "Empty box (mL)",
        "Seed left over (mL)",
        "Note",
    ]
    assert {"Box full", "Left over"} <= {column.header for column in loaves.columns}


def test_the_workbook_has_a_row_a_loaf_a_reading_and_a_score():
    plan = planned(more=SCORED)
    loaves, readings, scores = book_sheets(plan, ("dropped",))
    assert (len(loaves.rows), len(readings.rows), len(scores.rows)) == (48, 3 * 48, 5 * 48)
    assert [c.header for c in loaves.columns] == [
        "Loaf",
        "Dough temperature (°C)",
        "Dough mass (g)",
        "Baked mass (g)",
        "Height (mm)",
        "Cooling time (min)",
        "Void",
        "Note",
    ]
    assert [c.header for c in loaves.columns if c.locked] == ["Loaf"]
    assert next(c for c in loaves.columns if c.header == "Baked mass (g)").high == 3000
    assert scores.columns[3].choices == tuple(range(1, 11))
    halves = book_sheets(planned(more=SCORED + "step = 0.5\n"), ("dropped",))[2].columns[3]
    assert (halves.choices, halves.low, halves.high) == ((), 1, 10)
    assert all(value is None for row in loaves.rows for value in row[1:])
