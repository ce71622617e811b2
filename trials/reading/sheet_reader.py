"""Run as a program of its own: a workbook on standard input → its sheets as JSON on standard
output.

A crafted workbook of a few hundred bytes can claim a sheet of 17 billion cells, or blow up when it
is unpacked, and any reader that trusts it takes the whole process down. So the bytes are opened
here, with bounded memory and processor time, and the caller sees an exit code. Imports nothing of
the package, so that it starts in no time.
"""

from __future__ import annotations

import dataclasses
import datetime
import io
import json
import posixpath
import re
import sys
import zipfile
from pathlib import Path
from typing import Any
from xml.parsers import expat

# address space; a sheet of 100,000 loaves and 20 columns needs about 400 MB of it
MEMORY_BYTES = 1_000_000_000
CPU_SECONDS = 4  # processor time; that sheet takes about 2 s
ENCRYPTED, BROKEN = 3, 4  # exit codes
MOST_ROWS, MOST_COLUMNS = 200_000, 2_000  # within which a formula without a value is looked for
TRUE = ("1", "true")
DIGITS = re.compile(r"\d{1,9}")
WORTH_A_LOOK = re.compile(rb"[<:]f[\s/>]|\bt=[\"']e[\"']|\bhidden=")


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
    """Return a cell as text: 15 digits, as spreadsheets keep; dates as 2026-03-01; times as
    1:15:00.
    """
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


def sheet_data(sheet: Any, marks: Marks) -> dict[str, Any]:
    """Return a sheet's rows as text without trailing blanks, the places of its dates, and what else
    it shows.
    """
    values = sheet.to_python(skip_empty_area=False)
    for (row, column), text in {**marks.errors, **marks.unsaved}.items():
        put(values, row, column, text)
    spans, merged = fill_down(values, getattr(sheet, "merged_cell_ranges", None) or ())
    dates = [
        (row, column)
        for row, cells in enumerate(values)
        for column, value in enumerate(cells)
        if isinstance(value, datetime.date)
    ]
    rows = [[cell_text(value) for value in row] for row in values]
    for texts in rows:
        while texts and not texts[-1].strip():
            texts.pop()
    while rows and not rows[-1]:
        rows.pop()
    return {
        "name": sheet.name,
        "visible": marks.visible,
        "rows": rows,
        "dates": dates,
        "spans": spans,
        "merged": merged,
        "unsaved": list(marks.unsaved),
        "errors": list(marks.errors),
        "hidden": sorted(marks.hidden),
        "struck": sorted(marks.struck),
        "struck_cells": sorted(marks.struck_cells),
        "comments": sorted(marks.comments),
    }


def put(values: list[list[Any]], row: int, column: int, text: str) -> None:
    """Write a text where the reader saw an empty cell; rows are as long as the sheet is wide."""
    if row < len(values) and column < len(values[row]) and values[row][column] in ("", 0, 0.0):
        values[row][column] = text
    elif (
        row < MOST_ROWS
        and column < MOST_COLUMNS
        and (row >= len(values) or column >= len(values[row]))
    ):
        values.extend([] for _ in range(row + 1 - len(values)))
        values[row] += [""] * (column - len(values[row])) + [text]


def fill_down(values: list[list[Any]], merged: Any) -> tuple[int, list[tuple[int, int]]]:
    """Copy the value of cells merged downwards into every row that they span; return how many, and
    their places.
    """
    spans, places = 0, []
    for (top, left), (bottom, right) in merged:
        if left == right and bottom > top and top < len(values) and left < len(values[top]):
            for row, cells in enumerate(values[top : bottom + 1], start=top):
                cells += [""] * (left + 1 - len(cells))
                cells[left] = values[top][left]
                places.append((row, left))
            spans += 1
    return spans, places


# --- What the cells show beside their values ---------------------------------------------------


