"""Records of a text with double quotes, and quotes that enclose no cell: ditto marks, inches, one
never closed.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import dataclass, field

from ..findings import Finding, TrialError
from ..frozen import frozen
from ..words.lists import on_lines
from .grid import LONGEST_CELL

WHY = "A cell that is never closed swallows the rows below it."


@frozen(kw_only=True)
class Records:
    """The rows of a text, the line that each begins on, and what there is to say of its quotes."""

    rows: list[list[str]]
    starts: list[int]
    findings: tuple[Finding, ...] = ()


def quoted_records(text: str, delimiter: str, file: str) -> Records:
    """Return the records of a text in which a quoted cell may hold delimiters and line ends.

    Where quotes enclose no cell, and the lines give whole rows without them, they are signs like
    others.

    Raises
    ------
    TrialError: a cell is longer than any spreadsheet's.
    """
    limit = csv.field_size_limit(len(text) + 1)
    try:
        rows, starts, ends = _as_quoted(text, delimiter)
        records = Records(rows=rows, starts=starts)
        if len({len(row) for row in rows}) > 1 or ends[-1:] != [len(rows)]:
            records = _Sorting(text.split("\n"), delimiter, file).sorted(rows, starts, ends)
    finally:
        csv.field_size_limit(limit)
    _check_lengths(records, file)
    return records


def _as_quoted(text: str, delimiter: str) -> tuple[list[list[str]], list[int], list[int]]:
    """Return the records as the quotes say, and the lines that each begins and ends on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows, starts, ends, line = [], [], [], 1
    for row in reader:
        rows.append(row)
        starts.append(line)
        ends.append(reader.line_num)
        line = reader.line_num + 1
    return rows, starts, ends


def _check_lengths(records: Records, file: str) -> None:
    for row, line in zip(records.rows, records.starts, strict=True):
        if max(map(len, row), default=0) > LONGEST_CELL:
            raise TrialError.one(
                "quote-open",
                f"{file}, line {line}: a cell has more than {LONGEST_CELL:,} characters; a double "
                "quote is probably never closed.",
                "Close the quote, or delete it.",
                file=file,
                rows=(line,),
            )


@dataclass(slots=True)
class _Sorting:
    """Goes through the records of a text and takes those apart whose quotes enclose no cell."""

    lines: list[str]
    delimiter: str
    file: str
    rows: list[list[str]] = field(default_factory=list)
    starts: list[int] = field(default_factory=list)
    stray: list[int] = field(default_factory=list)
    left_open: list[Finding] = field(default_factory=list)

    def sorted(self, rows: list[list[str]], starts: list[int], ends: list[int]) -> Records:
        """Return the records with those taken apart that are several rows, or a row of another
        width.
        """
        width = self.usual_width()
        for row, start, end in zip(rows, starts, ends, strict=True):
            apart = self.taken_apart(row, start, end, width)
            if apart:
                self.stray += [line for line, cells in apart if any('"' in cell for cell in cells)]
            elif end > start and self.looks_open(row, start, end, width):
                self.left_open.append(self.is_open(row, start, end))
            for line, cells in apart or [(start, row)]:
                self.rows.append(cells)
                self.starts.append(line)
        return Records(
            rows=self.rows, starts=self.starts, findings=(*self.told_of_stray(), *self.left_open)
        )

    def usual_width(self) -> int:
        """Return how many cells most lines have, each read by itself; long ones weigh more than
        remarks.
        """
        widths = Counter(len(self.by_itself(line)) for line in self.lines)
        return max(widths, key=lambda width: (width * widths[width] if width > 1 else 0, width))

    def by_itself(self, line: str) -> list[str]:
        return (
            next(csv.reader([line], delimiter=self.delimiter), [])
            if '"' in line
            else line.split(self.delimiter)
        )

    def whole_row(self, line: str, width: int) -> list[str] | None:
        """Return the cells of a line that is a row by itself, its quotes enclosing cells or none;
        else None.
        """
        if self.encloses_cells(line) and len(cells := self.by_itself(line)) == width:
            return cells
        cells = line.split(self.delimiter)
        return cells if len(cells) == width else None

    def encloses_cells(self, line: str) -> bool:
        """Return whether all quotes of a line open and close a cell, and no cell begins with a
        delimiter.
        """
        sign = re.escape(self.delimiter)
        cell = rf'(?:"(?!{sign})(?:[^"]|"")*"|[^{sign}"]*)'
        return re.fullmatch(rf"{cell}(?:{sign}{cell})*", line) is not None

    def taken_apart(
        self, row: list[str], start: int, end: int, width: int
    ) -> list[tuple[int, list[str]]]:
        """Return the lines of a record as rows of their own, where each is whole; empty where the
        record stands.
        """
        own = [
            (line, self.lines[line - 1])
            for line in range(start, min(end, start + LONGEST_CELL) + 1)
        ]
        if end == start and (len(row) == width or self.encloses_cells(own[0][1])):
            return []
        apart = []
        for line, text in own:
            cells = self.whole_row(text, width) if text.strip() else []
            if cells is None:
                return []
            apart += [(line, cells)] if cells else []
        return apart

    def looks_open(self, row: list[str], start: int, end: int, width: int) -> bool:
        """Return whether a cell over several lines seems to hold rows."""
        if len(row) != width:
            return True
        most = max(cell.count(self.delimiter) for cell in row if "\n" in cell)
        return most >= width - 1 or any(
            len(self.by_itself(line)) == width for line in self.lines[start:end]
        )

    def is_open(self, row: list[str], start: int, end: int) -> Finding:
        widest = max(row, key=lambda cell: cell.count("\n"))
        return Finding(
            code="quote-open",
            severity="error",
            file=self.file,
            rows=tuple(range(start, min(end, start + 1000) + 1)),
            message=(
                f"A double quote that opens on line {start} is closed on line {end} or never; the"
                f" cell holds {widest.count(chr(10))} line ends, and what looks like rows of the"
                " table."
            ),
            why=WHY,
            fix="Close the quote, or delete it; write a note without line ends.",
        )

    def told_of_stray(self) -> list[Finding]:
        if not self.stray:
            return []
        return [
            Finding(
                code="quote-stray",
                severity="warning",
                file=self.file,
                rows=tuple(self.stray),
                why=WHY,
                message=(
                    f"A double quote that encloses no cell stands on {on_lines(self.stray)}; it is"
                    " read as a sign like others."
                ),
                fix="Delete it; write out what a ditto mark repeats.",
            )
        ]
