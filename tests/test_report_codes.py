"""Every code of a result has words, and no code reaches a reader."""

from typing import get_args

import pytest
from fairloaf.analysis import codes
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.analysis.wording import codes as words
from fairloaf.analysis.wording.factor_limits import TIED
from fairloaf.trials.fairness.pairing import Choice

from .bakes import as_trial, bake
from .report_examples import EXAMPLES, report

TABLES = {
    codes.Way: words.WAYS,
    codes.Why: words.WHYS,
    codes.Adjustment: words.ADJUSTMENTS,
    codes.Goal: words.GOALS,
    codes.NotTried: words.NOT_TRIED,
    codes.Inseparable: TIED,
    Choice: words.CHOICES,
}
# what is the same word for both
PLAIN = {"balanced", "within", "between", "people", "loaves", "part", "all", ""}


@pytest.mark.parametrize("literal", TABLES, ids=str)
def test_every_code_has_words(literal):
    assert tuple(TABLES[literal]) == get_args(literal)


def test_every_literal_of_the_list_is_worded():
    there = [own for own in vars(codes).values() if get_args(own)]
    assert all(own in TABLES for own in there)


@pytest.mark.parametrize("audience", ["class", "bakery", "record"])
@pytest.mark.parametrize("name", EXAMPLES)
def test_no_cell_of_a_report_is_a_code(name, audience):
    known = {code for literal in TABLES for code in get_args(literal)} - PLAIN
    cells = [
        (table.caption, column.name, cell)
        for _, table in report(name, audience).tables()
        for row in table.rows
        for column, cell in zip(table.columns, row, strict=True)
        if isinstance(cell, str)
    ]
    assert [found for found in cells if found[2] in known or found[2] == "own"] == []


def test_no_cell_is_unsure_of_a_size_that_nobody_asked_about():
    """Where nobody said what matters, a real difference is told so in every table."""
    told = report_for(summarise(as_trial(bake(), matters=None)), "record")
    cells = [cell for _, table in told.tables() for row in table.rows for cell in row]
    assert "real; what matters is not said yet" in cells
    assert "real, size unsure" not in cells