@dataclasses.dataclass
class Marks:
    """Cells and rows (counted from 0) of one sheet: formulas without a value, errors, comments,
    rows that are hidden or struck through, and cells that are in other rows.

    A row is struck through when more than half of its filled cells are.
    """

    visible: bool = True
    unsaved: dict[tuple[int, int], str] = dataclasses.field(default_factory=dict)
    errors: dict[tuple[int, int], str] = dataclasses.field(default_factory=dict)
    hidden: set[int] = dataclasses.field(default_factory=set)
    struck: set[int] = dataclasses.field(default_factory=set)
    struck_cells: list[tuple[int, int]] = dataclasses.field(default_factory=list)
    comments: list[tuple[int, int]] = dataclasses.field(default_factory=list)

    def row_ends(self, row: int, filled: int, struck: list[int]) -> None:
        """Take note of a row's columns that are struck through."""
        if 2 * len(struck) > filled:
            self.struck.add(row)
        else:
            self.struck_cells += [(row, column) for column in struck]


def all_marks(raw: bytes) -> dict[str, Marks]:
    """Return the marks of each sheet of an .xlsx or .ods workbook, by the sheet's name."""
    if not raw.startswith(b"PK"):
        return {}
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        names = set(archive.namelist())
        if "content.xml" in names:
            scan = OpenDocument()
            scan.read(archive.read("content.xml"))
            return scan.sheets
        if "xl/workbook.xml" not in names:
            return {}
        return spreadsheet_marks(
            {name: archive.read(name) for name in names if name.endswith((".xml", ".rels"))}
        )


def old_marks(raw: bytes, names: list[str]) -> dict[str, Marks]:
    """Return the marks of each sheet of an .xls workbook, by the sheet's name."""
    sys.path.append(str(Path(__file__).parent))
    import old_workbook

    sheets = old_workbook.old_sheets(raw)
    return (
        {
            name: Marks(one.visible, one.unsaved, one.errors, one.hidden)
            for name, one in zip(names, sheets, strict=True)
        }
        if len(sheets) == len(names)
        else {}
    )


def spreadsheet_marks(parts: dict[str, bytes]) -> dict[str, Marks]:
    """Return the marks of each sheet of a workbook, from its parts."""
    book, links = Elements(), Elements()
    book.read(parts["xl/workbook.xml"])
    links.read(parts.get("xl/_rels/workbook.xml.rels", b"<none/>"))
    targets = {link.get("Id"): link.get("Target", "") for link in links.found("Relationship")}
    anew = any(settings.get("fullCalcOnLoad") in TRUE for settings in book.found("calcPr"))
    struck = struck_styles(parts.get("xl/styles.xml", b"<none/>"))
    marks = {}
    for sheet in book.found("sheet"):
        path = part_at("xl", targets.get(sheet.get("id"), ""))
        content = parts.get(path, b"")
        scan = SheetXml(anew, struck)
        if content and (struck or WORTH_A_LOOK.search(content)):
            scan.read(content)
        scan.marks.visible = sheet.get("state", "visible") == "visible"
        scan.marks.comments = comments_of(path, parts)
        marks[sheet.get("name", "")] = scan.marks
    return marks


def part_at(folder: str, target: str) -> str:
    """Return the path of a part of a workbook that a part in ``folder`` links to."""
    return posixpath.normpath(posixpath.join("/", folder, target)).lstrip("/")


def comments_of(path: str, parts: dict[str, bytes]) -> list[tuple[int, int]]:
    """Return the cells of a sheet at ``path`` that somebody has written a comment on."""
    folder, _, name = path.rpartition("/")
    links, found = Elements(), Elements()
    links.read(parts.get(f"{folder}/_rels/{name}.rels", b"<none/>"))
    for link in links.found("Relationship"):
        if link.get("Type", "").endswith("/comments"):
            found.read(parts.get(part_at(folder, link.get("Target", "")), b"<none/>"))
    cells = [comment.get("ref", "") for comment in found.found("comment")]
    return [(int(row[0]) - 1, column_of(cell)) for cell in cells if (row := DIGITS.findall(cell))]


def struck_styles(content: bytes) -> frozenset[str]:
    """Return the numbers of the cell styles whose font is struck through."""
    styles = Styles()
    styles.read(content)
    return frozenset(
        str(place) for place, font in enumerate(styles.cell_fonts) if font in styles.struck
    )


