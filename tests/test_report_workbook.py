"""The report as a workbook: whole numbers with units, texts that stay texts."""

import io

import openpyxl
import pytest

from .report_examples import EVERY_REPORT, EXAMPLES, files, report, summary, trial


def sheets(name, audience="record"):
    """Return the workbook of an example, read by another library than the one that wrote it."""
    return openpyxl.load_workbook(io.BytesIO(files(name, audience)["xlsx"]))


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_every_table_of_the_report_has_its_sheet(name, audience):
    book = sheets(name, audience)
    captions = [sheet["A1"].value for sheet in book.worksheets[1:]]
    assert [table.caption for _, table in report(name, audience).tables()] == captions[:-2]
    assert len(set(book.sheetnames)) == len(book.sheetnames)


@pytest.mark.parametrize("name", EXAMPLES)
def test_numbers_keep_ten_digits_and_are_shown_with_few(name):
    book, c = sheets(name), summary(name).comparison
    if c is None:
        assert "Means" not in book.sheetnames
        return
    sheet = book["Means"]
    heads = [cell.value for cell in sheet[2]]
    at = heads.index(f"Mean ({c.unit})")
    assert [row[at].value for row in sheet.iter_rows(min_row=3)] == pytest.approx(
        list(c.means["mean"]), rel=1e-9
    )
    assert sheet.cell(3, at + 1).number_format.startswith("0")


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_loaf_is_there_with_units_and_types(name):
    sheet, loaves = sheets(name)["Loaves"], trial(name).loaves
    assert sheet.max_row == len(loaves) + 2
    heads = [cell.value for cell in sheet[2]]
    assert "Baked mass (g)" in heads
    masses = [row[heads.index("Baked mass (g)")].value for row in sheet.iter_rows(min_row=3)]
    assert masses == [None if m != m else m for m in loaves["loaf_g"]]
    meanings = {row[1].value: row[3].value for row in sheets(name)["Columns"].iter_rows(min_row=3)}
    assert meanings["loaf_g"] == "number"
    assert meanings["loaf"] == "text"


def test_the_first_sheet_answers():
    first = [cell.value for row in sheets("small_bakery").worksheets[0].iter_rows() for cell in row]
    assert summary("small_bakery").answer in first
