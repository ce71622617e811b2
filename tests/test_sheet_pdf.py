"""The printed frame of every sheet: its marks on each page, sizes, rows that are never divided,
words as words.
"""

import re
import shutil
import subprocess

import pytest
from fairloaf.trials.printing.paper import CODE_MM, CODE_PT, PAPERS, cells_across
from fairloaf.trials.printing.sheet import Blanks, Grid, Labels, Part, Sheet, SheetColumn, Words
from fairloaf.trials.printing.sheet_pdf import sheet_pdf

POINT_MM = 25.4 / 72


def text_pages(pdf, tmp_path):
    """Return the text of each page."""
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext here: apt-get install poppler-utils")
    file = tmp_path / "sheet.pdf"
    file.write_bytes(pdf)
    read = subprocess.run(
        ["pdftotext", "-layout", str(file), "-"], capture_output=True, text=True, check=True
    )
    return read.stdout.split("\f")[:-1]


def to_measure(n, title=""):
    columns = (
        SheetColumn("Code", "code", 22.0),
        *(SheetColumn(f"Value {i}", "write", 24.0) for i in range(7)),
    )
    rows = tuple((str(100 + i), *[""] * 7) for i in range(n))
    return Sheet(
        "Measuring",
        "4F7A2C",
        (Part("Day 1", (Words("Take care.", "caution"), Grid(columns, rows))),),
        title,
    )


@pytest.mark.parametrize(("paper", "rows"), [("a4", 19), ("letter", 18)])
def test_rows_follow_from_the_paper_and_headers_repeat(paper, rows, tmp_path):
    """Thirteen millimetres a row: what is left of the page's height under the frame and the
    header.
    """
    pages = text_pages(sheet_pdf(to_measure(2 * rows), PAPERS[paper], "made"), tmp_path)
    assert [len(re.findall(r"^ *1\d\d\b", page, re.MULTILINE)) for page in pages] == [rows, rows]
    assert all("Value 6" in page and "4F7A2C" in page and "Day 1" in page for page in pages)
    assert ["page 1 of 2" in pages[0], "page 2 of 2" in pages[1]] == [True, True]


def test_the_title_stands_only_where_it_is_given(tmp_path):
    assert "Malt" in text_pages(sheet_pdf(to_measure(1, "Malt"), PAPERS["a4"], "made"), tmp_path)[0]
    assert b"Malt" not in sheet_pdf(to_measure(1), PAPERS["a4"], "made")


def test_a_long_word_is_broken_and_markup_stays_words(tmp_path):
    name = "#panic[*bold*] $x$ " + "unbroken" * 10
    row = Grid((SheetColumn("What", width_mm=30.0), SheetColumn("")), ((name, ""),))
    sheet = Sheet("Run", "4F7A2C", (Part("Day 1", (row, Blanks(("Room (°C)",)))),))
    [page] = text_pages(sheet_pdf(sheet, PAPERS["a4"], "made"), tmp_path)
    assert "#panic[*bold*]" in re.sub(r"\s", "", page)
    assert re.sub(r"\s", "", "unbroken" * 10) in re.sub(r"\s", "", page)


def test_labels_stand_twenty_one_on_a_page(tmp_path):
    labels = Labels(tuple((str(100 + i), "day 1") for i in range(22)))
    for paper in PAPERS.values():
        pages = text_pages(
            sheet_pdf(Sheet("Labels", "4F7A2C", (Part("Day 1", (labels,)),)), paper, "m"), tmp_path
        )
        assert [len(re.findall(r"\b1\d\d\b", page)) for page in pages] == [21, 1]


def test_the_same_sheet_gives_the_same_bytes():
    assert sheet_pdf(to_measure(30), PAPERS["a4"], "made") == sheet_pdf(
        to_measure(30), PAPERS["a4"], "made"
    )


def test_seven_cells_stand_beside_a_code():
    assert [cells_across(paper, CODE_MM) for paper in PAPERS.values()] == [7, 7]
    # advance of a digit in DejaVu Sans Bold: 1,425 / 2,048 em
    four_digits = 4 * 0.696 * CODE_PT * POINT_MM
    assert four_digits + 2 * 1.2 <= CODE_MM
