"""Two thousand random trials: no crash, and no sentence against its condition
(`tests/truth_table.py`). Fifty at once, so that a part can be run on its own (``-k 1900``).

    pytest -m benchmark -s tests/benchmarks/test_truth_of_many.py
"""

import pytest

from ..random_trials import random_trial
from ..test_truth import broken_by_comparison, broken_by_factors

TRIALS, AT_ONCE, FIRST_SEED = 2_000, 50, 40_000


@pytest.mark.benchmark
@pytest.mark.parametrize("first", range(0, TRIALS, AT_ONCE))
def test_no_sentence_of_many_trials_is_said_against_its_condition(first):
    broken = {}
    for seed in range(first, first + AT_ONCE):
        try:
            trial = random_trial(FIRST_SEED + seed, effects=seed % 3 > 0)
            found = [*broken_by_comparison(trial), *broken_by_factors(trial)]
        except Exception as fault:  # a crash is what is looked for
            found = [f"{type(fault).__name__} {fault}"]
        if found:
            broken[seed] = found
    print(
        f"\ntrials {first:,} to {first + AT_ONCE - 1:,}: {len(broken)} with a sentence against"
        " its condition"
    )
    for seed, found in broken.items():
        print(f"  {seed}: {found[0][:300]}")
    assert not broken
