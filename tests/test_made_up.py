"""A measure, a grouping and a kind of table that nobody has are added to a copy of the package:
each by one entry, and its function or reader, as the developers' page says.
"""

import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from fairloaf import analysis, trials

ROOT = Path(__file__).parents[1]

# file → (the line that it stands below, what is added)
MEASURE = {
    "trials/columns.py": (
        "DERIVED: tuple[Column, ...] = (\n",
        """    _number(
        "slices", "Slices", "slices", 5, 60, "slices of a centimetre that a loaf gives",
        measure=Measure(
            more="more", less="fewer", clause="{ours} gave {way} slices than {theirs}, by {size}",
            made_from=("length_mm",), is_said="how many slices a loaf gives",
        ),
    ),
""",
    ),
    "trials/measuring/measures.py": (
        'Number = TypeVar("Number", float, pd.Series)\n',
        '''

def slices(length_mm: Number) -> Number:
    """Return how many slices of a centimetre a loaf gives (invented)."""
    return length_mm / 10

''',
    ),
}
GROUPING = {
    "trials/columns.py": (
        "RECORDED: tuple[Column, ...] = (\n",
        """    _grouping(
        "bakehouse", "Bakehouse", "where the loaf was baked", "bakery", "site",
        one="bakehouse", many="bakehouses",
    ),
""",
    )
}

TABLE = {
    "trials/columns.py": (
        "    for kind in (\n",
        """        Kind(
            name="cores", needs=("loaf", "core_c"), is_called="loaf and core_c",
            columns=(
                _text("loaf", "Loaf", "the loaf that was probed"),
                _number("core_c", "Core", "°C", 20, 110, "hottest at the core", "core", "probe"),
            ),
        ),
""",
    ),
    "trials/loading.py": (
        "READERS: dict[str, Callable[[RawTable, TypedTable, TrialCard], NotedTable]] = {\n",
        """    "cores": lambda raw, typed, card: NotedTable(
        frame=typed.frame.groupby("loaf", as_index=False)["core_c"].max()
    ),
""",
    ),
}


def added(to: Path, *changes: dict[str, tuple[str, str]]) -> Path:
    """Return a folder with a copy of the package in which these lines stand, too.

    What is compiled already is copied with its times, and loaded so: only what is added is new.
    """
    package = to / "fairloaf"
    for half, loaded in (("trials", trials), ("analysis", analysis)):
        shutil.copytree(Path(loaded.__file__).parent, package / half)
    for change in changes:
        for file, (below, lines) in change.items():
            text = (package / file).read_text("utf-8")
            assert below in text
            (package / file).write_text(text.replace(below, below + lines, 1), "utf-8")
    return to


LOAVES = "\n".join(
    [
        "loaf,site,mix,formula,loaf_g,length_mm",
        *(
            f"{4 * mix + loaf},{'north' if mix < 4 else 'south'},{mix},{['plain', 'oat'][mix % 2]},"
            f"400,{180 + 12 * (mix % 2) + 40 * (mix < 4) + (3 * mix + 5 * loaf) % 7}"
            for mix in range(8)
            for loaf in range(3)
        ),
    ]
)
SCRIPT = """
from fairloaf.analysis import compare_formulas, factor_effects
from fairloaf.analysis.wording.report import what_was_measured
from fairloaf.trials import load_trial
from fairloaf.trials.checks import CHECKS
from fairloaf.trials.fairness.check_list import describe_checks
trial = load_trial({trial!r})
"""


def printed(package: Path, trial: Path, script: str, load: bool = True) -> str:
    """Return what a script prints that has ``trial``, loaded by the copy of the package."""
    given = SCRIPT.format(trial=str(trial)) if load else ""
    done = subprocess.run(
        [sys.executable, "-c", given + script],
        capture_output=True,
        text=True,
        env={"PYTHONPATH": str(package), "PATH": "", "OPENBLAS_NUM_THREADS": "1"},
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture
def loaves(tmp_path) -> Path:
    (tmp_path / "loaves.csv").write_text(LOAVES, "utf-8")
    (tmp_path / "trial.toml").write_text('control = "plain"\n', "utf-8")
    return tmp_path


def test_a_measure_is_one_entry_and_its_function(loaves, tmp_path):
    said = printed(
        added(tmp_path / "copy", MEASURE),
        loaves,
        "c = compare_formulas(trial, 'oat', measure='slices')\n"
        "print(c.sentence); print(c.label, c.unit); print(what_was_measured('slices', trial))\n"
        "print(trial.loaves['slices'].tolist()[:2], trial.loaves['length_mm'].tolist()[:2])\n",
    ).splitlines()
    assert said[0].startswith("Oat loaves gave more slices than plain loaves, by ")
    assert said[1:] == [
        "Slices slices",
        "We measured slices in slices: how many slices a loaf gives.",
        "[22.0, 22.5] [220.0, 225.0]",
    ]


def test_a_grouping_is_one_entry(loaves, tmp_path):
    """The loaves of a bakehouse are 40 mm apart from those of the other: compared within them, the
    range is narrower, and everything that is known of groupings is known of them."""
    script = (
        "c = compare_formulas(trial, 'oat', measure='length_mm')\n"
        "print(c.ci_high - c.ci_low)\n"
        "from fairloaf.analysis.wording.layout import layout_sentences\n"
        "from fairloaf.trials.words.numbers import ENGLISH\n"
        "f = factor_effects(trial, measure='length_mm')\n"
        "print(layout_sentences(f.layout, {}, ENGLISH)[0])\n"
        "print([code for code in describe_checks()['code'] if 'bakehouse' in code])\n"
    )
    width, layout, checks = printed(added(tmp_path / "copy", GROUPING), loaves, script).splitlines()
    without = printed(ROOT / "nothing", loaves, script).splitlines()
    assert layout.endswith("compared within 2 bakehouses.")
    assert checks == "['formula-tied-to-bakehouse', 'formulas-apart-in-bakehouse']"
    assert float(width) < float(without[0]) / 2
    assert without[2] == "[]"


def test_a_kind_of_table_is_one_entry_and_its_reader(loaves, tmp_path):
    (loaves / "cores.csv").write_text("loaf;probe °F\n1;194\n1;203\n2;194\n", "utf-8")
    script = "print(trial.table('cores').to_dict('list')); print(sorted(trial.files.items()))\n"
    table, files = printed(added(tmp_path / "copy", TABLE), loaves, script).splitlines()
    assert table == "{'loaf': ['1', '2'], 'core_c': [95.0, 90.0]}"
    assert files == "[('cores', 'cores.csv'), ('loaves', 'loaves.csv')]"


def test_such_a_table_stands_as_it_is_without_a_reader_and_needs_its_columns(loaves, tmp_path):
    (loaves / "cores.csv").write_text("loaf;hottest\n1;95\n", "utf-8")
    entry = {"trials/columns.py": TABLE["trials/columns.py"]}
    script = (
        "from fairloaf.trials.loading import read_trial\n"
        f"print([f.message + ' ' + f.fix for f in read_trial({str(loaves)!r}).errors])\n"
    )
    done = printed(added(tmp_path / "copy", entry), loaves, script, load=False)
    assert done.strip() == (
        "['cores.csv: there is no column core_c. Call the columns loaf and core_c, or take the file"
        " out of the trial.']"
    )
