"""A second process draws a report's pictures as this one would, and never outlives it."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from fairloaf.analysis import second_process as module
from fairloaf.analysis import write_report
from fairloaf.analysis.cli import PICTURES, app
from fairloaf.analysis.figures.lean import NOT_DRAWN, load_lean
from fairloaf.analysis.report import AUDIENCES, answered, pictures
from fairloaf.analysis.report.data import report_data
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.analysis.second_process import here, second_process
from fairloaf.trials import TrialError, load_trial
from typer.testing import CliRunner

from .report_examples import ROOT, report, summary, trial

CLASS_BAKE = ROOT / "example_trials" / "class_bake"
SMALL = ["wave"]  # loaded in no time, and by nothing else
CORES = module.cores()  # before the suite is held to one


@pytest.fixture
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "cores", lambda: 2)


def gone(pid: int) -> bool:
    """Return whether a process has ended, waiting for it for a while."""
    for _ in range(200):
        try:
            os.kill(pid, 0)
            if Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0] == "Z":
                return True  # ended, and nobody looks after orphans here
        except OSError:
            return True
        time.sleep(0.05)
    return False


def test_its_pictures_are_the_same_bytes(two_cores, monkeypatch):
    """Also without what seaborn loads and we do not draw."""
    monkeypatch.setattr(module, "here", None)  # nothing is done here instead
    with second_process([*SMALL, *PICTURES], 9, first=load_lean) as ask:
        assert ask(os.getpid)() != os.getpid()
        assert not set(NOT_DRAWN) & set(ask(eval, "[*__import__('sys').modules]")())
        for name, audience in [("small_bakery", "record"), ("class_bake", "class")]:
            drawer = pictures.Drawer(audience, ask)
            drawer.begin(summary(name))
            there = [
                shown for _, shown in report_for(summary(name), audience, drawer.drawn).pictures()
            ]
            assert there == [shown for _, shown in report(name, audience).pictures()]


def test_what_is_drawn_ahead_is_shown_and_drawn_once():
    """For every reader, of whom each has a drawer that begins while the rest is worked out."""
    asked = {audience: [] for audience in AUDIENCES}

    def noting(audience):
        def ask(function, s, drawings):
            asked[audience].append((s, drawings))
            return here(lambda: [[] for _ in drawings])

        return pictures.Drawer(audience, ask)

    drawers = {audience: noting(audience) for audience in AUDIENCES}

    def begin(s):
        for drawer in drawers.values():
            drawer.begin(s)

    whole = summarise(trial("small_bakery"), compared=begin)
    for audience, drawer in drawers.items():
        shown = []

        def draw(s, drawings, drawer=drawer, shown=shown):
            shown.extend(drawings)
            return drawer.drawn(s, drawings)

        report_for(whole, audience, draw)
        (first, ahead), (last, rest) = asked[audience]
        assert (first.comparison, first.factors) == (whole.comparison, None)
        assert ahead
        assert last is whole
        assert sorted(map(str, (*ahead, *rest))) == sorted(map(str, shown))


def test_a_command_writes_what_a_call_writes_and_loads_no_library_for_pictures(tmp_path):
    """Else both processes would load them, and nobody would wait any less."""
    command = "from fairloaf.analysis.cli import main; import sys; sys.argv[0] = 'fairloaf'"
    script = f"{command}\ntry: main()\nfinally: print(*sys.modules, file=sys.stderr)"
    asked = ["report", str(CLASS_BAKE), "--for", "wall", "--form", "html", "--form", "pdf"]
    done = subprocess.run(
        [sys.executable, "-c", script, *asked, "--out", "out"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    written = write_report(load_trial(CLASS_BAKE), tmp_path / "called", "wall", ["html", "pdf"])
    for path in written.files:
        assert (tmp_path / "out" / path.name).read_bytes() == path.read_bytes()
    assert done.stdout == written.text.replace(str(tmp_path / "called"), "out") + "\n"
    if CORES > 1:
        assert not {"matplotlib", "seaborn", "numpy.f2py.f2py2e"} & set(done.stderr.split())


@pytest.mark.parametrize("trials", [1, 2])
def test_the_answer_is_told_before_anything_is_drawn(monkeypatch, tmp_path, trials):
    monkeypatch.setattr(pictures, "drawn", lambda *_: 1 / 0)
    asked = [str(CLASS_BAKE), str(ROOT / "example_trials" / "small_bakery")][:trials]
    done = CliRunner().invoke(app, ["report", *asked, "--out", str(tmp_path)])
    assert done.exit_code
    assert summary("class_bake").answer in done.stdout
    assert "Report:" not in done.stdout
    if trials > 1:
        assert done.stdout.startswith(f"{CLASS_BAKE}:\n{summary('class_bake').answer}")
        assert done.stdout.count(f"{CLASS_BAKE}:") == 1
        assert summary("small_bakery").answer in done.stdout


def test_a_call_starts_no_process(monkeypatch, tmp_path):
    monkeypatch.setattr(subprocess, "Popen", None)
    write_report(load_trial(CLASS_BAKE), tmp_path, "class")


def test_what_is_done_meanwhile_is_done_before_the_answer_is_there(two_cores):
    done = []
    with second_process(SMALL, 9, meanwhile=lambda: done.append("page")) as ask:
        assert done == []
        assert ask(os.getpid)() != os.getpid()
        assert done == ["page"]


def test_it_ends_after_the_last_question(two_cores):
    with second_process(SMALL, 2) as ask:
        pid = ask(os.getpid)()
        assert ask(os.getpid)() == pid
        assert gone(pid)
        assert ask(os.getpid)() == os.getpid()


def test_it_has_ended_when_it_is_no_longer_needed(two_cores):
    with second_process(SMALL, 9) as ask:
        pid = ask(os.getpid)()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


def test_an_interrupt_ends_it_too(two_cores):
    pids = []

    def interrupted():
        with second_process(SMALL, 9) as ask:
            pids.append(ask(os.getpid)())
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        interrupted()
    with pytest.raises(ProcessLookupError):
        os.kill(pids[0], 0)


@pytest.mark.parametrize("end", ["it", "this"])
def test_whatever_kills_one_of_the_two(two_cores, end):
    if end == "it":
        with second_process(SMALL, 9) as ask:
            os.kill(ask(os.getpid)(), signal.SIGKILL)
            assert ask(os.getpid)() == ask(os.getpid)() == os.getpid()
        return
    script = (
        "import os, signal; from fairloaf.analysis import second_process as module\n"
        "module.cores = lambda: 2\n"
        "with module.second_process(['wave'], 9) as ask:\n"
        "    print(ask(os.getpid)(), flush=True); os.kill(os.getpid(), signal.SIGKILL)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert done.returncode == -signal.SIGKILL
    assert gone(int(done.stdout))


def test_what_it_cannot_load_or_do_is_done_here(two_cores):
    with second_process(["no.such.module"], 9) as ask:
        assert ask(os.getpid)() == os.getpid()
    with second_process(SMALL, 9) as ask:
        assert ask(lambda: 3)() == 3  # cannot be sent
        assert ask(os.getpid)() != os.getpid()
        with pytest.raises(ValueError, match="invalid literal"):
            ask(int, "a fault of ours is told as if there were one process")()
        assert ask(os.getpid)() == os.getpid()


def test_where_it_would_gain_nothing_there_is_none(monkeypatch, two_cores):
    with second_process(["os", "sys"], 9) as ask:
        assert ask is here
    monkeypatch.setattr(module, "cores", lambda: 1)
    with second_process(PICTURES, 9) as ask:
        assert ask is here
    monkeypatch.setattr(module, "cores", lambda: 2)
    monkeypatch.setattr(sys, "executable", "/no/such/python")
    with second_process(SMALL, 9) as ask:
        assert ask is here


def test_a_module_in_the_users_folder_is_not_taken_for_a_library(two_cores, tmp_path, monkeypatch):
    (tmp_path / "wave.py").write_text("raise SystemExit")
    monkeypatch.chdir(tmp_path)
    with second_process(SMALL, 9) as ask:
        assert ask(os.getpid)() != os.getpid()


def test_while_it_works_this_one_goes_on(two_cores):
    with second_process(SMALL, 9) as ask:
        large = ask(bytes, 10_000_000)  # more than a pipe holds, in both directions
        again = ask(len, large())
        first, second = ask(time.sleep, 0), ask(os.getpid)
        assert second() != os.getpid()  # in whichever order they are waited for
        assert first() is None
        assert again() == 10_000_000


@pytest.mark.parametrize("name", ["class_bake", "class_tasting"])
def test_what_people_said_may_be_worked_out_elsewhere(two_cores, monkeypatch, name):
    monkeypatch.setattr(module, "here", None)  # nothing is done here instead
    with second_process(SMALL, 9) as ask:
        there = summarise(trial(name), ask=ask)
    assert report_data(report_for(there, "record"), there, "") == report_data(
        report(name, "record"), summary(name), ""
    )


def test_why_people_cannot_be_answered_comes_back(two_cores):
    stop = TrialError.one("loaf-missing", "No number.", "Write one.", rows=(3,))
    with second_process(SMALL, 9) as ask:
        assert ask(TrialError, stop.findings)().findings == stop.findings


@pytest.mark.parametrize(
    ("name", "audience"),
    [("class_bake", "class"), ("class_tasting", "wall"), ("open_and_lidded", "class")],
)
def test_what_a_reader_is_not_shown_changes_nothing_on_the_page(name, audience):
    parts = answered(trial(name), audience, whole=False)
    whole = answered(trial(name), audience)
    assert (parts.factors is None) == (parts.comparison is not None)
    assert parts.text == whole.text
    assert report_for(parts, audience) == report_for(whole, audience)
