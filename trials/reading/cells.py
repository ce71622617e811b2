"""From the texts of a column's cells to numbers in the canonical unit: "1 650,5", "402 g", "1:15",
"n/a".
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable
from typing import Literal

import numpy as np
import pandas as pd

from ..frozen import frozen
from .units import Quantity, Unit, find_unit

Decimal = Literal[".", ","]
Remark = Literal["", "missing", "unit", "clock", "ambiguous"]

MISSING = frozenset(
    {"", "-", "–", "—", "--", "---", "n/a", "na", "n.a.", "n.a", "nan", "#n/a", "null"}
)
MISSING_NUMBER = MISSING | {"none", "missing", ".", "..", "n.m.", "nm", "not measured"}
_MISSING_AS_WRITTEN = frozenset(
    form for sign in MISSING for form in (sign, sign.upper(), sign.title())
)
LONGEST_NUMBER = 40  # characters: longer texts are remarks
_PLAIN = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d{1,3})?"
_GROUP_SIGN = r"(?<=\d)[ '’_](?=\d{3}(?!\d))"
_CLOCK = r"(\d{1,3}):([0-5]\d)(?::([0-5]\d))?"
_HOURS = r"(\d{1,3}) ?(?:h|hr|hrs|hour|hours) ?([0-5]?\d) ?(?:m|min|mins|minutes)?"
OUT_OF = r"([\d.,]+) ?(?:/|of|out of|von|sur|de|di|su|van) ?(\d{1,3})"
_WITH_UNIT = r"([+-]?[\d.,][\d.,' ]*(?:e[+-]?\d{1,3})?) ?([^\d\s.,+-].*)"


@frozen
class Value:
    """A cell's number in the canonical unit, and what had to be done for it beyond reading
    digits.
    """

    number: float
    remark: Remark = ""


@frozen(kw_only=True)
class Expected:
    """What a column should hold: numbers in ``unit``, of ``quantity``, plausibly from ``low`` to
    ``high``.

    ``out_of`` is the end of a scale whose scores may be written "7/10".
    """

    unit: Unit | None = None
    quantity: Quantity | None = None
    low: float | None = None
    high: float | None = None
    out_of: float | None = None


@frozen(kw_only=True)
class Distinct:
    """A column of texts: cell i is ``texts[codes[i]]``."""

    codes: np.ndarray
    texts: np.ndarray


@frozen(kw_only=True)
class Numbers:
    """A column as numbers: float64, missing where ``unreadable`` or blank; ``remarks`` → the texts
    they concern.
    """

    values: np.ndarray
    unreadable: np.ndarray
    remarks: dict[Remark, tuple[str, ...]]


def plain(text: str) -> str:
    """Return a cell's text in one way of writing: usual digits, spaces and minus signs, lower
    case.
    """
    return " ".join(unicodedata.normalize("NFKC", text).replace("\u2212", "-").casefold().split())


def decimal_mark(texts: Iterable[str]) -> Decimal | None:
    """Return the decimal mark that the numbers of a table show, or None where they show none or
    both.
    """
    comma = point = False
    for text in texts:
        number = re.sub(_GROUP_SIGN, "", plain(text))
        match = re.match(r"[+-]?([\d.,]+)", number)
        form = match[1] if match else ""
        last = max(form.rfind(","), form.rfind("."))
        whole, after = form[:last], form[last + 1 :]
        sure = (
            last >= 0
            and (len(after) != 3 or not 1 <= len(whole) <= 3 or whole == "0")
            and (form.count(form[last]) == 1)
        )
        comma, point = comma or (sure and form[last] == ","), point or (sure and form[last] == ".")
    return None if comma == point else "," if comma else "."


def _with_points(number: str, decimal: Decimal | None) -> str | None:
    """Return a number with a decimal point and no thousands signs; None where it can be read two
    ways.
    """
    number = re.sub(_GROUP_SIGN, "", number)
    commas, points = number.count(","), number.count(".")
    if not commas and (points <= 1 and decimal != ","):
        return number
    mantissa = number.lstrip("+-")
    if commas and points:
        mark = max(",", ".", key=mantissa.rfind)
        return _grouped(number, mantissa, mark)
    sign = "," if commas else "."
    if commas + points > 1:
        return (
            number.replace(sign, "")
            if re.fullmatch(rf"\d{{1,3}}(?:\{sign}\d{{3}})+", mantissa)
            else ""
        )
    looks_grouped = re.fullmatch(rf"[1-9]\d{{0,2}}\{sign}\d{{3}}", mantissa) is not None
    if not looks_grouped or decimal == sign:
        return number.replace(",", ".")
    return number.replace(sign, "") if decimal else None


def _grouped(number: str, mantissa: str, mark: str) -> str:
    """Return a number that has both signs, ``mark`` as the decimal one; "" when its groups are no
    thousands.
    """
    other = "," if mark == "." else "."
    if not re.fullmatch(rf"\d{{1,3}}(?:\{other}\d{{3}})+\{mark}\d+", mantissa):
        return ""
    return number.replace(other, "").replace(mark, ".")


def _number(
    text: str, decimal: Decimal | None, expected: Expected, unit: Unit | None
) -> Value | None:
    """Return the number that digits and signs stand for, in the canonical unit."""
    pointed = _with_points(text, decimal)
    if pointed is None:
        return _by_range(text, expected, unit)
    if not re.fullmatch(_PLAIN, pointed):
        return None
    number = float(pointed)
    number = unit.to_canonical(number) if unit else number
    return Value(number) if math.isfinite(number) else None


def _by_range(text: str, expected: Expected, unit: Unit | None) -> Value | None:
    """Return the one reading of an ambiguous "1,650" that is plausible in its column, or None."""
    readings = [_number(text, decimal, expected, unit) for decimal in (",", ".")]
    low, high = expected.low, expected.high
    if low is None or high is None:
        return None
    plausible = {value.number for value in readings if value and low <= value.number <= high}
    return Value(plausible.pop(), "ambiguous") if len(plausible) == 1 else None


def states_unit(text: str) -> bool:
    """Return whether a cell's text is a number with a unit behind it."""
    match = re.fullmatch(_WITH_UNIT, plain(text))
    return match is not None and find_unit(match[2]) is not None


