"""The rules of the house that a test can hold: which way data walks, and what stands where."""

import ast
import functools
import subprocess
import tomllib
from pathlib import Path

import pytest
from fairloaf.trials.fairness.check_list import describe_checks

ROOT = Path(__file__).parents[1]


@functools.cache
def parsed(file: Path) -> ast.Module:
    """Return a file's syntax, read once."""
    return ast.parse(file.read_text("utf-8"))


def imports_of(file: Path) -> set[str]:
    """Return every module that a file imports, relative ones with their dots."""
    found = set()
    for node in ast.walk(parsed(file)):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add("." * node.level + (node.module or ""))
    return found


@pytest.mark.parametrize("file", sorted((ROOT / "trials").rglob("*.py")), ids=lambda f: f.name)
def test_trials_never_imports_analysis(file):
    assert not [name for name in imports_of(file) if "analysis" in name]


# Every room of each half, from the top down: a room imports only what stands below it, or beside it
# in one line.
ROOMS = [
    ["analysis.cli"],
    ["analysis.cli_tasting", "analysis.cli_trials"],
    ["analysis.cli_options"],
    ["analysis.report", "analysis.sheets"],
    ["analysis.answers_of_plans"],
    ["analysis.answers", "analysis.answers_of_tasting"],
    ["analysis.figures"],
    ["analysis.wording"],
    [
        "analysis.comparison",
        "analysis.factors",
        "analysis.crumb",
        "analysis.planning",
        "analysis.tasting",
    ],
    ["analysis.asking"],
    ["analysis.model"],
    ["analysis.mixed_model"],
    ["analysis.methods"],
    ["analysis.result"],
    [
        "analysis.verdict",
        "analysis.codes",
        "analysis.plain_data",
        "analysis.second_process",
        "analysis.one_thread",
    ],
    ["trials.sheets"],
    ["trials.planning"],
    ["trials.writing"],
    ["trials.fairness"],
    ["trials.loading"],
    ["trials.checks"],
    ["trials.measuring"],
    ["trials.reading"],
    ["trials.printing"],
    [
        "trials.tables",
        "trials.trial",
        "trials.card",
        "trials.columns",
        "trials.formula",
        "trials.kitchen",
        "trials.tasting_sections",
        "trials.tasting",
    ],
    ["trials.words"],
    ["trials.findings", "trials.lazy_names"],
    ["trials.frozen"],
]
RANK = {room: place for place, beside in enumerate(ROOMS) for room in beside}
# The one arrow that runs up: a result shows itself in a notebook by asking the report, when it is
# asked to.
UP = {("analysis.result", "analysis.report")}


@functools.cache
def arrows(top_only: bool) -> set[tuple[str, str]]:
    """Return (room, room that it imports) of the package, without imports that only type checkers
    read.
    """
    found = set()
    for half in ("trials", "analysis"):
        for file in (ROOT / half).rglob("*.py"):
            parts = file.relative_to(ROOT).with_suffix("").parts
            tree = parsed(file)
            typing = {
                id(inner)
                for node in ast.walk(tree)
                if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
                for inner in ast.walk(node)
            }
            for node in tree.body if top_only else ast.walk(tree):
                if isinstance(node, ast.ImportFrom) and node.level and id(node) not in typing:
                    home = [*parts[: len(parts) - node.level], *(node.module or "").split(".")]
                    names = [[*filter(None, home), name.name] for name in node.names]
                    found |= {(".".join(parts[:2]), ".".join(name[:2])) for name in names}
    return {(a, b) for a, b in found if a != b}


def test_a_room_imports_only_what_is_below_it():
    between = {(a, b) for a, b in arrows(top_only=False) if a in RANK and b in RANK}
    assert {(a, b) for a, b in between if RANK[a] > RANK[b]} == UP


def test_every_room_has_its_place_in_the_order():
    rooms = {
        ".".join(file.relative_to(ROOT).with_suffix("").parts[:2])
        for half in ("trials", "analysis")
        for file in (ROOT / half).rglob("*.py")
    }
    assert rooms - set(RANK) == {"trials.__init__", "analysis.__init__"}


def test_no_rooms_import_one_another_in_a_circle_when_they_are_loaded():
    """Peel off rooms that import no other that is left: where none can be peeled, the rest is a
    circle.
    """
    left = {(a, b) for a, b in arrows(top_only=True) if a in RANK and b in RANK}
    while free := {b for _, b in left} - {a for a, _ in left}:
        left = {(a, b) for a, b in left if b not in free}
    assert left == set()


def test_every_folder_of_code_is_in_the_wheel():
    listed = set(
        tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"][
            "packages"
        ]
    )
    folders = {
        "fairloaf." + ".".join(file.parent.relative_to(ROOT).parts)
        for half in ("trials", "analysis")
        for file in (ROOT / half).rglob("*.py")
    }
    assert folders == listed - {"fairloaf.example_trials"}


def test_the_top_level_is_the_design_cards():
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "LICENSE",
        "trials",
        "analysis",
        "tests",
        "example_trials",
    }
    tracked = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout
    if not tracked:
        pytest.skip("not a git checkout: there is no list of the project's own files")
    top = {line.split("/")[0] for line in tracked.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= allowed


def test_the_public_names_are_there():
    """The names that a notebook imports, from the two halves of the package."""
    from fairloaf import analysis, trials

    for half in (analysis, trials):
        assert all(callable(getattr(half, name)) for name in half.__all__)
    with pytest.raises(AttributeError, match="has no attribute 'compare_everything'"):
        analysis.compare_everything  # noqa: B018


def test_every_check_is_in_the_developers_page():
    page = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    assert [
        row.code
        for row in describe_checks().itertuples()
        if f"| `{row.code}` | {row.severity} | {row.title} |" not in page
    ] == []


def codes_told(file):
    """Yield every code that a module gives a finding or an error, where it writes it out."""
    for call in ast.walk(parsed(file)):
        if isinstance(call, ast.Call) and ast.unparse(call.func).endswith(
            ("Finding", "TrialError.one", "fault")
        ):
            given = [word.value for word in call.keywords if word.arg == "code"] + call.args[:1]
            yield from (
                one.value
                for one in given
                if isinstance(one, ast.Constant) and isinstance(one.value, str) and "-" in one.value
            )


def test_every_other_finding_is_in_the_developers_page():
    page = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    told = {code for file in (ROOT / "trials").rglob("*.py") for code in codes_told(file)}
    assert len(told) > 80
    missing = {code for code in told if f"`{code}`" not in page}
    assert sorted(code for code in missing if not code.startswith("card-")) == []


@pytest.mark.parametrize(
    "room", ["trials/words", "trials/printing", "analysis/wording", "analysis/figures"]
)
def test_nobody_who_words_a_number_falls_back_on_a_style(room):
    """How the reader writes numbers is always passed on, never a default that is forgotten."""
    silent = [
        (file.name, function.name)
        for file in sorted((ROOT / room).rglob("*.py"))
        for function in ast.walk(parsed(file))
        if isinstance(function, ast.FunctionDef)
        for given, default in zip(
            reversed(function.args.args), reversed(function.args.defaults), strict=False
        )
        if given.arg == "style" and default is not None
    ]
    assert silent == []
