"""What a class reads: the answer first, in words that a child of ten knows, with its numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ...trials.words.lists import capital, listed
from ...trials.words.naming import set_apart
from ...trials.words.numbers import NumberStyle, amount, decimals, number
from .comparison import (
    condition_words,
    depends_lines,
    inseparable_from,
    matters_words,
    said,
    undone_by,
)
from .crumb_people import rows_of
from .differences import Said
from .report import bake_alike, can_we_be_sure, not_sure_beside, only_if, what_to_try
from .second_opinion import judged_words
from .verdicts import SHORT_FOR_CLASS, verdict_for_class

if TYPE_CHECKING:
    from ..comparison.result import Comparison
    from ..crumb.result import CrumbScores
    from ..verdict import Verdict

MOST_OTHERS, MOST_TRAITS = 5, 6
MORE_BREADS = "The page for the bakery shows {} more."
PAIRS_NOTE = (
    "Each row is one {}: its breads stand side by side, joined by a line. The last row is the mean"
    " of all."
)
PAIRS_ALONE_NOTE = "Each row is one {}: its breads stand side by side, joined by a line."


def class_answer(c: Comparison, style: NumberStyle) -> str:
    """Return which bread came out how, by how much, and whether that is sure."""
    told = _told(c, said(c, style), c.verdict, style)
    return " ".join([*depends_lines(c), told, *_undone_lines(c)])


def _undone_lines(c: Comparison) -> list[str]:
    """Return what becomes of the answer when it is allowed for what else differed."""
    return [
        f"But the two breads were not alike in {condition_words(row)} either. Allowing for that, it"
        f" is: {SHORT_FOR_CLASS[row['adjusted_verdict']]}."
        for _, row in c.undone.iterrows()
    ]


def class_sure(c: Comparison, asked: bool, style: NumberStyle) -> str:
    """Return whether we can be sure; not where something else that differed undoes the answer.

    ``asked`` as for `verdict_label`.
    """
    if names := undone_by(c):
        return not_sure_beside(names, "the two breads")
    if names := inseparable_from(c):
        return only_if(names, "the two breads")
    fewest = min(c.n_mixes[name] for name in (c.formula, c.against))
    said = can_we_be_sure(c.verdict, fewest, asked)
    return f"{said} {class_range(c, style)}".rstrip()


def class_next(c: Comparison, asked: bool, style: NumberStyle) -> str:
    """Return what to try next; ``asked`` as for `verdict_label`."""
    if names := [*undone_by(c), *inseparable_from(c)]:
        return bake_alike(names, "both breads")
    tried = [what_to_try(c.verdict, asked), class_settle(c, style)]
    return " ".join(filter(None, tried))


def class_others(c: Comparison, style: NumberStyle) -> tuple[str, ...]:
    """Return the same of every other bread that was held against the same one."""
    rows = other_pairs(c)
    lines = [_told(c, said(c, style, row), row.verdict, style) for row in rows[:MOST_OTHERS]]
    more = len(rows) - MOST_OTHERS
    return (*lines, *([MORE_BREADS.format(more)] if more > 0 else []))


def other_pairs(c: Comparison) -> list[Any]:
    """Return the pairs that hold another formula against the one that the answer is about."""
    return [
        row
        for row in c.pairs.itertuples()
        if c.against in (row.formula, row.against) and c.formula not in (row.formula, row.against)
    ]


def _told(c: Comparison, d: Said, verdict: Verdict, style: NumberStyle) -> str:
    matters = matters_words(c, style) if c.matters is not None else ""
    return f"{capital(d.clause())}. {verdict_for_class(verdict, matters)}"


def class_means(c: Comparison, style: NumberStyle) -> tuple[tuple[str, str], ...]:
    """Return each bread whose mean is known with it and its unit, in the decimals of the
    difference, three digits at most.
    """
    places = mean_places(c, style)
    known = c.means.dropna(subset="mean")
    means = zip(known["formula"], known["mean"], strict=True)
    return tuple((str(name), amount(float(mean), c.unit, places, style)) for name, mean in means)


def mean_places(c: Comparison, style: NumberStyle) -> int:
    """Return how many decimals a mean is written with for a class."""
    return max(min(said(c, style).places, decimals(0.0, float(c.means["mean"].abs().max()))), 0)


def class_range(c: Comparison, style: NumberStyle) -> str:
    """Return the likely range; empty where there is none."""
    d = said(c, style)
    if not d.has_interval:
        return ""
    what = "The difference is" if d.is_real else f"With {set_apart(c.formula)},"
    return f"{what} {d.likely()} (the likely range)."


def class_settle(c: Comparison, style: NumberStyle) -> str:
    """Return how many doughs would settle it; empty where it is settled, nothing can be told, or
    what is left to settle is what matters.
    """
    s = c.settle
    if s is None or (c.matters is None and c.verdict != "not settled"):
        return ""
    many = "doughs" if s.unit in ("mix", "loaf") else judged_words(s.unit)[1]
    if s.mixes_needed is None:
        enough = "be enough" if s.goal == "power" else "make us twice as exact"
        return (
            f"Even {s.most} {many} of each bread would not {enough}: measure more exactly, or ask"
            " about a bigger difference."
        )
    had = f"(we had {s.mixes_now})" if s.more_mixes else "(as many as we had)"
    if s.goal == "power":
        return (
            f"With about {s.mixes_needed} {many} of each bread {had}, a difference of"
            f" {matters_words(c, style)} would show itself four times in five."
        )
    return (
        f"About {s.mixes_needed} {many} of each bread {had} would make us twice as exact, on"
        " average."
    )


def class_scores(r: CrumbScores, style: NumberStyle) -> tuple[str, ...]:
    """Return each attribute with the breads' mean scores and whether that is sure."""
    seen: dict[str, str] = {}
    for row in rows_of(r.attributes):
        if row.attribute in seen:
            continue
        scored = r.profile.loc[row.attribute].dropna()
        means = [f"{set_apart(name)} {number(mean, 1, style)}" for name, mean in scored.items()]
        pair = f"{set_apart(row.formula)} beside {set_apart(row.against)}"
        ending = SHORT_FOR_CLASS[row.verdict]
        if math.isnan(row.difference):
            said = "too few scores to compare the breads by"
        elif not means:
            said = f"{pair}, {ending}"
        else:
            said = f"{listed(means)} points ({f'{pair}: ' if len(means) > 2 else ''}{ending})"
        seen[str(row.attribute)] = f"{row.label}: {said}."
    return tuple(seen.values())[:MOST_TRAITS]


def pairs_alt(
    c: Comparison, one: str, rows: Sequence[str], higher: int, both: int, style: NumberStyle
) -> str:
    """Return in words what the picture of pairs shows; ``higher`` of ``both`` rows with the two
    told breads have more of the one that is told first.
    """
    ours, theirs = set_apart(c.formula), set_apart(c.against)
    return (
        f"The means of each {one} side by side, {len(rows)} rows: in {higher} of {both} the {ours}"
        f" bread has the higher value, beside {theirs}. {capital(said(c, style).clause())}."
    )
