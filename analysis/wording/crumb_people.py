"""What is said of the people who scored, kindly: the scale, the light or the order may be the
reason.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

from ...trials.words.lists import listed
from ...trials.words.naming import set_apart
from ...trials.words.numbers import NumberStyle, number
from ..methods.ties import rounded
from .report import row_verdict_label

if TYPE_CHECKING:
    from ..crumb.result import CrumbScores

FEWEST = 4
MAY_BE = (
    "The scale, the light or the order of the loaves may be the reason as well as the person: talk"
    " the scale through with a loaf in hand before the next scoring."
)
NOBODY = "No assessor stands apart from the others."
TOO_FEW = "With fewer than four assessors nobody can be said to stand apart."
NOTHING_SHOWN = (
    "These scores are too few to tell anybody apart from the others: score more loaves together,"
    " and the panel can be looked at fairly."
)
LESS = (
    "Smaller habits may go unseen, and show only where more loaves are scored, or by more people."
)
CLOSE, LOOSE = 0.7, 0.4  # Kendall's W: how agreement is called (common practice, no source)


def rows_of(table: pd.DataFrame) -> list[Any]:
    """Return the rows of a table, each cell by its column's name."""
    return list(table.itertuples())


def assessor_lines(r: CrumbScores, style: NumberStyle) -> list[str]:
    """Return who stands apart and how, or that nobody does, and what would have shown; then
    repeated loaves.
    """
    if r.n_assessors < 2:
        return []
    named = [
        _one(str(who), rows, style)
        for who, rows in r.standing_apart.groupby("assessor", sort=False)
    ]
    shown = _would_have_shown(r, style)
    if named:
        lines = [*named, MAY_BE, shown]
    elif shown:
        lines = [NOBODY, shown]
    else:
        lines = [TOO_FEW if r.n_assessors < FEWEST else NOTHING_SHOWN]
    return [*filter(None, lines), *_same_loaf_twice(r, style)]


def _would_have_shown(r: CrumbScores, style: NumberStyle) -> str:
    """Return how far somebody would have had to stand apart for these scores to show it; nothing
    where none would.
    """
    least = r.smallest_shown
    points, narrower, wider, scatter = (
        "" if math.isnan(x) else number(x, 1, style)
        for x in (least.above_others, least.narrower, least.wider, least.scatter)
    )
    spread = " or ".join(x for x in (narrower, wider) if x)
    shown = [
        words.format(size)
        for size, words in (
            (points, "who is {} points harsher or milder than the others"),
            (spread, "whose scores spread {} times as far as theirs"),
            (scatter, "who scatters {} times as much about the common picture of the loaves"),
        )
        if size
    ]
    if not shown:
        return ""
    return (
        f"These scores are enough to show, 19 times in 20, an assessor {', or '.join(shown)}."
        f" {LESS}"
    )


def _one(who: str, rows: pd.DataFrame, style: NumberStyle) -> str:
    """Return one assessor's sentence; what holds over all attributes is not said again of single
    ones.
    """
    told = []
    for (trait, direction), same in rows.groupby(["trait", "direction"], sort=False):
        whole = same[same["attribute"] == "all"]
        amount = float((whole if len(whole) else same)["amount"].abs().iloc[0])
        where = "" if len(whole) else f" in {listed([str(name) for name in same['attribute']])}"
        told.append(f"{_what(str(trait), str(direction), amount, style)}{where}")
    return f"{set_apart(who)} {listed(told)}."


def _what(trait: str, direction: str, amount: float, style: NumberStyle) -> str:
    size = number(amount, 1, style)
    if trait == "above_others":
        return f"scored {direction} than the others, by {size} points"
    if trait == "use_of_scale":
        return f"used a {direction} part of the scale than the others ({size} times their spread)"
    return f"saw the loaves otherwise than the others did ({size} times the usual scatter)"


def without_lines(r: CrumbScores) -> list[str]:
    """Return what the answer becomes without those who stand apart."""
    if r.standing_apart.empty:
        return []
    who = listed([set_apart(name) for name in r.standing_apart["assessor"].unique()])
    if r.without.empty:
        return [f"Without {who} too few scores are left for an answer."]
    changed = r.without[r.without["verdict"] != r.without["verdict_with"]]
    if changed.empty:
        return [f"Without {who} every verdict stays the same."]
    told = [
        f"{row.attribute}, from {row_verdict_label(row.verdict_with, row.matters)} to"
        f" {row_verdict_label(row.verdict, row.matters)}"
        for row in rows_of(changed)
    ]
    return [f"Without {who} the verdict changes in {'; '.join(told)}."]


def _same_loaf_twice(r: CrumbScores, style: NumberStyle) -> list[str]:
    known = r.assessors[r.assessors["same_loaf_twice"].notna()]
    if known.empty:
        return []
    told = [
        f"{set_apart(row.assessor)} {number(row.same_loaf_twice, 1, style)}"
        for row in rows_of(known)
    ]
    return [
        "A loaf scored again by the same person differed by about this many points (SD):"
        f" {listed(told)}."
    ]


def agreement_lines(r: CrumbScores, style: NumberStyle) -> list[str]:
    """Return how alike the assessors rank the loaves, best and worst attribute; two assessors by
    weighted kappa.
    """
    two = r.agreement[r.agreement["weighted_kappa"].notna()]
    column, what = (
        ("weighted_kappa", "weighted kappa") if len(two) else ("kendall_w", "Kendall's W")
    )
    known = r.agreement[r.agreement[column].notna()].sort_values(
        column, kind="stable", key=rounded, ascending=False
    )
    if known.empty:
        return []
    ends = known.iloc[[0, -1]] if len(known) > 1 else known
    told = [
        f"{_called(row[column])} in {row['attribute']} ({what} {number(row[column], 2, style)})"
        for _, row in ends.iterrows()
    ]
    verb = "score" if len(two) else "rank"
    return [
        f"How alike the assessors {verb} the loaves, from 0 for not at all to 1 for fully:"
        f" {listed(told)}."
    ]


def _called(value: float) -> str:
    return "closely" if value >= CLOSE else "loosely" if value < LOOSE else "fairly"