class Xml:
    """Walks through a text of XML; names come without their namespaces."""

    def read(self, content: bytes) -> None:
        """Read it; malformed XML raises ``expat.ExpatError``, a document type a ValueError."""
        parser = expat.ParserCreate(namespace_separator=" ")
        parser.buffer_text = True
        parser.StartElementHandler = self._start
        parser.EndElementHandler = lambda name: self.end(name.rpartition(" ")[2])
        parser.CharacterDataHandler = self.text
        parser.StartDoctypeDeclHandler = self._refuse
        parser.Parse(content, True)

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self.start(
            name.rpartition(" ")[2],
            {key.rpartition(" ")[2]: value for key, value in attributes.items()},
        )

    def _refuse(self, *_: object) -> None:
        raise ValueError("its XML has a document type, which no spreadsheet writes")

    def start(self, name: str, given: dict[str, str]) -> None:
        """Take note of an element that begins."""

    def end(self, name: str) -> None:
        """Take note of an element that ends."""

    def text(self, text: str) -> None:
        """Take note of text."""


class Elements(Xml):
    """All elements of a small part, in order."""

    def __init__(self) -> None:
        self.all: list[tuple[str, dict[str, str]]] = []

    def start(self, name: str, given: dict[str, str]) -> None:
        """Keep the element."""
        self.all.append((name, given))

    def found(self, name: str) -> list[dict[str, str]]:
        """Return the attributes of all elements of a name."""
        return [given for own, given in self.all if own == name]


class Styles(Xml):
    """Which fonts are struck through, and the font of each cell style."""

    def __init__(self) -> None:
        self.place, self.fonts = "", -1
        self.struck: set[int] = set()
        self.cell_fonts: list[int] = []

    def start(self, name: str, given: dict[str, str]) -> None:
        """Count fonts and cell styles."""
        if name in ("fonts", "cellXfs", "cellStyleXfs", "dxfs"):
            self.place = name
        elif name == "font" and self.place == "fonts":
            self.fonts += 1
        elif name == "strike" and self.place == "fonts" and given.get("val", "1") in TRUE:
            self.struck.add(self.fonts)
        elif name == "xf" and self.place == "cellXfs":
            self.cell_fonts.append(int(given.get("fontId", 0)))


class SheetXml(Xml):
    """The cells of one sheet of an .xlsx workbook."""

    def __init__(self, anew: bool, struck_styles: frozenset[str]) -> None:
        self.marks, self.anew, self.struck_styles = Marks(), anew, struck_styles
        self.row, self.column, self.inside = -1, -1, ""
        self.given: dict[str, str] = {}
        self.texts: dict[str, str] = {}
        self.filled, self.struck = 0, list[int]()

    def start(self, name: str, given: dict[str, str]) -> None:
        """Begin a row or a cell, or a formula or a value inside a cell."""
        if name == "row":
            self.row = int(given["r"]) - 1 if "r" in given else self.row + 1
            self.column, self.filled, self.struck = -1, 0, []
            if given.get("hidden") in TRUE:
                self.marks.hidden.add(self.row)
        elif name == "c":
            self.column = column_of(given["r"]) if "r" in given else self.column + 1
            self.given, self.texts = given, {}
        elif name in ("f", "v", "t"):
            self.inside = name
            self.texts.setdefault(name, "")

    def text(self, text: str) -> None:
        """Add to the formula or the value."""
        if self.inside:
            self.texts[self.inside] += text

    def end(self, name: str) -> None:
        """Judge a cell when it ends, and a row."""
        if name in ("f", "v", "t"):
            self.inside = ""
        elif name == "c":
            self.judge()
        elif name == "row":
            self.marks.row_ends(self.row, self.filled, self.struck)

    def judge(self) -> None:
        """Take note of a formula without a value, of an error, and of a filled cell that is struck
        through.
        """
        formula, value = self.texts.get("f"), self.texts.get("v", "")
        kind, place = self.given.get("t", "n"), (self.row, self.column)
        if kind == "e":
            self.marks.errors[place] = value or "#ERROR"
        elif formula is not None and kind != "str" and (not value or (self.anew and value == "0")):
            self.marks.unsaved[place] = f"={formula}"
        if value or self.texts.get("t") or formula is not None:
            self.filled += 1
            if self.given.get("s", "0") in self.struck_styles:
                self.struck.append(self.column)


