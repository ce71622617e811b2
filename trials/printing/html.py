"""The report as one page: no script, nothing from outside, and no word of the records is ever
markup.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from markupsafe import Markup

from ..words.characters import readable
from ..words.numbers import NumberStyle
from .document import Block, Report

HERE = Path(__file__).parent


def html_page(report: Report, mark: str) -> bytes:
    """Return the page in UTF-8; ``mark`` says which program and version made it."""
    css = (HERE / "page.css").read_text("utf-8")
    page = page_template().render(report=report, style=report.style, css=css, mark=mark)
    return page.encode("utf-8")


def page_template() -> Template:
    """Return what is filled to make a page; read once, which takes longer than filling it."""
    return _rooms().get_template("page.html")


def html_blocks(blocks: Iterable[Block], style: NumberStyle) -> str:
    """Return blocks as a piece of HTML, for a notebook."""
    macro = _rooms().get_template("blocks.html").module.block  # type: ignore[attr-defined]
    return "\n".join(str(macro(block, style)) for block in blocks)


@cache
def _rooms() -> Environment:
    """Return where templates come from, and how words are kept from being markup; made once."""
    rooms = Environment(
        loader=FileSystemLoader(HERE, "utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        finalize=_safe,
    )
    # only our own style sheet and drawn pictures come through here
    rooms.filters["own"] = Markup
    return rooms


def _safe(value: object) -> object:
    return value if isinstance(value, Markup) else readable(value)
