"""The same records give the same numbers on other processors, whose arithmetic differs in the last
bits.
"""

import functools
import json
import os
import subprocess
import sys

import pytest
from fairloaf.analysis import compare_formulas, crumb_scores, factor_effects

from .report_examples import ROOT, trial

EXAMPLE = "small_bakery"
ANSWERS = """
import json, sys
from fairloaf.analysis import compare_formulas, crumb_scores, factor_effects
from fairloaf.trials import load_trial
trial = load_trial(sys.argv[1])
asked = (compare_formulas, factor_effects, crumb_scores)
print(json.dumps([ask(trial).to_dict() for ask in asked]))
"""


@functools.cache
def answers_here():
    """Return the same answers by this processor's own sums."""
    asked = (compare_formulas, factor_effects, crumb_scores)
    return [ask(trial(EXAMPLE)).to_dict() for ask in asked]


@pytest.mark.parametrize("processor", ["Nehalem", "Haswell"])
def test_the_same_numbers_come_from_another_processors_arithmetic(processor):
    """OpenBLAS, which numpy comes with, takes the sums of the processor that it is told."""
    ran = subprocess.run(
        [sys.executable, "-c", ANSWERS, str(ROOT / "example_trials" / EXAMPLE)],
        env=os.environ | {"OPENBLAS_CORETYPE": processor, "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
    )
    if ran.returncode < 0:
        pytest.skip("this processor does not know those sums")
    assert ran.returncode == 0, ran.stderr
    assert json.loads(ran.stdout) == answers_here()
