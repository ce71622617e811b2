"""From the bytes of a CSV file to a grid of text: its encoding, its delimiter, its records and
their lines.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import repeat

import numpy as np
import pandas as pd

from ..findings import Finding, TrialError
from .grid import Grid, check_size

DELIMITERS = (",", ";", "\t", "|")
UNUSUAL = {";": "semicolons", "\t": "tabs", "|": "vertical bars"}
FORMULA_SIGNS = ("=", "+", "-", "@", "\t")  # a spreadsheet runs a text that begins like this
NO_FIT = (0, 0, 0)
HEAD_LINES = 60  # lines looked at to find the delimiter
_WHOLE_LINE = re.compile(r'"(?:[^"]|"")+"')
_CONTROL = bytes((*range(9), *range(14, 32), 127))
# every space of Unicode but the end of a line
SPACES = (
    "\t\v\f\r\x1c\x1d\x1e\x1f \x85\xa0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008"
    "\u2009\u200a\u2028\u2029\u202f\u205f\u3000"
)
_BYTE_ORDER_MARKS = (
    (b"\xef\xbb\xbf", "utf-8"),
    (b"\xff\xfe", "utf-16-le"),
    (b"\xfe\xff", "utf-16-be"),
)

Known = Callable[[str], bool]


def csv_grid(raw: bytes, file: str, known: Known) -> Grid:
    """Return the cells of a CSV file; ``known`` says whether a cell is a header that the trade
    would use.

    Raises
    ------
    TrialError: the bytes are no text, there is nothing in them, a quote is never closed, or the
    table is too large.
    """
    text, assumptions = decoded(raw, file)
    if text.lstrip()[:1] == "<":
        raise TrialError.one(
            "web-page",
            f"{file} is a web page, whatever its name says.",
            "Open it in a spreadsheet and save it as .xlsx or as CSV.",
            file=file,
        )
    if (bare := _whole_lines_unquoted(text)) is not None:
        text = bare
        assumptions = (*assumptions, f"{file}: the quotes around each whole line are taken off.")
    delimiter, text, first = _delimiter(text, known)
    quoted = '"' in text
    cells, lines, findings = (_quoted if quoted else _unquoted)(text, delimiter, file)
    if quoted or _has_loose_spaces(text, delimiter):
        cells = changed(cells, str.strip)
    if "'" in text and any("'" + sign in text for sign in FORMULA_SIGNS):
        cells = changed(cells, _without_guard)
    cells, lines = without_blanks(cells, lines)
    if cells.empty:
        raise nothing_in(file)
    if delimiter in UNUSUAL:
        assumptions = (*assumptions, f"{file}: columns are separated by {UNUSUAL[delimiter]}.")
    return Grid(
        cells=cells,
        lines=lines + (first - 1),
        assumptions=assumptions,
        findings=tuple(
            replace(f, rows=tuple(line + first - 1 for line in f.rows)) for f in findings
        ),
    )


def decoded(raw: bytes, file: str) -> tuple[str, tuple[str, ...]]:
    """Return the text of a file with line ends as "\\n", and what was assumed of its encoding."""
    mark, encoding = next(
        ((m, e) for m, e in _BYTE_ORDER_MARKS if raw.startswith(m)), (b"", _unmarked(raw))
    )
    assumptions: tuple[str, ...] = ()
    try:
        text = raw[len(mark) :].decode(encoding)
    except UnicodeDecodeError:
        try:
            text = raw[len(mark) :].decode("cp1252")
        except UnicodeDecodeError:
            raise _no_text(file) from None
        assumptions = (f"{file}: letters are read as Windows-1252, because they are not UTF-8.",)
    if len(plain := text.encode()) > len(plain.translate(None, _CONTROL)):
        first = min(place for sign in _CONTROL if (place := plain.find(sign)) >= 0)
        raise _no_text(file, plain.count(b"\n", 0, first) + 1)
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text, assumptions


def _unmarked(raw: bytes) -> str:
    """Return the likely encoding of text without a byte order mark: every second byte zero is
    UTF-16.
    """
    head = raw[:2000]
    even, odd = head[::2].count(0), head[1::2].count(0)
    if odd > len(head) / 3 and not even:
        return "utf-16-le"
    return "utf-16-be" if even > len(head) / 3 and not odd else "utf-8"


def _no_text(file: str, line: int | None = None) -> TrialError:
    where = f" (line {line} holds signs that no text has)" if line else ""
    return TrialError.one(
        "not-text",
        f"{file} is neither a text file nor a workbook{where}.",
        "Save it again from the spreadsheet as CSV UTF-8 or as .xlsx.",
        file=file,
        rows=(line,) if line else (),
    )


def _whole_lines_unquoted(text: str) -> str | None:
    """Return a text whose every line stands in quotes as one cell, without them; None where one
    does not, or where the first holds no delimiter.
    """
    lines = text.rstrip("\n").split("\n")
    if not all(_WHOLE_LINE.fullmatch(line) for line in lines if line):
        return None
    bare = [line[1:-1].replace('""', '"') for line in lines]
    return "\n".join(bare) + "\n" if any(sign in bare[0] for sign in DELIMITERS) else None


def _delimiter(text: str, known: Known) -> tuple[str, str, int]:
    """Return the delimiter, the text without a line that only names it, and the text's first
    line.
    """
    if declared := re.match(r"sep=([,;\t|])\n", text):
        return declared[1], text[declared.end() :], 2
    head = text[: HEAD_LINES * 2000].split("\n")[:HEAD_LINES]
    fits = {sign: _fit(head, sign, known) for sign in DELIMITERS if any(sign in x for x in head)}
    if max(fits.values(), default=NO_FIT) < (1,):  # a whole line may be a header
        fits = {sign: fits.get(sign) or _fit(head, sign, known) for sign in DELIMITERS}
    return max(fits, key=fits.__getitem__), text, 1


def _fit(head: list[str], delimiter: str, known: Known) -> tuple[int, int, int]:
    """Return how well a delimiter fits: known headers in a line, cells in lines of one width, how
    often it is.
    """
    try:
        rows = [row for row in csv.reader(head, delimiter=delimiter) if any(row)]
    except csv.Error:
        return NO_FIT
    headers = max(
        (sum(known(cell.strip()) for cell in row) for row in rows[:30] if len(row) < 500), default=0
    )
    widths = Counter(len(row) for row in rows if len(row) > 1)
    width, count = max(widths.items(), key=lambda item: (item[1], item[0]), default=(0, 0))
    return headers, width * count, sum(line.count(delimiter) for line in head)


def _unquoted(
    text: str, delimiter: str, file: str
) -> tuple[pd.DataFrame, np.ndarray, tuple[Finding, ...]]:
    """Return the cells and lines of a text without quotes: every line is a record, read by pandas'
    fast parser.

    Most files are as wide as their first line; only one that is not has its widest line looked for.
    """
    rows = text.count("\n") + 1
    width = text.partition("\n")[0].count(delimiter) + 1
    check_size(rows, width, file)
    try:
        cells = _parsed(text, delimiter, width)
    except pd.errors.EmptyDataError:
        raise nothing_in(file) from None
    except pd.errors.ParserError:
        width = max(map(str.count, text.split("\n"), repeat(delimiter))) + 1
        check_size(rows, width, file)
        cells = _parsed(text, delimiter, width)
    return cells, np.arange(1, len(cells) + 1), ()


def _parsed(text: str, delimiter: str, width: int) -> pd.DataFrame:
    return pd.read_csv(
        io.StringIO(text),
        sep=delimiter,
        header=None,
        names=range(width),
        dtype=object,
        na_filter=False,
        skip_blank_lines=False,
        quoting=csv.QUOTE_NONE,
    )


def _quoted(
    text: str, delimiter: str, file: str
) -> tuple[pd.DataFrame, np.ndarray, tuple[Finding, ...]]:
    """Return the cells and lines of a text with quotes, in which a cell may hold delimiters and
    line ends.
    """
    from .quotes import quoted_records

    records = quoted_records(text, delimiter, file)
    width = max(map(len, records.rows), default=0)
    check_size(len(records.rows), width, file)
    full = [row if len(row) == width else row + [""] * (width - len(row)) for row in records.rows]
    return (
        pd.DataFrame(full, columns=range(width), dtype=object),
        np.array(records.starts),
        records.findings,
    )


def _has_loose_spaces(text: str, delimiter: str) -> bool:
    """Return whether some cell of a text without quotes begins or ends with a space of any kind."""
    present = [sign for sign in SPACES if sign in text and sign != delimiter]
    edges = (text[:1], text[-1:])
    return any(
        sign in edges or sign + around in text or around + sign in text
        for sign in present
        for around in (delimiter, "\n")
    )


def _without_guard(text: str) -> str:
    """Return a cell without the apostrophe that keeps a spreadsheet from running it as a
    formula.
    """
    return text[1:] if text.startswith("'") and text[1:].startswith(FORMULA_SIGNS) else text


def changed(cells: pd.DataFrame, change: Callable[[str], str]) -> pd.DataFrame:
    """Return the cells with a change made to each of their texts."""
    return pd.DataFrame(
        {name: list(map(change, cells[name])) for name in cells.columns}, dtype=object
    )


def without_blanks(cells: pd.DataFrame, lines: np.ndarray) -> tuple[pd.DataFrame, np.ndarray]:
    """Return trimmed cells and their lines without rows that are blank from end to end."""
    filled = np.zeros(len(cells), dtype=bool)
    for name in cells.columns:
        filled[~filled] = cells[name].to_numpy()[~filled] != ""
        if filled.all():
            return cells, lines
    return cells[filled].reset_index(drop=True), lines[filled]


def nothing_in(file: str) -> TrialError:
    """Return the error for a file without a single filled cell."""
    return TrialError.one(
        "empty-file",
        f"{file} is empty.",
        "Give a table with one header line and one row per loaf.",
        file=file,
    )
