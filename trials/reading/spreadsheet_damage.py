"""What a spreadsheet did to codes and numbers when it opened a file: "3-1" became a date, "1E5" a
number.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

import numpy as np
import pandas as pd

from ..findings import Finding
from ..words.lists import on_lines
from .cells import Distinct
from .headers import Header
from .raw_table import RawTable

MAY_BE_DATES = frozenset({"day", "note", "void", "table", "baker"})
CODES = frozenset({"loaf", "mix"})
# As spreadsheets of English, German, French, Spanish, Italian and Dutch readers shorten months
# (Unicode CLDR).
_MONTHS = (
    "jan",
    "feb",
    "mar",
    "mär",
    "apr",
    "may",
    "mai",
    "jun",
    "jul",
    "aug",
    "sep",
    "oct",
    "okt",
    "nov",
    "dec",
    "dez",
    "janv",
    "fév",
    "févr",
    "mars",
    "avr",
    "juin",
    "juil",
    "août",
    "déc",
    "ene",
    "abr",
    "ago",
    "dic",
    "gen",
    "mag",
    "giu",
    "lug",
    "set",
    "ott",
    "mrt",
    "mei",
)
_MONTH = rf"(?:{'|'.join(_MONTHS)})[a-zäéû]*\.?"
# compiled when a text first may be one: long to compile, seldom needed
_DATE = rf"(?i:\d{{1,2}}[-. ]+{_MONTH}(?:[-. ]\d{{2,4}})?|{_MONTH}[-. ]\d{{2,4}})"
_NUMBER = r"\d(?:[.,]\d+)?E[+-]\d{1,3}"
_SIGNS = (*_MONTHS, "e+", "e-")


def spreadsheet_damage(
    raw: RawTable,
    headers: tuple[Header, ...],
    cells: Mapping[str, Distinct],
    unreadable: pd.DataFrame,
) -> list[Finding]:
    """Return a warning for every column of the vocabulary with cells that a spreadsheet seems to
    have changed.
    """
    findings = []
    by_column = unreadable.groupby("column") if len(unreadable) else ()
    odd = {name: rows["text"].unique() for name, rows in by_column}
    for header in headers:
        if header.column and header.name not in MAY_BE_DATES:
            texts = (
                odd.get(header.name, np.array([], dtype=object))
                if header.column.kind == "number"
                else cells[header.name].texts
            )
            rows = sorted(set(_changed(raw, header, texts)))
            if rows:
                findings.append(_finding(raw, header, rows))
    return findings


def _changed(raw: RawTable, header: Header, texts: np.ndarray) -> Iterator[int]:
    """Yield the rows whose cell looks like a code or a number that a spreadsheet has changed.

    ``texts`` are those of the column, or of a column of numbers those that are none. A column of
    nothing but dates is meant so.
    """
    is_number = header.column is not None and header.column.kind == "number"
    dates = [row for row, column in raw.dates if column == header.place]
    if is_number or len(dates) < len(raw.lines):
        yield from dates
    together = "\n".join(texts).casefold()
    if any(sign in together for sign in "-. ") and any(sign in together for sign in _SIGNS):
        odd = [
            text
            for text in texts
            if len(text) < 20
            and (
                re.fullmatch(_DATE, text) or (header.name in CODES and re.fullmatch(_NUMBER, text))
            )
        ]
        yield from np.flatnonzero(raw.cells[header.place].isin(odd)).tolist()


def _finding(raw: RawTable, header: Header, rows: list[int]) -> Finding:
    lines = tuple(int(raw.lines[row]) for row in rows)
    text = raw.cells[header.place].iloc[rows[0]]
    return Finding(
        code="cell-became-date",
        severity="warning",
        rows=lines,
        file=raw.file,
        column=header.name,
        message=(
            "A spreadsheet seems to have made a date or a number of something else under"
            f" {header.text!r} on {on_lines(lines)}, such as {text!r}."
        ),
        why=(
            'Spreadsheets turn "3-1" into 3 January and "1E5" into 100000; the loaf or the value is'
            " lost."
        ),
        fix="Look the cell up in the paper records, format the column as text, and type it again.",
    )
