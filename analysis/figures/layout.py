"""The trial's layout as a drawing: a row a mix, a box a loaf, what was changed written where it was changed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from ..layout import Layout
from ..wording.factor_pictures import AND_MORE, layout_alt
from ..wording.layout import level_text, unit_words
from .style import INK, LINE, QUIET, SMALL_PT, Look, Picture, house_style, looks, new_figure, row_axis, wrapped

MOST_ROWS, MOST_BOXES = 12, 8


@house_style()
def layout_drawing(loaves: pd.DataFrame, layout: Layout, labels: Mapping[str, str]) -> Picture:
    """Draw the loaves in rows of mixes, days apart; a box's edge shows the first factor inside the mix.

    loaves : those of the layout, with the factors' columns. Without mixes a row is a day, or one row holds all.
    """
    loaves = loaves.loc[layout.labels.index]
    inside = [name for name in layout.factors["factor"] if layout.applied_to(name) in ("loaf", "oven_load")]
    outside = [name for name in layout.factors["factor"] if name not in inside]
    rows = _rows(layout)
    shown = rows[:MOST_ROWS]
    figure, axes = new_figure(height=0.6 + 0.52 * len(shown))
    edges = looks(sorted(loaves[inside[0]].unique(), key=str)) if inside else {}
    for i, (_, index) in enumerate(shown):
        _draw_row(axes, i, loaves.loc[index], inside, edges)
    names = [_row_name(loaves.loc[index], name, outside) for name, index in shown]
    if len(rows) > len(shown):
        names[-1] += f" ({AND_MORE.format(len(rows) - len(shown))})"
    row_axis(axes, [wrapped(name, 24, 2) for name in names])
    _separate_days(axes, layout, [index for _, index in shown])
    widest = max(min(len(index), MOST_BOXES + 1) for _, index in shown)
    axes.set_xlim(-0.1, widest)
    axes.set_xticks([])
    axes.spines["bottom"].set_visible(False)
    return Picture(figure, layout_alt(layout, dict(labels)))


def _rows(layout: Layout) -> list[tuple[str, pd.Index]]:
    """The finest grouping that holds several loaves, group by group, by day."""
    kept = [name for name in ("mix", "day", "oven_load") if name in layout.kept]
    if not kept:
        return [("", layout.labels.index)]
    order = [name for name in ("day", "mix") if name in layout.labels]
    labels = layout.labels.sort_values(order, kind="stable") if order else layout.labels
    return [(kept[0], pd.Index(group.index)) for _, group in labels.groupby(kept[0], sort=False)]


def _row_name(own: pd.DataFrame, unit: str, outside: Sequence[str]) -> str:
    """What was changed from row to row, and what the row is."""
    changed = [level_text(own[name].iloc[0]) for name in outside if name in own]
    recorded = own[unit].iloc[0] if unit in own else ""
    name = f"{unit_words(unit)} {recorded}".strip() if unit else ""
    return f"{', '.join(changed)} ({name})" if changed and name else name or ", ".join(changed)


def _draw_row(axes: Axes, row: int, own: pd.DataFrame, inside: Sequence[str], edges: Mapping[object, Look]) -> None:
    """One box a loaf with its levels; what does not fit is counted."""
    own = own.sort_values(list(inside), kind="stable") if inside else own
    for i, (_, loaf) in enumerate(own.head(MOST_BOXES).iterrows()):
        look = edges.get(loaf[inside[0]]) if inside else None
        axes.add_patch(Rectangle((i + 0.05, row - 0.36), 0.9, 0.72, facecolor="white", linewidth=1.6,
                                 edgecolor=look.colour if look else QUIET, linestyle=look.dash if look else "-"))
        text = "\n".join(wrapped(level_text(loaf[name]), 8, 1) for name in inside[:2])
        axes.text(i + 0.5, row, text, ha="center", va="center", fontsize=8.6,
                  color=look.word_colour if look else INK)
    if len(own) > MOST_BOXES:
        axes.text(MOST_BOXES + 0.05, row, AND_MORE.format(len(own) - MOST_BOXES).replace("and ", "+ "), va="center",
                  fontsize=SMALL_PT, color=QUIET)


def _separate_days(axes: Axes, layout: Layout, rows: Sequence[pd.Index]) -> None:
    """A line between the rows of two days."""
    if "day" not in layout.labels:
        return
    days = [layout.labels.loc[index[0], "day"] for index in rows]
    for i, (before, after) in enumerate(pairwise(days)):
        if before != after:
            axes.axhline(i + 0.5, color=LINE, linewidth=1.2)
