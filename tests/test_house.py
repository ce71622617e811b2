"""The rules of the house that a test can hold: which way data walks, and what a start costs."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest
from fairloaf.trials.fairness.check_list import describe_checks

ROOT = Path(__file__).parents[1]


def imports_of(file: Path) -> set[str]:
    """Return every module that a file imports, relative ones with their dots."""
    found = set()
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add("." * node.level + (node.module or ""))
    return found


@pytest.mark.parametrize("file", sorted((ROOT / "trials").rglob("*.py")), ids=lambda f: f.name)
def test_trials_never_imports_analysis(file):
    assert not [name for name in imports_of(file) if "analysis" in name]


def test_the_top_level_is_the_design_cards():
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE",
               "trials", "analysis", "tests", "example_trials"}
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False).stdout
    if not tracked:
        pytest.skip("not a git checkout: there is no list of the project's own files")
    top = {line.split("/")[0] for line in tracked.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= allowed


@pytest.mark.parametrize("command", ["check", "--help"])
def test_check_and_help_load_no_plotting_and_no_models(command):
    script = (
        "import sys; from fairloaf.analysis.cli import app\n"
        f"try: app({[command, str(ROOT / 'example_trials' / 'small_bakery')]!r})\n"
        "except SystemExit: pass\n"
        "slow = {'ortools', 'seaborn', 'matplotlib', 'statsmodels', 'scipy.stats'} & set(sys.modules)\n"
        "print('slow:', sorted(slow))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[-1] == "slow: []", done.stderr


def test_the_public_names_are_there():
    """The names that a notebook imports, from the two halves of the package."""
    from fairloaf import analysis, trials

    for half in (analysis, trials):
        assert all(callable(getattr(half, name)) for name in half.__all__)
    with pytest.raises(AttributeError, match="has no attribute 'compare_everything'"):
        analysis.compare_everything  # noqa: B018


def test_every_check_is_in_the_developers_page():
    page = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    assert [row.code for row in describe_checks().itertuples()
            if f"| `{row.code}` | {row.severity} | {row.title} |" not in page] == []
