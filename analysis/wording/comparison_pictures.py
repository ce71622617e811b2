"""The words in and beside the pictures of a comparison."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ...trials.words.lists import capital, counted, listed
from ...trials.words.naming import set_apart
from ...trials.words.numbers import NumberStyle, amount, decimals, number
from .comparison import matters_words, said, verdict_sentence
from .differences import difference_unit

if TYPE_CHECKING:
    from ..comparison.result import Comparison

TOO_SMALL = "too small to matter"
SUREST_PAIRS = "The differences that are surest; the table shows all."


def difference_axis(c: Comparison) -> str:
    """Return what the axis of differences shows, with its unit."""
    unit = difference_unit(c.unit)
    return f"Difference in {c.label_inside}{f' ({unit})' if unit else ''}"


def measure_axis(c: Comparison) -> str:
    """Return what the axis of the measure shows, with its unit."""
    return f"{c.label} ({c.unit})" if c.unit else c.label


def close_to(c: Comparison) -> str:
    """Return what the band around the mean compared against means."""
    return f"too close to {set_apart(c.against)} to matter"


def zones_alt(c: Comparison, others: Sequence[float], style: NumberStyle) -> str:
    """Return in words what the picture of the interval against the zones shows; ``others`` are
    drawn below it.
    """
    d = said(c, style)
    zone = (
        f" The shaded zone, up to {matters_words(c, style)} either way, is {TOO_SMALL}."
        if c.matters
        else ""
    )
    return (
        f"{capital(d.clause())}{d.in_brackets()}.{zone}"
        f" {verdict_sentence(c, style)}{_below(c, others, style)}"
    )


def _below(c: Comparison, others: Sequence[float], style: NumberStyle) -> str:
    """How many more differences are drawn, and how far they go."""
    if not others:
        return ""
    low, high = min(others), max(others)
    places = decimals(c.ci_high - c.difference, max(abs(low), abs(high)))
    highest = amount(high, difference_unit(c.unit), places, style)
    if len(others) == 1:
        return f" Below it is one more difference, {highest}."
    return (
        f" Below it are {len(others)} more differences, from {number(low, places, style)} to"
        f" {highest}."
    )


def loaves_alt(c: Comparison, style: NumberStyle) -> str:
    """Return in words what the picture of all loaves by mix shows."""
    formulas = listed(
        [f"{counted(n, 'mix', 'mixes')} of {set_apart(name)}" for name, n in c.n_mixes.items()]
    )
    ranges = " with the likely range" if c.means["ci_low"].notna().all() else ""
    return (
        f"Every loaf as a dot, one row a mix: {c.n_loaves} loaves, {formulas}; below each formula's"
        f" mixes its mean{ranges}. {capital(said(c, style).clause())}."
    )