class OpenDocument(Xml):
    """The cells of all sheets of an .ods workbook."""

    def __init__(self) -> None:
        self.sheets: dict[str, Marks] = {}
        self.marks = Marks()
        self.style = ""
        self.struck_styles: set[str] = set()
        self.hidden_tables: set[str] = set()
        self.row = self.column = self.rows = self.columns = 0
        self.given: dict[str, str] = {}
        self.shown: str | None = None
        self.filled, self.struck = 0, list[int]()

    def start(self, name: str, given: dict[str, str]) -> None:
        """Begin a style, a sheet, a row or a cell."""
        if name == "style":
            self.style = given.get("name", "")
        elif name == "text-properties" and given.get("text-line-through-style", "none") != "none":
            self.struck_styles.add(self.style)
        elif name == "table-properties" and given.get("display") == "false":
            self.hidden_tables.add(self.style)
        elif name == "table":
            self.marks = self.sheets.setdefault(given.get("name", ""), Marks())
            self.marks.visible = given.get("style-name") not in self.hidden_tables
            self.row = 0
        elif name == "table-row":
            self.rows = int(given.get("number-rows-repeated", 1))
            self.column, self.filled, self.struck = 0, 0, []
            self.hide = given.get("visibility", "visible") != "visible"
        elif name == "annotation":
            self.marks.comments.append((self.row, self.column))
        elif name in ("table-cell", "covered-table-cell"):
            self.columns, self.given, self.shown = (
                int(given.get("number-columns-repeated", 1)),
                given,
                "",
            )

    def text(self, text: str) -> None:
        """Add to what a cell shows."""
        if self.shown is not None:
            self.shown += text

    def end(self, name: str) -> None:
        """Judge a cell when it ends, and a row."""
        if name in ("table-cell", "covered-table-cell"):
            self.judge((self.shown or "").strip())
            self.column, self.shown = self.column + self.columns, None
        elif name == "table-row":
            if self.filled and self.hide:
                self.marks.hidden.add(self.row)
            self.marks.row_ends(self.row, self.filled, self.struck)
            self.row += self.rows

    def judge(self, shown: str) -> None:
        """Take note of a formula without a value, of an error, and of a filled cell that is struck
        through.
        """
        formula, place = self.given.get("formula"), (self.row, self.column)
        if shown.startswith("Err:") or (
            shown.startswith("#") and (formula or self.given.get("value-type") == "error")
        ):
            self.marks.errors[place] = shown
        elif formula and not shown and "value-type" not in self.given:
            self.marks.unsaved[place] = "=" + formula.rpartition("=")[2]
        if shown or formula:
            self.filled += 1
            if self.given.get("style-name") in self.struck_styles:
                self.struck.append(self.column)


def column_of(reference: str) -> int:
    """Return the column of a cell such as "C2", from 0."""
    column = 0
    for letter in reference:
        if not letter.isalpha():
            break
        column = 26 * column + ord(letter.upper()) - 64
    return column - 1


def main() -> int:
    """Read, convert and write; return the exit code."""
    limit_resources()
    import python_calamine

    try:
        raw = sys.stdin.buffer.read()
        workbook = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(raw))
        marks = all_marks(raw) or old_marks(raw, workbook.sheet_names)
        sheets = [
            sheet_data(workbook.get_sheet_by_name(name), marks.get(name, Marks()))
            for name in workbook.sheet_names
        ]
    except BaseException as problem:  # the reader's own panics are no Exception
        print(str(problem)[:300], file=sys.stderr)
        return ENCRYPTED if type(problem).__name__ == "PasswordError" else BROKEN
    sys.stdout.write(json.dumps(sheets))
    return 0


if __name__ == "__main__":
    sys.exit(main())
