"""Run as a program of its own: a workbook on standard input → its sheets as JSON on standard output.

A crafted workbook of a few hundred bytes can claim a sheet of 17 billion cells, or blow up when it is unpacked, and
any reader that trusts it takes the whole process down. So the bytes are opened here, with bounded memory and
processor time, and the caller sees an exit code. Imports nothing of the package, so that it starts in no time.
"""

from __future__ import annotations

import datetime
import io
import json
import sys
from typing import Any

MEMORY_BYTES = 1_000_000_000    # address space; a sheet of 100,000 loaves and 20 columns needs about 400 MB of it
CPU_SECONDS = 4                 # processor time; that sheet takes about 2 s
ENCRYPTED, BROKEN = 3, 4        # exit codes


def limit_resources() -> None:
    """Bound memory and processor time where the system can (not on Windows)."""
    try:
        import resource
    except ImportError:
        return
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def cell_text(value: Any) -> str:
    """Return a cell as text: 15 digits, as spreadsheets keep; dates as 2026-03-01; times as 1:15:00."""
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.15g}"
    if isinstance(value, datetime.datetime):
        return value.isoformat(sep=" ")
    if isinstance(value, datetime.timedelta):
        seconds = round(value.total_seconds())
        return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"
    return str(value)


def sheet_data(sheet: Any) -> dict[str, Any]:
    """Return a sheet's rows as text without trailing blanks, the places of its dates, and what was filled down."""
    values = sheet.to_python(skip_empty_area=False)
    filled = fill_down(values, getattr(sheet, "merged_cell_ranges", None) or ())
    dates = [(row, column) for row, cells in enumerate(values) for column, value in enumerate(cells)
             if isinstance(value, datetime.date)]
    rows = [[cell_text(value) for value in row] for row in values]
    for row in rows:
        while row and not row[-1].strip():
            row.pop()
    while rows and not rows[-1]:
        rows.pop()
    return {"name": sheet.name, "rows": rows, "dates": dates, "filled": filled}


def fill_down(values: list[list[Any]], merged: Any) -> int:
    """Copy the value of cells merged downwards into every row that they span; return how many ranges there were."""
    filled = 0
    for (top, left), (bottom, right) in merged:
        if left == right and bottom > top and top < len(values) and left < len(values[top]):
            for row in values[top + 1:bottom + 1]:
                row[left] = values[top][left]
            filled += 1
    return filled


def main() -> int:
    """Read, convert and write; return the exit code."""
    limit_resources()
    import python_calamine

    try:
        workbook = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(sys.stdin.buffer.read()))
        sheets = [sheet_data(workbook.get_sheet_by_name(name)) for name in workbook.sheet_names]
    except BaseException as problem:  # the reader's own panics are no Exception
        print(str(problem)[:300], file=sys.stderr)
        return ENCRYPTED if type(problem).__name__ == "PasswordError" else BROKEN
    sys.stdout.write(json.dumps(sheets))
    return 0


if __name__ == "__main__":
    sys.exit(main())
