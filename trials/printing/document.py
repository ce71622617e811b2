"""What a report is made of, before it is a page, a PDF or a workbook: sections of a few kinds of
block.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from ..frozen import frozen
from ..words.numbers import NumberStyle, number

Role = Literal["plain", "lead", "small", "caution"]


@frozen
class Rounded:
    """A number that is written with its own decimals, where the rows of a column differ in unit."""

    value: float
    places: int


Cell = str | float | int | Rounded | None


@frozen
class Text:
    """One paragraph. ``lead`` is larger, ``small`` smaller, ``caution`` stands apart."""

    words: str
    role: Role = "plain"
    kind: Literal["text"] = "text"


@frozen
class Points:
    """A list of short sentences."""

    items: tuple[str, ...]
    kind: Literal["points"] = "points"


@frozen
class Answer:
    """The answer in one sentence, its verdict and what the verdict means; ``ladder`` names every
    verdict.

    others : the rest of the question, a sentence each; numbers : each bread with its mean
    """

    sentence: str
    verdict: str
    meaning: str
    ladder: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    numbers: tuple[tuple[str, str], ...] = ()
    kind: Literal["answer"] = "answer"


@frozen
class Shown:
    """A picture as SVG, with the sentence that says what it shows and a caption."""

    svg: str
    alt: str
    caption: str = ""
    kind: Literal["shown"] = "shown"


@frozen
class Terms:
    """Words and their meanings."""

    pairs: tuple[tuple[str, str], ...]
    kind: Literal["terms"] = "terms"


@frozen
class Column:
    """One column of a table.

    ``places`` are decimals for people, None writes three significant digits; a number above zero
    that these would show as zero is written as less than their last step.
    """

    name: str
    is_number: bool = False
    unit: str = ""
    places: int | None = None

    @property
    def heading(self) -> str:
        """Return the name with its unit."""
        return f"{self.name} ({self.unit})" if self.unit else self.name


@frozen
class Table:
    """A table with a caption. Rows hold numbers at full precision; the first column names the
    row.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]
    sheet: str = ""
    kind: Literal["table"] = "table"

    def texts(self, style: NumberStyle) -> list[list[str]]:
        """Return the cells as a person reads them."""
        return [
            [cell_text(cell, column, style) for cell, column in zip(row, self.columns, strict=True)]
            for row in self.rows
        ]

    def letters(self, style: NumberStyle) -> int:
        """Return about how many letters wide the table is where every line is broken that can be:
        the longest word of each column and room between them.
        """
        columns = zip(*self.texts(style), strict=True) if self.rows else [()] * len(self.columns)
        widest = 0
        for column, cells in zip(self.columns, columns, strict=True):
            words = [*column.heading.split(), *(w for cell in cells for w in cell.split())]
            whole = cells if column.is_number else ()
            widest += max(map(len, (*words, *whole)), default=0) + 2
        return widest


Block = Text | Points | Answer | Shown | Terms | Table


@frozen
class Section:
    """A heading and what stands under it."""

    id: str
    heading: str
    blocks: tuple[Block, ...]


@frozen
class Report:
    """A whole report: ``kicker`` stands above the title, ``facts`` under it, ``imprint`` at the
    end; ``beside`` are tables that a workbook has room for and the page has not;
    ``scrolls`` is said above a table that is wider than the screen.
    """

    title: str
    kicker: str
    facts: str
    audience: str
    sections: tuple[Section, ...]
    imprint: tuple[str, ...]
    style: NumberStyle
    beside: tuple[Table, ...] = ()
    scrolls: str = ""

    def pictures(self) -> Iterator[tuple[Section, Shown]]:
        """Return every picture with its section, in order."""
        for section in self.sections:
            for block in section.blocks:
                if isinstance(block, Shown):
                    yield section, block

    def tables(self) -> Iterator[tuple[Section, Table]]:
        """Return every table with its section, in order."""
        for section in self.sections:
            for block in section.blocks:
                if isinstance(block, Table):
                    yield section, block


def cell_text(cell: Cell, column: Column, style: NumberStyle) -> str:
    """Return one cell as text; what is missing is a dash."""
    value, places = (
        (cell.value, cell.places) if isinstance(cell, Rounded) else (cell, column.places)
    )
    if isinstance(value, str):
        return value or "–"
    if value is None or not math.isfinite(value):
        return "–"
    if places and 0 < value < 0.5 * 10**-places:
        return f"< {number(10**-places, places, style)}"
    return number(float(value), places, style)
