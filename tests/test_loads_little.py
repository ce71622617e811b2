"""What each command loads: nothing that its answer does not need, as people wait for it."""

import subprocess
import sys

import pytest

from .report_examples import ROOT

SMALL_BAKERY = str(ROOT / "example_trials" / "small_bakery")
CLASS_BAKE = str(ROOT / "example_trials" / "class_bake")
CLASS_TASTING = str(ROOT / "example_trials" / "class_tasting")
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
# the last: what the package of special functions runs before it can be asked, though answers need
# none of it
SLOW = {"scipy.optimize", "scipy.sparse", "scipy.linalg", "scipy.special._orthogonal"}
PLANS = {"ortools", "fairloaf.trials.planning.plan"}
# what numpy has for others to build and test with
TOOLS = {"numpy.f2py.f2py2e", "unittest"}
NEVER = PAGES | PICTURES | SLOW_STATISTICS | PLANS | TOOLS


@pytest.mark.parametrize(
    ("command", "unwanted"),
    [
        (["--help"], NEVER | {"pandas", "numpy", "scipy"}),
        (["check", SMALL_BAKERY], NEVER | {"scipy", "fairloaf.analysis.answers"}),
        (["compare", SMALL_BAKERY], NEVER | SLOW | {"fairloaf.analysis.crumb.score"}),
        (["factors", SMALL_BAKERY], NEVER | SLOW | {"fairloaf.analysis.comparison.compare"}),
        (["crumb", SMALL_BAKERY], NEVER | SLOW),
        (["crumb", CLASS_BAKE], NEVER | SLOW),
        (["tasting", CLASS_TASTING], NEVER | SLOW),
        (["words", CLASS_TASTING], NEVER | SLOW),
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


def test_what_runs_when_asked_is_whole_when_asked():
    script = """
import sys
from fairloaf.trials.lazy_names import run_when_asked
import pandas
run_when_asked("numpy.f2py", "numpy.testing", "numpy.linalg", "numpy.no_such_module")
from scipy import special
assert "unittest" not in sys.modules
print(special.stdtrit(4, 0.975))
import numpy as np
from numpy.testing import assert_allclose
assert_allclose(special.stdtr(4, 2.7764451), 0.975, rtol=1e-7)
assert np.testing.assert_allclose is assert_allclose and "unittest" in sys.modules
assert np.f2py.get_include() and "numpy.f2py.f2py2e" in sys.modules
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    # Abramowitz & Stegun, Handbook of Mathematical Functions (1964), table 26.10 (from memory)
    assert done.stdout.startswith("2.776")


def test_special_functions_are_the_same_before_and_after_their_package_runs():
    script = """
import math, sys
from fairloaf.trials.lazy_names import load_little
load_little()
from scipy.special import stdtrit
assert "scipy.special._basic" not in sys.modules
print(stdtrit(4, 0.975))
from scipy import special
assert math.isclose(special.polygamma(1, 1.0), math.pi**2 / 6)  # Abramowitz & Stegun, 6.4.2
assert "scipy.special._orthogonal" not in sys.modules
assert special.logsumexp([0.0, 0.0]) == special.xlogy(1, 2)
assert "scipy.special._orthogonal" in sys.modules
assert special.stdtrit is stdtrit and not hasattr(special, "no_such_function")
from scipy.stats import t
assert t(4).ppf(0.975) == stdtrit(4, 0.975)
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("2.776")  # as above
