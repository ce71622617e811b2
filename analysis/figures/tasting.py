"""The pictures of people as instruments: who can tell, what is preferred, which words were ticked
for which bread.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from ...trials.words.numbers import NumberStyle
from ..tasting.result import TastingAnswers, WordsSeen
from ..wording.tasting_pictures import (
    CAN_TELL_AXIS,
    MAY_TELL,
    NO_PREFERENCE,
    bread_names,
    preference_alt,
    preference_name,
    range_alt,
    test_name,
    words_alt,
)
from .names import short_names
from .style import (
    BLUE,
    CRUST,
    INK,
    LINE,
    LINE_IN,
    MOST_IN,
    ORANGE,
    QUIET,
    SMALL_PT,
    WIDTH_IN,
    Picture,
    factor_looks,
    house_style,
    interval,
    new_figure,
    row_axis,
    value_axis,
    zone,
)

ROW_IN, BAR_IN, CELL_IN, FRAME_IN, HEAD_IN = 0.55, 0.62, 0.25, 1.05, 0.3
WORD_SHARE = 0.34  # of the picture's width, for the words
MOST_ACROSS = 8  # breads; with more of them a picture goes on in the next
# widths of a letter and of a digit of SMALL_PT, room between
LETTER_PT, DIGIT_PT, GAP_PT = 5.6, 6.1, 2.0
MOST_LETTERS = 16  # of a word


@house_style()
def range_who_can_tell(r: TastingAnswers, style: NumberStyle) -> Picture:
    """Draw the likely share of people who can tell, one row a test, with the zone of those who
    may.
    """
    rows: list[Any] = list(r.tests.itertuples(index=False))
    figure, axes = new_figure(height=FRAME_IN + ROW_IN * len(rows))
    look = factor_looks(["all"])["all"]
    may_tell = rows[0].may_tell
    if may_tell is not None and math.isfinite(may_tell):
        zone(axes, 0, 100 * may_tell, MAY_TELL)
    for i, row in enumerate(rows):
        interval(axes, 100 * row.can_tell_low, 100 * row.can_tell_high, 100 * row.can_tell, i, look)
    row_axis(axes, [test_name(row) for row in rows], lines=3)
    axes.set_xlim(-2, 102)
    value_axis(axes, "x", CAN_TELL_AXIS, style)
    return Picture(figure, range_alt(r, style))


@house_style()
def preference_bar(r: TastingAnswers, style: NumberStyle) -> Picture:
    """Draw each preference as one bar: one bread, those without a preference in the middle, the
    other bread.
    """
    rows: list[Any] = list(r.preferences.itertuples(index=False))
    figure, axes = new_figure(height=0.25 + (BAR_IN + HEAD_IN) * len(rows))
    for i, row in enumerate(rows):
        parts = (
            (row.formula, row.chose, BLUE, "white"),
            (NO_PREFERENCE, row.no_preference, "white", INK),
            (row.against, row.chose_other, ORANGE, INK),
        )
        total, left = max(1, sum(count for _, count, _, _ in parts)), 0.0
        for name, count, fill, ink in parts:
            _part(axes, left, count / total, i, name, count, fill, ink)
            if name == NO_PREFERENCE and count:
                axes.text(
                    left + count / total / 2,
                    i + 0.33,
                    NO_PREFERENCE,
                    fontsize=SMALL_PT,
                    color=QUIET,
                    va="top",
                    ha="center",
                )
            left += count / total
        axes.text(0, i - 0.42, preference_name(row), fontsize=SMALL_PT, color=QUIET, va="bottom")
        for name, x, side in ((row.formula, 0, "left"), (row.against, 1, "right")):
            axes.text(
                x,
                i + 0.33,
                short_names([name], MOST_LETTERS, 1)[0],
                fontsize=SMALL_PT,
                color=INK,
                va="top",
                ha=side,
            )
    axes.set_xlim(-0.005, 1.005)
    axes.set_ylim(len(rows) - 0.35, -0.75)
    axes.set_axis_off()
    return Picture(figure, preference_alt(r, style))


def _part(
    axes: Axes, left: float, width: float, row: int, name: str, count: int, fill: str, ink: str
) -> None:
    """Draw one part of a bar with its count; those without a preference are hatched."""
    if not width:
        return
    hatch = "////" if name == NO_PREFERENCE else None
    axes.add_patch(
        Rectangle(
            (left, row - 0.3),
            width,
            0.56,
            facecolor=fill,
            edgecolor=INK if hatch is None else QUIET,
            linewidth=0.8,
            hatch=hatch,
        )
    )
    axes.text(
        left + width / 2,
        row - 0.02,
        str(count),
        ha="center",
        va="center",
        color=ink,
        fontsize=SMALL_PT,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5} if hatch else None,
    )


@house_style()
def words_by_bread(r: WordsSeen, style: NumberStyle, part: int = 0) -> Picture:
    """Draw a table of bars: breads across, words down, the told ones first and a rule below them.

    ``part`` : of `word_parts`, where there are more words or breads than a page holds
    """
    words, loaves = word_parts(r)[part]
    names = [name for name in bread_names(r) if name[0] in loaves]
    told = int(r.words.set_index("word").loc[words, "tells_apart"].sum())
    width = 72 * WIDTH_IN
    step = (1 - WORD_SHARE) / len(names)
    upright = _stand_upright(names, step * width)
    head = LINE_IN + (_longest(names) * LETTER_PT / 72 if upright else LINE_IN)
    figure, axes = new_figure(height=HEAD_IN + head + CELL_IN * len(words))
    top, line = -0.65, LINE_IN / CELL_IN
    shares, counts = (
        table.loc[words, [loaf for loaf, _ in names]].to_numpy(dtype=float)
        for table in (r.shares, r.counts)
    )
    digits = len(f"{np.nanmax(r.counts.to_numpy(dtype=float), initial=0):.0f}")
    bar = step - (digits * DIGIT_PT + 2 * GAP_PT) / width
    for j, (loaf, formula) in enumerate(names):
        left = WORD_SHARE + j * step
        axes.text(left, top, loaf, fontsize=SMALL_PT, color=INK, va="bottom")
        axes.text(
            left,
            top - line,
            formula,
            fontsize=SMALL_PT,
            color=QUIET,
            va="bottom",
            rotation=90 if upright else 0,
        )
        for i in range(len(words)):
            _cell(axes, left, bar, i, shares[i, j], counts[i, j], i < told)
    for i, word in enumerate(short_names(words, MOST_LETTERS, 1)):
        axes.text(
            0,
            i,
            word,
            fontsize=SMALL_PT,
            color=INK,
            va="center",
            fontweight="bold" if i < told else "normal",
        )
    if 0 < told < len(words):
        axes.plot([0, 1], [told - 0.5, told - 0.5], color=INK, linewidth=1.2)
    axes.plot([0, 1], [-0.5, -0.5], color=LINE, linewidth=0.8)
    axes.set_xlim(0, 1)
    axes.set_ylim(len(words) - 0.4, top - head / CELL_IN)
    axes.set_axis_off()
    return Picture(figure, words_alt(r, words, style))


def word_parts(r: WordsSeen, most_in: float = MOST_IN) -> list[tuple[list[str], list[str]]]:
    """Return the words and the loaves of each picture, where none may be higher than this."""
    head = HEAD_IN + LINE_IN + _longest(bread_names(r)) * LETTER_PT / 72
    most = max(1, int((most_in - head) // CELL_IN))
    words, loaves = list(r.words["word"]), list(map(str, r.loaves["loaf"]))
    return [
        (words[i : i + most], loaves[j : j + MOST_ACROSS])
        for i in range(0, len(words), most)
        for j in range(0, len(loaves), MOST_ACROSS)
    ]


def _longest(names: Sequence[tuple[str, str]]) -> int:
    """Return how many letters the longest name above a column has."""
    return max(len(formula) for _, formula in names)


def _stand_upright(names: Sequence[tuple[str, str]], step_pt: float) -> bool:
    """Return whether a name would run into the next one: each has the columns up to it."""
    starts = [j for j, (_, formula) in enumerate(names) if formula] + [len(names)]
    return any(
        len(names[j][1]) * LETTER_PT > (end - j) * step_pt - GAP_PT for j, end in pairwise(starts)
    )


def _cell(
    axes: Axes, left: float, width: float, row: int, share: float, count: float, told: bool
) -> None:
    """Draw one cell: a bar as long as the share, and the count beside it."""
    if not math.isfinite(share):
        return
    axes.add_patch(
        Rectangle((left, row - 0.3), width, 0.6, facecolor="none", edgecolor=LINE, linewidth=0.6)
    )
    axes.add_patch(
        Rectangle(
            (left, row - 0.3),
            width * share,
            0.6,
            facecolor=CRUST if told else "#A9A196",
            linewidth=0,
        )
    )
    axes.annotate(
        f"{count:.0f}",
        (left + width, row),
        xytext=(GAP_PT, 0),
        textcoords="offset points",
        fontsize=SMALL_PT,
        color=INK,
        va="center",
    )
