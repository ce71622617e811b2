"""The report as one page: no script, nothing from outside, and no word of the records is ever markup."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from ..wording.numbers import ENGLISH, NumberStyle
from .document import Block, Report

HERE = Path(__file__).parent
# What HTML does not allow in a text, and signs that turn the direction of writing round for what follows.
_UNSAFE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufffe\uffff\ud800-\udfff]")


def html_page(report: Report, mark: str) -> bytes:
    """Return the page in UTF-8; ``mark`` says which program and version made it."""
    css = (HERE / "page.css").read_text("utf-8")
    page = _rooms().get_template("page.html").render(report=report, style=report.style, css=css, mark=mark)
    return page.encode("utf-8")


def html_blocks(blocks: Iterable[Block], style: NumberStyle = ENGLISH) -> str:
    """Return blocks as a piece of HTML, for a notebook."""
    macro = _rooms().get_template("blocks.html").module.block  # type: ignore[attr-defined]
    return "\n".join(str(macro(block, style)) for block in blocks)


def _rooms() -> Environment:
    """Return where templates come from, and how words are kept from being markup."""
    rooms = Environment(loader=FileSystemLoader(HERE, "utf-8"), autoescape=True, undefined=StrictUndefined,
                        trim_blocks=True, finalize=_safe)
    rooms.filters["own"] = Markup      # only our own style sheet and drawn pictures come through here
    return rooms


def _safe(value: object) -> object:
    return value if isinstance(value, Markup) else readable(value)


def readable(value: Any) -> Any:
    """Return texts, and lists and dicts of them, with a sign in place of characters that no page may hold."""
    if isinstance(value, str):
        return _UNSAFE.sub("�", value)
    if isinstance(value, dict):
        return {key: readable(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [readable(item) for item in value]
    return value
