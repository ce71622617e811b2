"""Workbooks: sheets of one shape, sheets that are not read, and what cells show beside their
values.
"""

import zipfile
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from fairloaf.trials import TrialError, read_trial
from fairloaf.trials.fairness.pairing import baked_formulas
from openpyxl.comments import Comment
from openpyxl.styles import Font

CORPUS = Path(__file__).parent / "corpus"
HEADER = ["loaf", "mix", "formula", "loaf_g", "loaf_ml"]


def rows(first, n=6):
    return [
        [k, f"M{k // 3}", "house" if k % 2 else "malted", 400 + k % 7, 1600 + 3 * k]
        for k in range(first, first + n)
    ]


def read(tmp_path, sheets, change=lambda book: None):
    """Return the trial in a workbook with these sheets (invented)."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, (header, own) in sheets.items():
        sheet = book.create_sheet(name)
        for row in [header, *own]:
            sheet.append(row)
    change(book)
    book.save(tmp_path / "loaves.xlsx")
    return read_trial(tmp_path / "loaves.xlsx")


def found(trial, code):
    return [finding for finding in trial.findings if finding.code == code]


def test_a_sheet_a_day_is_one_table(tmp_path):
    with_note = (["note", *HEADER], [["pale", *row] for row in rows(7)])
    trial = read(
        tmp_path,
        {"Mon": (HEADER, rows(1)), "Tue": with_note, "Read me": (["An invented trial"], [])},
    )
    assert len(trial.loaves) == 12
    assert trial.loaves["day"].tolist() == ["Mon"] * 6 + ["Tue"] * 6
    assert trial.loaves["line"].tolist() == [*range(1002, 1008), *range(2002, 2008)]
    assert any("the sheets 'Mon' and 'Tue' as one table" in told for told in trial.assumptions)
    assert any("'Read me'" in told for told in trial.assumptions)


def test_an_older_trial_is_not_read_and_is_told(tmp_path):
    older = (
        [*HEADER, "tin", "baker", "height_mm", "proof_min"],
        [[*row, "open", "A", 99, 50] for row in rows(50)],
    )

    def hide(book):
        book["Old"].sheet_state = "hidden"

    trial = read(tmp_path, {"Old": older, "Trial": (HEADER, rows(1))}, hide)
    assert len(trial.loaves) == 6
    assert (
        "Sheet 'Old' (hidden) of loaves.xlsx may hold loaves too"
        in found(trial, "sheet-not-read")[0].message
    )
    with pytest.raises(TrialError, match="several sheets that may hold the loaves: 'Old', 'Trial'"):
        read(tmp_path, {"Old": older, "Trial": (HEADER, rows(1))})


def test_a_formula_that_was_never_worked_out_is_named(tmp_path):
    def change(book):
        book["T"]["E3"], book["T"]["B4"], book["T"]["D5"] = "=1600+2", "=B3", "#DIV/0!"
        book["T"]["D5"].data_type = "e"

    trial = read(tmp_path, {"T": (HEADER, rows(1))}, change)
    assert (
        found(trial, "formula-not-saved")[0].message
        == "Sheet 'T': E3 and B4 hold formulas whose values were never saved."
    )
    assert (
        found(trial, "cell-error-value")[0].message
        == "Sheet 'T': D5 holds an error in place of a value."
    )


def test_a_volume_over_two_loaves_is_not_both_loaves_volume(tmp_path):
    trial = read(tmp_path, {"T": (HEADER, rows(1))}, lambda book: book["T"].merge_cells("E3:E4"))
    assert found(trial, "value-merged")[0].rows == (3, 4)


def test_rows_that_are_hidden_or_struck_through_are_told(tmp_path):
    def change(book):
        book["T"].row_dimensions[4].hidden = True
        for cell in book["T"][6]:
            cell.font = Font(strike=True)
        book["T"]["E3"].font = Font(strike=True)

    trial = read(tmp_path, {"T": (HEADER, rows(1))}, change)
    assert len(trial.loaves) == 6
    assert found(trial, "cell-struck-through")[0].message == (
        "Sheet 'T': E3 is struck through, and read like any other."
    )
    assert found(trial, "row-hidden")[0].rows == (4,)
    assert found(trial, "row-struck-through")[0].rows == (6,)


def test_a_sheet_a_formula_is_told_what_to_write_on_the_card(tmp_path):
    header = [name for name in HEADER if name != "formula"]
    bare = [[row[0], row[1], *row[3:]] for row in rows(1, 12)]
    trial = read(tmp_path, {"house": (header, bare[:6]), "malted": (header, bare[6:])})
    said = 'Where each sheet holds one formula, write on the card  [columns]  formula = "sheet"'
    assert found(trial, "nothing-changed")[0].fix == said
    with pytest.raises(TrialError) as refused:
        baked_formulas(trial)
    assert refused.value.findings[0].fix == said
    (tmp_path / "trial.toml").write_text('[columns]\nformula = "sheet"\n')
    again = read_trial(tmp_path)
    assert again.loaves["formula"].value_counts().to_dict() == {"house": 6, "malted": 6}


COMMENTS = "Sheet 'T': B3 and E4 have comments, which are not read."


def test_comments_on_cells_are_told(tmp_path):
    def change(book):
        book["T"]["E4"].comment, book["T"]["B3"].comment = (
            Comment("seed spilled", ""),
            Comment("?", ""),
        )
        book["Other"]["A1"].comment = Comment("on another sheet", "")

    trial = read(tmp_path, {"T": (HEADER, rows(1)), "Other": (["Read me"], [])}, change)
    assert [told.message for told in found(trial, "cell-comment")] == [COMMENTS]
    assert found(trial, "cell-comment")[0].rows == (3, 4)
    assert found(trial, "cell-comment")[0].severity == "note"


def test_comments_are_found_where_the_sheet_names_their_part_beside_itself(tmp_path):
    with xlsxwriter.Workbook(tmp_path / "loaves.xlsx") as book:
        sheet = book.add_worksheet("T")
        for place, row in enumerate([HEADER, *rows(1)]):
            sheet.write_row(place, 0, row)
        sheet.write_comment("E4", "seed spilled")
        sheet.write_comment("B3", "?")
    trial = read_trial(tmp_path / "loaves.xlsx")
    assert [told.message for told in found(trial, "cell-comment")] == [COMMENTS]


def test_a_comment_in_an_open_document_is_told_and_is_no_part_of_its_cell(tmp_path):
    whole = CORPUS / "open_document.ods"
    plain = read_trial(whole)
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(tmp_path / "loaves.ods", "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if name == "content.xml":
                first = part.index(b"<text:p>", part.index(b"</table:table-row>"))
                remark = b"<office:annotation><text:p>seed spilled</text:p></office:annotation>"
                part = part[:first] + remark + part[first:]
            new.writestr(name, part)
    trial = read_trial(tmp_path / "loaves.ods")
    assert len(found(trial, "cell-comment")) == 1
    assert trial.loaves.equals(plain.loaves)
