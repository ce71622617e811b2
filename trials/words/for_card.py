"""Names and levels as they stand on a card (TOML)."""

from __future__ import annotations

import re
from collections.abc import Iterable


def toml_text(text: str) -> str:
    """Return a text as it stands between double quotes."""
    plain = "".join(letter for letter in text if letter.isprintable())
    return plain.replace("\\", "\\\\").replace('"', '\\"')


def in_quotes(text: str) -> str:
    """Return a text as a value."""
    return f'"{toml_text(text)}"'


def key(name: str) -> str:
    """Return a name as it stands before the sign of equality."""
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else in_quotes(name)


def level(value: object) -> str:
    """Return one level of a factor: a number, or a name in quotes."""
    return f"{value:g}" if isinstance(value, float) else in_quotes(str(value))


def factor_line(name: str, levels: Iterable[object]) -> str:
    """Return a factor with its levels, as it stands under [factors]."""
    return f"{key(name)} = [{', '.join(map(level, levels))}]"
