"""Whether a folder's table of loaves is still as empty as it was made, so that it may be
replaced.
"""

from __future__ import annotations

import csv
from pathlib import Path

from ..findings import TrialError
from ..reading.files import TABLE_SUFFIXES
from ..reading.grid import is_workbook
from ..reading.headers import tidy_name
from ..reading.workbook import workbook_grids

GIVEN = ("loaf", "repeat", "assessor", "order", "serving_order")  # columns that a plan fills in


def records_there(folder: Path) -> str:
    """Return the name of the table of loaves that holds more than codes, empty where none does."""
    return next((entry.name for entry in _tables_of_loaves(folder) if holds_records(entry)), "")


def headers_there(folder: Path) -> tuple[str, ...]:
    """Return the headers of the table of loaves in a folder, as its baker left them; none where
    there is none.
    """
    for entry in _tables_of_loaves(folder):
        tables = _tables(entry)
        return (
            tuple(text.strip() for text in tables[0][0] if text.strip())
            if tables and tables[0]
            else ()
        )
    return ()


def _tables_of_loaves(folder: Path) -> list[Path]:
    entries = sorted(folder.iterdir()) if folder.is_dir() else []
    return [
        entry
        for entry in entries
        if entry.stem.casefold() == "loaves" and entry.suffix.casefold() in TABLE_SUFFIXES
    ]


def holds_records(path: Path) -> bool:
    """Return whether a table, or any sheet of a workbook, has anything filled in beside what a plan
    fills in.

    A file that cannot be read counts as holding records: it is not for us to replace it.
    """
    try:
        return any(_filled(rows) for rows in _tables(path))
    except (TrialError, OSError, ValueError, csv.Error):
        return True


def _tables(path: Path) -> list[list[list[str]]]:
    """Return the rows of a table, or of every sheet of a workbook."""
    raw = path.read_bytes()
    if is_workbook(raw):
        return [grid.cells.to_numpy().tolist() for grid in workbook_grids(raw, path.name)]
    return [list(csv.reader(raw.decode("utf-8-sig").splitlines()))]


def _filled(rows: list[list[str]]) -> bool:
    """Return whether anything stands below the header in a column that no plan fills in."""
    header = [tidy_name(text) for text in rows[0]] if rows else []
    given = {i for i, name in enumerate(header) if name in GIVEN}
    return any(cell.strip() for row in rows[1:] for i, cell in enumerate(row) if i not in given)
