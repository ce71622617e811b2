"""A workbook to fill in: sheets of cells that are typed, checked and locked as they should be; no
formula, no link.
"""

from __future__ import annotations

import io
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from ..frozen import frozen
from ..words.characters import readable

if TYPE_CHECKING:
    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

    from .paper import Paper

MADE = datetime(2000, 1, 1, tzinfo=UTC).replace(tzinfo=None)  # the same for all: same bytes
OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}
PAPER_CODES = {"a4": 9, "letter": 1}
ROWS_MORE = 200  # below the last one, open and checked like the others
NARROW, WIDE = 11, 28


@frozen(kw_only=True)
class BookColumn:
    """One column of a sheet to fill in.

    ``number`` cells are numbers; outside ``low`` to ``high`` they are warned about and not refused.
    ``choices`` are offered in a list; with ``only_these`` anything else is warned about. ``locked``
    cells hold what the plan says and cannot be typed over by mistake.
    """

    header: str
    number: bool = False
    low: float | None = None
    high: float | None = None
    choices: tuple[str | float, ...] = ()
    locked: bool = False
    wide: bool = False


@frozen(kw_only=True)
class BookSheet:
    """One sheet: its columns and what is written in their first rows; None stays empty."""

    name: str
    columns: tuple[BookColumn, ...]
    rows: tuple[tuple[str | int | None, ...], ...]


def book_bytes(
    sheets: tuple[BookSheet, ...], paper: Paper, mark: str, warning: tuple[str, str]
) -> bytes:
    """Return the workbook; ``warning`` is the title and the words for a number that is out of
    range.
    """
    import xlsxwriter

    kept = io.BytesIO()
    book = xlsxwriter.Workbook(kept, OPTIONS)
    book.set_properties({"title": "", "comments": mark, "created": MADE})
    formats = _formats(book)
    for sheet in sheets:
        _write(book.add_worksheet(sheet.name), sheet, formats, paper, warning)
    book.close()
    return kept.getvalue()


def _formats(book: Workbook) -> dict[str, Format]:
    """Return how cells look: ruled in black on white, open ones apart from locked ones by a lock,
    not a colour.
    """
    ruled = {"border": 1, "valign": "vcenter"}
    return {
        "header": book.add_format({**ruled, "bold": True, "text_wrap": True, "valign": "top"}),
        "locked": book.add_format({**ruled, "num_format": "@", "bold": True}),
        "place": book.add_format({**ruled, "num_format": "0"}),
        "text": book.add_format({**ruled, "num_format": "@", "locked": False, "text_wrap": True}),
        "number": book.add_format({**ruled, "num_format": "General", "locked": False}),
    }


def _write(
    on: Worksheet,
    sheet: BookSheet,
    formats: dict[str, Format],
    paper: Paper,
    warning: tuple[str, str],
) -> None:
    for j, column in enumerate(sheet.columns):
        opened = formats["number" if column.number else "text"]
        on.set_column(j, j, WIDE if column.wide else NARROW, opened)
        on.write_string(0, j, readable(column.header), formats["header"])
        for i, row in enumerate(sheet.rows, 1):
            _cell(on, i, j, row[j], column, formats, opened)
        _checked(on, j, len(sheet.rows) + ROWS_MORE, column, warning)
    on.protect(
        "",
        {
            "format_cells": True,
            "format_columns": True,
            "format_rows": True,
            "sort": True,
            "insert_rows": True,
            "autofilter": True,
        },
    )
    on.freeze_panes(1, 1)
    on.repeat_rows(0)
    on.set_paper(PAPER_CODES[paper.name])
    on.set_landscape()
    on.fit_to_pages(1, 0)


def _cell(
    on: Worksheet,
    i: int,
    j: int,
    value: Any,
    column: BookColumn,
    formats: dict[str, Format],
    opened: Format,
) -> None:
    look = formats["place" if column.number else "locked"] if column.locked else opened
    if value is None:
        on.write_blank(i, j, None, look)
    elif isinstance(value, str):
        on.write_string(i, j, readable(value), look)
    else:
        on.write_number(i, j, value, look)


def _checked(
    on: Worksheet, j: int, last: int, column: BookColumn, warning: tuple[str, str]
) -> None:
    """Let the sheet offer what is allowed, and warn of what is not plausible; nothing is
    refused.
    """
    title, words = warning
    if column.choices:
        listed = [
            str(choice) if isinstance(choice, str) else f"{choice:g}" for choice in column.choices
        ]
        on.data_validation(
            1,
            j,
            last,
            j,
            {
                "validate": "list",
                "source": listed,
                "error_type": "warning",
                "error_title": title,
                "error_message": words,
            },
        )
    elif (
        column.number and not column.locked and (column.low is not None or column.high is not None)
    ):
        rule: dict[str, Any] = {
            "validate": "decimal",
            "error_type": "warning",
            "error_title": title,
            "error_message": words,
        }
        if column.low is None or column.high is None:
            bound = column.low if column.low is not None else column.high
            rule |= {"criteria": ">=" if column.low is not None else "<=", "value": bound}
        else:
            rule |= {"criteria": "between", "minimum": column.low, "maximum": column.high}
        on.data_validation(1, j, last, j, rule)
