"""What a spreadsheet did to codes and numbers when it opened a file: "3-1" became a date, "1E5" a number."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
import pandas as pd

from .headers import Header
from .reading import RawTable
from .trial import Finding, on_lines

MAY_BE_DATES = frozenset({"day", "note", "void", "baker"})
CODES = frozenset({"loaf", "mix"})
_MONTHS = ("jan", "feb", "mar", "mär", "apr", "may", "mai", "jun", "jul", "aug", "sep", "oct", "okt", "nov", "dec",
           "dez")
_MONTH = rf"(?:{'|'.join(_MONTHS)})[a-zä]*\.?"
_DATE = re.compile(rf"\d{{1,2}}[-. ]+{_MONTH}(?:[-. ]\d{{2,4}})?|{_MONTH}[-. ]\d{{2,4}}", re.IGNORECASE)
_NUMBER = re.compile(r"\d(?:[.,]\d+)?E[+-]\d{1,3}")
_SIGNS = (*_MONTHS, "e+", "e-")


def spreadsheet_damage(raw: RawTable, headers: tuple[Header, ...], unreadable: pd.DataFrame) -> list[Finding]:
    """Return a warning for every column of the vocabulary with cells that a spreadsheet seems to have changed."""
    findings = []
    for header in headers:
        if header.column and header.name not in MAY_BE_DATES:
            odd_lines = unreadable.loc[unreadable["column"] == header.name, "line"]
            rows = sorted(set(_changed(raw, header, odd_lines)))
            if rows:
                findings.append(_finding(raw, header, rows))
    return findings


def _changed(raw: RawTable, header: Header, odd_lines: pd.Series) -> Iterator[int]:
    """Yield the rows whose cell looks like a code or a number that a spreadsheet has changed.

    In a column of numbers only the cells that hold none are looked at. A column of nothing but dates is meant so.
    """
    is_number = header.column is not None and header.column.kind == "number"
    dates = [row for row, column in raw.dates if column == header.place]
    if is_number or len(dates) < len(raw.lines):
        yield from dates
    cells = raw.cells[header.place]
    if is_number:
        cells = cells[np.isin(raw.lines, odd_lines.to_numpy(dtype=int))]
    different = pd.unique(cells)
    together = "\n".join(different).casefold()
    if any(sign in together for sign in "-. ") and any(sign in together for sign in _SIGNS):
        odd = [text for text in different if len(text) < 20 and (
            _DATE.fullmatch(text) or (header.name in CODES and _NUMBER.fullmatch(text)))]
        yield from cells.index[cells.isin(odd)].tolist()


def _finding(raw: RawTable, header: Header, rows: list[int]) -> Finding:
    lines = tuple(int(raw.lines[row]) for row in rows)
    text = raw.cells[header.place].iloc[rows[0]]
    return Finding(
        code="cell-became-date", severity="warning", rows=lines, file=raw.file, column=header.name,
        message=f"A spreadsheet seems to have made a date or a number of something else under {header.text!r} on "
                f"{on_lines(lines)}, such as {text!r}.",
        why='Spreadsheets turn "3-1" into 3 January and "1E5" into 100000; the loaf or the value is lost.',
        fix="Look the cell up in the paper records, format the column as text, and type it again.")
