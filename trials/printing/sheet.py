"""A printed sheet to work from: what stands on it, before it is a PDF. Its words come ready from
whoever makes it.
"""

from __future__ import annotations

from typing import Literal

from ..frozen import frozen
from .paper import ROW_MM

ColumnKind = Literal["text", "strong", "code", "write", "tick"]


@frozen
class SheetColumn:
    """One column of a grid. ``width_mm`` None shares what is left; codes are large, "write" and
    "tick" stay empty. ``coded`` : its heading is a code, and large.
    """

    heading: str
    kind: ColumnKind = "text"
    width_mm: float | None = None
    note: str = ""
    coded: bool = False


@frozen
class Grid:
    """A table with ruled cells; its header is repeated on every page and no row is divided.

    A cell is a text, or several lines of (words, codes): the words small, the codes large.
    """

    columns: tuple[SheetColumn, ...]
    rows: tuple[tuple[str | tuple[tuple[str, str], ...], ...], ...]
    row_mm: float = ROW_MM
    kind: Literal["grid"] = "grid"


@frozen
class Words:
    """A paragraph; "head" is a heading, "caution" stands apart."""

    text: str
    role: Literal["plain", "head", "caution", "large"] = "plain"
    kind: Literal["words"] = "words"


@frozen
class Blanks:
    """Boxes to write in, each with its words before it."""

    labels: tuple[str, ...]
    width_mm: float = 30.0
    kind: Literal["blanks"] = "blanks"


@frozen
class Labels:
    """Labels to cut out: a large code with a small word below it."""

    labels: tuple[tuple[str, str], ...]
    kind: Literal["labels"] = "labels"


Block = Grid | Words | Blanks | Labels


@frozen
class Part:
    """What begins on a page of its own, with what its pages are headed by, such as the day."""

    heading: str
    blocks: tuple[Block, ...]


@frozen
class Sheet:
    """One file to print.

    ``kind`` names the sheet and ``mark`` the plan that it belongs to; both stand on every page.
    ``title`` is empty where the sheet must not say what the trial is about.
    """

    kind: str
    mark: str
    parts: tuple[Part, ...]
    title: str = ""
    language: str = "en"
    words_of_page: str = "page {page} of {pages}"
