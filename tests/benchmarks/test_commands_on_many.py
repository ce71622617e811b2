"""Two thousand messy trials through each of the comparing commands and the report. Run with  -m
benchmark -s ; a part of them with  -k "compare and 400".
"""

from __future__ import annotations

import random
import time
import traceback
from collections import Counter

import pytest

from ..messy_trials import messy_folder
from ..test_no_traceback_of_many import COMPARING, READERS, outcome

CASES, AT_ONCE = 2_000, 100
FORMS = ("html", "json", "xlsx")


@pytest.mark.benchmark
@pytest.mark.parametrize("first", range(0, CASES, AT_ONCE))
@pytest.mark.parametrize("command", [*COMPARING, "report"])
def test_no_traceback(tmp_path, command, first):
    said, faults, slowest = Counter(), [], 0.0
    for seed in range(first, first + AT_ONCE):
        folder = messy_folder(random.Random(seed), tmp_path / "trial")
        more = (
            ["--for", READERS[seed % 3], "--form", FORMS[seed % 3], "--out", str(tmp_path / "out")]
            if command == "report"
            else []
        )
        began = time.process_time()
        try:
            said[outcome(folder, command, *more)] += 1
        except Exception as fault:  # what is looked for
            where = traceback.extract_tb(fault.__traceback__)[-1]
            place = f"{where.filename.rpartition('/')[2]}:{where.lineno}"
            faults.append(f"{seed}: {type(fault).__name__} {str(fault)[:200]} ({place})")
        slowest = max(slowest, time.process_time() - began)
    print(
        f"\n{command}, trials {first:,} to {first + AT_ONCE - 1:,}: {dict(said)}, {len(faults)}"
        f" faults, slowest {slowest:.1f} s"
    )
    print("\n".join(faults[:20]))
    assert not faults
