"""The same records give the same report on other processors, whose arithmetic differs in the last
bits.
"""

import os
import subprocess
import sys

import pytest

from .report_examples import ROOT, files

WRITE = """
import sys
from fairloaf.analysis.report import write_report
from fairloaf.trials import load_trial
write_report(load_trial(sys.argv[1]), sys.argv[2], audience="record", forms=["json", "html"])
"""


@pytest.mark.parametrize("processor", ["Nehalem", "Haswell"])
def test_the_same_bytes_come_from_another_processors_arithmetic(tmp_path, processor):
    """OpenBLAS, which numpy comes with, takes the sums of the processor that it is told."""
    example = str(ROOT / "example_trials" / "small_bakery")
    ran = subprocess.run(
        [sys.executable, "-c", WRITE, example, str(tmp_path)],
        env=os.environ | {"OPENBLAS_CORETYPE": processor, "OPENBLAS_NUM_THREADS": "1"},
        capture_output=True,
        text=True,
    )
    if ran.returncode < 0:
        pytest.skip("this processor does not know those sums")
    assert ran.returncode == 0, ran.stderr
    kept = files("small_bakery", "record")
    for form in ("json", "html"):
        assert (tmp_path / f"small_bakery-record.{form}").read_bytes() == kept[form]
