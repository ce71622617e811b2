"""Whole commands killed at twenty moments, and two of them at once: every file that is there is
whole, and the records are as they were. Run with  -m benchmark -s
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from ..killed import killed_at
from ..test_sheets_written import planned

pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that forks"),
]
EXAMPLES = Path(__file__).parent.parent.parent / "example_trials"
MOMENTS = 20
PREPARE = """
import contextlib, io, json, zipfile
import fairloaf.analysis.cli as cli
records = {path: path.read_bytes() for path in (here / 'trial').rglob('*')
           if path.is_file() and path.name != replaced}
def run(*words):
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        with contextlib.suppress(SystemExit):
            cli.app([str(word) for word in words])
def whole(path):
    content = path.read_bytes()
    if path.suffix == '.json':
        json.loads(content)
    elif path.suffix == '.xlsx':
        assert zipfile.ZipFile(io.BytesIO(content)).testzip() is None
    else:
        end = {'.html': b'</html>', '.pdf': b'%%EOF'}[path.suffix]
        assert content.rstrip().endswith(end), path
"""
LOOK = """
assert any((here / 'trial' / name).exists() for name in ('loaves.csv', 'loaves.xlsx'))
for path, content in records.items():
    assert path.read_bytes() == content, path
found = [path for path in here.rglob('[!.]*') if path.is_file() and path not in records]
assert found
for path in found:
    whole(path)
"""
REPORT = ("report", "trial", "--form", "html", "--form", "json", "--form", "xlsx", "--out", "pages")
SHEETS = ("sheets", "trial", "--out", "pages")
COMMAND = "from fairloaf.analysis.cli import main; import sys; sys.argv[0] = 'fairloaf'; main()"


def prepared(folder: Path, command: tuple[str, ...]) -> None:
    """Put the trial there that a command is run on."""
    if command is REPORT:
        shutil.copytree(EXAMPLES / "class_bake", folder / "trial")
    else:
        planned(folder / "trial")


@pytest.mark.parametrize("command", [REPORT, SHEETS], ids=lambda words: words[0])
def test_a_command_killed_at_twenty_moments_leaves_whole_files_alone(tmp_path, command):
    prepared(tmp_path, command)
    job = f"os.chdir(here)\nrun(*{command!r})"
    # sheets put a workbook in the place of the empty loaves.csv
    prepare = f"replaced = {'loaves.csv' if command is SHEETS else ''!r}\n{PREPARE}"
    said = killed_at(MOMENTS, 1.5, tmp_path, prepare=prepare, job=job, look=LOOK)
    print(f"\n{command[0]} killed at {MOMENTS} moments: {said}")
    assert said == f"whole {MOMENTS}"


@pytest.mark.parametrize("command", [REPORT, SHEETS], ids=lambda words: words[0])
def test_two_at_once_leave_the_files_of_one(tmp_path, command):
    prepared(tmp_path, command)
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", COMMAND, *command],
            cwd=tmp_path,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        for _ in range(2)
    ]
    said = [run.communicate() for run in runs]
    assert [run.returncode for run in runs] == [0, 0], said
    left = {path.name: path.read_bytes() for path in (tmp_path / "pages").iterdir()}
    alone = subprocess.run(
        [sys.executable, "-c", COMMAND, *command], cwd=tmp_path, capture_output=True, check=False
    )
    assert alone.returncode == 0, alone.stderr
    assert left == {path.name: path.read_bytes() for path in (tmp_path / "pages").iterdir()}
    print(f"\n{command[0]}, two at once: {', '.join(sorted(left))}")
