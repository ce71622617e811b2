"""Killed at any moment, in a folder that may not be written to, or two at once: what was there
stays whole, and nothing half written is taken for a record.
"""

from __future__ import annotations

import functools
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from fairloaf.trials import load_trial, read_trial

from .killed import killed_at

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks")
EXAMPLE = Path(__file__).parent.parent / "example_trials" / "class_bake"
MOMENTS = 20
NOBODY = 65534
COMMAND = "from fairloaf.analysis.cli import main; import sys; sys.argv[0] = 'fairloaf'; main()"


def test_files_that_belong_together_are_whole_after_20_kills(tmp_path):
    said = killed_at(
        MOMENTS,
        0.1,
        tmp_path,
        prepare="from fairloaf.trials.writing.whole_files import write_whole\n"
        'mark = b\'"made_by": "fairloaf report, 1" \'',
        job="write_whole({here / f'{name}.json': mark + str(turn % 10).encode() * 3_000_000 + b'.'"
        " for name in 'ab'})",
        look="""
for name in 'ab':
    content = (here / f'{name}.json').read_bytes()
    assert content.startswith(mark) and content.endswith(b'.')
    assert len(content) == 3_000_001 + len(mark) and len(set(content[len(mark):-1])) == 1
assert sorted(path.name for path in here.glob('[!.]*')) == ['a.json', 'b.json']
""",
    )
    assert said == f"whole {MOMENTS}"


def test_a_tidy_copy_is_whole_after_20_kills_and_the_records_are_read_as_before(tmp_path):
    folder = tmp_path / "morning"
    shutil.copytree(EXAMPLE, folder)
    before = read_trial(folder)
    said = killed_at(
        MOMENTS,
        0.2,
        folder,
        prepare="from fairloaf.trials.writing.tidy import write_tidy\n"
        "from fairloaf.trials import read_trial\nknown = {}",
        job="""
for old in here.parent.glob('clean*'):
    old.unlink()
write_tidy(here, here.parent / 'clean.csv')
""",
        look="""
for path in here.parent.glob('clean*'):
    assert known.setdefault(path.name, path.read_bytes()) == path.read_bytes(), path
""",
    )
    assert said == f"whole {MOMENTS}"
    assert read_trial(folder).loaves.equals(before.loaves)


def test_a_new_trial_is_there_whole_or_not_at_all_after_20_kills(tmp_path):
    said = killed_at(
        MOMENTS,
        0.05,
        tmp_path,
        prepare="from fairloaf.trials.writing.starting import start_trial\nimport shutil",
        job="""
shutil.rmtree(here / 'gone', ignore_errors=True)
if (here / 'morning').exists():
    (here / 'morning').rename(here / 'gone')
start_trial(here / 'morning', like='small_bakery' if turn % 2 else None)
""",
        look="""
if (here / 'morning').exists():
    names = {path.name for path in (here / 'morning').iterdir()}
    assert {'trial.toml', 'loaves.csv'} <= names, names
    assert (here / 'morning' / 'trial.toml').read_bytes().endswith(b'\\n')
assert {path.name for path in here.glob('[!.]*')} <= {'morning', 'gone'}
""",
    )
    assert said == f"whole {MOMENTS}"


def test_what_a_kill_leaves_behind_is_no_table_of_the_trial(tmp_path):
    folder = tmp_path / "morning"
    shutil.copytree(EXAMPLE, folder)
    before = load_trial(folder)
    (folder / ".loaves-x1y2.part").write_bytes((folder / "loaves.csv").read_bytes()[:200])
    after = load_trial(folder)
    assert after.loaves.equals(before.loaves)
    assert dict(after.sources) == dict(before.sources)


def as_nobody(arguments: list[str], folder: Path) -> subprocess.CompletedProcess[str]:
    """Run Python as a user who owns nothing."""
    other = ["setpriv", f"--reuid={NOBODY}", f"--regid={NOBODY}", "--clear-groups"]
    return subprocess.run(
        [*other, sys.executable, *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        env={"PATH": os.environ["PATH"], "HOME": str(folder), "MPLBACKEND": "agg"},
    )


@functools.cache
def anybody_may_run_it() -> bool:
    """Return whether another user can read where this package is installed."""
    return as_nobody(["-c", "import fairloaf.analysis.cli"], Path("/")).returncode == 0


@pytest.mark.skipif(os.geteuid() != 0 or not shutil.which("setpriv"), reason="needs another user")
@pytest.mark.parametrize(
    "command",
    [
        ["report", "trial", "--for", "class", "--form", "json", "--out", "."],
        ["report", "trial", "--for", "class", "--form", "json", "--out", "pages"],
        ["check", "trial", "--tidy", "clean.csv"],
        ["new", "morning"],
        ["new", "morning", "--like", "small_bakery"],
        ["new", "morning", "--from", "trial/loaves.csv"],
    ],
    ids=" ".join,
)
def test_another_user_in_a_folder_that_may_only_be_read(tmp_path, command):
    """Refused in words with what to do, nothing left behind; a file in the way stays."""
    if not anybody_may_run_it():
        pytest.skip("another user cannot read where this package is installed")
    place = Path("/var/tmp") / f"read-only-{os.getpid()}-{tmp_path.name[-40:]}"
    place.mkdir(mode=0o755)
    try:
        shutil.copytree(EXAMPLE, place / "trial")
        before = sorted(str(path) for path in place.rglob("*"))
        done = as_nobody(["-c", COMMAND, *command], place)
        assert "Traceback" not in done.stderr, done.stderr
        assert done.returncode == 1, done.stdout + done.stderr
        assert "Permission denied" in done.stderr
        assert sorted(str(path) for path in place.rglob("*")) == before
    finally:
        shutil.rmtree(place)


def test_two_reports_at_once_leave_one_whole_report(tmp_path):
    trial, out = tmp_path / "trial", tmp_path / "out"
    shutil.copytree(EXAMPLE, trial)
    loaves = pd.read_csv(trial / "loaves.csv")
    loaves.drop(columns=[name for name in loaves if "crumb" in name]).to_csv(
        trial / "loaves.csv", index=False
    )
    processes = [
        subprocess.Popen(
            [
                sys.executable,
                "-c",
                COMMAND,
                "report",
                str(trial),
                "--form",
                "json",
                "--for",
                "class",
                "--out",
                str(out),
            ],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        for _ in range(2)
    ]
    said = [process.communicate() for process in processes]
    assert [process.returncode for process in processes] == [0, 0], said
    (path,) = out.iterdir()
    assert path.read_text("utf-8").rstrip().endswith("}")
