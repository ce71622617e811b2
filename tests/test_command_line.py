"""What a person gets from each command: the words, the exit code, and what a wrong call is told."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from fairloaf.analysis import cli
from fairloaf.analysis.cli import app
from typer.testing import CliRunner, Result

from .report_examples import ROOT

SMALL_BAKERY = str(ROOT / "example_trials" / "small_bakery")
CARD = 'measure = "loaf_ml"\nmatters = 50\ncontrol = "A"\n[measures.loaf_g]\nmatters = 5\n'


def run(*words: str) -> Result:
    return CliRunner().invoke(app, words, catch_exceptions=False)


def alike(folder: Path) -> Path:
    """Return a trial in which every loaf is the same; 1641.7 and 5.3 cannot be written exactly in
    binary.
    """
    rows = [
        f"{day}{formula}{tin},{day},{day}{formula},{formula},{tin},403.3,1641.7,5.3"
        for day in ("Mon", "Tue", "Wed")
        for formula in "AB"
        for tin in ("open", "long")
    ]
    header = "loaf,day,mix,formula,tin,loaf_g,loaf_ml,crumb_soft"
    (folder / "loaves.csv").write_text("\n".join([header, *rows]), "utf-8")
    (folder / "trial.toml").write_text(CARD, "utf-8")
    return folder


@pytest.mark.parametrize(
    ("command", "said"),
    [
        ("compare", "“B” loaves and “A” loaves did not differ in loaf volume (3 mixes each)."),
        ("factors", "no difference at all between"),
        ("crumb", "“B” loaves scored the same for soft as “A” loaves (3 mixes each)."),
        ("report", "“B” loaves and “A” loaves did not differ in loaf volume (3 mixes each)."),
    ],
)
def test_loaves_that_are_all_alike_differ_by_nothing(tmp_path, command, said):
    out = ["--out", str(tmp_path)] if command == "report" else []
    done = run(command, str(alike(tmp_path)), *out)
    assert said in done.stdout
    assert "0.0000" not in done.stdout


def test_every_measure_is_a_table_of_factors_and_measures():
    lines = run("factors", SMALL_BAKERY, "--every-measure").stdout.splitlines()
    assert [word in lines[0] for word in ("Specific volume (mL/g)", "Crumb openness (points)")] == [
        True,
        True,
    ]
    assert [line.split(",")[0].split("  ")[0] for line in lines[1:4]] == [
        "formula",
        "tin",
        "proof time",
    ]
    assert "up 0.384 (matters)" in lines[1]


def test_every_measure_as_data():
    example = str(ROOT / "example_trials" / "class_bake")
    grid = json.loads(run("factors", example, "--every-measure", "--json").stdout)
    assert "specific_volume" in json.dumps(grid)


def test_every_measure_with_one_measure_is_a_wrong_call():
    done = run("factors", SMALL_BAKERY, "--every-measure", "--measure", "height_mm")
    assert done.exit_code == 2
    assert "leave out --measure and --three-way" in " ".join(done.output.split())


@pytest.mark.parametrize("command", ["compare", "factors", "crumb"])
def test_warnings_of_the_records_stand_beside_every_answer(tmp_path, command):
    folder = alike(tmp_path)
    done = run(command, str(folder))
    assert (
        "Warning: Loaf volume is 1642 mL for all 12 loaves. Enter what was measured on each loaf."
        in done.stdout
    )


def test_a_sound_record_is_said_to_be_sound():
    assert (
        run("check", SMALL_BAKERY).stdout.splitlines()[0]
        == "small_bakery: 48 loaves, and nothing to say against the records."
    )


def started(*words: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    """Run the command as a process of its own, as a shell does."""
    script = "import sys; from fairloaf.analysis.cli import main; sys.argv[0] = 'fairloaf'; main()"
    return subprocess.run(
        [sys.executable, "-c", script, *words],
        capture_output=True,
        check=False,
        env={**os.environ, **environment},
    )


def test_a_fault_of_ours_is_said_to_be_and_shows_no_traceback(monkeypatch, capsys):
    """Whatever goes wrong in the program itself: exit 3, two lines to send, no record blamed."""

    def breaks(*_: object, **__: object) -> None:
        raise ZeroDivisionError("made to fail")

    monkeypatch.setattr(cli, "with_only_the_asked", breaks)
    with pytest.raises(SystemExit) as stopped:
        cli.main()
    said = capsys.readouterr().err
    assert stopped.value.code == 3
    assert "a fault of ours, not of your records" in said
    assert "ZeroDivisionError: made to fail" in said
    assert "Traceback" not in said


def test_a_code_page_without_our_signs_prints_all_the_same():
    done = started("compare", SMALL_BAKERY, PYTHONIOENCODING="cp1252")
    assert done.returncode == 0
    assert b"Malted loaves were bigger" in done.stdout


def test_no_answer_moves_the_cursor_or_turns_the_writing_round(tmp_path):
    """Escape, C1 and right-to-left signs in names of a trial, in every answer and in its data."""
    shutil.copytree(ROOT / "example_trials" / "class_bake", tmp_path / "trial")
    loaves, card = tmp_path / "trial" / "loaves.csv", tmp_path / "trial" / "trial.toml"
    loaves.write_text(loaves.read_text("utf-8").replace(",oat,", ",o\u202eat,"), "utf-8")
    text = re.sub(
        r"^title.*$",
        r'title = "A\\u001b[31m \\u009b2J"',
        card.read_text("utf-8"),
        flags=re.MULTILINE,
    )
    card.write_text(
        text.replace('"oat"', r'"o\u202eat"').replace("[formulas.oat]", r'[formulas."o\u202eat"]'),
        "utf-8",
    )
    for words in (
        ("check",),
        ("compare",),
        ("factors",),
        ("compare", "--json"),
        ("check", "--json"),
    ):
        said = run(words[0], str(tmp_path / "trial"), *words[1:])
        for text in (said.stdout, said.stderr):
            assert not {"\x1b", "\x9b", "\u202e"} & set(text), words


def test_several_trials_stand_below_their_folders_and_a_stop_of_one_lets_the_others_go_on(tmp_path):
    good, stopped = alike(tmp_path), tmp_path / "nowhere"
    done = run("check", str(good), str(stopped), SMALL_BAKERY)
    assert done.exit_code == 1
    lines = done.stdout.splitlines()
    assert lines[0] == f"{good}:"
    assert lines[1].startswith(f"{good.name}: 12 loaves")
    assert f"{SMALL_BAKERY}:" in lines[2:]
    assert lines[-2] == "small_bakery: 48 loaves, and nothing to say against the records."
    assert done.stderr.splitlines()[1] == f"{stopped}:"
    assert f"There is no {stopped}." in done.stderr


def test_several_trials_as_data_are_a_list_with_the_stops_in_their_places(tmp_path):
    done = run("check", SMALL_BAKERY, str(tmp_path / "nowhere"), "--json")
    found = json.loads(done.stdout)
    assert [one["folder"] for one in found] == [SMALL_BAKERY, str(tmp_path / "nowhere")]
    alone = json.loads(run("check", SMALL_BAKERY, "--json").stdout)
    assert found[0] == {"folder": SMALL_BAKERY, **alone}
    assert found[1]["stopped"]
    assert found[1]["findings"][0]["code"] == "no-file"


def test_a_fault_of_ours_in_one_trial_is_told_and_lets_the_others_go_on(monkeypatch, tmp_path):
    from fairloaf.trials import loading

    right = loading.read_trial
    monkeypatch.setattr(
        loading, "read_trial", lambda path, **asked: 1 / 0 if path == tmp_path else right(path)
    )
    done = run("check", str(tmp_path), SMALL_BAKERY)
    assert done.exit_code == 3
    assert "a fault of ours" in done.stderr
    assert "small_bakery: 48 loaves" in done.stdout


def test_several_reports_are_the_same_bytes_as_one_by_one(tmp_path):
    other = str(ROOT / "example_trials" / "class_bake")
    alone, together = tmp_path / "alone", tmp_path / "together"
    run("report", other, "--for", "class", "--out", str(alone))
    (tmp_path / "first").mkdir()
    first = str(alike(tmp_path / "first"))
    done = run("report", first, other, "--for", "class", "--out", str(together))
    assert done.exit_code == 0
    page = "class_bake-class.html"
    assert (together / page).read_bytes() == (alone / page).read_bytes()


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (["report", "a/bake", "b/bake"], "have one name"),
        (["check", "a", "b", "--tidy", "copy.csv"], "one trial at a time"),
    ],
)
def test_a_call_that_would_write_two_trials_to_one_file_is_refused(call, said):
    done = run(*call)
    assert done.exit_code == 2
    assert said in done.stderr


def test_the_version_is_that_of_the_installed_package():
    from importlib.metadata import version

    done = run("--version")
    assert done.exit_code == 0
    assert done.output.strip() == f"fairloaf {version('fairloaf')}"
