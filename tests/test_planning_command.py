"""fairloaf plan: the answer, what is written, the exit code, and what is told to somebody who makes
mistakes.
"""

import io
import json
import re
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from unittest.mock import patch

import pytest
from fairloaf.analysis.cli import main
from fairloaf.analysis.figures.plans import plan_layout, plan_timetable
from fairloaf.trials import bench_timetable, plan_trial
from fairloaf.trials.planning.saved import load_plan
from fairloaf.trials.reading.card_file import read_card
from fairloaf.trials.words.numbers import ENGLISH

from .planned_kitchens import FORMULAS, kitchens
from .test_command_line import run

DOUGHS = FORMULAS + "[dough]\npiece_g = 460\n"


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "trial.toml").write_text(kitchens()["small_bakery"]["card"] + DOUGHS, "utf-8")
    return tmp_path


@pytest.fixture
def small(tmp_path):
    (tmp_path / "trial.toml").write_text(kitchens()["class_tables"]["card"], "utf-8")
    return tmp_path


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_plan_is_said_and_written(folder):
    done = run("plan", str(folder), "--seed", "1")
    assert done.exit_code == 0
    for said in (
        "48 loaves from 8 mixes, 4 of each formula, 6 loaves a mix, on 4 days.",
        "Every day has every combination of formula",
        "Every mix has every combination of tin and proof time",
        "Day 1: mix 1 ",
        "07:00–07:04  weigh: mix 1",
        "malted_flour",
        "Local rules and trained staff",
        "Written: plan.csv, plan.json, loaves.csv, plan_layout.svg and plan_timetable.svg.",
    ):
        assert said in done.stdout
    assert names(folder) == [
        "loaves.csv",
        "plan.csv",
        "plan.json",
        "plan_layout.svg",
        "plan_timetable.svg",
        "trial.toml",
    ]
    assert load_plan(folder).to_dict() == plan_trial(folder, seed=1).to_dict()


def test_only_looking_writes_nothing_and_gives_the_seed(small):
    done = run("plan", str(small), "--only-look")
    seed = re.search(r"--seed (\d+)", done.stdout)[1]
    assert names(small) == ["trial.toml"]
    assert f"with seed {seed}" in done.stdout


def test_the_plan_as_data(folder):
    data = json.loads(run("plan", str(folder), "--seed", "1", "--only-look", "--json").stdout)
    assert (data["plan"]["seed"], len(data["plan"]["loaves"]), data["timetable"]["fits"]) == (
        1,
        48,
        True,
    )
    assert data["weigh_out"]["table"]
    assert data["written"] == []


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda text: text.split("[kitchen]")[0], "plan-no-kitchen"),
        (lambda text: text.replace("days = 4", "days = 0.5"), "card-out-of-range"),
        (
            lambda text: text.replace('"malted"]', '"malted"]\nsteamed = ["yes", "no"]'),
            "plan-made-per",
        ),
        (
            lambda text: text + "temp_c = 20\nflour_c = 28\nroom_c = 30\nfriction_c = 20\n",
            "water-too-cold",
        ),
    ],
)
def test_what_stops_a_plan_is_told_and_nothing_is_written(folder, change, code):
    card = folder / "trial.toml"
    card.write_text(change(card.read_text("utf-8")), "utf-8")
    done = _main("plan", str(folder))
    assert done[0] == 1
    assert code in done[1]
    assert names(folder) == ["trial.toml"]


def _main(*words):
    """Run the whole command in this process: exit code, and what stood on the error channel."""
    told, code = io.StringIO(), 0
    with (
        patch.object(sys, "argv", ["fairloaf", *words]),
        redirect_stdout(io.StringIO()),
        redirect_stderr(told),
    ):
        try:
            main()
        except SystemExit as stopped:
            code = stopped.code
    return code, told.getvalue()


def test_what_stops_a_plan_is_told_to_a_shell(folder):
    card = folder / "trial.toml"
    card.write_text(card.read_text("utf-8").split("[kitchen]")[0], "utf-8")
    done = subprocess.run(
        [sys.executable, "-c", "from fairloaf.analysis.cli import main; main()", "plan", folder],
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout) == (1, "")
    assert "[kitchen] days = 4 mixes_a_day = 2 loaves_a_mix = 4" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_second_plan_wants_again_and_keeps_the_first_seed(small):
    run("plan", str(small), "--seed", "1")
    code, told = _main("plan", str(small), "--seed", "2")
    assert (code, "plan-there" in told, "--again" in told) == (1, True, True)
    assert run("plan", str(small), "--seed", "2", "--again").exit_code == 0
    assert load_plan(small).earlier_seeds == (1,)


def test_a_picture_of_somebody_else_is_left_alone(small):
    (small / "plan_layout.svg").write_text("mine", "utf-8")
    code, told = _main("plan", str(small))
    assert (code, "file-in-the-way" in told) == (1, True)
    assert names(small) == ["plan_layout.svg", "trial.toml"]


def test_a_day_too_short_is_a_warning_with_what_would_help(folder):
    card = folder / "trial.toml"
    card.write_text(
        card.read_text("utf-8").replace('closes = "18:00"', 'closes = "11:00"'), "utf-8"
    )
    done = run("plan", str(folder), "--only-look")
    assert done.exit_code == 0
    assert "Warning: Days 1, 2, 3, 4 do not fit" in done.stdout
    assert "close at 12:45" in done.stdout


@cache
def plan_of(name):
    return plan_trial(read_card(kitchens()[name]["card"]), seed=1)


@pytest.mark.parametrize("name", kitchens())
def test_pictures_show_every_mix_and_step(name):
    plan = plan_of(name)
    picture = plan_layout(plan, style=ENGLISH)
    boxes = [patch for patch in picture.figure.axes[0].patches if patch.get_linewidth() == 1.6]
    assert len(boxes) == len(plan.mixes)
    assert len(picture.figure.axes[0].lines) == len(plan.loaves)
    assert f"{len(plan.loaves)} loaves" in picture.alt
    drawn = plan_timetable(bench_timetable(plan, "1"), "1")
    rows = [text.get_text() for text in drawn.figure.axes[0].get_yticklabels()]
    assert rows == [
        *(f"mix {mix}" for mix in plan.mixes["mix"][plan.mixes["day"] == "1"]),
        "all loaves",
    ]
