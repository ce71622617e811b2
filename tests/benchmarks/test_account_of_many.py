"""Twenty thousand random and mutated files: nothing lost, no crash, none above 5 s or 500 MB of
memory.
"""

import random
import resource

import pytest

from ..test_account import check_random_file

FILES, AT_ONCE, SECONDS, MEGABYTES = 20_000, 500, 5, 500


@pytest.mark.benchmark
@pytest.mark.parametrize("first", range(0, FILES, AT_ONCE))
def test_nothing_is_lost_of_twenty_thousand_files(tmp_path, first):
    """Every filled cell of a whole file is used or named, and the account of mutated ones adds
    up. Five hundred at once, so that a part can be run on its own (``-k 4000``).
    """
    faults, slowest = [], 0.0
    for seed in range(first, first + AT_ONCE):
        try:
            slowest = max(slowest, check_random_file(random.Random(seed), tmp_path / "loaves.csv"))
        except Exception as fault:  # a crash is what is looked for
            faults.append(f"{seed}: {type(fault).__name__} {str(fault)[:300]}")
    megabytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    print(
        f"\nfiles {first:,} to {first + AT_ONCE - 1:,}: {len(faults)} faults, slowest"
        f" {slowest:.2f} s, most memory {megabytes:.0f} MB"
    )
    print("\n".join(faults[:20]))
    assert not faults
    assert slowest < SECONDS
    assert megabytes < MEGABYTES
