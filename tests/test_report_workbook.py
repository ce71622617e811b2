"""The report as a workbook: whole numbers with units, texts that stay texts."""

import functools
import io
import itertools
import re
from xml.etree import ElementTree

import openpyxl
import pytest
from fairloaf.analysis.report import write_report
from PIL import Image

from .report_examples import EVERY_REPORT, EXAMPLES, files, report, summary, trial


@functools.cache
def sheets(name, audience="record"):
    """Return the workbook of an example, read by another library than the one that wrote it."""
    return openpyxl.load_workbook(io.BytesIO(files(name, audience)["xlsx"]))


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_every_table_of_the_report_has_its_sheet(name, audience):
    book = sheets(name, audience)
    made = report(name, audience)
    captions = [sheet["A1"].value for sheet in book.worksheets[1:] if sheet.title != "Pictures"]
    on_page = [table.caption for _, table in made.tables()]
    assert [*on_page, *(table.caption for table in made.beside)] == captions[:-2]
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


def test_a_bakery_s_workbook_has_the_tables_of_scores_and_factors():
    names = sheets("small_bakery", "bakery").sheetnames
    assert {"Crumb", "Factors", "Factor means", "Pictures"} <= set(names)


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_every_picture_is_in_it_with_its_sentence(name, audience):
    shown = [picture for _, picture in report(name, audience).pictures()]
    book = sheets(name, audience)
    if not shown:
        assert "Pictures" not in book.sheetnames
        return
    sheet = book["Pictures"]
    assert len(sheet._images) == len(shown)
    rows = [(image.anchor._from.row, image.height) for image in sheet._images]
    words = [cell.value for (cell,) in sheet.iter_rows(max_col=1) if cell.value]
    assert words == [picture.caption or picture.alt for picture in shown]
    for (row, high), (later, _) in itertools.pairwise(rows):
        assert later - row > high * 96 / 200 / 20  # a row of cells is 20 dots of the screen


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_sheets_are_ready_to_be_printed_and_tables_are_named_for_what_they_hold(name, audience):
    for sheet in sheets(name, audience):
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        assert sheet.page_setup.fitToHeight == 0  # as wide as one page, as long as need be
        assert sheet.page_setup.paperSize == 9
        assert sheet.oddFooter.right.text == "&P / &N"
        for table in sheet.tables.values():
            assert table.name in (sheet.title.replace(" ", "_"), f"Table_{sheet.title}")
            assert sheet.print_title_rows == "$1:$2"


@pytest.mark.parametrize("name", EXAMPLES)
def test_numbers_are_numbers_with_a_format_that_shows_what_they_support(name):
    book = sheets(name)
    for sheet in book:
        for row in sheet.iter_rows(min_row=3):
            for cell in row:
                if isinstance(cell.value, int | float):
                    assert re.fullmatch(r"0(\.0{1,7})?", cell.number_format), cell
    means = book["Loaves"]
    heads = [cell.value for cell in means[2]]
    at = heads.index("Specific volume (mL/g)") if "Specific volume (mL/g)" in heads else None
    if at is not None:
        assert means.cell(3, at + 1).number_format == "0.00"


def test_levels_that_are_numbers_are_numbers():
    levels = {
        cell.value
        for sheet in ("Factor means", "Pairs of levels", "Factors")
        for row in sheets("small_bakery")[sheet].iter_rows(min_row=3)
        for cell in row[:3]
    }
    assert not [level for level in levels if isinstance(level, str) and level.isdigit()]
    assert {60, 75} & levels


@pytest.mark.parametrize("form", ["svg", "png"])
def test_pictures_are_files_of_their_own_too(form, tmp_path):
    written = write_report(trial("class_bake"), tmp_path, "class", [form])
    assert [path.name for path in written.files] == [f"class_bake-class-1-found.{form}"]
    content = written.files[0].read_bytes()
    if form == "svg":
        root = ElementTree.fromstring(content)
        assert root.tag == "{http://www.w3.org/2000/svg}svg"
        assert "table 1" in "".join(root.itertext())
    else:
        drawn = Image.open(io.BytesIO(content))
        assert drawn.width > 700
        assert drawn.getpixel((0, 0))[:3] == (255, 255, 255)
        assert drawn.info["Software"].startswith("fairloaf report")
    again = write_report(trial("class_bake"), tmp_path, "class", [form])  # ours is replaced
    assert again.files[0].read_bytes() == content
    assert again.replaced == ()
