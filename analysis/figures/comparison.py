"""The pictures of a comparison: the interval against the zones, and every loaf by its mix."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from ...trials.conditions import mix_codes
from ..comparison import Comparison
from ..wording.comparison_pictures import (
    TOO_SMALL,
    close_to,
    difference_axis,
    loaves_alt,
    measure_axis,
    zones_alt,
)
from ..wording.numbers import ENGLISH, NumberStyle
from .style import (
    INK,
    Look,
    Picture,
    house_style,
    interval,
    label_beside,
    looks,
    new_figure,
    row_axis,
    scatter,
    value_axis,
    zone,
)

ROW_IN, FRAME_IN = 0.42, 1.05
MIX_ROW_IN, MOST_NAMED = 0.24, 16       # with more mixes than this their rows close up and lose their names


@house_style()
def interval_against_zones(c: Comparison, style: NumberStyle = ENGLISH) -> Picture:
    """Draw the likely range of every pair, and of every level that differs, against the zone that is too small."""
    rows = _rows(c)
    figure, axes = new_figure(height=FRAME_IN + ROW_IN * len(rows))
    if c.matters:
        zone(axes, -c.matters, c.matters, TOO_SMALL)
    axes.axvline(0, color=INK, linewidth=1)
    look = looks(c.n_mixes)
    for i, (_, formula, row) in enumerate(rows):
        _one_interval(axes, row, i, look[formula])
    row_axis(axes, [name for name, _, _ in rows])
    value_axis(axes, "x", difference_axis(c), style)
    return Picture(figure, zones_alt(c, style))


def _rows(c: Comparison) -> list[tuple[str, str, Any]]:
    """Return name, formula and numbers of each row: the pair told, its differing levels, then the other pairs."""
    told: list[tuple[str, str, Any]] = [(f"{c.formula} less {c.against}", c.formula, c)]
    levels = c.by_level[c.by_level["factor"].isin(c.interacting)]
    told += [(f"{_level(row.level)}", c.formula, row) for row in levels.itertuples()]
    others = [row for row in c.pairs.itertuples() if (row.formula, row.against) != (c.formula, c.against)]
    return told + [(f"{row.formula} less {row.against}", str(row.formula), row) for row in others]


def _level(level: object) -> str:
    return f"at {level:g}" if isinstance(level, float) else str(level)


def _one_interval(axes: Axes, row: Any, at: float, look: Look) -> None:
    """Draw an interval, or a lone mark where nothing says how sure it is."""
    if np.isfinite(row.ci_low):
        interval(axes, row.ci_low, row.ci_high, row.difference, at, look)
    else:
        axes.plot([row.difference], [at], **look.dots(10))


@house_style()
def loaves_by_mix(c: Comparison, loaves: pd.DataFrame, style: NumberStyle = ENGLISH) -> Picture:
    """Draw every loaf that was used as a dot in its mix's row, and below each formula's mixes its mean and range.

    loaves : the trial's loaves that count (``Trial.counted``). The band around the mean that is compared against
    holds the means that would not differ enough to matter.
    """
    used = loaves[~loaves["line"].isin(c.left_out["line"]) & loaves["formula"].astype(str).isin(c.n_mixes)]
    used = used.assign(formula=used["formula"].astype(str), _mix=mix_codes(used))
    named = used["_mix"].nunique() <= MOST_NAMED
    rows = _mix_rows(c, used)
    row_of = {mix: i for i, (_, _, mix) in enumerate(rows)}
    figure, axes = new_figure(height=FRAME_IN + (MIX_ROW_IN if named else MIX_ROW_IN / 3) * len(rows))
    means = c.means.set_index("formula")
    if c.matters:
        middle = float(means["mean"][c.against])
        zone(axes, middle - c.matters, middle + c.matters, close_to(c))
    look = looks(c.n_mixes)
    scatter(axes, used.assign(_row=used["_mix"].map(row_of)), c.measure, "_row", "formula", look)
    for i, (_, formula, mix) in enumerate(rows):
        if mix is None:
            _mean(axes, means.loc[formula], i, formula, look[formula])
    row_axis(axes, [name if named else "" for name, _, _ in rows])
    value_axis(axes, "x", measure_axis(c), style)
    return Picture(figure, loaves_alt(c, style))


def _mix_rows(c: Comparison, used: pd.DataFrame) -> list[tuple[str, str, Hashable | None]]:
    """Return name, formula and mix of each row: a formula's mixes, then its mean (no mix)."""
    rows: list[tuple[str, str, Hashable | None]] = []
    for formula in c.n_mixes:
        own = used[used["formula"] == formula]
        for mix, some in own.groupby("_mix", sort=False):
            name = str(some["mix"].iloc[0]) if "mix" in some else ""
            rows.append((name, formula, mix))
        rows.append(("mean", formula, None))
    return rows


def _mean(axes: Axes, row: Any, at: int, formula: str, look: Look) -> None:
    """Draw a formula's mean with its interval, and its name beside it."""
    if np.isfinite(row["ci_low"]):
        interval(axes, row["ci_low"], row["ci_high"], row["mean"], at, look)
    else:
        axes.plot([row["mean"]], [at], **look.dots(10))
    label_beside(axes, np.nanmax([row["ci_high"], row["mean"]]), at, formula, look)