def read_number(text: str, expected: Expected, decimal: Decimal | None = ".") -> Value | None:
    """Return the number in a cell, a missing one for a blank or "n/a", or None when the text is no
    number.
    """
    written = plain(text) if len(text) <= 2 * LONGEST_NUMBER else "too long"
    if written in MISSING_NUMBER:
        return Value(math.nan, "missing" if written else "")
    if len(written) > LONGEST_NUMBER:
        return None
    if expected.quantity == "time" and (
        match := re.fullmatch(_CLOCK, written) or re.fullmatch(_HOURS, written)
    ):
        hours, minutes, seconds = (int(part or 0) for part in (*match.groups(), 0)[:3])
        return Value(60.0 * hours + minutes + seconds / 60, "clock")
    if (
        expected.out_of is not None
        and (match := re.fullmatch(OUT_OF, written))
        and float(match[2]) == expected.out_of
    ):
        return _number(match[1], decimal, expected, None)
    clock_only = expected.unit is not None and expected.unit.clock
    if not clock_only and (value := _number(written, decimal, expected, expected.unit)):
        return value
    return _with_unit(written, expected, decimal)


def _with_unit(written: str, expected: Expected, decimal: Decimal | None) -> Value | None:
    """Return the number of a cell that states its own unit, "402 g"; the cell's unit goes before
    the header's.
    """
    match = re.fullmatch(_WITH_UNIT, written)
    unit = find_unit(match[2], expected.quantity or "share") if match else None
    value = (
        _number(match[1].strip(), decimal, expected, unit)
        if match and unit and not unit.clock
        else None
    )
    return Value(value.number, value.remark or "unit") if value else None


def distinct(cells: pd.Series) -> Distinct:
    """Return a column's different texts, in order of appearance, and which of them each cell
    holds.
    """
    # pandas before 3 takes two texts for one where they differ only after a zero byte
    texts = cells.to_numpy()
    seen = {text: place for place, text in enumerate(dict.fromkeys(texts))}
    codes = np.fromiter(map(seen.__getitem__, texts), dtype=np.intp, count=len(texts))
    return Distinct(codes=codes, texts=np.array(list(seen), dtype=object))


def read_numbers(column: Distinct, expected: Expected, decimal: Decimal | None = ".") -> Numbers:
    """Return a column of texts as numbers; each different text is read once."""
    codes, found = column.codes, column.texts
    values = (
        plain_numbers(found)
        if decimal == "." and not (expected.unit and expected.unit.clock)
        else None
    )
    if values is not None:
        converted = expected.unit.to_canonical(values) if expected.unit else values
        return Numbers(
            values=converted[codes], unreadable=np.zeros(len(codes), dtype=bool), remarks={}
        )
    read = [read_number(text, expected, decimal) for text in found]
    remarks: dict[Remark, list[str]] = {}
    for text, value in zip(found, read, strict=True):
        if value and value.remark:
            remarks.setdefault(value.remark, []).append(text)
    numbers = np.array([value.number if value else math.nan for value in read], dtype=float)
    return Numbers(
        values=numbers[codes],
        unreadable=np.array([value is None for value in read], dtype=bool)[codes],
        remarks={remark: tuple(told) for remark, told in remarks.items()},
    )


def plain_numbers(texts: np.ndarray) -> np.ndarray | None:
    """Return texts as numbers when all of them are plain numbers with a decimal point, or blank;
    otherwise None.
    """
    values = np.full(len(texts), math.nan)
    filled = texts != ""
    try:
        values[filled] = texts[filled].astype(float)
    except ValueError:
        return None
    return values if np.isfinite(values[filled]).all() else None


def read_texts(cells: pd.Series, different: Distinct) -> tuple[pd.Series, tuple[str, ...]]:
    """Return a column of texts with missing values for blanks and "n/a", and the signs that counted
    as missing.
    """
    found = _MISSING_AS_WRITTEN.intersection(different.texts)
    if not found:
        return cells, ()
    signs = [place for place, text in enumerate(different.texts) if text in found]
    texts = cells.to_numpy(copy=True)
    texts[np.isin(different.codes, signs)] = np.nan
    return pd.Series(texts, index=cells.index, dtype=object), tuple(
        filter(None, different.texts[signs])
    )
