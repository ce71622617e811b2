"""Serving plans: balanced as promised for any seed, blind, and the same on every run."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest
from fairloaf.analysis import plan_servings
from fairloaf.trials import TrialError
from fairloaf.trials.planning.serving import plan_with_loaves, williams_square
from fairloaf.trials.tasting.kinds import KINDS

SEEDS = range(1000)


def orders(plan) -> list[tuple[str, ...]]:
    """Return the breads in serving order, the reference of a duo-trio first."""
    bread = dict(zip(plan.codes["code"], plan.codes["bread"], strict=True))
    return [
        tuple(bread[code] for code in f"{row.reference} {row.served}".split())
        for row in plan.table.itertuples()
    ]


# Williams 1949: each bread equally often in each place, each ordered pair of neighbours equally
# often
@pytest.mark.parametrize(
    ("breads", "rows"),
    [
        (2, 2),
        (3, 6),
        (4, 4),
        (5, 10),
        (6, 6),
        (7, 14),
        (8, 8),
        (9, 18),
        (10, 10),
        (11, 22),
        (12, 12),
    ],
)
def test_williams_squares_are_balanced(breads, rows):
    square = williams_square(breads)
    assert square.shape == (rows, breads)
    places = Counter((place, bread) for row in square.tolist() for place, bread in enumerate(row))
    neighbours = Counter(pair for row in square.tolist() for pair in pairwise(row))
    assert set(places.values()) == {rows // breads}
    assert len(places) == breads**2
    assert set(neighbours.values()) == {rows // breads}
    assert len(neighbours) == breads * (breads - 1)


def test_every_order_is_served_equally_often_for_a_thousand_seeds():
    kinds, breads = [kind for kind in KINDS.values() if kind.orders], ("house", "malted")
    for seed in SEEDS:
        kind, n = kinds[seed % len(kinds)], 1 + seed % 26
        found = Counter(orders(plan_servings(kind.name, breads, n, seed=seed)))
        every = {tuple(breads[place] for place in order) for order in kind.orders}
        assert set(found) <= every
        assert max(found.values()) - min(found.get(order, 0) for order in every) <= 1


def test_rankings_and_looks_fill_squares_for_a_thousand_seeds():
    for seed in SEEDS:
        test = ("ranking", "looking")[seed // 7 % 2]
        n_breads = 2 + seed % 7
        breads = [f"bread {i}" for i in range(n_breads)]
        people = len(williams_square(n_breads)) * (1 + seed % 2)
        found = orders(plan_servings(test, breads, people, seed=seed))
        places = Counter((place, bread) for row in found for place, bread in enumerate(row))
        assert set(places.values()) == {people // n_breads}
        assert all(sorted(row) == sorted(breads) for row in found)


def test_part_of_a_square_keeps_places_within_one_or_two():
    for seed in range(50):
        found = orders(plan_servings("looking", list("abcde"), 7, seed=seed))
        places = Counter((place, bread) for row in found for place, bread in enumerate(row))
        assert max(places.values()) <= 3


def test_orders_fall_on_people_by_lot():
    firsts = Counter(
        orders(plan_servings("pair", ("a", "b"), 24, seed=seed))[0] for seed in range(200)
    )
    assert min(firsts.values()) > 70
    plans = [orders(plan_servings("pair", ("a", "b"), 24, seed=seed)) for seed in (1, 2)]
    assert plans[0] != plans[1]


def test_codes_are_three_different_digits_one_for_each_cup():
    plan = plan_servings("triangle", ("a", "b"), 60, repeats=3, seed=4)
    served = " ".join(plan.table["served"]).split()
    assert len(served) == len(set(served)) == 540 == len(plan.codes)
    assert all(len(code) == 3 == len(set(code)) and code[0] != "0" for code in served)
    assert plan.table.groupby("assessor").size().tolist() == [3] * 60
    assert plan_servings("triangle", ("a", "b"), 60, repeats=3, seed=4).to_dict() == plan.to_dict()


def test_the_reference_is_a_cup_of_its_own():
    plan = plan_servings("duo-trio", ("a", "b"), 8, seed=1)
    assert all(len({row[0], *row[1:]}) == 2 and row[0] in row[1:] for row in orders(plan))
    assert set(plan.table["reference"]) <= set(plan.codes["code"])


def test_a_bread_looked_at_twice_has_two_codes():
    plan = plan_servings("looking", ("a", "b", "a"), 6, seed=2)
    assert plan.codes["bread"].tolist().count("a") == 2
    assert all(sorted(row) == ["a", "a", "b"] for row in orders(plan))


def test_cups_of_one_bread_in_a_serving_come_from_one_loaf_and_loaves_take_turns():
    plan = plan_with_loaves("triangle", {"house": ["1", "2"], "malted": ["3", "4"]}, 12, seed=3)
    assert all(len(set(row)) == 2 for row in orders(plan))
    assert set(Counter(loaf for row in orders(plan) for loaf in row)) == {"1", "2", "3", "4"}


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("sniffing", ("a", "b"), 4), "test-unknown"),
        (("triangle", ("a",), 4), "breads-number"),
        (("triangle", ("a", "b", "c"), 4), "breads-number"),
        (("ranking", ("a", "b", "a"), 4), "breads-number"),
        (("triangle", ("a", "b"), 0), "people-number"),
    ],
)
def test_what_makes_no_plan_is_told(arguments, code):
    with pytest.raises(TrialError) as stopped:
        plan_servings(*arguments)
    assert [f.code for f in stopped.value.findings] == [code]
    assert np.all([f.fix for f in stopped.value.findings])
