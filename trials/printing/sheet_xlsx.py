"""A sheet to work from as a workbook: the same parts as the PDF, each on a page of its own, to
print or to change.
"""

from __future__ import annotations

import io
import math
from typing import TYPE_CHECKING

from ..words.characters import readable
from . import paper as sizes
from .book import MADE, OPTIONS, PAPER_CODES
from .paper import Paper
from .sheet import Blanks, Grid, Part, Sheet, SheetColumn, Words

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

POINTS_A_MM = 72 / 25.4
MM_A_LETTER = 1.85  # a column's width is given in letters of the usual type (ECMA-376)
LINE_PT = 15.0
# of a page's width: parted into pages by hand, a workbook cannot also be told to fit one
FITS = 0.96
MOST_BREAKS = 1023  # pages that a sheet of a workbook can be parted into (ECMA-376)


def sheet_xlsx(sheet: Sheet, paper: Paper, made_by: str) -> bytes:
    """Return the workbook; all text is text, and the same sheet gives the same bytes.

    Its parts are grids, words and blanks; labels are only printed.
    """
    import xlsxwriter

    kept = io.BytesIO()
    book = xlsxwriter.Workbook(kept, OPTIONS)
    book.set_properties(
        {"title": sheet.kind, "comments": f"{made_by} {sheet.mark}", "created": MADE}
    )
    on = book.add_worksheet(readable(sheet.kind.split(":")[0]))
    page = _Page(on, _formats(book), sheet, paper)
    breaks = []
    for part in sheet.parts:
        breaks.append(page.row)
        page.part(part)
    on.set_h_pagebreaks(breaks[1 : MOST_BREAKS + 1])
    on.set_paper(PAPER_CODES[paper.name])
    on.set_margins(*(mm / 25.4 for mm in (sizes.SIDE_MM, sizes.SIDE_MM, 12.0, 12.0)))
    on.hide_gridlines()
    book.close()
    return kept.getvalue()


def _formats(book: Workbook) -> dict[str, Format]:
    """Return how words and cells look: black on white, ruled where something is filled in."""
    words = {"text_wrap": True, "valign": "vcenter", "num_format": "@"}
    ruled = {**words, "border": 1}
    code = {"bold": True, "font_size": sizes.CODE_PT}
    return {
        "heading": book.add_format({**words, "bold": True, "bottom": 1}),
        "plain": book.add_format(words),
        "caution": book.add_format({**words, "left": 5, "indent": 1}),
        "head": book.add_format({**words, "bold": True, "font_size": 14}),
        "large": book.add_format({**words, **code}),
        "column": book.add_format({**ruled, "bold": True}),
        "coded": book.add_format({**ruled, "bold": True, "font_size": sizes.CODE_HEAD_PT}),
        "text": book.add_format(ruled),
        "strong": book.add_format({**ruled, "bold": True}),
        "code": book.add_format({**ruled, **code}),
        "write": book.add_format(ruled),
        "tick": book.add_format({**ruled, "align": "center", "bold": True, "font_size": 14}),
    }


class _Page:
    """Writes part after part on one worksheet, whose columns are those of its widest grid."""

    def __init__(
        self, on: Worksheet, formats: dict[str, Format], sheet: Sheet, paper: Paper
    ) -> None:
        self.on, self.formats, self.sheet = on, formats, sheet
        self.row = 0
        grids = [b for part in sheet.parts for b in part.blocks if isinstance(b, Grid)]
        columns = max((grid.columns for grid in grids), key=len)
        self.widths_mm = _widths(columns, FITS * paper.inside_mm)
        for j, width in enumerate(self.widths_mm):
            on.set_column(j, j, width / MM_A_LETTER)

    def part(self, part: Part) -> None:
        """Write one part: what its pages are headed by, and its blocks."""
        head = f"{part.heading}   {self.sheet.kind}   {self.sheet.mark}"
        self.across(" ".join([head, self.sheet.title]).strip(), "heading")
        for block in part.blocks:
            if isinstance(block, Grid):
                self.grid(block)
            elif isinstance(block, Words):
                self.across(block.text, block.role)
            elif isinstance(block, Blanks):
                for words in block.labels:
                    self.blank(words)
            else:
                raise TypeError("labels are printed, not put in a workbook")
        self.row += 1

    def across(self, text: str, look: str) -> None:
        """Write words over the whole width, in as many lines as they need."""
        self.merged(0, len(self.widths_mm) - 1, text, look)
        size = {"large": 28.0, "head": 20.0}.get(look, LINE_PT)
        letters = sum(self.widths_mm) / MM_A_LETTER * LINE_PT / size
        self.on.set_row(self.row, size * max(1, math.ceil(len(text) / letters)))
        self.row += 1

    def blank(self, words: str) -> None:
        """Write words, and a box beside them to write in."""
        first, taken = 0, self.widths_mm[0]
        while taken < len(words) * MM_A_LETTER and first < len(self.widths_mm) - 2:
            first += 1
            taken += self.widths_mm[first]
        self.merged(0, first, words, "plain")
        self.merged(first + 1, len(self.widths_mm) - 1, "", "write")
        self.on.set_row(self.row, sizes.ROW_MM * POINTS_A_MM)
        self.row += 1

    def grid(self, grid: Grid) -> None:
        """Write a table and leave a row below it."""
        for j, column in enumerate(grid.columns):
            look = "coded" if column.coded else "column"
            text = f"{column.heading}\n{column.note}" if column.note else column.heading
            self.on.write_string(self.row, j, readable(text), self.formats[look])
        self.on.set_row(self.row, 24.0 if any(c.coded for c in grid.columns) else LINE_PT * 2)
        self.row += 1
        for cells in grid.rows:
            lines = [
                self.cell(j, c, text)
                for j, (c, text) in enumerate(zip(grid.columns, cells, strict=True))
            ]
            self.on.set_row(self.row, max(grid.row_mm * POINTS_A_MM, *(n * LINE_PT for n in lines)))
            self.row += 1
        self.row += 1

    def cell(self, j: int, column: SheetColumn, content: str | tuple[tuple[str, str], ...]) -> int:
        """Write one cell and return how many lines it has."""
        if not isinstance(content, str):
            content = "\n".join(f"{words} {codes}".strip() for words, codes in content)
        self.on.write_string(self.row, j, readable(content), self.formats[column.kind])
        return content.count("\n") + 1

    def merged(self, first: int, last: int, text: str, look: str) -> None:
        """Write a text over several columns of the row."""
        if first == last:
            self.on.write_string(self.row, first, readable(text), self.formats[look])
        else:
            self.on.merge_range(self.row, first, self.row, last, readable(text), self.formats[look])


def _widths(columns: tuple[SheetColumn, ...], inside_mm: float) -> list[float]:
    """Return the columns' widths in mm; those without one share what is left."""
    given = [column.width_mm for column in columns]
    shared = given.count(None)
    left = inside_mm - sum(width for width in given if width is not None)
    widths = [left / shared if width is None else width for width in given]
    rest = inside_mm - sum(widths)
    # beside a narrow table words and blanks still have the whole page
    return widths if rest < MM_A_LETTER else [*widths, rest]
