"""Tables of several sheets as one, with a column that names the sheet."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd

from ..findings import TrialError
from .days import are_days
from .headers import loose
from .raw_table import RawTable, units_line

# line 14 of the second sheet is told as 2014; a power of ten above the longest sheet
STEP = 1000
SHEET = "sheet"  # the column that says on which sheet a row stood

Key = tuple[str, int]


def stacked(tables: list[RawTable], file: str) -> RawTable:
    """Return tables of one shape as one table, in their order.

    The new column is called ``day`` where all sheets are named like days and no column is; else
    ``sheet``.

    Raises
    ------
    TrialError: the rows of units under the headers differ.
    """
    step = max(STEP, 10 ** len(str(max(int(table.all_lines[-1]) for table in tables))))
    moved = [_with_lines_from(table, place * step) for place, table in enumerate(tables, start=1)]
    keys = [_keys(table) for table in moved]
    columns = {
        key: text
        for own, table in zip(keys, moved, strict=True)
        for key, text in zip(own, table.headers, strict=True)
    }
    order = {key: place for place, key in enumerate(columns, start=1)}
    starts = np.cumsum([0, *(len(table.lines) for table in moved)]).tolist()
    name = (
        SHEET
        if any("day" in key or "date" in key for key, _ in order)
        or not are_days([table.sheet for table in tables])
        else "day"
    )

    def placed(kind: str) -> frozenset[tuple[int, int]]:
        return frozenset(
            (row + start, order[own[column]])
            for table, own, start in zip(moved, keys, starts, strict=False)
            for row, column in getattr(table, kind)
        )

    lines = ", ".join(
        f"{place * step} + its line on {table.sheet!r}"
        for place, table in enumerate(tables, start=1)
    )
    told = f"{file}: the sheet of a row is kept under {name!r}, and lines are told as {lines}."
    first, rest = moved[0], moved[1:]
    return replace(
        first,
        file=file,
        sheet="",
        headers=(name, *columns.values()),
        units=_units(moved, keys, order, file),
        cells=_cells(moved, keys, order),
        lines=np.concatenate([table.lines for table in moved]),
        dates=placed("dates"),
        merged=placed("merged"),
        left_out=tuple(out for table in moved for out in table.left_out)
        + tuple(out for table in rest for out in _header_lines(table)),
        all_lines=np.concatenate([table.all_lines for table in moved]),
        all_cells=sum(table.all_cells for table in moved) + starts[-1],
        cells_left_out=sum(table.cells_left_out for table in moved),
        assumptions=(told, *(told for table in moved for told in table.assumptions)),
        findings=tuple(finding for table in moved for finding in table.findings),
    )


def _with_lines_from(table: RawTable, more: int) -> RawTable:
    """Return a table whose lines are counted from ``more``; what was said of it keeps the sheet's
    own.
    """
    return replace(
        table,
        header_line=table.header_line + more,
        lines=table.lines + more,
        all_lines=table.all_lines + more,
        left_out=tuple((line + more, text) for line, text in table.left_out),
        findings=tuple(
            replace(f, rows=tuple(line + more for line in f.rows)) for f in table.findings
        ),
    )


def _keys(table: RawTable) -> list[Key]:
    """Return what makes a column the same on every sheet: its header, and which of that header it
    is.
    """
    seen: Counter[str] = Counter()
    keys = []
    for text in map(loose, table.headers):
        keys.append((text, seen[text]))
        seen[text] += 1
    return keys


def _cells(tables: list[RawTable], keys: list[list[Key]], order: dict[Key, int]) -> pd.DataFrame:
    """Return the cells of all tables, blank where a sheet lacks a column, after the sheet's
    name.
    """
    parts = []
    for table, own in zip(tables, keys, strict=True):
        part = table.cells.set_axis([order[key] for key in own], axis=1).reindex(
            columns=list(order.values()), fill_value=""
        )
        part.insert(0, 0, table.sheet)
        parts.append(part)
    return pd.concat(parts, ignore_index=True).astype(object)


def _units(
    tables: list[RawTable], keys: list[list[Key]], order: dict[Key, int], file: str
) -> tuple[str, ...]:
    """Return the row of units of all tables together; empty where no sheet has one."""
    stated = [
        dict(zip(own, table.units, strict=True))
        for table, own in zip(tables, keys, strict=True)
        if table.units
    ]
    if any(
        units.get(key) != own.get(key)
        for units in stated
        for own in stated
        for key in units.keys() & own.keys()
    ) or 0 < len(stated) < len(tables):
        raise TrialError.one(
            "units-apart",
            f"The sheets of {file} have different units under their headers.",
            "Write the units into the headers of every sheet, or say which sheet to read:  --sheet",
            file=file,
        )
    together: dict[Key, str] = {key: text for units in stated for key, text in units.items()}
    return ("", *(together.get(key, "") for key in order)) if stated else ()


def _header_lines(table: RawTable) -> list[tuple[int, str]]:
    """Return the lines of a table's header and units, with their text."""
    told = [(table.header_line, " ".join(filter(None, table.headers)))]
    if table.units:
        told.append((units_line(table), " ".join(filter(None, table.units))))
    return told
