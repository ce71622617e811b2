"""A tasting that is served: files that load back, ballots that give nothing away, nothing over
records.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import openpyxl
import pytest
from fairloaf.analysis.cli import app
from fairloaf.analysis.sheets.serving import serve_tasting
from fairloaf.trials import TrialError, load_trial
from fairloaf.trials.loading import read_trial
from fairloaf.trials.tasting.servings import read_servings
from typer.testing import CliRunner

from .served_plan import faults
from .tasting_trial import CARD, written

TESTS = ("triangle", "duo-trio", "tetrad", "three-choice", "pair", "preference", "ranking")


def trial_of(folder: Path, card: str = CARD):
    return load_trial(written(folder, card=card, tasting=None, words=None, codes=None))


def text_of(pdf: Path) -> str:
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext here: apt-get install poppler-utils")
    return subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout


def filled(book: Path) -> None:
    """Fill the records in: everybody chooses, and the reasons under void are taken out."""
    opened = openpyxl.load_workbook(book)
    sheet = opened.active
    head = {cell.value: cell.column for cell in sheet[1]}
    for row in range(2, sheet.max_row + 1):
        sheet.cell(row, head["void"]).value = None
        if "answer" in head:
            codes = str(sheet.cell(row, head["served"]).value).split()
            test = sheet.cell(row, head["test"]).value
            answer = {"tetrad": " ".join(codes[:2]), "ranking": " < ".join(codes)}.get(
                test, codes[0]
            )
            sheet.cell(row, head["answer"]).value = answer
        else:
            sheet.cell(row, head["sour"]).value = "x"
    opened.save(book)


@pytest.mark.parametrize("test", TESTS)
def test_a_plan_loads_back_empty_and_filled_in(test, tmp_path):
    trial = trial_of(tmp_path)
    served = serve_tasting(trial, tmp_path, assessors=6, seed=3, test=test)
    empty = load_trial(tmp_path)
    assert [s.left_out for s in read_servings(empty)] == [True] * 6
    filled(tmp_path / "tasting.xlsx")
    there = load_trial(tmp_path)
    found = read_servings(there)
    assert [s.faults for s in found] == [()] * 6
    assert all(s.answer for s in found)
    assert [f.code for f in there.findings if f.severity == "error"] == []
    assert served.plans[0].test == test
    if test in ("three-choice", "pair"):
        assert all(s.right is not None for s in found)


@pytest.mark.parametrize("seed", range(8))
def test_a_plan_of_a_seed_loads_back_balanced(seed, tmp_path):
    assert faults(seed, tmp_path / "served") == []


def test_words_and_a_test_share_a_key_and_load_back(tmp_path):
    trial = trial_of(tmp_path)
    served = serve_tasting(trial, tmp_path, seed=2)
    assert [plan.test for plan in served.plans] == ["triangle", "looking"]
    assert {path.name for path in served.paths} == {
        "codes.csv",
        "tasting.xlsx",
        "words.xlsx",
        *(
            f"{name}.{form}"
            for name in ("ballots", "word_sheets", "tray_list", "key")
            for form in ("pdf", "xlsx")
        ),
    }
    filled(tmp_path / "words.xlsx")
    there = load_trial(tmp_path)
    assert there.words is not None
    assert len(there.words) == 12 * 4 * 2  # people, loaves, words
    assert set(there.words["word"]) == {"sour", "chewy"}


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_ballots_have_a_page_a_person_and_say_nothing_of_the_bread(paper, tmp_path):
    card = CARD.replace('allergens = ["gluten"]', 'allergens = ["gluten", "sesame"]')
    serve_tasting(trial_of(tmp_path, card), tmp_path, assessors=5, seed=2, paper=paper)
    for name in ("ballots", "word_sheets"):
        text = text_of(tmp_path / f"{name}.pdf")
        assert len(text.split("\f")) == 6
        assert text.count("Allergens in these breads: gluten and sesame.") == 5
        assert text.count("nobody asks why") == text.count("never dough or flour") == 5
        assert text.count("Local food-safety rules and trained staff come first") == 5
        assert "house" not in text
        assert "malted" not in text
        assert "loaf" not in text.lower()
    assert "malted" in text_of(tmp_path / "key.pdf")
    served = load_trial(tmp_path).tasting["served"]
    for codes in served:
        assert all(code in text_of(tmp_path / "ballots.pdf") for code in codes.split())


def rows_of(book: Path) -> list[list[str]]:
    """Return what stands in the rows of a workbook's only sheet."""
    sheet = openpyxl.load_workbook(book).active
    return [[str(cell) for cell in row if cell not in (None, "")] for row in sheet.values]


def test_ballots_as_workbooks_hold_what_the_printed_ones_hold(tmp_path):
    served = serve_tasting(trial_of(tmp_path), tmp_path, assessors=5, seed=2)
    for name, plan in zip(("ballots", "word_sheets"), served.plans, strict=True):
        rows = rows_of(tmp_path / f"{name}.xlsx")
        texts = [cell for row in rows for cell in row]
        printed = " ".join(text_of(tmp_path / f"{name}.pdf").split())
        assert all(" ".join(text.split("   ")[:2]) in printed for text in texts)
        assert texts.count("Allergens in these breads: gluten.") == 5
        assert not {"house", "malted"} & set(" ".join(texts).split())
        assert [row["served"].split() for row in plan.rows] == (
            [[r[1] for r in rows if len(r) == 2][3 * i : 3 * i + 3] for i in range(5)]
            if name == "ballots"
            else [row[1:] for row in rows if row[:1] == ["Word"]]
        )
        sheet = openpyxl.load_workbook(tmp_path / f"{name}.xlsx").active
        heads = [i for i, row in enumerate(rows) if row and row[0].startswith("Person ")]
        assert [mark.id for mark in sheet.row_breaks.brk] == heads[1:]
    assert "malted" in {cell for row in rows_of(tmp_path / "key.xlsx") for cell in row}


