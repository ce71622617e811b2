"""The report on paper: a tagged PDF, set by typst in this process. Words go in as data, never as markup."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import Any

import matplotlib

from .document import Block, Report, Table
from .html import readable

HERE = Path(__file__).parent
FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"   # DejaVu Sans, in which the pictures are drawn
KEYWORDS = ("bake trial", "fairloaf report")


def pdf_pages(report: Report, mark: str) -> bytes:
    """Return the PDF; it holds no date, and the same report gives the same bytes."""
    import typst

    data = {
        "title": report.title, "kicker": report.kicker, "facts": report.facts, "audience": report.audience,
        "language": report.style.language.partition("-")[0], "mark": mark, "keywords": KEYWORDS,
        "imprint": report.imprint,
        "sections": [{"heading": section.heading, "blocks": [_block(block, report) for block in section.blocks]}
                     for section in report.sections],
    }
    made: bytes = typst.compile(
        str(HERE / "page.typ"), sys_inputs={"report": json.dumps(readable(data))},
        font_paths=[str(FONTS)], ignore_system_fonts=True, pdf_standards=["ua-1"],
    )
    return made


def _block(block: Block, report: Report) -> dict[str, Any]:
    data = asdict(block)
    if isinstance(block, Table):
        data["rows"] = block.texts(report.style)
    return data
