"""Timetables of a hundred random kitchens against the checker, and what a day costs in processor
time.
"""

import time

import numpy as np
import pytest
from fairloaf.trials.planning.timetable import bench_timetable
from fairloaf.trials.reading.card_file import read_card

from ..bench_kitchens import KITCHENS, check_day, random_card, rough_plan

pytestmark = pytest.mark.benchmark


def test_a_hundred_random_kitchens():
    placed, slowest = 0, 0.0
    for seed in range(100, 200):
        plan = rough_plan(random_card(np.random.default_rng(seed)))
        began = time.process_time()
        table = bench_timetable(plan)
        if table.fits:
            slowest = max(slowest, time.process_time() - began)
        if not table.steps.empty:
            check_day(plan, table)
            placed += 1
    print(
        f"\n{placed} of 100 days placed and checked; the slowest that fits took {slowest:.2f} s of"
        " processor time"
    )
    assert placed >= 75


@pytest.mark.parametrize(("mixes", "places"), [(2, 4), (4, 4), (6, 4), (8, 4), (8, 8)])
def test_what_a_day_costs(mixes, places):
    card = KITCHENS["small_bakery"]["card"].replace("mixes_a_day = 2", f"mixes_a_day = {mixes}")
    card = (
        card.replace("days = 4", "days = 1")
        .replace("[120, 360]", "[120, 600]")
        .replace(" = 4\n", f" = {places}\n")
    )
    plan = rough_plan(read_card(card))
    bench_timetable(plan)
    began = time.process_time()
    table = bench_timetable(plan)
    print(
        f"\n{mixes} mixes of 6, {3 * places} places: {time.process_time() - began:.2f} s of"
        f" processor time, ends {table.ends}, proven: {table.proven}"
    )
    assert table.fits
