"""Whether a folder's table of loaves is still as empty as it was made, so that it may be replaced."""

from __future__ import annotations

import csv
from pathlib import Path

from ..findings import TrialError
from ..reading.files import TABLE_SUFFIXES
from ..reading.headers import tidy_name
from ..reading.workbook import is_workbook, workbook_grids

GIVEN = ("loaf", "repeat", "assessor", "order", "serving_order")  # columns that a plan fills in


def records_there(folder: Path) -> str:
    """Return the name of the table of loaves that holds more than codes, empty where none does."""
    for entry in sorted(folder.iterdir()) if folder.is_dir() else []:
        if entry.stem.casefold() == "loaves" and entry.suffix.casefold() in TABLE_SUFFIXES and holds_records(entry):
            return entry.name
    return ""


def holds_records(path: Path) -> bool:
    """Return whether a table, or any sheet of a workbook, has anything filled in beside what a plan fills in.

    A file that cannot be read counts as holding records: it is not for us to replace it.
    """
    try:
        raw = path.read_bytes()
        tables = _sheets(raw, path.name) if is_workbook(raw) else [_rows(raw)]
    except (TrialError, OSError, ValueError, csv.Error):
        return True
    return any(_filled(rows) for rows in tables)


def _sheets(raw: bytes, file: str) -> list[list[list[str]]]:
    return [grid.cells.to_numpy().tolist() for grid in workbook_grids(raw, file)]


def _rows(raw: bytes) -> list[list[str]]:
    return list(csv.reader(raw.decode("utf-8-sig").splitlines()))


def _filled(rows: list[list[str]]) -> bool:
    """Return whether anything stands below the header in a column that no plan fills in."""
    header = [tidy_name(text) for text in rows[0]] if rows else []
    given = {i for i, name in enumerate(header) if name in GIVEN}
    return any(cell.strip() for row in rows[1:] for i, cell in enumerate(row) if i not in given)
