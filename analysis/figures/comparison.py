"""The pictures of a comparison: the interval against the zones, and every loaf by its mix."""

from __future__ import annotations

from collections.abc import Hashable
from itertools import accumulate
from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from ...trials.measuring.mixes import mix_codes
from ...trials.words.numbers import NumberStyle
from ..comparison.result import Comparison
from ..methods.ties import rounded
from ..wording.comparison_pictures import (
    TOO_SMALL,
    close_to,
    difference_axis,
    loaves_alt,
    measure_axis,
    zones_alt,
)
from .names import lines_of, short_names
from .style import (
    INK,
    LINE_IN,
    Look,
    Picture,
    house_style,
    interval,
    looks,
    new_figure,
    row_axis,
    scatter,
    value_axis,
    zone,
)

ROW_IN, FRAME_IN = 0.34, 1.05
MIX_IN, MEAN_IN = 0.22, 0.30  # height of a mix's row and of a mean's
# with more rows than this holds, mixes close up and lose their names
ROWS_IN = 3.6  # holds twelve mixes of three formulas
CLOSED_IN = 0.12  # room of one formula's mixes then, at least
WIDTH, PAIR_WIDTH = 20, 26  # letters in a line of a row's name


@house_style()
def interval_against_zones(c: Comparison, style: NumberStyle, most: int | None = None) -> Picture:
    """Draw the likely range of pairs, and of every level that differs, against the zone that is too
    small.

    most : how many rows are drawn; of the pairs that the answer does not tell, the surest come
        first then
    """
    rows = _rows(c, most)
    figure, axes = new_figure(height=FRAME_IN + ROW_IN * len(rows))
    axes.axvline(0, color=INK, linewidth=1)
    look = looks(c.n_mixes)
    for i, (_, formula, row) in enumerate(rows):
        _one_interval(axes, row, i, look[formula])
    if c.matters:
        zone(axes, -c.matters, c.matters, TOO_SMALL)
    row_axis(axes, [name for name, _, _ in rows], width=PAIR_WIDTH)
    value_axis(axes, "x", difference_axis(c), style)
    return Picture(figure, zones_alt(c, [float(row.difference) for _, _, row in rows[1:]], style))


def _rows(c: Comparison, most: int | None) -> list[tuple[str, str, Any]]:
    """Return name, formula and numbers of each row: the pair told, then the other pairs."""
    told: list[tuple[str, str, Any]] = [(_pair(c, c), c.formula, c)]
    pairs = c.pairs[(c.pairs["formula"] != c.formula) | (c.pairs["against"] != c.against)]
    if most is not None and len(told) + len(pairs) > most:
        pairs = pairs.sort_values("p_value", kind="stable", key=rounded).head(
            max(most - len(told), 0)
        )
    return told + [(_pair(c, row), str(row.formula), row) for row in pairs.itertuples()]


def _pair(c: Comparison, row: Any) -> str:
    """The two formulas, each on its own line where one line is too short."""
    name, names = f"{row.formula} less {row.against}", list(c.n_mixes)
    if len(name) <= WIDTH:
        return name
    formula, against = (
        short_names(names, width, 1)[names.index(name)]
        for name, width in ((row.formula, PAIR_WIDTH), (row.against, PAIR_WIDTH - 5))
    )
    return f"{formula}\nless {against}"


def _one_interval(axes: Axes, row: Any, at: float, look: Look) -> None:
    """Draw an interval, or a lone mark where nothing says how sure it is."""
    if np.isfinite(row.ci_low):
        interval(axes, row.ci_low, row.ci_high, row.difference, at, look)
    else:
        axes.plot([row.difference], [at], **look.dots(10))


@house_style()
def loaves_by_mix(c: Comparison, loaves: pd.DataFrame, style: NumberStyle) -> Picture:
    """Draw every loaf that was used as a dot in its mix's row, and below each formula's mixes its
    mean and range, named for the formula.

    loaves : the trial's loaves that count (``Trial.counted``). The band around the mean that is
    compared against holds the means that would not differ enough to matter.
    """
    used = loaves[
        ~loaves["line"].isin(c.left_out["line"]) & loaves["formula"].astype(str).isin(c.n_mixes)
    ]
    used = used.assign(formula=used["formula"].astype(str), _mix=mix_codes(used))
    rows = _mix_rows(c, used)
    at, height, named = _places(rows)
    figure, axes = new_figure(height=FRAME_IN + height)
    means, look = c.means.set_index("formula"), looks(c.n_mixes)
    row_of = {mix: y for (_, _, mix), y in zip(rows, at, strict=True)}
    scatter(axes, used.assign(_row=used["_mix"].map(row_of)), c.measure, "_row", "formula", look)
    for (_, formula, mix), y in zip(rows, at, strict=True):
        if mix is None:
            _one_interval(axes, means.loc[formula].rename({"mean": "difference"}), y, look[formula])
    if c.matters:
        middle = float(means["mean"][c.against])
        zone(axes, middle - c.matters, middle + c.matters, close_to(c))
    shown = [(name, y) for (name, _, mix), y in zip(rows, at, strict=True) if named or mix is None]
    row_axis(axes, [name for name, _ in shown], [y for _, y in shown], WIDTH)
    axes.set_ylim(height, -0.06)
    value_axis(axes, "x", measure_axis(c), style)
    return Picture(figure, loaves_alt(c, style))


def _mix_rows(c: Comparison, used: pd.DataFrame) -> list[tuple[str, str, Hashable | None]]:
    """Return name, formula and mix of each row: a formula's mixes, then its mean (no mix) under its
    own name.
    """
    mixes = used.drop_duplicates("_mix")
    names = (
        short_names(list(mixes["mix"].astype(str)), WIDTH, 1)
        if "mix" in mixes
        else [""] * len(mixes)
    )
    short = dict(zip(mixes["_mix"], names, strict=True))
    rows: list[tuple[str, str, Hashable | None]] = []
    for formula in c.n_mixes:
        rows += [
            (short[mix], formula, mix) for mix in mixes.loc[mixes["formula"] == formula, "_mix"]
        ]
        rows.append((formula, formula, None))
    return rows


def _places(rows: list[tuple[str, str, Hashable | None]]) -> tuple[list[float], float, bool]:
    """Where each row's middle lies, in inches from the top, how high all are, and whether mixes
    keep their names.
    """
    formulas = [name for name, _, mix in rows if mix is None]
    mean_in = max(MEAN_IN, LINE_IN * lines_of(formulas, WIDTH))
    room = max(ROWS_IN - mean_in * len(formulas), CLOSED_IN * len(formulas))
    mixes = len(rows) - len(formulas)
    named = MIX_IN * mixes <= room
    mix_in = MIX_IN if named else min(room / mixes, 0.08)
    heights = [mean_in if mix is None else mix_in for _, _, mix in rows]
    ends = list(accumulate(heights))
    return [end - height / 2 for end, height in zip(ends, heights, strict=True)], ends[-1], named
