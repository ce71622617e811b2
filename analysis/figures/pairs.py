"""Each table's (baker's, day's) breads side by side on one row, joined by a line."""

from __future__ import annotations

from collections.abc import Hashable, Mapping

import pandas as pd
from matplotlib.axes import Axes

from ...trials.columns import GROUPINGS
from ...trials.words.numbers import NumberStyle, number
from ..comparison.result import Comparison
from ..methods.ties import largest, smallest
from ..wording.classroom import mean_places, pairs_alt
from ..wording.comparison_pictures import measure_axis
from ..wording.layout import unit_words
from .style import (
    LINE,
    Look,
    Picture,
    house_style,
    label_beside,
    legend_in,
    level_legend,
    looks,
    new_figure,
    row_axis,
    value_axis,
)

ROW_IN, FRAME_IN, MOST_ROWS = 0.25, 0.95, 16
ALL = "all together"
PREFERRED = ("table", "baker", "day", "oven_load")  # what a class calls a pair, most telling first


def pairing_unit(c: Comparison, loaves: pd.DataFrame) -> str | None:
    """Return the grouping of which each had several formulas at least twice; None where none is,
    or where there are too many for a picture.
    """
    used = _used(c, loaves)
    for name in (name for name in PREFERRED if name in used and used[name].notna().any()):
        rows = used.groupby(name)["formula"].nunique()
        if (rows > 1).sum() > 1 and len(rows) <= MOST_ROWS:
            return name
    return None


@house_style()
def pairs_by_unit(c: Comparison, loaves: pd.DataFrame, unit: str, style: NumberStyle) -> Picture:
    """Draw the mean of each formula's loaves in a row for each label of ``unit``, joined; below
    them the formulas' means with their numbers, where any is known.

    loaves : the trial's loaves that count (``Trial.counted``)
    """
    used = _used(c, loaves)
    means = used.groupby([unit, "formula"], sort=False)[c.measure].mean().unstack()
    means = means[[formula for formula in c.n_mixes if formula in means]]
    names = [_name(unit, label) for label in means.index]
    look = looks(c.n_mixes)
    over_all = c.means.set_index("formula")["mean"].dropna()
    last = len(names) - 1 if over_all.empty else len(names) + 0.25
    height = FRAME_IN + ROW_IN * (last + 1) + legend_in(look)
    figure, axes = new_figure(height=height)
    for i, (_, row) in enumerate(means.iterrows()):
        _joined(axes, row.dropna(), i, look, 7)
    if not over_all.empty:
        axes.axhline(last - 0.62, color=LINE, linewidth=0.8)
        _joined(axes, over_all, last, look, 9)
    for side, formula in _ends(c, over_all):
        words = number(over_all[formula], mean_places(c, style), style)
        label_beside(axes, over_all[formula], last, words, look[formula], side, gap=9)
    rows = dict(enumerate(names)) | ({} if over_all.empty else {last: ALL})
    row_axis(axes, list(rows.values()), list(rows))
    axes.set_ylim(last + 0.6, -0.6)
    axes.margins(x=0.14)
    value_axis(axes, "x", measure_axis(c), style)
    level_legend(figure, look)
    both = means[[c.formula, c.against]].dropna()
    higher = int((both[c.formula] > both[c.against]).sum())
    return Picture(figure, pairs_alt(c, unit_words(unit), names, higher, len(both), style))


def _used(c: Comparison, loaves: pd.DataFrame) -> pd.DataFrame:
    used = loaves[
        ~loaves["line"].isin(c.left_out["line"]) & loaves["formula"].astype(str).isin(c.n_mixes)
    ]
    return used.assign(formula=used["formula"].astype(str))


def _name(unit: str, label: object) -> str:
    """``table 3``, whether it was written so or as 3."""
    one = next(grouping.one for grouping in GROUPINGS if grouping.name == unit)
    text = f"{label:g}" if isinstance(label, float) else str(label)
    return f"{one} {text}" if len(text) < 4 and one not in text.lower() else text


def _joined(
    axes: Axes, row: pd.Series, at: float, look: Mapping[Hashable, Look], size: float
) -> None:
    """Draw one row: a line from its lowest to its highest mean, and a mark for each."""
    axes.plot([row.min(), row.max()], [at, at], color="#B9A98F", linewidth=2.2, zorder=2)
    for formula, mean in row.items():
        axes.plot([mean], [at], zorder=3, **look[formula].dots(size))


def _ends(c: Comparison, over_all: pd.Series) -> list[tuple[str, str]]:
    """The lowest and the highest of all formulas, which carry their number; none where no mean is
    known.
    """
    if over_all.empty:
        return []
    low, high = (str(over_all.index[ends(over_all)[0]]) for ends in (smallest, largest))
    return [("left", low), ("right", high)] if low != high else [("right", high)]
