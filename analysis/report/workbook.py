"""The report as a workbook: the answer, each table of the report, every loaf, and what the columns
mean.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from ...trials import Trial
from ...trials.columns import BY_NAME, label, unit
from ...trials.printing.book import MADE, OPTIONS, PAPER_CODES
from ...trials.printing.document import Answer, Cell, Column, Report, Rounded, Shown, Table, Text
from ...trials.printing.picture_files import DOTS_AN_INCH, png_file
from ...trials.words.characters import readable
from ...trials.words.numbers import decimals, typed_places
from ..plain_data import significant
from ..wording.tables import COLUMN_SHEET, LOAVES_SHEET, SHEET_HEADINGS
from .frames import cell as as_cell

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

WIDEST = 60
MOST_UPRIGHT = 7  # with more columns than this a sheet lies on its side
SCREEN_DOTS, ROW_DOTS = 96, 20  # dots an inch of a screen, and of one row of cells
MOST_TYPED = 3  # decimals that somebody types; a number with more was worked out


def workbook(report: Report, trial: Trial, mark: str) -> bytes:
    """Return the workbook. Texts are texts: none is a formula or a link; numbers have all their
    digits that count.
    """
    import xlsxwriter

    kept = io.BytesIO()
    book = xlsxwriter.Workbook(kept, OPTIONS)
    book.set_properties({"title": readable(report.title), "comments": mark, "created": MADE})
    sheets = _Sheets(book, readable(report.title))
    sheets.words(SHEET_HEADINGS["answer"], _first_sheet(report))
    for section, table in report.tables():
        sheets.table(table.sheet or section.heading, table)
    for table in report.beside:
        sheets.table(table.sheet or table.caption, table)
    sheets.pictures(SHEET_HEADINGS["pictures"], [shown for _, shown in report.pictures()], mark)
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

    def __init__(self, book: Workbook, title: str) -> None:
        self.book, self.title = book, title
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
        sheet = self.book.add_worksheet(free)
        sheet.set_paper(PAPER_CODES["a4"])
        sheet.fit_to_pages(1, 0)
        sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.7)
        # a footer reads & as a code: && is the sign itself
        sheet.set_footer(f"&L{self.title.replace('&', '&&')[:100]}&C&A&R&P / &N")
        return sheet

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
                {
                    "name": _table_name(sheet.get_name()),
                    "columns": [{"header": h} for h in headings],
                    "style": "Table Style Light 1",
                },
            )
        if len(headings) > MOST_UPRIGHT:
            sheet.set_landscape()
        sheet.repeat_rows(0, 1)
        for j, (heading, column) in enumerate(zip(headings, table.columns, strict=True)):
            sheet.write_string(1, j, heading, self.heading)
            cells = [row[j] for row in table.rows]
            places = column.places if column.places is not None else _places_of(cells)
            for i, cell in enumerate(cells):
                self.cell(sheet, i + 2, j, cell, places)
            longest = max((len(str(c)) for c in cells if isinstance(c, str)), default=8)
            sheet.set_column(j, j, min(max(longest, len(heading) * 0.7, 8) + 2, WIDEST))
        sheet.freeze_panes(2, 1)

    def pictures(self, name: str, shown: Sequence[Shown], mark: str) -> None:
        """Add a sheet with every picture, one below the other, each with its sentence."""
        if not shown:
            return
        sheet = self.add(name)
        sheet.set_column(0, 0, 90)
        row = 0
        for one in shown:
            png = png_file(one.svg, mark)
            high = int.from_bytes(png[20:24], "big") * SCREEN_DOTS / DOTS_AN_INCH  # IHDR's height
            sheet.write_string(row, 0, readable(one.caption or one.alt), self.text)
            sheet.insert_image(
                row + 1,
                0,
                "picture.png",
                {
                    "image_data": io.BytesIO(png),
                    "x_scale": SCREEN_DOTS / DOTS_AN_INCH,
                    "y_scale": SCREEN_DOTS / DOTS_AN_INCH,
                    "description": readable(one.alt),
                },
            )
            row += 3 + math.ceil(high / ROW_DOTS)

    def cell(self, sheet: Worksheet, row: int, at: int, cell: Cell, places: int | None) -> None:
        """Write one cell: a text as text, a number as a number, nothing where there is nothing."""
        value, places = (cell.value, cell.places) if isinstance(cell, Rounded) else (cell, places)
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


def _places_of(cells: Sequence[Cell]) -> int | None:
    """Return how many decimals a column is shown with whose table says none: as many as were typed,
    no more than three significant digits of the largest need.
    """
    values = [float(c) for c in cells if isinstance(c, int | float) and math.isfinite(c)]
    typed = max((typed_places(value) for value in values), default=0)
    most = decimals(0.0, max(map(abs, values), default=0.0))
    return min(typed, max(most, 0)) if typed > MOST_TYPED else typed


def _table_name(sheet: str) -> str:
    """Return the name of a sheet's table, as formulas may use it: letters, digits and underscores,
    nothing that could be a cell's address.
    """
    name = re.sub(r"\W+", "_", sheet).strip("_") or "Table"
    address = re.fullmatch(r"(?i)[a-z]{1,3}\d+|r\d*c?\d*|c", name)
    return f"Table_{name}" if address or not name[0].isalpha() else name


def _unlike(headings: Sequence[str]) -> list[str]:
    """Return headings of which no two are alike, as a workbook's table wants them."""
    seen: dict[str, int] = {}
    found = []
    for heading in headings:
        n = seen[heading.lower()] = seen.get(heading.lower(), 0) + 1
        found.append(heading if n == 1 else f"{heading} {n}")
    return found
