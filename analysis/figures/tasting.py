"""The pictures of people as instruments: who can tell, what is preferred, which words were ticked
for which bread.
"""

from __future__ import annotations

import math
from typing import Any

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
    INK,
    LINE,
    LINE_IN,
    MOST_IN,
    ORANGE,
    QUIET,
    SMALL_PT,
    Picture,
    house_style,
    interval,
    looks,
    new_figure,
    row_axis,
    value_axis,
    zone,
)

ROW_IN, BAR_IN, CELL_IN, FRAME_IN, HEAD_IN = 0.55, 0.62, 0.25, 1.05, 0.3
WORD_SHARE = 0.30  # of the picture's width, for the words
MOST_LETTERS = 18  # of a word


@house_style()
def range_who_can_tell(r: TastingAnswers, style: NumberStyle) -> Picture:
    """Draw the likely share of people who can tell, one row a test, with the zone of those who
    may.
    """
    rows: list[Any] = list(r.tests.itertuples(index=False))
    figure, axes = new_figure(height=FRAME_IN + ROW_IN * len(rows))
    look = looks(["all"])["all"]
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

    ``part`` : of `word_parts`, where there are more words than a page holds
    """
    words = word_parts(r)[part]
    names = bread_names(r)
    table = r.words.set_index("word").loc[words]
    told = int(table["tells_apart"].sum())
    line = LINE_IN / CELL_IN
    figure, axes = new_figure(height=HEAD_IN + 2 * LINE_IN + CELL_IN * len(words))
    step = (1 - WORD_SHARE) / len(names)
    shares, counts = r.shares.to_numpy(dtype=float), r.counts.to_numpy(dtype=float)
    words_at = {word: i for i, word in enumerate(r.shares.index)}
    for j, (loaf, formula) in enumerate(names):
        left = WORD_SHARE + j * step
        axes.text(left, -0.65, loaf, fontsize=SMALL_PT, color=INK, va="bottom")
        axes.text(left, -0.65 - line, formula, fontsize=SMALL_PT, color=QUIET, va="bottom")
        for i, word in enumerate(words):
            _cell(
                axes, left, step, i, shares[words_at[word], j], counts[words_at[word], j], i < told
            )
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
    axes.set_ylim(len(words) - 0.4, -0.65 - 2 * line)
    axes.set_axis_off()
    return Picture(figure, words_alt(r, words, style))


def word_parts(r: WordsSeen, most_in: float = MOST_IN) -> list[list[str]]:
    """Return the words of each picture, where none may be higher than this."""
    most = max(1, int((most_in - HEAD_IN - 3 * LINE_IN) // CELL_IN))
    words = list(r.words["word"])
    return [words[start : start + most] for start in range(0, len(words), most)]


def _cell(
    axes: Axes, left: float, width: float, row: int, share: float, count: float, told: bool
) -> None:
    """Draw one cell: a bar as long as the share, and the count beside it."""
    if not math.isfinite(share):
        return
    room = width * 0.62
    axes.add_patch(
        Rectangle((left, row - 0.3), room, 0.6, facecolor="none", edgecolor=LINE, linewidth=0.6)
    )
    axes.add_patch(
        Rectangle(
            (left, row - 0.3), room * share, 0.6, facecolor=BLUE if told else "#A9A196", linewidth=0
        )
    )
    axes.text(left + room + 0.008, row, f"{count:.0f}", fontsize=SMALL_PT, color=INK, va="center")
