"""A thousand tastings from a thousand seeds: served, loaded back, balanced.

    pytest -m benchmark -s tests/benchmarks/test_served_plans.py

Every test and the looking in turn, 2 to 8 breads, 2 to 30 people, once or twice each, on both sizes
of paper; every 25th with all its ballots, the others with the key and the records alone. What is
written is loaded as a trial: the servings, their order and the key are those of the plan, nothing
is an error, and orders are balanced as promised (each order of a test equally often, to one; whole
Williams squares even in places and neighbours). tests/test_serve.py runs eight of them.
"""

from __future__ import annotations

import shutil

import pytest

from ..served_plan import faults

pytestmark = pytest.mark.benchmark
AT_ONCE = 50


@pytest.mark.parametrize("first", range(0, 1000, AT_ONCE))
def test_a_thousand_plans_load_back_balanced(first, tmp_path):
    wrong = {}
    for seed in range(first, first + AT_ONCE):
        folder = tmp_path / str(seed)
        if told := faults(seed, folder, sheets=seed % 25 == 0):
            wrong[seed] = told
        shutil.rmtree(folder)
    right = AT_ONCE - len(wrong)
    print(f"\nseeds {first} to {first + AT_ONCE - 1}: {right} of {AT_ONCE} load back, balanced")
    assert wrong == {}
