"""A grid of text: what a CSV or a sheet holds before anyone knows which line is the header."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..findings import Finding, TrialError
from ..frozen import frozen

# Limits. A trial has tens of columns and at most thousands of loaves; the limits lie far above
# that, and bound what a hostile file can cost in time and memory.
LARGEST_FILE = 150_000_000  # bytes: a million loaves take about 60 MB
MOST_COLUMNS = 2_000  # a spreadsheet's trailing blank columns included
MOST_CELLS = 60_000_000  # a million loaves of 60 columns
LONGEST_CELL = 32_767  # characters: what a spreadsheet cell can hold
ZIP, OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # how a workbook's bytes begin


def is_workbook(raw: bytes) -> bool:
    """Return whether the bytes begin like a workbook, whatever the file is called."""
    return raw.startswith((ZIP, OLE))


@frozen(kw_only=True)
class Grid:
    """Cells as text without spaces around it, and without blank rows.

    Attributes
    ----------
    cells : one column per column of the file, named 0, 1, 2 …, all of type object holding str
    lines : (rows,) the line of the file, counted from 1, that each row starts on
    dates : (row, column) of cells that a workbook holds as dates, as places in ``cells``
    merged : (row, column) of cells that a workbook holds as one over several rows; all have its
        value
    sheet, visible : the sheet of a workbook, empty for a text file; whether the workbook shows it
    assumptions : what was taken for granted, in plain sentences
    findings : what there is to say of quotes, of formulas that were never worked out, of hidden
        rows
    """

    cells: pd.DataFrame
    lines: np.ndarray
    dates: frozenset[tuple[int, int]] = frozenset()
    merged: frozenset[tuple[int, int]] = frozenset()
    sheet: str = ""
    visible: bool = True
    assumptions: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def check_size(rows: int, columns: int, file: str) -> None:
    """Raise a TrialError when a table is larger than any trial."""
    if columns > MOST_COLUMNS:
        raise TrialError.one(
            "too-many-columns",
            f"{file} has {columns:,} columns, more than {MOST_COLUMNS:,}.",
            "Keep the columns of the trial and delete the others.",
            file=file,
        )
    if rows * columns > MOST_CELLS:
        raise TrialError.one(
            "too-many-cells",
            f"{file} has {rows:,} rows and {columns:,} columns, more than {MOST_CELLS:,} cells.",
            "Split it, or delete columns that nobody needs.",
            file=file,
        )
