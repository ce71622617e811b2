"""A trial whose every text holds markup, formulas and control characters: in no form does any of it
act.
"""

import functools
import io
import json
import re
import zipfile
from html.parser import HTMLParser

import openpyxl
import pandas as pd
import pytest
from fairloaf.analysis.report import write_report
from fairloaf.analysis.report.rendering import render
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.trials import Finding, Trial, TrialCard
from fairloaf.trials.card import Measure, ScoreScale

MARKUP = (
    "<script>alert(1)</script><img src=x onerror=alert(2)>\"'><svg onload=alert(3)><a"
    ' href="javascript:x">'
)
TEMPLATE = "{{ 70607*80609 }}{% include 'page.css' %}"
TYPESETTING = '#import "evil": * $frac$ *b* _i_ `r` @ref <lab> #link("http://evil.example") \\u{41}'
CONTROL = "\x01\x07\x0b\x1b[31m\x7f\u202e\ufffe"
FORMULA = '=HYPERLINK("http://evil.example";"x")'
EVIL = FORMULA + MARKUP + TEMPLATE + TYPESETTING + CONTROL
ALSO_FORMULAS = (
    "+1+cmd|' /C calc'!A0",
    "@SUM(1)",
    "-2+3",
    "{=1+1}",
    "http://evil.example",
    "mailto:x@evil",
)


@functools.cache
def hostile():
    """Return a trial of 2 formulas, 4 mixes of each, with hostile words in every text."""
    formulas = [EVIL, "+" + EVIL]
    rows = []
    for i in range(32):
        formula, mix = i % 2, i % 8
        words = {
            name: f"{EVIL}{name}{key}"
            for name, key in (
                ("loaf", i),
                ("mix", mix),
                ("day", mix // 2),
                ("baker", mix),
                ("note", i),
                ("oven_place", i % 3),
            )
        }
        volume = 1600 + 90 * formula + 11 * (mix // 2) + 7 * (i % 5)
        tin = ["=open", "@tall"][i // 8 % 2]
        void = ALSO_FORMULAS[i % 6] + EVIL if i > 29 else None
        rows.append(
            words
            | {
                "line": i + 2,
                "formula": formulas[formula],
                "tin": tin,
                "dough_g": 460.0,
                "loaf_g": 400.0 + i % 3,
                "loaf_ml": float(volume),
                "bake_order": float(i + 1),
                "crumb_openness": float(4 + formula + i % 3),
                "void": void,
            }
        )
    loaves = pd.DataFrame(rows)
    loaves["specific_volume"] = loaves.loaf_ml / loaves.loaf_g
    loaves["bake_loss_pct"] = 100 * (1 - loaves.loaf_g / loaves.dough_g)
    flours = {"flour": 100.0, f"{EVIL} water": 60.0}
    card = TrialCard(
        title=EVIL,
        question=EVIL,
        measure="specific_volume",
        matters=0.2,
        control=formulas[0],
        factors={"formula": tuple(formulas), "tin": ("=open", "@tall")},
        scores=ScoreScale(attributes=("openness",)),
        measures={"specific_volume": Measure(label=EVIL, unit="<b>mL/g</b>")},
        formulas={formulas[0]: flours, formulas[1]: flours},
    )
    return Trial(
        name=f"../{EVIL}",
        card=card,
        loaves=loaves,
        factors=("formula", "tin"),
        sources={EVIL: "0" * 64},
        assumptions=(EVIL, *ALSO_FORMULAS),
        findings=(Finding(code="x", severity="warning", message=EVIL, fix=EVIL, rows=(2,)),),
    )


@functools.cache
def made(audience, form):
    """Return the hostile trial's report."""
    return render(form, _report(audience), _summary())


@functools.cache
def _summary():
    return summarise(hostile())


@functools.cache
def _report(audience):
    return report_for(_summary(), audience)


class _Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.found = []

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))


@pytest.mark.parametrize("audience", ["class", "bakery", "record"])
def test_a_page_shows_the_words_and_runs_none(audience):
    page = made(audience, "html").decode("utf-8")
    tags = _Tags()
    tags.feed(page)
    assert not {"script", "img", "a", "iframe", "object"} & {tag for tag, _ in tags.found}
    assert [a for _, attrs in tags.found for a in attrs if a.startswith("on")] == []
    assert all(attrs.get("role") == "img" for tag, attrs in tags.found if tag == "svg")
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "{{ 70607*80609 }}" in page
    assert str(70607 * 80609) not in page
    assert not re.search("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\u202e\ufffe]", page)


@pytest.mark.parametrize("audience", ["class", "bakery", "record"])
def test_a_browser_runs_none_of_it(browser, tmp_path, audience):
    file = tmp_path / "page.html"
    file.write_bytes(made(audience, "html"))
    heard = []
    page = browser.new_page(viewport={"width": 360, "height": 800})
    page.on("dialog", lambda dialog: (heard.append(dialog.message), dialog.dismiss()))
    page.on("console", lambda message: heard.append(message.text))
    page.on("request", lambda request: heard.append(request.url))
    page.goto(file.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert "<script>alert(1)</script>" in page.inner_text("h1")
    page.close()
    assert heard == [file.as_uri()]


@pytest.mark.parametrize("audience", ["class", "bakery", "record"])
def test_a_workbook_holds_texts_and_no_formula(audience):
    raw = made(audience, "xlsx")
    book = openpyxl.load_workbook(io.BytesIO(raw))
    cells = [
        cell
        for sheet in book
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    ]
    assert {cell.data_type for cell in cells} <= {"s", "n"}
    assert [cell for cell in cells if cell.hyperlink] == []
    assert any(str(cell.value).startswith("=HYPERLINK") for cell in cells)
    assert all(cell.quotePrefix for cell in cells if cell.data_type == "s")
    with zipfile.ZipFile(io.BytesIO(raw)) as parts:
        assert [n for n in parts.namelist() if "external" in n.lower() or "vba" in n.lower()] == []
        assert [n for n in parts.namelist() if n.endswith(".xml") and b"<f>" in parts.read(n)] == []


@pytest.mark.parametrize("audience", ["class", "bakery", "record"])
def test_a_pdf_takes_no_word_as_typesetting(audience):
    pdf = made(audience, "pdf")
    assert pdf.startswith(b"%PDF-")
    assert not re.search(rb"/URI\b|/JavaScript|/JS\b|/Launch|/EmbeddedFile", pdf)


def test_data_hold_the_words_as_they_are():
    data = json.loads(made("record", "json"))
    assert data["trial"]["title"] == EVIL
    assert data["loaves"][31]["void"].endswith(EVIL)
    assert made("record", "json").isascii()


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    return write_report(
        hostile(), tmp_path_factory.mktemp("hostile") / "out", audience="class", forms=("json",)
    )


def test_a_name_with_a_path_stays_in_the_folder(written):
    folder = written.files[0].parent
    assert folder.name == "out"
    assert [path.name for path in folder.parent.iterdir()] == ["out"]
    assert re.fullmatch(r"[\w.-]+-class\.json", written.files[0].name)


def test_what_is_printed_holds_no_control_characters(written):
    assert not re.search("[\x00-\x08\x0b-\x1f\x7f\u202e]", written.text)
