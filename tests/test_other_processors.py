"""The same records give the same numbers on other processors, whose arithmetic differs in the last
bits.
"""

import json
import os
import subprocess
import sys

import pytest
from fairloaf.analysis import compare_formulas, crumb_scores, factor_effects

from .report_examples import ROOT, trial

ANSWERS = """
import json, sys
from fairloaf.analysis import compare_formulas, crumb_scores, factor_effects
from fairloaf.trials import load_trial
trial = load_trial(sys.argv[1])
asked = (compare_formulas, factor_effects, crumb_scores)
print(json.dumps([ask(trial).to_dict() for ask in asked]))
"""


@pytest.mark.parametrize("processor", ["Nehalem", "Haswell"])
def test_the_same_numbers_come_from_another_processors_arithmetic(processor):
    """OpenBLAS, which numpy comes with, takes the sums of the processor that it is told."""
    example = "small_bakery"
    ran = subprocess.run(
        [sys.executable, "-c", ANSWERS, str(ROOT / "example_trials" / example)],
        env=os.environ | {"OPENBLAS_CORETYPE": processor, "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
    )
    if ran.returncode < 0:
        pytest.skip("this processor does not know those sums")
    assert ran.returncode == 0, ran.stderr
    asked = (compare_formulas, factor_effects, crumb_scores)
    assert json.loads(ran.stdout) == [ask(trial(example)).to_dict() for ask in asked]
