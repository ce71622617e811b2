"""The report as a workbook: the answer, each table of the report, every loaf, and what the columns
mean.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from ...trials import Trial
from ...trials.columns import BY_NAME, label, unit
from ...trials.printing.document import Answer, Cell, Column, Report, Rounded, Table, Text
from ...trials.words.characters import readable
from ..plain_data import significant
from ..wording.tables import COLUMN_SHEET, LOAVES_SHEET, SHEET_HEADINGS
from .frames import cell as as_cell

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

# the same for all, so that bytes are the same
MADE = datetime(2000, 1, 1, tzinfo=UTC).replace(tzinfo=None)
OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}
WIDEST = 60


def workbook(report: Report, trial: Trial, mark: str) -> bytes:
    """Return the workbook. Texts are texts: none is a formula or a link; numbers have all their
    digits that count.
    """
    import xlsxwriter

    kept = io.BytesIO()
    book = xlsxwriter.Workbook(kept, OPTIONS)
    book.set_properties({"title": readable(report.title), "comments": mark, "created": MADE})
    sheets = _Sheets(book)
    sheets.words(SHEET_HEADINGS["answer"], _first_sheet(report))
    for section, table in report.tables():
        sheets.table(table.sheet or section.heading, table)
    sheets.table(SHEET_HEADINGS["loaves"], _loaves(trial))
    sheets.table(SHEET_HEADINGS["columns"], _columns(trial))
    book.close()
    return kept.getvalue()


def _first_sheet(report: Report) -> list[tuple[str, str]]:
    """Return the rows (heading, words) of the first sheet."""
    rows = [("", report.kicker), ("", report.title), ("", report.facts)]
    for section in report.sections:
        for block in section.blocks:
            if isinstance(block, Answer):
                rows += [
                    (section.heading, block.sentence),
                    *(("", words) for words in block.others),
                    *block.numbers,
                    ("", block.verdict),
                    ("", block.meaning),
                ]
            elif isinstance(block, Text):
                rows.append((section.heading, block.words))
    return rows + [("", line) for line in report.imprint]


def _loaves(trial: Trial) -> Table:
    """Return every loaf, void ones too, with every column that was read or worked out."""
    loaves = trial.loaves
    columns = tuple(
        Column(label(name, trial.card), loaves[name].dtype.kind in "fi", unit(name, trial.card))
        for name in map(str, loaves)
    )
    rows = tuple(
        tuple(as_cell(value) for value in row) for row in loaves.itertuples(index=False, name=None)
    )
    return Table(LOAVES_SHEET, columns, rows)


def _columns(trial: Trial) -> Table:
    """Return what each column of the loaves means."""
    rows = []
    for name in map(str, trial.loaves):
        known = BY_NAME.get(name)
        kind = "number" if trial.loaves[name].dtype.kind in "fi" else "text"
        rows.append(
            (
                label(name, trial.card),
                name,
                unit(name, trial.card),
                kind,
                known.meaning if known else "",
            )
        )
    return Table(
        COLUMN_SHEET,
        tuple(Column(name) for name in SHEET_HEADINGS["meanings"].split("|")),
        tuple(rows),
    )


class _Sheets:
    """Adds sheets to one workbook; names are short and never come twice."""

    def __init__(self, book: Workbook) -> None:
        self.book = book
        self.names: set[str] = set()
        self.heading = book.add_format(
            {"bold": True, "text_wrap": True, "quote_prefix": True, "valign": "top"}
        )
        self.caption = book.add_format({"bold": True, "quote_prefix": True})
        self.text = book.add_format({"text_wrap": True, "valign": "top", "quote_prefix": True})
        self.numbers: dict[int | None, Format] = {}

    def add(self, name: str) -> Worksheet:
        """Return a new sheet."""
        short = re.sub(r"[\[\]:*?/\\']", " ", readable(name)).strip()[:26] or "Table"
        free = next(
            n
            for n in (short, *(f"{short} {i}" for i in range(2, 1000)))
            if n.lower() not in self.names
        )
        self.names.add(free.lower())
        return self.book.add_worksheet(free)

    def words(self, name: str, rows: Iterable[tuple[str, str]]) -> None:
        """Add a sheet of headings and sentences."""
        sheet = self.add(name)
        sheet.set_column(0, 0, 24)
        sheet.set_column(1, 1, 100)
        for i, (heading, words) in enumerate(rows):
            sheet.write_string(i, 0, readable(heading), self.heading)
            sheet.write_string(i, 1, readable(words), self.text)

    def table(self, name: str, table: Table) -> None:
        """Add a sheet with a caption and one table; numbers keep ten digits and are shown as the
        report shows them.
        """
        sheet = self.add(name)
        sheet.write_string(0, 0, readable(table.caption), self.caption)
        headings = _unlike([readable(column.heading) for column in table.columns])
        if table.rows:
            sheet.add_table(
                1,
                0,
                1 + len(table.rows),
                len(headings) - 1,
                {"columns": [{"header": h} for h in headings], "style": "Table Style Light 1"},
            )
        for j, (heading, column) in enumerate(zip(headings, table.columns, strict=True)):
            sheet.write_string(1, j, heading, self.heading)
            cells = [row[j] for row in table.rows]
            for i, cell in enumerate(cells):
                self.cell(sheet, i + 2, j, cell, column)
            longest = max((len(str(c)) for c in cells if isinstance(c, str)), default=8)
            sheet.set_column(j, j, min(max(longest, len(heading) * 0.7, 8) + 2, WIDEST))
        sheet.freeze_panes(2, 1)

    def cell(self, sheet: Worksheet, row: int, at: int, cell: Cell, column: Column) -> None:
        """Write one cell: a text as text, a number as a number, nothing where there is nothing."""
        value, places = (
            (cell.value, cell.places) if isinstance(cell, Rounded) else (cell, column.places)
        )
        if isinstance(value, str):
            sheet.write_string(row, at, readable(value), self.text)
        elif value is not None and math.isfinite(value):
            sheet.write_number(row, at, significant(float(value)), self.shown(places))

    def shown(self, places: int | None) -> Format:
        """Return how numbers with so many decimals are shown."""
        if places not in self.numbers:
            pattern = "General" if places is None else "0." + "0" * places if places > 0 else "0"
            self.numbers[places] = self.book.add_format({"num_format": pattern, "valign": "top"})
        return self.numbers[places]


def _unlike(headings: Sequence[str]) -> list[str]:
    """Return headings of which no two are alike, as a workbook's table wants them."""
    seen: dict[str, int] = {}
    found = []
    for heading in headings:
        n = seen[heading.lower()] = seen.get(heading.lower(), 0) + 1
        found.append(heading if n == 1 else f"{heading} {n}")
    return found
