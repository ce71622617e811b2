"""How a difference was judged, and what the randomisation test says beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...trials.words.lists import listed
from ...trials.words.numbers import NumberStyle, chance, number
from .layout import unit_words

if TYPE_CHECKING:
    from ..codes import Way, Why
    from ..comparison.result import Comparison

# Where loaves are the units of a comparison of formulas, every loaf is a mix of its own.
WAYS: dict[Way, str] = {
    "reml": "restricted maximum likelihood with Kenward and Roger's degrees of freedom",
    "means": "a t test on the means of the {units}",
    "bounded": (
        "restricted maximum likelihood with variances held at zero or above, which is cautious"
    ),
}
# why the means are tested, and not the loaves with their scatter
SINCE: dict[Why, str] = {
    "unbalanced": ", since not every {unit} has the same loaves and the {units} differ no more than"
    " their loaves do",
    "edge": ", since the scatter of the {units} cannot be told from that of their loaves",
}


def judged_words(unit: str) -> tuple[str, str]:
    """Return what one and what several of the unit that formulas were judged by are called: a loaf
    with a dough of its own is a mix.
    """
    name = "mix" if unit == "loaf" else unit
    return unit_words(name), unit_words(name, 2)


def how_line(c: Comparison, style: NumberStyle) -> str:
    """Return how the difference was judged, for whoever knows statistics."""
    one, several = judged_words(c.unit_of_analysis)
    way = "least squares" if c.why == "loaves" else WAYS[c.way].format(units=several)
    since = SINCE[c.why].format(unit=one, units=several) if c.way == "means" else ""
    level = number(100 * c.confidence, None if c.confidence > 0.99 else 0, style)
    people = (
        " The assessors saw the difference differently, and the range allows for that: more of them"
        " would narrow it."
        if c.why == "people"
        else ""
    )
    return (
        f"Judged {one} against {one}, by {way}{since}: {chance(c.p_value, style)},"
        f" {number(c.df, 1, style)} degrees of freedom; {level} % intervals.{people}{_between(c)}"
    )


def _between(c: Comparison) -> str:
    """Return which blocks are not compared within alone, and what that means."""
    if not c.between:
        return ""
    blocks = listed([judged_words(name)[1] for name in c.between])
    return (
        f" Some {blocks} had one of the two only. Compared within {blocks} alone, too little would"
        f" be left to judge by: {blocks} are held against one another too, and the range allows for"
        " how they differ."
    )


def opinion_line(c: Comparison, style: NumberStyle) -> str:
    """Return the randomisation test's opinion, the smallest p it could have given, and whether the
    two agree.
    """
    o = c.second_opinion
    if o is None:
        return ""
    inside = " inside their blocks" if o.blocked else ""
    ways = f"all {o.n_rearrangements:,} ways" if o.exact else f"{o.n_used:,} ways drawn by lot"
    found = (
        "A second opinion that assumes little: deal the two formulas out anew among the "
        f"{judged_words(o.unit)[1]}{inside}, in {ways}, and a difference this large comes up with "
        f"{_whole(o.p_value, style)}."
    )
    least = number(o.smallest_p, None, style)
    if o.agrees is None:
        return (
            f"{found} In a trial of this size that can never go below {least}, so it neither"
            " confirms nor contradicts."
        )
    verdict = (
        "The two opinions agree" if o.agrees else "The two opinions disagree: trust neither alone"
    )
    alone = (
        ""
        if c.adjustment == "none"
        else (
            f" The model has {chance(o.model_p, style)} for this pair by itself, adjusted for no"
            " other."
        )
    )
    return f"{found}{alone} {verdict} (the least possible p is {least})."


def _whole(p_value: float, style: NumberStyle) -> str:
    """Return a p-value that is counted out, in three digits, so that it can be held against the
    least possible.
    """
    return chance(p_value, style) if p_value < 0.1 else f"p = {number(p_value, None, style)}"
