"""Units that records are written in, and what one of them is in the canonical unit of its quantity.

Factors are exact by definition: avoirdupois ounce and pound, inch (NIST Special Publication 811
(2008), B.8).
"""

from __future__ import annotations

import re
import unicodedata
from typing import Literal, TypeVar

import numpy as np
import pandas as pd

from ..frozen import frozen

Quantity = Literal["mass", "volume", "time", "length", "temperature", "share", "specific volume"]
Number = TypeVar("Number", float, np.ndarray, pd.Series)


@frozen
class Unit:
    """A unit: one of it is ``factor`` canonical units, after ``offset`` has been taken away (°F:
    32).
    """

    symbol: str
    quantity: Quantity
    factor: float = 1.0
    offset: float = 0.0
    clock: bool = False

    def to_canonical(self, value: Number) -> Number:
        """Return a value in this unit as a value in g, mL, min, mm or °C."""
        if self.factor == 1.0 and self.offset == 0.0:
            return value
        return (value - self.offset) * self.factor

    @property
    def is_canonical(self) -> bool:
        """Return whether values in this unit stay as they are."""
        return self.factor == 1.0 and self.offset == 0.0 and not self.clock


CANONICAL: dict[Quantity, str] = {
    "mass": "g",
    "volume": "mL",
    "time": "min",
    "length": "mm",
    "temperature": "°C",
    "share": "%",
    "specific volume": "mL/g",
}

_UNITS: tuple[tuple[Unit, str], ...] = (
    (Unit("g", "mass"), "g gr gm gms gram grams gramme grammes gramm gramo gramos grammo grammi"),
    (
        Unit("kg", "mass", 1000.0),
        (
            "kg kgs kilo kilos kilogram kilograms kilogramme kilogrammes kilogramm kilogramo "
            "kilogramos chilogrammo chilogrammi"
        ),
    ),
    (Unit("mg", "mass", 0.001), "mg milligram milligrams"),
    (Unit("oz", "mass", 28.349523125), "oz ozs ounce ounces"),
    (Unit("lb", "mass", 453.59237), "lb lbs pound pounds"),
    (
        Unit("mL", "volume"),
        (
            "ml mls millilitre millilitres milliliter milliliters mililitro mililitros "
            "millilitro millilitri cm3 ccm cc cm^3 kubikzentimeter"
        ),
    ),
    (Unit("cL", "volume", 10.0), "cl centilitre centilitres centiliter centiliters"),
    (Unit("dL", "volume", 100.0), "dl decilitre decilitres deciliter deciliters"),
    (Unit("L", "volume", 1000.0), "l lt ltr litre litres liter liters litro litros litri dm3 dm^3"),
    (Unit("in³", "volume", 16.387064), "in3 in^3 cuin cubicinch cubicinches"),
    (Unit("min", "time"), "min mins minute minutes minuten minuto minutos minuti minuut mn"),
    (
        Unit("h", "time", 60.0),
        "h hr hrs hour hours std stunde stunden heure heures hora horas ora ore uur",
    ),
    (
        Unit("s", "time", 1 / 60),
        (
            "s sec secs second seconds sek sekunde sekunden seconde secondes segundo "
            "segundos secondo secondi seconden"
        ),
    ),
    (
        Unit("h:mm", "time", 1.0, clock=True),
        "h:mm hh:mm h:min hh:mm:ss h:mm:ss hrs:min hr:min hh:min",
    ),
    (
        Unit("mm", "length"),
        (
            "mm millimetre millimetres millimeter millimeters "
            "milimetro milimetros millimetro millimetri"
        ),
    ),
    (
        Unit("cm", "length", 10.0),
        (
            "cm centimetre centimetres centimeter centimeters zentimeter "
            "centimetro centimetros centimetri"
        ),
    ),
    (Unit("m", "length", 1000.0), "m metre metres meter meters"),
    (Unit("in", "length", 25.4), 'in inch inches "'),
    (Unit("°C", "temperature"), "°c c degc degreesc degreec celsius centigrade"),
    (Unit("°F", "temperature", 5 / 9, 32.0), "°f f degf degreesf degreef fahrenheit"),
    (Unit("%", "share"), "% pct percent prozent pourcent porciento percento procent"),
    (Unit("mL/g", "specific volume"), "ml/g cm3/g ccm/g cc/g mlg-1 cm3g-1"),
)
_BY_SPELLING: dict[str, Unit] = {word: unit for unit, words in _UNITS for word in words.split()}

# Units that mean different amounts in different countries, or that only the bakery can give a size
# to.
UNCLEAR = frozenset(
    {
        "floz",
        "fluidounce",
        "fluidounces",
        "pt",
        "pint",
        "pints",
        "qt",
        "quart",
        "quarts",
        "gal",
        "gallon",
        "gallons",
        "cup",
        "cups",
        "scoop",
        "scoops",
        "stone",
    }
)


def _plain(text: str) -> str:
    plain = unicodedata.normalize("NFKC", text).casefold()
    if not plain.isascii():
        plain = "".join(
            sign for sign in unicodedata.normalize("NFKD", plain) if not unicodedata.combining(sign)
        )
    return re.sub(r"[\s.]+", "", plain)


def find_unit(text: str, quantity: Quantity | None = None) -> Unit | None:
    """Return the unit that ``text`` spells ("kg", "cm³", "deg F"), or None; ``quantity`` allows one
    kind only.
    """
    unit = _BY_SPELLING.get(_plain(text))
    return unit if unit and quantity in (None, unit.quantity) else None


def is_unclear(text: str) -> bool:
    """Return whether ``text`` is a unit whose size depends on the country or the bakery, such as
    "fl oz".
    """
    return _plain(text) in UNCLEAR


def quantity_of(symbol: str) -> Quantity | None:
    """Return the quantity whose canonical unit is ``symbol``, or None for a number without such a
    unit.
    """
    return next((quantity for quantity, own in CANONICAL.items() if own == symbol), None)
