"""A million loaves checked: time and memory beside those of a plain reading of the same file, in
one run.
"""

import json
import subprocess
import sys

import numpy as np
import pandas as pd
import pytest

ROWS = 1_000_000
TIMES, FRAMES = 6, 4

# Each in a process of its own, so that the peak of one is not the other's. Processor time, as
# others may work.
PLAIN = """
import json, sys, time
import pandas as pd
began = time.process_time()
frame = pd.read_csv(sys.argv[1])
seconds = time.process_time() - began
print(json.dumps({"seconds": seconds, "megabytes": float(frame.memory_usage(deep=True).sum()) / 1e6}))
"""  # noqa: E501
CHECKED = """
import json, sys, time
from pathlib import Path
from fairloaf.trials import read_trial
from fairloaf.trials.checks import run_checks

def peak():
    status = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in status if line.startswith("VmHWM")) / 1e3

before = peak()
began = time.process_time()
trial = read_trial(sys.argv[1])
seconds = time.process_time() - began
megabytes = peak() - before
began = time.process_time()
run_checks(trial)
print(json.dumps({"seconds": seconds, "megabytes": megabytes, "loaves": len(trial.loaves),
                  "checks": time.process_time() - began, "errors": [f.message for f in trial.errors]}))
"""  # noqa: E501


def a_million_loaves(path):
    """Write an invented trial of a million sound loaves, four a mix, five mixes a day."""
    draw = np.random.default_rng(1)
    mix = np.arange(ROWS) // 4
    size = draw.normal(1600, 20, mix[-1] + 1)[mix]
    pd.DataFrame(
        {
            "loaf": [f"L{number:07d}" for number in range(ROWS)],
            "mix": [f"M{number:06d}" for number in mix],
            "day": [f"d{number // 5:05d}" for number in mix],
            "formula": np.where(mix % 2, "malted", "house"),
            "tin": np.where(np.arange(ROWS) % 2, "open", "tall"),
            "proof_min": np.tile([45, 60], ROWS // 2),
            "dough_g": draw.normal(450, 2, ROWS).round(1),
            "loaf_g": draw.normal(400, 3, ROWS).round(1),
            "loaf_ml": draw.normal(size, 30).round().astype(int),
            "crumb_openness": draw.integers(1, 11, ROWS),
            "void": "",
            "note": "",
        }
    ).to_csv(path, index=False)


def measured(script, path):
    done = subprocess.run(
        [sys.executable, "-c", script, str(path)], capture_output=True, text=True, check=True
    )
    return json.loads(done.stdout)


@pytest.mark.benchmark
def test_a_million_loaves_are_checked_quickly_and_in_little_memory(tmp_path):
    path = tmp_path / "loaves.csv"
    a_million_loaves(path)
    runs = [(measured(PLAIN, path), measured(CHECKED, path)) for _ in range(3)]
    plain = min((run[0] for run in runs), key=lambda run: run["seconds"])
    ours = min((run[1] for run in runs), key=lambda run: run["seconds"])
    times, frames = ours["seconds"] / plain["seconds"], ours["megabytes"] / plain["megabytes"]
    print(
        f"\n{ROWS:,} loaves: read {plain['seconds']:.2f} s, checked {ours['seconds']:.2f} s ="
        f" {times:.1f} times (the checks alone {ours['checks']:.2f} s); frame"
        f" {plain['megabytes']:.0f} MB, peak {ours['megabytes']:.0f} MB = {frames:.1f} frames"
    )
    assert ours["loaves"] == ROWS
    assert times < TIMES
    assert frames < FRAMES
