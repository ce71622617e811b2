"""How numbers are written: digits that the measurement supports, minus signs, decimal commas."""

import pytest
from fairloaf.analysis.wording.differences import Said
from fairloaf.trials import TrialError
from fairloaf.trials.words.lists import counted, listed, on_lines
from fairloaf.trials.words.numbers import (
    ENGLISH,
    NumberStyle,
    amount,
    chance,
    decimals,
    level_words,
    number,
    number_style,
    range_decimals,
    range_end,
    size_of,
)

COMMA = NumberStyle(decimal_mark=",", language="en-DE")


@pytest.mark.parametrize(
    ("spread", "largest", "places"),
    [
        (0.19, 0.50, 2),  # two digits of the spread
        (0.0019, 4.21, 2),  # but three of the value at the most
        (12.0, 1857.0, -1),  # 1860, not 1857
        (0.0, 0.31, 3),  # no spread: three digits of the value
        (float("nan"), 0.31, 3),
        (0.0, 0.0, 2),
    ],
)
def test_as_many_decimals_as_the_measurement_supports(spread, largest, places):
    assert decimals(spread, largest) == places


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        (0.3149, 2, "0.31"),
        (0.25, 1, "0.2"),  # a half goes to the even digit,
        (0.25000000000001, 1, "0.2"),  # and is one to the last bits of a sum
        (-0.3149, 2, "−0.31"),
        (1857.0, -1, "1860"),
        (-0.001, 2, "0.00"),
        (4.0, None, "4.00"),
        (float("nan"), 2, "unknown"),
        (float("inf"), None, "unknown"),
    ],
)
def test_a_number_as_text(value, places, text):
    assert number(value, places, style=ENGLISH) == text


def test_a_decimal_comma():
    assert amount(-1.25, "mL/g", 2, COMMA) == "−1,25 mL/g"
    assert chance(0.0004, COMMA) == "p < 0,001"


@pytest.mark.parametrize(
    ("p_value", "text"),
    [(0.0131, "p = 0.013"), (0.21, "p = 0.21"), (0.0, "p < 0.001"), (float("nan"), "p unknown")],
)
def test_a_p_value_is_never_zero(p_value, text):
    assert chance(p_value, style=ENGLISH) == text


@pytest.mark.parametrize(
    ("locale", "mark", "language"),
    [("en", ".", "en"), ("de", ",", "en"), ("fr-CH", ",", "en-CH"), ("de_CH", ".", "en-CH")],
)
def test_a_locale_sets_the_decimal_mark(locale, mark, language):
    """Marks from the Unicode CLDR, as Babel carries it."""
    assert number_style(locale) == NumberStyle(mark, language)


def test_an_unknown_locale_is_told():
    with pytest.raises(TrialError, match=r"No locale 'klingon' is known. Write a language"):
        number_style("klingon")


def test_words_are_listed():
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"], "or") == "a, b or c"


@pytest.mark.parametrize(
    ("low", "high", "middle", "said"),
    [
        (0.12, 0.50, 0.31, ("0.12", "0.50")),
        (0.003, 0.45, 0.22, ("0.003", "0.450")),
        (0.0003, 0.45, 0.22, ("just above 0", "0.450")),
        (-0.45, -0.0003, -0.22, ("−0.450", "just below 0")),
        (-0.003, 0.45, 0.22, ("just below 0", "0.45")),
    ],
)
def test_a_range_that_leaves_zero_out_is_never_written_from_zero(low, high, middle, said):
    places = range_decimals(low, high, middle)
    assert tuple(range_end(end, places, style=ENGLISH) for end in (low, high)) == said


@pytest.mark.parametrize(
    ("level", "unit", "words"),
    [
        (60.0, "min", "60 min"),
        (1.5, "", "1,5"),
        (1234567.0, "g", "1234567 g"),
        (61.3636363, "min", "61,3636 min"),
        (-0.25, "", "−0,25"),
        ("open", "", "open"),
    ],
)
def test_a_level_is_said_as_it_was_typed_in_the_readers_numbers(level, unit, words):
    assert level_words(level, NumberStyle(","), unit) == words


@pytest.mark.parametrize(
    ("value", "places", "said"),
    [
        (0.04, 1, "less than 0.1 mL/g"),
        (-0.04, 1, "less than 0.1 mL/g"),
        (0.4, 0, "less than 1 mL/g"),
        (0.0, 1, "0.0 mL/g"),
        (0.06, 1, "0.1 mL/g"),
    ],
)
def test_a_size_that_is_not_zero_is_never_written_as_zero(value, places, said):
    assert size_of(value, "mL/g", places, ENGLISH) == said


def test_an_end_of_a_range_that_is_not_zero_is_never_written_as_zero():
    told = Said(
        formula="malted",
        against="house",
        measure="specific_volume",
        label_inside="specific volume",
        unit="mL/g",
        difference=0.8,
        ci_low=-0.002,
        ci_high=1.6,
        style=ENGLISH,
    )
    assert told.likely() == "anything from just below 0 to 1.60 bigger is likely"


def test_lists_counts_and_lines_are_said_in_one_way():
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"], "or") == "a, b or c"
    assert listed(["a", "b"], more=4) == "a, b and 4 more"
    assert counted(1, "loaf", "loaves") == "1 loaf"
    assert counted(3, "day") == "3 days"
    assert on_lines([4]) == "line 4"
    assert on_lines([4, 7]) == "lines 4 and 7"
    assert on_lines(range(1, 200)) == "lines 1, 2, 3, 4, 5, 6, 7, 8, 9, 10 and 189 more"
