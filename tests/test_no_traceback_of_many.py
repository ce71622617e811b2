"""The comparing commands and the report on messy records: an answer, or a refusal in words."""

from __future__ import annotations

import random
import warnings
from pathlib import Path

import pytest
from fairloaf.analysis.cli import app
from fairloaf.trials import TrialError
from typer.testing import CliRunner

from .messy_trials import messy_folder
from .seeds import seeds

COMPARING = ("compare", "factors", "crumb")
READERS = ("class", "bakery", "record")


def outcome(folder: Path, *command: str) -> str:
    """Return "answered" or "refused"; whatever is no refusal in words is raised, warnings of
    Python's among them.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            done = CliRunner().invoke(
                app, [command[0], str(folder), *command[1:]], catch_exceptions=False
            )
        except TrialError as stopped:
            refused = stopped.findings
        else:
            refused = ()
    if refused:
        assert all(finding.message and finding.fix for finding in refused)
        return "refused"
    assert done.exit_code == 0
    assert "nan" not in done.output.lower().replace("finance", "").split()
    return "answered"


@pytest.mark.parametrize("seed", seeds(range(12), 6))
def test_the_comparing_commands_answer_or_refuse(tmp_path, seed):
    folder = messy_folder(random.Random(seed), tmp_path / "trial")
    for command in COMPARING:
        outcome(folder, command)


def test_scores_of_one_formula_alone_are_refused(tmp_path):
    assert outcome(messy_folder(random.Random(159), tmp_path / "trial"), "crumb") == "refused"


def test_loaves_of_a_tin_that_the_fit_uses_up_are_refused_in_words(tmp_path):
    assert outcome(messy_folder(random.Random(813), tmp_path / "trial"), "compare") == "refused"


def test_as_many_columns_as_loaves_are_answered_without_a_range(tmp_path):
    assert outcome(messy_folder(random.Random(168), tmp_path / "trial"), "crumb") == "answered"


@pytest.mark.parametrize("seed", [141, 1053])  # scores without a mean; means of no bread
def test_a_class_page_says_what_it_cannot_compare(tmp_path, seed):
    folder = messy_folder(random.Random(seed), tmp_path / "trial")
    assert outcome(folder, "report", "--for", "class", "--out", str(tmp_path)) == "answered"


@pytest.mark.parametrize("seed", range(3))
def test_the_report_answers_or_refuses(tmp_path, seed):
    folder = messy_folder(random.Random(1000 + seed), tmp_path / "trial")
    out = ["--for", READERS[seed % 3], "--form", "json", "--out", str(tmp_path)]
    outcome(folder, "report", *out)
