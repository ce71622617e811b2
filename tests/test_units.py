"""Units are known by every usual spelling, and converted by their definitions."""

import numpy as np
import pytest
from fairloaf.trials.reading.units import CANONICAL, Unit, find_unit, is_unclear, quantity_of
from hypothesis import given
from hypothesis import strategies as st


# Exact by definition: NIST Special Publication 811 (2008), appendix B.8 (ounce and pound
# avoirdupois, inch, cubic inch as (25.4 mm)³); the degree Fahrenheit by its fixed points 32 °F = 0
# °C and 212 °F = 100 °C.
@pytest.mark.parametrize(
    ("spelled", "value", "canonical"),
    [
        ("kg", 1, 1000),
        ("oz", 1, 28.349523125),
        ("lb", 1, 453.59237),
        ("lb", 1 / 16, 28.349523125),
        ("L", 1, 1000),
        ("cl", 1, 10),
        ("in³", 1, 16.387064),
        ("in³", 1 / 16.387064, 1),
        ("cm³", 7, 7),
        ("h", 1.25, 75),
        ("s", 90, 1.5),
        ("cm", 1, 10),
        ("in", 1, 25.4),
        ("°F", 32, 0),
        ("°F", 212, 100),
        ("°F", -40, -40),
        ("°C", 25, 25),
    ],
)
def test_a_unit_is_converted_by_its_definition(spelled, value, canonical):
    assert find_unit(spelled).to_canonical(value) == pytest.approx(canonical, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize(
    ("spellings", "symbol"),
    [
        (["g", "G", "gr.", "grams", "Grammes"], "g"),
        (["kg", "KG", "Kilo", "kilograms"], "kg"),
        (["ml", "mL", "cm3", "cm³", "ccm", "cc", "cm^3", "Millilitres"], "mL"),
        (["l", "L", "litre", "Liters"], "L"),
        (["h", "hr", "Hrs.", "hours"], "h"),
        (["min", "min.", "Minutes"], "min"),
        (["h:mm", "hh:mm", "h : mm"], "h:mm"),
        (["°C", "C", "deg C", "degrees C", "Celsius"], "°C"),
        (["°F", "deg. F", "Fahrenheit"], "°F"),
        (["in", "inch", "inches"], "in"),
        (["in3", "in³", "cu. in", "cubic inches"], "in³"),
        (["%", "pct"], "%"),
    ],
)
def test_spellings_of_a_unit(spellings, symbol):
    assert {find_unit(spelled).symbol for spelled in spellings} == {symbol}


@pytest.mark.parametrize("text", ["", "loaves", "gg", "1", "stone", "cup"])
def test_what_is_no_unit(text):
    assert find_unit(text) is None


@pytest.mark.parametrize("text", ["fl oz", "fl. oz.", "Cups", "pint", "gal"])
def test_units_whose_size_depends_on_the_country_are_not_converted(text):
    assert is_unclear(text)
    assert find_unit(text) is None


def test_a_unit_of_another_quantity_is_not_found():
    assert find_unit("g", "volume") is None
    assert find_unit("ml", "volume") == Unit("mL", "volume")


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=20))
def test_a_column_is_converted_like_its_values(values):
    unit = find_unit("°F")
    one_by_one = [unit.to_canonical(value) for value in values]
    np.testing.assert_array_equal(unit.to_canonical(np.array(values)), one_by_one)


def test_canonical_units_leave_a_value_as_it_is():
    for quantity, symbol in CANONICAL.items():
        unit = find_unit(symbol)
        assert quantity_of(symbol) == quantity == unit.quantity
        assert unit.to_canonical(0.1 + 0.2) == 0.1 + 0.2
