"""From the texts of cells to numbers: every way of writing one, and what is no number."""

import math

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials.reading.cells import (
    Expected,
    decimal_mark,
    distinct,
    read_number,
    read_numbers,
    read_texts,
)
from fairloaf.trials.reading.units import find_unit
from hypothesis import given
from hypothesis import strategies as st

VOLUME = Expected(quantity="volume", low=30, high=15000)
MASS = Expected(quantity="mass", low=15, high=3000)
TIME = Expected(quantity="time", low=5, high=1440)


@pytest.mark.parametrize(
    ("text", "decimal", "number"),
    [
        ("402", ".", 402),
        (" 402.50 ", ".", 402.5),
        ("+5", ".", 5),
        ("-0.5", ".", -0.5),
        (".5", ".", 0.5),
        ("4.", ".", 4),
        ("1e3", ".", 1000),
        ("\u22125", ".", -5),
        ("１６１０", ".", 1610),
        ("402,5", ",", 402.5),
        ("402,5", ".", 402.5),
        ("1,650", ".", 1650),
        ("1,650", ",", 1.65),
        ("1.650", ",", 1650),
        ("1.650", ".", 1.65),
        ("0,402", ".", 0.402),
        ("0.402", ",", 0.402),
        ("1,650.5", ",", 1650.5),
        ("1.650,5", ".", 1650.5),
        ("1,234,567", ",", 1234567),
        ("1.234.567,25", ".", 1234567.25),
        ("1 650", ".", 1650),
        ("1\u00a0650,5", ",", 1650.5),
        ("1'650", ".", 1650),
        ("1\u2009650", ".", 1650),
        ("1234,567", ".", 1234.567),
    ],
)
def test_ways_of_writing_a_number(text, decimal, number):
    assert read_number(text, Expected(), decimal).number == number


@pytest.mark.parametrize(
    "text",
    [
        "about 400",
        "16O8",
        "450..1",
        "1,65,0",
        "1,2345,678",
        "1.65,0.1",
        "12 12",
        "400?",
        "<5",
        "5-6",
        "4 02",
        "inf",
        "1e999",
        "0x1F",
        "one",
        "1:15",
        "=1+1",
        "9" * 60,
        "1/2",
        "½",
        "402 g g",
        "402 ml",
        "#DIV/0!",
        "2026-02-04",
    ],
)
def test_what_is_no_mass(text):
    assert read_number(text, MASS, ".") is None


SIGNS = ["", "-", "–", "n/a", "N/A", "NA", "n.a.", "nan", "#N/A", "null", "none", ".", " - "]


@pytest.mark.parametrize("text", SIGNS)
def test_signs_of_a_missing_value(text):
    value = read_number(text, MASS)
    assert math.isnan(value.number)
    assert value.remark == ("missing" if text.strip() else "")


@pytest.mark.parametrize(
    ("text", "expected", "number"),
    [
        ("402 g", MASS, 402),
        ("0.402kg", MASS, 402),
        ("14.2 oz", MASS, 402.563228375),
        ("0,402 kg", MASS, 402),
        ("1.61 L", VOLUME, 1610),
        ("161 cl", VOLUME, 1610),
        ("1610 cm³", VOLUME, 1610),
        ("75 min", TIME, 75),
        ("1.25 h", TIME, 75),
        ("1:15", TIME, 75),
        ("1:15:30", TIME, 75.5),
        ("1h15", TIME, 75),
        ("1 h 15 min", TIME, 75),
        ("0:45", TIME, 45),
        ("00:45:00", TIME, 45),
        ("75 °F", Expected(quantity="temperature"), 23.888888888888889),
        ("60 %", Expected(), 60),
    ],
)
def test_cells_that_state_their_unit(text, expected, number):
    assert read_number(text, expected, ".").number == pytest.approx(number, rel=1e-14)


def test_the_unit_of_the_cell_goes_before_that_of_the_header():
    in_kg = Expected(unit=find_unit("kg"), quantity="mass")
    assert read_number("0.4", in_kg).number == 400
    assert read_number("400 g", in_kg).number == 400


def test_hours_and_minutes_are_not_read_as_decimals():
    clock = Expected(unit=find_unit("h:mm"), quantity="time")
    assert read_number("1:15", clock).number == 75
    assert read_number("1.15", clock) is None


def test_a_comma_that_may_be_either_is_read_by_what_is_plausible():
    assert read_number("1,650", VOLUME, None).number == 1650
    assert read_number("1,650", VOLUME, None).remark == "ambiguous"
    assert read_number("1,650", Expected(low=1, high=8), None).number == 1.65
    assert read_number("1,650", Expected(low=1, high=5000), None) is None
    assert read_number("1,650", Expected(), None) is None


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["402,5", "1.650"], ","),
        (["402.5", "1,650"], "."),
        (["1,650"], None),
        (["402,5", "402.5"], None),
        ([], None),
        (["0,402"], ","),
        (["1.650,5"], ","),
        (["n/a", "12"], None),
        (["1.234.567"], None),
    ],
)
def test_the_decimal_mark_that_numbers_show(texts, mark):
    assert decimal_mark(texts) == mark


@given(
    st.lists(
        st.one_of(st.floats(allow_nan=False, allow_infinity=False), st.integers(-(10**9), 10**9))
    )
)
def test_plain_numbers_are_read_exactly(values):
    read = read_numbers(
        distinct(pd.Series([repr(value) for value in values], dtype=object)), Expected()
    )
    np.testing.assert_array_equal(read.values, np.array(values, dtype=float))
    assert not read.unreadable.any()


@given(st.lists(st.text(max_size=12), min_size=1, max_size=30))
def test_the_quick_way_and_the_thorough_way_agree(texts):
    """A column is read as its cells are, whether they are all plain numbers or one of them is
    not.
    """
    cells = [text.strip() for text in texts]
    whole = read_numbers(distinct(pd.Series([*cells, "x"], dtype=object)), MASS)
    for position, text in enumerate(cells):
        one = read_numbers(distinct(pd.Series([text], dtype=object)), MASS)
        np.testing.assert_array_equal(one.values[0], whole.values[position])
        assert one.unreadable[0] == whole.unreadable[position]


def test_what_was_done_beyond_reading_digits_is_remembered():
    read = read_numbers(
        distinct(pd.Series(["75", "1:15", "n/a", "1 h", "", "soon"], dtype=object)), TIME
    )
    np.testing.assert_array_equal(read.values, [75, 75, np.nan, 60, np.nan, np.nan])
    assert read.unreadable.tolist() == [False, False, False, False, False, True]
    assert read.remarks == {"clock": ("1:15",), "missing": ("n/a",), "unit": ("1 h",)}


def test_none_is_a_level_and_not_a_missing_text():
    cells = pd.Series(["none", "n/a", "", "open", "-"], dtype=object)
    texts, signs = read_texts(cells, distinct(cells))
    assert texts.tolist()[0] == "none"
    assert texts.isna().tolist() == [False, True, True, False, True]
    assert signs == ("n/a", "-")
