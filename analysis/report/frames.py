"""From a frame to a table of a report, in one way for all of them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import pandas as pd

from ...trials.printing.document import Cell, Column, Rounded, Table
from ...trials.words.numbers import decimals
from ..wording.tables import heading

MOST_PLACES = 6


def table_of(
    frame: pd.DataFrame,
    columns: Mapping[str, tuple[str, int | None]],
    caption: str,
    sheet: str = "",
) -> Table:
    """Return a table of some columns of a frame: name in the frame → (unit, decimals).

    Decimals count for numbers only; None shows three significant digits. Columns that are not there
    are left out.
    """
    kept = {name: said for name, said in columns.items() if name in frame}
    heads = tuple(
        Column(heading(name), frame[name].dtype.kind in "fiu", *said) for name, said in kept.items()
    )
    cells = frame[list(kept)].itertuples(index=False, name=None)
    return Table(caption, heads, tuple(tuple(cell(value) for value in row) for row in cells), sheet)


def cell(value: object) -> Cell:
    """Return a value as a cell: a number at full precision, a text, or None for what is missing."""
    if value is None or value is pd.NA or (isinstance(value, float) and not math.isfinite(value)):
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float | Rounded):
        return value
    return cell(value.item()) if hasattr(value, "item") else str(value)


def shared_places(frame: pd.DataFrame, value: str = "difference") -> int:
    """Return the decimals for numbers in one column: those that the surest of their intervals
    supports.
    """
    low, high = frame["ci_low"], frame["ci_high"]
    shared = places([*frame[value], *low, *high], list((high - low) / 2))
    real = frame[low * high > 0]
    nearest = real[["ci_low", "ci_high"]].abs().min(axis=1)
    # real, so not written from 0.00
    while shared < MOST_PLACES and (nearest.round(shared) == 0).any():
        shared += 1
    return shared


def places(values: Sequence[float], half_widths: Sequence[float]) -> int:
    """Return the decimals that the least half-width supports; never more than three significant
    digits.
    """
    known = [abs(v) for v in values if math.isfinite(v)]
    sure = [abs(h) for h in half_widths if math.isfinite(h) and h != 0]
    return max(decimals(min(sure, default=0.0), max(known, default=0.0)), 0)
