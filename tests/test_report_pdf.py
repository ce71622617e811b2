"""The report on paper: tagged, of few pages, with words as words."""

import re
import shutil
import subprocess

import pytest
from fairloaf.trials.printing.pdf import pdf_pages

from .report_examples import EVERY_REPORT, files, report

MOST_PAGES = {"class": 1, "bakery": 2}


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_it_is_a_tagged_pdf_for_everyone(name, audience):
    """PDF/UA-1 (ISO 14289-1): tags, a title, a language, a sentence for every picture; typst
    refuses without.
    """
    pdf = files(name, audience)["pdf"]
    assert pdf.startswith(b"%PDF-")
    assert b"/StructTreeRoot" in pdf
    assert b"/Lang (en)" in pdf or b"/Lang(en)" in pdf
    assert b"pdfuaid" in pdf


@pytest.mark.parametrize(
    ("name", "audience"), [pair for pair in EVERY_REPORT if pair[1] in MOST_PAGES]
)
def test_it_fits_its_sheets(name, audience):
    pdf = files(name, audience)["pdf"]
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) <= MOST_PAGES[audience]


@pytest.mark.parametrize(("name", "audience"), EVERY_REPORT)
def test_it_holds_no_date_and_no_action(name, audience):
    pdf = files(name, audience)["pdf"]
    # no objects inside compressed streams, whose bytes may spell anything
    assert b"/ObjStm" not in pdf
    pdf = re.sub(rb"stream\r?\n.*?endstream", b"", pdf, flags=re.DOTALL)
    assert not re.search(
        rb"/CreationDate|/ModDate|/JavaScript|/JS\b|/OpenAction|/Launch|/URI\b|/EmbeddedFile", pdf
    )


@pytest.mark.parametrize("audience", ["class", "bakery", "record"])
def test_its_words_can_be_read_out(tmp_path, audience):
    if shutil.which("pdftotext") is None:
        pytest.skip("no pdftotext here: apt-get install poppler-utils")
    file = tmp_path / "report.pdf"
    file.write_bytes(files("small_bakery", audience)["pdf"])
    read = subprocess.run(
        ["pdftotext", str(file), "-"], capture_output=True, text=True, check=True
    ).stdout
    text = " ".join(read.split())
    for section in report("small_bakery", audience).sections:
        assert section.heading in text


def test_the_mark_is_in_the_file():
    assert b"fairloaf report" in pdf_pages(
        report("class_bake", "class"), "fairloaf report, version 0"
    )
