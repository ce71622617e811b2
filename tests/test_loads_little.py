"""What each command loads: nothing that its answer does not need, as people wait for it."""

import subprocess
import sys

import pytest

from .report_examples import ROOT

SMALL_BAKERY = str(ROOT / "example_trials" / "small_bakery")
CLASS_BAKE = str(ROOT / "example_trials" / "class_bake")
SCRIPT = """
import sys
from fairloaf.analysis.cli import main
try:
    main()
except SystemExit as ended:
    assert not ended.code, ended.code
print("\\n" + " ".join(sys.modules))
"""
PAGES = {"jinja2", "typst", "xlsxwriter", "babel", "rich", "python_calamine"}
PICTURES = {"matplotlib", "seaborn"}
SLOW_STATISTICS = {"statsmodels", "scipy.stats"}
SLOW = {"scipy.optimize", "scipy.sparse"}
PLANS = {"ortools", "fairloaf.trials.planning.plan"}
NEVER = PAGES | PICTURES | SLOW_STATISTICS | PLANS


@pytest.mark.parametrize(
    ("command", "unwanted"),
    [
        (["--help"], NEVER | {"pandas", "numpy", "scipy"}),
        (["check", SMALL_BAKERY], NEVER | {"scipy", "fairloaf.analysis.answers"}),
        (["compare", SMALL_BAKERY], NEVER | SLOW | {"fairloaf.analysis.crumb.score"}),
        (["factors", SMALL_BAKERY], NEVER | SLOW | {"fairloaf.analysis.comparison.compare"}),
        (["crumb", SMALL_BAKERY], NEVER | SLOW),
        (["crumb", CLASS_BAKE], NEVER | SLOW),
    ],
    ids=lambda given: given[0] if isinstance(given, list) else "",
)
def test_a_command_loads_only_what_its_answer_needs(command, unwanted):
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, *command], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    loaded = set(done.stdout.splitlines()[-1].split())
    assert "fairloaf.analysis.cli" in loaded
    assert not loaded & unwanted
