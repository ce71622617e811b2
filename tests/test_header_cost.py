"""Headers and cells of any length are read in one go: whoever goes back over them never ends."""

import pytest
from fairloaf.trials.columns import RECORDED
from fairloaf.trials.reading.answers import is_yes, says_it_counts
from fairloaf.trials.reading.cells import Expected, decimal_mark, read_number
from fairloaf.trials.reading.days import dates, kind_of, same_day, without_time
from fairloaf.trials.reading.headers import name_columns, read_header
from fairloaf.trials.reading.totals import is_summary

LETTERS = 100_000  # with the square of that, a single reading would take hours
LONG = [
    "a" * LETTERS,
    "loaf " * (LETTERS // 5),
    "(" * LETTERS,
    "a / " * (LETTERS // 4),
    " " * LETTERS + "g",
    "1" * LETTERS,
    "1 " * (LETTERS // 2),
    "2026-03-01 " + "0" * LETTERS,
    ", " * (LETTERS // 2),
    "()" * (LETTERS // 2),
]


@pytest.mark.parametrize("text", LONG, ids=lambda text: repr(text[:8]))
def test_a_long_header_is_read_in_one_go(text):
    assert read_header(text, RECORDED) is None
    (header,) = name_columns(
        [text], (), RECORDED, {"mood": "mood"}, file="loaves.csv", line=1
    ).headers
    assert header.column is None


@pytest.mark.parametrize("text", LONG, ids=lambda text: repr(text[:8]))
def test_a_long_cell_is_read_in_one_go(text):
    assert read_number(text, Expected(out_of=10.0)) is None
    assert decimal_mark([text]) in (None, ".", ",")
    assert without_time(text) == text
    assert not dates(text)
    assert not is_summary(text)
    assert not is_yes(text)
    assert not says_it_counts(text)
    assert kind_of(text) in ("", "number")
    assert not same_day(text, "2026-03-01")
