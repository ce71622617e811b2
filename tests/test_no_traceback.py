"""Ordinary mess that once ended in a traceback: every command answers, or says what is wrong and
what to do.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from fairloaf.analysis.cli import app
from fairloaf.trials import TrialError
from typer.testing import CliRunner

COMMANDS = ("check", "compare", "factors", "crumb")
PEOPLE = ("ann", "bo", "cy")


def loaves() -> list[str]:
    """Two formulas on three days, four loaves of each mix."""
    random = np.random.default_rng(3)
    rows = ["loaf,day,mix,formula,loaf_g,loaf_ml"]
    for number in range(1, 25):
        day, formula = (number - 1) // 8 + 1, "AB"[(number - 1) // 4 % 2]
        grams, volume = (
            400 + random.normal(0, 3),
            1600 + 60 * (formula == "B") + random.normal(0, 30),
        )
        rows.append(f"{number},{day},{day}{formula},{formula},{grams:.1f},{volume:.0f}")
    return rows


def scored(say, header: str = "score", only: int = 24) -> list[str]:
    return [
        f"loaf,assessor,attribute,{header}",
        *(f"{n},{person},soft,{say(n, person)}" for n in range(1, only + 1) for person in PEOPLE),
    ]


def answer(folder: Path, command: str) -> str:
    """Return what a command says, as words; whatever is no refusal in words is raised."""
    try:
        return CliRunner().invoke(app, [command, str(folder)], catch_exceptions=False).output
    except TrialError as stop:
        return str(stop)


def trial(
    folder: Path, scores: list[str] | None = None, card: str = "", table: list[str] | None = None
) -> Path:
    (folder / "loaves.csv").write_text("\n".join(table or loaves()), "utf-8")
    if scores:
        (folder / "scores.csv").write_text("\n".join(scores), "utf-8")
    if card:
        (folder / "trial.toml").write_text(card, "utf-8")
    return folder


@pytest.mark.parametrize("header", ["value", "result", "grade"])
def test_scores_under_another_header_are_read_as_the_scores(tmp_path, header):
    said = trial(tmp_path, scored(lambda n, _: 3 + n % 5, header))
    assert f"the column {header!r} is read as the score" in answer(said, "check")
    assert "soft" in answer(said, "crumb")


@pytest.mark.parametrize(
    "say",
    [lambda n, _: 3 + n % 4, lambda n, _: 5 + (n - 1) // 4 % 2],
    ids=["by loaf", "by formula"],
)
def test_assessors_who_agree_completely(tmp_path, say):
    for command in COMMANDS:
        assert answer(trial(tmp_path, scored(say)), command)


def test_scores_of_one_formula_only(tmp_path):
    said = trial(
        tmp_path,
        [
            row
            for row in scored(lambda n, _: 3 + n % 5)
            if row[0] == "l" or (int(row.split(",")[0]) - 1) // 4 % 2 == 0
        ],
    )
    for command in COMMANDS:
        assert answer(said, command)


def test_a_mass_in_powers_of_ten(tmp_path):
    rows = loaves()
    rows[5] = "5,1,1B,B,1e-5,1650"
    assert "line 6" in answer(trial(tmp_path, table=rows), "check")


def test_a_number_of_400_digits_on_the_card(tmp_path):
    said = answer(trial(tmp_path, card="matters = " + "9" * 400), "compare")
    assert "matters is 9999" in said
    assert len(said) < 400


def test_a_new_folder_whose_name_is_too_long(tmp_path):
    with pytest.raises(TrialError, match="could not be made: its name is too long"):
        CliRunner().invoke(app, ["new", str(tmp_path / ("n" * 260))], catch_exceptions=False)
    assert list(tmp_path.iterdir()) == []


def test_names_of_500_letters_reach_the_paper(tmp_path):
    rows = [
        row.replace(",A,", f",{'A' * 500},").replace(",B,", f",{'B' * 500},") for row in loaves()
    ]
    done = CliRunner().invoke(
        app,
        [
            "report",
            str(trial(tmp_path, table=rows)),
            "--for",
            "class",
            "--form",
            "pdf",
            "--out",
            str(tmp_path / "out"),
        ],
        catch_exceptions=False,
    )
    assert done.exit_code == 0