def test_a_sheet_of_words_has_a_line_for_a_comment(tmp_path):
    serve_tasting(trial_of(tmp_path), tmp_path, assessors=2, seed=2)
    assert text_of(tmp_path / "word_sheets.pdf").count("Comment (with the code)") == 2


def test_what_people_are_asked_for_stands_on_the_ballot_and_in_the_records(tmp_path):
    card = CARD.replace('test = "triangle"', 'test = "pair"\nasked = "sourness"')
    serve_tasting(trial_of(tmp_path, card), tmp_path, assessors=4)
    assert text_of(tmp_path / "ballots.pdf").count("Asked for: sourness") == 4
    assert [s.asked for s in read_servings(load_trial(tmp_path))] == ["sourness"] * 4


def test_a_card_that_does_not_say_what_is_asked_for_leaves_room(tmp_path):
    serve_tasting(trial_of(tmp_path), tmp_path, assessors=2, test="ranking")
    assert text_of(tmp_path / "ballots.pdf").count("Asked for:") == 2
    sheet = openpyxl.load_workbook(tmp_path / "tasting.xlsx").active
    assert [(cell.value, cell.protection.locked) for cell in sheet["E"][:2]] == [
        ("asked", True),
        (None, False),
    ]


@pytest.mark.parametrize("allergens", ["", '[tasting.allergens]\nhouse = ["gluten"]\n'])
def test_no_ballot_before_somebody_named_the_allergens(allergens, tmp_path):
    card = CARD.replace('allergens = ["gluten"]', "") + allergens
    trial = trial_of(tmp_path, card)
    with pytest.raises(TrialError) as stopped:
        serve_tasting(trial, tmp_path / "out", seed=2)
    assert [f.code for f in stopped.value.findings] == ["allergens-not-named"]
    assert not (tmp_path / "out").exists()


def test_breads_without_allergens_say_so(tmp_path):
    serve_tasting(trial_of(tmp_path, CARD.replace('["gluten"]', "[]")), tmp_path, assessors=2)
    assert "have no allergens" in text_of(tmp_path / "ballots.pdf")


@pytest.mark.parametrize("name", ["tasting.csv", "words.xlsx", "codes.csv"])
def test_nothing_is_written_over_records(name, tmp_path):
    trial = trial_of(tmp_path)
    (tmp_path / name).write_text("mine", encoding="utf-8")
    before = sorted(path.name for path in tmp_path.iterdir())
    with pytest.raises(TrialError) as stopped:
        serve_tasting(trial, tmp_path, assessors=4)
    assert [f.code for f in stopped.value.findings] == ["records-there"]
    assert sorted(path.name for path in tmp_path.iterdir()) == before


@pytest.mark.parametrize(
    ("options", "code"),
    [
        ({"assessors": 4, "paper": "a3"}, "paper-unknown"),
        ({"assessors": 4, "test": "sniffing"}, "test-unknown"),
        ({"assessors": 4, "test": "triangle", "formula": "rye"}, "which-breads"),
        ({"assessors": 4000}, "people-number"),
    ],
)
def test_what_cannot_be_served_is_told(options, code, tmp_path):
    with pytest.raises(TrialError) as stopped:
        serve_tasting(trial_of(tmp_path), tmp_path / "out", **options)
    assert [f.code for f in stopped.value.findings] == [code]


def test_nothing_is_drawn_from_loaves_that_hold_errors(tmp_path):
    (tmp_path / "loaves.csv").write_text("loaf,formula,mix\n1,house,a\n1,malted,b\n", "utf-8")
    (tmp_path / "trial.toml").write_text(CARD, "utf-8")
    with pytest.raises(TrialError, match="stands more than once: 1 on lines 2 and 3"):
        serve_tasting(read_trial(tmp_path), tmp_path / "day")
    assert not (tmp_path / "day").exists()


def run(*arguments: str):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def test_the_commands_print_sentences_and_data(tmp_path):
    folder = written(tmp_path)
    assert "4 of 12 picked the odd slice" in run("tasting", folder).output
    assert json.loads(run("tasting", folder, "--json").output)["tests"][0]["right"] == 4
    assert "1 tells these loaves apart: sour" in run("words", folder).output
    assert json.loads(run("words", folder, "--by", "formula", "--json").output)["by"] == "formula"
    assert run("tasters", "--test", "triangle", "--can-tell", "0.3").output.startswith(
        "42 people are needed"
    )
    assert (
        json.loads(run("tasters", "--test", "pair", "--d-prime", "1", "--json").output)["needed"]
        == 26
    )
    counts = run(
        "tasting", "--test", "triangle", "--right", "14", "--of", "30", "--may-tell", "0.3"
    )
    assert counts.output.startswith("14 of 30 picked the odd slice; guessing would give about 10.")
    assert run("tasting", "--test", "triangle", "--right", "14").exit_code == 2
    out = run(
        "serve", folder, "--assessors", "6", "--seed", "7", "--out", tmp_path / "day", "--json"
    )
    assert json.loads(out.output)["plans"][0]["assessors"] == 6
    assert (tmp_path / "day" / "ballots.pdf").is_file()
