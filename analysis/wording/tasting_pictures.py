"""The words in and beside the pictures of tasting and of ticked words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from ...trials.words.lists import listed
from ...trials.words.naming import set_apart
from ...trials.words.numbers import NumberStyle
from .tasting import count_line, in_100, verdict_line

if TYPE_CHECKING:
    from ..tasting.result import TastingAnswers, WordsSeen

CAN_TELL_AXIS = "People who can tell, in 100 (likely range)"
MAY_TELL = "may be able to tell"
NO_PREFERENCE = "none"
MOST_ABOVE = 18  # letters of a name above its columns
WORDS_NOTE = (
    "A bar is the share of people who ticked the word for the bread, the number how many did. Words"
    " above the rule tell the breads apart."
)
MORE_PARTS = "The report for the file shows the rest."


def test_name(row: Any) -> str:
    """Return what a row of the tests is called."""
    asked = f", {row.asked}" if row.asked else ""
    return f"{set_apart(row.against)} and {set_apart(row.formula)}\n({row.test}{asked})"


def preference_name(row: Any) -> str:
    """Return what a bar of preferences is called."""
    asked = f" ({row.asked})" if row.asked else ""
    return f"Which of the two do people prefer?{asked}"


def bread_names(r: WordsSeen) -> list[tuple[str, str]]:
    """Return what stands above each column: the loaf, and above the first of a formula its name."""
    loaves, formulas = list(map(str, r.loaves["loaf"])), list(map(str, r.loaves["formula"]))
    names = []
    for i, (loaf, formula) in enumerate(zip(loaves, formulas, strict=True)):
        first = formula not in ("", loaf) and formula not in formulas[:i]
        names.append((loaf, _short(formula, MOST_ABOVE) if first else ""))
    return names


def _short(name: str, most: int) -> str:
    """Return a name that fits above its columns, lying or upright."""
    return name if len(name) <= most else name[: most - 1] + "…"


def range_alt(r: TastingAnswers, style: NumberStyle) -> str:
    """Return in words what the picture of those who can tell shows."""
    rows: list[Any] = list(r.tests.itertuples(index=False))
    said = " ".join(
        f"{set_apart(row.against)} and {set_apart(row.formula)}, {row.test}:"
        f" {count_line(row, 'them', style)}"
        f" {verdict_line(row)}"
        for row in rows
    )
    may = rows[0].may_tell
    zone = (
        f" The shaded zone, up to {in_100(may)} in 100, {MAY_TELL}."
        if may is not None and may == may
        else ""
    )
    return said + zone


def preference_alt(r: TastingAnswers, style: NumberStyle) -> str:
    """Return in words what the bars of preferences show."""
    return " ".join(
        f"{row.chose} prefer {set_apart(row.formula)}, {row.chose_other}"
        f" {set_apart(row.against)}, {row.no_preference} none: {row.verdict}."
        for row in r.preferences.itertuples(index=False)
    )


def words_alt(r: WordsSeen, words: Sequence[str], style: NumberStyle) -> str:
    """Return in words what the table of bars shows."""
    told = [
        str(row.word)
        for row in r.words.itertuples(index=False)
        if row.tells_apart and row.word in words
    ]
    apart = (
        f"these tell the breads apart: {listed([set_apart(word) for word in told])}"
        if told
        else "none of them tells the breads apart"
    )
    return (
        f"A table of bars: {len(words)} words down, {len(r.loaves)} breads across, in each cell how"
        f" many people ticked the word; {apart}."
    )
