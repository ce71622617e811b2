"""Headers, units and months in other languages: the table is read as it says, and held against
Babel (CLDR).
"""

import re

import pytest
from babel import Locale
from babel.dates import get_month_names
from babel.units import format_unit
from fairloaf.trials.columns import DERIVED, READINGS, RECORDED, SCORES
from fairloaf.trials.reading import days
from fairloaf.trials.reading.headers import read_header
from fairloaf.trials.reading.spreadsheet_damage import _DATE
from fairloaf.trials.reading.units import find_unit
from fairloaf.trials.words.spellings import _ABROAD, LANGUAGES, abroad

LOAVES = (*RECORDED, *DERIVED)
COLUMNS = {column.name: column for column in (*SCORES, *READINGS, *LOAVES)}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_name_in_the_table_is_read_as_its_column(language):
    for name in _ABROAD:
        vocabulary = LOAVES if COLUMNS[name] in LOAVES else SCORES
        for spelling in abroad(name, language):
            unit = COLUMNS[name].unit
            meant = read_header(f"{spelling} ({unit})" if unit else spelling, vocabulary, language)
            assert meant is not None, spelling
            assert meant.name == name, spelling
            shouted = read_header(spelling.upper(), vocabulary, language)
            assert shouted is not None, spelling


def test_a_word_of_two_languages_means_what_it_means_in_the_sheet():
    assert read_header("Pan", LOAVES).name == "tin"
    assert read_header("Pan", LOAVES, "es").name == "loaf"


UNITS = {
    "mass-gram": "g",
    "mass-kilogram": "kg",
    "volume-liter": "L",
    "volume-milliliter": "mL",
    "length-centimeter": "cm",
    "length-millimeter": "mm",
    "duration-minute": "min",
    "duration-hour": "h",
    "duration-second": "s",
}


@pytest.mark.parametrize("language", ["en", *LANGUAGES])
@pytest.mark.parametrize(("unit", "symbol"), UNITS.items())
def test_units_are_spelled_as_the_cldr_spells_them(language, unit, symbol):
    for n in (1, 2):
        name = (
            format_unit(n, unit, length="long", locale=language)
            .replace("\xa0", " ")
            .split(" ", 1)[1]
        )
        if name != unit:  # Babel has no name for some
            assert find_unit(name).symbol == symbol, name


@pytest.mark.parametrize("language", ["en", *LANGUAGES])
def test_months_that_a_spreadsheet_makes_of_codes_are_known(language):
    for name in get_month_names("abbreviated", locale=Locale(language)).values():
        assert re.fullmatch(_DATE, f"3. {name}"), name
        assert re.fullmatch(_DATE, f"03-{name.rstrip('.')}"), name


@pytest.mark.parametrize("text", ["3 Mar 2026", "Mar 3 2026", "3-Mar-2026", "Tue 3 Mar 2026"])
def test_a_month_that_begins_like_a_day_of_the_week_is_a_month(text):
    """As March does like the Tuesdays of French, Spanish and Italian."""
    assert days.dates(text) == {days.Date(2026, 3, 3)}
    assert days.same_day(text, "2026-03-03")


@pytest.mark.parametrize("text", ["Mar 12.3.", "mardi 12.3.", "12.3. Fr", "Fr 12.3."])
def test_a_day_of_the_week_beside_a_date_is_no_part_of_it(text):
    assert days.dates(text) == {days.Date(None, 3, 12)}


@pytest.mark.parametrize("text", ["Mon 1", "Mo 01", "1 Mon", "Mon1", "Monday, first"])
def test_a_day_of_the_week_beside_a_number_is_no_part_of_it(text):
    assert days.number(text) == 1
    assert days.weekday("Mon") == days.weekday("Mo") == 0
