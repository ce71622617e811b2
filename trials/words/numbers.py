"""How numbers are written: as many digits as the measurement supports, three significant ones at
the most.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from ..findings import TrialError
from ..frozen import frozen
from .naming import set_apart, set_apart_together

MINUS = "−"
MOST_SIGNIFICANT = 3
SURE_DIGITS = 10  # beyond them processors differ


@frozen
class NumberStyle:
    """How the reader writes numbers; ``language`` is the tag that a page declares (BCP 47).

    The words are English whatever the numbers look like, so the tag is ``en`` with the reader's
    region.
    """

    decimal_mark: str = "."
    language: str = "en"


ENGLISH = NumberStyle()


def number_style(locale: str) -> NumberStyle:
    """Return how a locale such as ``en``, ``de`` or ``fr_CH`` writes numbers (Unicode CLDR, through
    Babel).

    Raises
    ------
    TrialError: no such locale is known.
    """
    if locale == ENGLISH.language:
        return ENGLISH  # as most write them: without a library's tables
    from babel import Locale, UnknownLocaleError

    try:
        known = Locale.parse(locale.replace("-", "_"))
    except (UnknownLocaleError, ValueError):
        raise TrialError.one(
            "no-such-locale",
            f"No locale {locale!r} is known.",
            "Write a language with or without its country, such as  de  or  fr-CH.",
        ) from None
    region = f"-{known.territory}" if known.territory else ""
    return NumberStyle(decimal_mark=known.number_symbols["latn"]["decimal"], language=f"en{region}")


def decimals(spread: float, largest: float) -> int:
    """Return how many decimals to write: two significant digits of ``spread``, three of ``largest``
    at the most.

    ``spread`` is what the value is uncertain by (a half-width or standard error), ``largest`` the
    largest value that is written beside it. A negative answer rounds to tens or hundreds.
    """
    places = [
        digits - 1 - math.floor(math.log10(abs(value)))
        for value, digits in ((spread, 2), (largest, MOST_SIGNIFICANT))
        if math.isfinite(value) and value != 0
    ]
    return min(places, default=2)


def range_decimals(low: float, high: float, middle: float) -> int:
    """Return how many decimals to write a number with its range: as many as half the range
    supports.

    Where the range leaves zero out and its end would be written as zero, as many more as keep it
    from that, three significant digits of the largest at the most (`range_end` says the rest).
    """
    most = max((abs(value) for value in (low, high, middle) if math.isfinite(value)), default=0.0)
    places = decimals((high - low) / 2, most)
    nearest = min(abs(low), abs(high)) if low * high > 0 else 0.0
    while nearest and round(nearest, places) == 0 and places < decimals(0.0, most):
        places += 1
    return places


def vanishes(value: float, places: int) -> bool:
    """Return whether a number that is not zero would be written as zero."""
    return bool(value) and math.isfinite(value) and round(value, places) == 0


def range_end(value: float, places: int, style: NumberStyle) -> str:
    """Return one end of a range; ``just above 0`` where it is not zero but would be written so."""
    if vanishes(value, places):
        return f"just {'above' if value > 0 else 'below'} 0"
    return number(value, places, style)


def number(value: float, places: int | None, style: NumberStyle) -> str:
    """Return a number as text; ``places`` decimals, or three significant digits where none are
    given.
    """
    if not math.isfinite(value):
        return "unknown"
    places = decimals(0.0, value) if places is None else places
    # what is half by the records is not made more or less than that by the last bits of a sum
    rounded = round(float(f"{value:.{SURE_DIGITS}g}"), places)
    text = f"{abs(rounded):.{max(places, 0)}f}".replace(".", style.decimal_mark)
    return MINUS + text if rounded < 0 else text


def amount(value: float, unit: str, places: int | None, style: NumberStyle) -> str:
    """Return a number with its unit, as in ``0.31 mL/g``."""
    return f"{number(value, places, style)} {unit}".rstrip()


def size_of(value: float, unit: str, places: int, style: NumberStyle) -> str:
    """Return how large a difference is, with its unit; ``less than 0.1 mL/g`` where it is not zero
    but would be written so.
    """
    if vanishes(value, places):
        return f"less than {amount(10.0**-places, unit, places, style)}"
    return amount(value, unit, places, style)


def chance(p_value: float, style: NumberStyle) -> str:
    """Return a p-value as it is quoted: ``p = 0.013``, never smaller than ``p < 0.001``."""
    if not math.isfinite(p_value):
        return "p unknown"
    if p_value < 0.001:
        return f"p < 0{style.decimal_mark}001"
    return f"p = {number(p_value, 3 if p_value < 0.1 else 2, style)}"


def typed_places(value: float) -> int:
    """Return how many decimals a number was typed with, six at the most: 2 for 0.25, 0 for 60."""
    return len(f"{value:.6f}".rstrip("0").partition(".")[2])


def typed(value: float, style: NumberStyle) -> str:
    """Return a number with the decimals that it was typed with."""
    return number(value, typed_places(value), style)


def level_words(level: object, style: NumberStyle, unit: str = "") -> str:
    """Return a level of a factor: ``open``, ``45 min``, ``1.5 %``."""
    if not isinstance(level, int | float):
        return f"{level} {unit}".rstrip()
    return amount(level, unit, typed_places(float(f"{level:.6g}")), style)


def levels_inside(levels: Sequence[tuple[object, str]], style: NumberStyle) -> str:
    """Return levels of several factors, each with its unit, as one inside a sentence: ``60 min ×
    open``; where one name is set apart, all are.
    """
    is_name = [not (isinstance(level, int | float) or unit) for level, unit in levels]
    names = iter(
        set_apart_together(
            [str(level) for (level, _), own in zip(levels, is_name, strict=True) if own]
        )
    )
    return " × ".join(
        next(names) if own else level_words(level, style, unit)
        for (level, unit), own in zip(levels, is_name, strict=True)
    )


def level_inside(level: object, style: NumberStyle, unit: str = "") -> str:
    """Return a level inside a sentence: a name that could be misread is set apart."""
    if isinstance(level, int | float) or unit:
        return level_words(level, style, unit)
    return set_apart(level)
