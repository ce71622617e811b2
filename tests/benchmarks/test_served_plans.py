"""A thousand tastings from a thousand seeds: served, written whole, loaded back, balanced.

    pytest -m benchmark -s tests/benchmarks/test_served_plans.py

Every test and the looking in turn, 2 to 8 breads, 2 to 30 people, once or twice each, on both sizes
of paper. What is written is loaded as a trial: the servings, their order and the key are those of
the plan, nothing is an error, and orders are balanced as promised (each order of a test equally
often, to one; whole Williams squares even in places and neighbours). tests/test_serve.py runs eight
of them.
"""

from __future__ import annotations

import shutil

import pytest

from ..served_plan import faults

pytestmark = pytest.mark.benchmark


@pytest.mark.parametrize("first", [0, 250, 500, 750])
def test_a_thousand_plans_load_back_balanced(first, tmp_path):
    wrong = {}
    for seed in range(first, first + 250):
        folder = tmp_path / str(seed)
        if told := faults(seed, folder):
            wrong[seed] = told
        shutil.rmtree(folder)
    print(f"\nseeds {first} to {first + 249}: {250 - len(wrong)} of 250 load back, balanced")
    assert wrong == {}
