"""Characters that no page, picture or workbook may hold, whatever a record holds."""

from __future__ import annotations

import re
import unicodedata
from typing import Any

# What XML and HTML do not allow in a text, and signs that turn the direction of writing round for
# what follows.
_UNSAFE = "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ufffe\uffff\ud800-\udfff]"
REPLACEMENT = "\ufffd"


def readable(value: Any) -> Any:
    """Return texts, and lists and dicts of them, with a sign in place of such characters."""
    if isinstance(value, str):
        return re.sub(_UNSAFE, REPLACEMENT, value)
    if isinstance(value, dict):
        return {key: readable(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [readable(item) for item in value]
    return value


def visible(text: str) -> str:
    """Return text for a terminal: whatever could move the cursor or turn the writing round is shown
    as a sign.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        sign if sign in "\n\t" or unicodedata.category(sign)[0] != "C" else REPLACEMENT
        for sign in text
    )
