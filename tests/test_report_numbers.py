"""Whoever reads decimal commas finds no decimal point: on a page, in its pictures, on the
terminal.
"""

import re
from html import unescape

import pytest
from fairloaf.analysis.report.rendering import render
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.trials.words.numbers import number_style

from .report_examples import ROOT, trial
from .test_command_line import run

COMMA = number_style("de")
# numbers that are names: of a version, of published methods and guides
NAMES = re.compile(
    r"Fairloaf \d+\.\d+\.\d+|Approved Method 10-05\.01|4\.2 and 5\.1\.6|5725-6:1994, 4\.1\.4"
)
POINT = re.compile(r".{0,40}\d\.\d.{0,30}")


def read_on(page):
    """Return what is read on a page, in pictures, and instead of them."""
    shown = re.sub(
        r"<style.*?</style>|<script.*?</script>|<metadata.*?</metadata>", "", page, flags=re.S
    )
    beside = re.findall(r'(?:alt|aria-label|title)="([^"]*)"', shown)
    return NAMES.sub("", unescape(" ".join([re.sub(r"<[^>]+>", " ", shown), *beside])))


@pytest.mark.parametrize("name", ["small_bakery", "class_tasting"])
def test_a_page_of_decimal_commas_has_no_decimal_point(name):
    told = summarise(trial(name), style=COMMA)
    for audience in ("record", "class"):
        page = render("html", report_for(told, audience), told).decode("utf-8")
        text = read_on(page)
        assert '<html lang="en">' in page  # the words
        assert len(re.findall(r"\d,\d", text)) > (20 if audience == "record" else 2)
        assert POINT.findall(text) == []


@pytest.mark.parametrize(
    "command",
    [
        ("compare", "small_bakery"),
        ("factors", "small_bakery"),
        ("factors", "small_bakery", "--every-measure"),
        ("crumb", "small_bakery"),
        ("tasting", "class_tasting"),
        ("words", "class_tasting"),
    ],
)
def test_every_command_writes_numbers_as_its_reader_does(command):
    asked, name, *more = command
    said = run(asked, str(ROOT / "example_trials" / name), *more, "--locale", "de").output
    assert re.search(r"\d,\d", said)
    assert POINT.findall(NAMES.sub("", said)) == []


def test_counts_without_files_are_told_so_too():
    counts = ("--test", "triangle", "--right", "14", "--of", "30", "--locale", "de")
    assert "p = 0,09" in run("tasting", *counts).output
