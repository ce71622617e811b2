"""The report on paper: a tagged PDF, set by typst in this process. Words go in as data, never as
markup.
"""

from __future__ import annotations

import json
import re
from dataclasses import asdict
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from ..words.characters import readable
from .document import Block, Report, Table

HERE = Path(__file__).parent
# DejaVu Sans, in which the pictures are drawn: found where it lies, as loading what draws is slow
DRAWS = find_spec("matplotlib")
FONTS = Path(DRAWS.origin if DRAWS and DRAWS.origin else "").parent / "mpl-data" / "fonts" / "ttf"
# Sizes of the letters (points) that are tried, the largest first, and the most pages that a reader
# is given.
SIZES = {
    "class": ((12.0, 11.4, 10.8, 10.2, 9.6, 9.0, 8.6), 1),
    "wall": ((19.0, 17.5, 16.0, 14.5, 13.0, 11.5, 10.0, 8.6), 1),
    "bakery": ((10.0, 9.4, 8.8, 8.2), 2),
    "record": (
        (9.0, 8.7, 8.4),
        1,
    ),  # never one page: the letters that leave no last page half empty
}
_PAGE = re.compile(rb"/Type\s*/Page\b(?!s)")
KEYWORDS = ("bake trial", "fairloaf report")


def pdf_pages(report: Report, mark: str) -> bytes:
    """Return the PDF; it holds no date, and the same report gives the same bytes."""
    data = {
        "title": report.title,
        "kicker": report.kicker,
        "facts": report.facts,
        "audience": report.audience,
        "language": report.style.language.partition("-")[0],
        "mark": mark,
        "keywords": KEYWORDS,
        "imprint": report.imprint,
        "sections": [
            {
                "id": s.id,
                "heading": s.heading,
                "blocks": [_block(block, report) for block in s.blocks],
            }
            for s in report.sections
        ],
    }
    words = json.dumps(readable(data))
    sizes, most = SIZES[report.audience]
    best, fewest = b"", 10**6  # what cannot be fitted has the largest letters on as few pages
    for size in sizes:
        made = _set(words, size)
        pages = len(_PAGE.findall(made))
        if pages < fewest:
            best, fewest = made, pages
        if pages <= most:
            break
    return best


def _set(words: str, size: float) -> bytes:
    import typst

    made: bytes = typst.compile(
        str(HERE / "page.typ"),
        sys_inputs={"report": words, "size": f"{size}"},
        font_paths=[str(FONTS)],
        ignore_system_fonts=True,
        pdf_standards=["ua-1"],
    )
    return made


def _block(block: Block, report: Report) -> dict[str, Any]:
    data = asdict(block)
    if isinstance(block, Table):
        data["rows"] = block.texts(report.style)
    return data
