"""An account of every row and every filled cell: what is used, what is named, and what would be
lost without a word.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict
from typing import Any

import numpy as np

from ..findings import Finding
from ..frozen import frozen
from ..tables import blank_rows
from ..words.lists import on_lines
from .raw_table import RawTable, units_line
from .typed_table import TypedTable

MOST_LINES = 1000


@frozen(kw_only=True)
class Account:
    """Where the rows and the filled cells of one table went.

    Attributes
    ----------
    rows : lines of the file with anything on them
    records : rows of the typed table
    rows_named : the header, the units, and lines that are told to be left out
    cells : filled cells
    cells_used : cells whose number or text stands in the table
    cells_named : cells of the rows named, cells that hold no number, and signs that count as
        missing
    lost : lines on which a row or a cell is neither, or which stand in the table more than once
    """

    file: str
    rows: int
    records: int
    rows_named: int
    cells: int
    cells_used: int
    cells_named: int
    lost: tuple[int, ...]

    @property
    def adds_up(self) -> bool:
        """Return whether rows and cells are as many as are used and named, and none is lost."""
        return (
            self.rows == self.records + self.rows_named
            and self.cells == self.cells_used + self.cells_named
            and not self.lost
        )

    def findings(self) -> list[Finding]:
        """Return an error where the account does not add up."""
        if self.adds_up:
            return []
        where = f" on {on_lines(self.lost)}" if self.lost else ""
        return [
            Finding(
                code="account-does-not-add-up",
                severity="error",
                file=self.file,
                rows=self.lost[:MOST_LINES],
                message=(
                    f"{self.file} has {self.rows} rows and {self.cells} filled cells, but"
                    f" {self.records} rows and {self.cells_used} cells were read and"
                    f" {self.rows_named} rows and {self.cells_named} cells named: something is"
                    f" lost{where}."
                ),
                why=(
                    "This is a fault of the program and not of the records; an answer would rest on"
                    " less than was written."
                ),
                fix="Send the file, or its headers and these lines, to whoever keeps the program.",
            )
        ]

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return asdict(self) | {"lost": list(self.lost)}


def account(raw: RawTable, typed: TypedTable) -> Account:
    """Return the account of a table as it was read."""
    named = {
        raw.header_line,
        *(line for line, _ in raw.left_out),
        *([units_line(raw)] if raw.units else []),
    }
    read = typed.frame["line"].to_numpy()
    used, told, lost = _cells(raw, typed)
    seen, times = np.unique(
        np.concatenate([read, np.array(sorted(named), dtype=read.dtype)]), return_counts=True
    )
    lost |= {*np.setxor1d(seen, raw.all_lines).tolist(), *seen[times > 1].tolist()}
    return Account(
        file=raw.file,
        rows=len(raw.all_lines),
        records=len(read),
        rows_named=len(named),
        cells=raw.all_cells,
        cells_used=used,
        cells_named=told + raw.cells_left_out,
        lost=tuple(sorted(lost)),
    )


def _cells(raw: RawTable, typed: TypedTable) -> tuple[int, int, set[int]]:
    """Return how many cells below the header are used and named, and the lines of those that are
    neither.
    """
    used = named = 0
    lost: set[int] = set()
    frame = typed.frame
    if len(frame) != len(raw.lines):
        frame = frame.drop_duplicates("line").set_index("line").reindex(raw.lines)
    names_of: dict[int, list[str]] = {}
    for header in typed.headers:
        names_of.setdefault(header.place, []).append(header.name)
    for place, (_, column) in enumerate(raw.cells.items()):
        names = names_of.get(place, [])
        texts = column.to_numpy()
        written = texts != ""
        lacking = written & blank_rows(frame, names)
        used += int(np.count_nonzero(written & ~lacking))
        rows = np.flatnonzero(lacking)
        if not len(rows):
            continue
        odd = typed.unreadable
        unread = set(odd.loc[odd["column"].isin(names), "line"])
        settled: Collection[str] = {text for name in names for text in typed.settled.get(name, ())}
        told = [
            row for row in rows.tolist() if texts[row] in settled or int(raw.lines[row]) in unread
        ]
        named += len(told)
        lost |= {int(raw.lines[row]) for row in set(rows.tolist()) - set(told)}
    return used, named, lost


def kept_rows(
    first: Account,
    file: str,
    before: Collection[int],
    after: Collection[int],
    findings: Collection[Finding],
) -> list[Finding]:
    """Return an error where rows of the typed table are neither in the table made of it nor named
    in a finding.
    """
    named = {line for finding in findings if finding.file == file for line in finding.rows}
    lost = tuple(sorted(set(before) - set(after) - named))
    if not lost:
        return []
    short = Account(
        file=file,
        rows=first.rows,
        records=first.records - len(lost),
        rows_named=first.rows_named,
        cells=first.cells,
        cells_used=first.cells_used,
        cells_named=first.cells_named,
        lost=lost,
    )
    return short.findings()
