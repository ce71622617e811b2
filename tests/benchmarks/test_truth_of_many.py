"""Two thousand random trials: no crash, and no sentence against its condition
(`tests/truth_table.py`).

    pytest -m benchmark -s tests/benchmarks/test_truth_of_many.py
"""

import os

import pytest

from ..random_trials import random_trial
from ..test_truth import broken_by_comparison, broken_by_factors

TRIALS = int(os.environ.get("FAIRLOAF_TRUTH_TRIALS", "2000"))


@pytest.mark.benchmark
def test_no_sentence_of_many_trials_is_said_against_its_condition(capsys):
    broken = {}
    for seed in range(TRIALS):
        trial = random_trial(40_000 + seed, effects=seed % 3 > 0)
        found = [*broken_by_comparison(trial), *broken_by_factors(trial)]
        if found:
            broken[seed] = found
    with capsys.disabled():
        print(f"\n{TRIALS} random trials, {len(broken)} with a sentence against its condition")
        for seed, found in list(broken.items())[:10]:
            print(f"  {seed}: {found[0][:300]}")
    assert not broken
