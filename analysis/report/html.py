"""The report as one page: no script, nothing from outside, and no word of the records is ever markup."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from .document import Report

HERE = Path(__file__).parent
# What HTML does not allow in a text, and signs that turn the direction of writing round for what follows.
_UNSAFE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufffe\uffff\ud800-\udfff]")


def html_page(report: Report, mark: str) -> bytes:
    """Return the page in UTF-8; ``mark`` says which program and version made it."""
    rooms = Environment(loader=FileSystemLoader(HERE, "utf-8"), autoescape=True, undefined=StrictUndefined,
                        trim_blocks=True, finalize=_safe)
    rooms.filters["own"] = Markup      # only our own style sheet and drawn pictures come through here
    css = (HERE / "page.css").read_text("utf-8")
    page = rooms.get_template("page.html").render(report=report, style=report.style, css=css, mark=mark)
    return page.encode("utf-8")


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
