"""The trial's layout as a drawing: a row a mix, a box a loaf, what was changed written where it was
changed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from string import ascii_lowercase, ascii_uppercase

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from ...trials.words.numbers import NumberStyle, level_words
from ..model.layout import Layout
from ..model.units import GROUPINGS
from ..wording.factor_pictures import AND_MORE, layout_alt
from ..wording.layout import unit_words
from .names import short_names, wrapped
from .style import (
    INK,
    LINE,
    LINE_IN,
    QUIET,
    SMALL_PT,
    Look,
    Picture,
    house_style,
    legend_columns,
    looks,
    new_figure,
    row_axis,
)

MOST_ROWS, MOST_BOXES, FEWEST_BOXES = 12, 8, 4
# letters that a row holds, boxes and name together, and a line of its name
ROW_LETTERS, WIDTH = 60, 24
MOST_LETTERS = 20  # levels that a key of letters explains


@house_style()
def layout_drawing(
    loaves: pd.DataFrame, layout: Layout, labels: Mapping[str, str], style: NumberStyle
) -> Picture:
    """Draw the loaves in rows of mixes, days apart; a box's edge shows the first factor inside the
    mix.

    loaves : those of the layout, with the factors' columns. Without mixes a row is a day, or one
        row holds all.
    """
    loaves = loaves.loc[layout.labels.index]
    inside = [
        name
        for name in layout.factors["factor"]
        if layout.applied_to(name) not in ("day", "table", "baker", "mix")
    ]
    outside = [name for name in layout.factors["factor"] if name not in inside]
    rows = _rows(layout)
    shown = rows[:MOST_ROWS]
    widest = max(FEWEST_BOXES, *(min(len(index), MOST_BOXES + 1) for _, index in shown))
    names = _row_names(loaves, shown, outside, style)
    longest = max(len(line) for name in names for line in wrapped(name, WIDTH, 3).split("\n"))
    texts, key = _box_texts(loaves, inside[:2], int(0.9 * (ROW_LETTERS - longest) / widest), style)
    figure, axes = new_figure(height=0.3 + 0.55 * len(shown) + LINE_IN * len(key))
    edges = looks(sorted(loaves[inside[0]].unique(), key=str)) if inside else {}
    for i, (_, index) in enumerate(shown):
        _draw_row(axes, i, loaves.loc[index], inside, texts, edges)
    row_axis(axes, names, width=WIDTH, lines=3)
    if len(rows) > len(shown):
        axes.set_xlabel(AND_MORE.format(len(rows) - len(shown)))
    _separate_days(axes, layout, [index for _, index in shown])
    axes.set_xlim(-0.1, widest)
    axes.set_xticks([])
    axes.spines["bottom"].set_visible(False)
    if key:
        figure.legend(
            [Line2D([], [], linestyle="none") for _ in key],
            key,
            loc="outside upper center",
            ncols=legend_columns(key),
            handlelength=0,
            handletextpad=0,
            labelspacing=0.3,
        )
    return Picture(figure, layout_alt(layout, dict(labels), style))


def _box_texts(
    loaves: pd.DataFrame, inside: Sequence[str], letters: int, style: NumberStyle
) -> tuple[dict[str, dict[object, str]], list[str]]:
    """What stands in a box for each level; where words are too long for one, letters, with a key
    that explains them.
    """
    texts: dict[str, dict[object, str]] = {}
    key: list[str] = []
    free = iter(ascii_uppercase + ascii_lowercase)
    for name in inside:
        texts[name] = {
            level: level_words(level, style) for level in sorted(loaves[name].unique(), key=str)
        }
        if len(texts[name]) <= MOST_LETTERS and max(map(len, texts[name].values())) > letters:
            coded = {level: next(free) for level in texts[name]}
            names = short_names(list(texts[name].values()), 56, 1)
            key += [
                f"{letter} = {words}" for letter, words in zip(coded.values(), names, strict=True)
            ]
            texts[name] = coded
        texts[name] = {level: wrapped(words, letters, 1) for level, words in texts[name].items()}
    return texts, key


def _rows(layout: Layout) -> list[tuple[str, pd.Index]]:
    """The finest grouping that holds several loaves, group by group, by day."""
    kept = [name for name in ("mix", *GROUPINGS) if name in layout.kept]
    if not kept:
        return [("", layout.labels.index)]
    order = [name for name in ("day", "mix") if name in layout.labels]
    labels = layout.labels.sort_values(order, kind="stable") if order else layout.labels
    return [(kept[0], pd.Index(group.index)) for _, group in labels.groupby(kept[0], sort=False)]


def _row_names(
    loaves: pd.DataFrame,
    rows: Sequence[tuple[str, pd.Index]],
    outside: Sequence[str],
    style: NumberStyle,
) -> list[str]:
    """What each row is, and what was changed from row to row."""
    units, changed = [], []
    for unit, index in rows:
        own, kind = loaves.loc[index].iloc[0], unit_words(unit) if unit else ""
        recorded = str(own[unit]) if unit in own else ""
        units.append(recorded if recorded.lower().startswith(kind) else f"{kind} {recorded}")
        changed.append(", ".join(level_words(own[name], style) for name in outside if name in own))
    return [
        "\n".join(filter(None, lines))
        for lines in zip(short_names(units, WIDTH, 1), changed, strict=True)
    ]


def _draw_row(
    axes: Axes,
    row: int,
    own: pd.DataFrame,
    inside: Sequence[str],
    texts: Mapping[str, Mapping[object, str]],
    edges: Mapping[object, Look],
) -> None:
    """One box a loaf with its levels; what does not fit is counted."""
    own = own.sort_values(list(inside), kind="stable") if inside else own
    for i, (_, loaf) in enumerate(own.head(MOST_BOXES).iterrows()):
        look = edges.get(loaf[inside[0]]) if inside else None
        axes.add_patch(
            Rectangle(
                (i + 0.05, row - 0.36),
                0.9,
                0.72,
                facecolor="white",
                linewidth=1.6,
                edgecolor=look.colour if look else QUIET,
                linestyle=look.dash if look else "-",
            )
        )
        text = "\n".join(words[loaf[name]] for name, words in texts.items())
        axes.text(
            i + 0.5,
            row,
            text,
            ha="center",
            va="center",
            fontsize=SMALL_PT,
            color=look.word_colour if look else INK,
        )
    if len(own) > MOST_BOXES:
        axes.text(
            MOST_BOXES + 0.05,
            row,
            AND_MORE.format(len(own) - MOST_BOXES).replace("and ", "+ "),
            va="center",
            fontsize=SMALL_PT,
            color=QUIET,
        )


def _separate_days(axes: Axes, layout: Layout, rows: Sequence[pd.Index]) -> None:
    """A line between the rows of two days."""
    if "day" not in layout.labels:
        return
    days = [layout.labels.loc[index[0], "day"] for index in rows]
    for i, (before, after) in enumerate(pairwise(days)):
        if before != after:
            axes.axhline(i + 0.5, color=LINE, linewidth=1.2)
