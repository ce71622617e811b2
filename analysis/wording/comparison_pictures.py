"""The words in and beside the pictures of a comparison."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .comparison import matters_words, said, verdict_sentence
from .differences import capital, difference_unit
from .numbers import ENGLISH, NumberStyle, listed

if TYPE_CHECKING:
    from ..comparison import Comparison

TOO_SMALL = "too small to matter"
SUREST_PAIRS = "The differences that are surest; the table shows all."


def difference_axis(c: Comparison) -> str:
    """Return what the axis of differences shows, with its unit."""
    unit = difference_unit(c.unit)
    return f"Difference in {c.label[:1].lower()}{c.label[1:]}{f' ({unit})' if unit else ''}"


def measure_axis(c: Comparison) -> str:
    """Return what the axis of the measure shows, with its unit."""
    return f"{c.label} ({c.unit})" if c.unit else c.label


def close_to(c: Comparison) -> str:
    """Return what the band around the mean compared against means."""
    return f"too close to {c.against} to matter"


def zones_alt(c: Comparison, style: NumberStyle = ENGLISH) -> str:
    """Return in words what the picture of the interval against the zones shows."""
    d = said(c, style)
    zone = f" The shaded zone, up to {matters_words(c, style)} either way, is {TOO_SMALL}." if c.matters else ""
    return f"{capital(d.clause())}{d.in_brackets()}.{zone} {verdict_sentence(c, style)}"


def loaves_alt(c: Comparison, style: NumberStyle = ENGLISH) -> str:
    """Return in words what the picture of all loaves by mix shows."""
    formulas = listed([f"{n} {'mix' if n == 1 else 'mixes'} of {name}" for name, n in c.n_mixes.items()])
    return (f"Every loaf as a dot, one row a mix: {c.n_loaves} loaves, {formulas}; below each formula's mixes its "
            f"mean with the likely range. {capital(said(c, style).clause())}.")
