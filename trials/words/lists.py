"""How a list, a count with its noun, and lines of a file are said: here and nowhere else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

MOST_LINES = 10  # named one by one


def listed(words: Sequence[str], joint: str = "and", more: int = 0) -> str:
    """Return words as a sentence lists them: ``a``, ``a and b``, ``a, b and c``, ``a, b and 4
    more``.
    """
    *first, last = [*words, f"{more} more"] if more else words
    return f"{', '.join(first)} {joint} {last}" if first else last


def counted(n: int, one: str, many: str = "") -> str:
    """Return a count with its noun: ``1 loaf``, ``3 loaves``; ``many`` is ``one`` with an s where
    it is not given.
    """
    return f"{n} {one if n == 1 else many or f'{one}s'}"


def on_lines(lines: Sequence[int] | np.ndarray | pd.Series, most: int = MOST_LINES) -> str:
    """Return line numbers as a sentence names them: ``line 4``, ``lines 4, 7 and 180 more``."""
    shown = [str(int(line)) for line in lines[:most]]
    return f"{'line' if len(lines) == 1 else 'lines'} {listed(shown, more=len(lines) - len(shown))}"


def capital(words: str) -> str:
    """Return words with a capital letter in front; nothing else changes."""
    return words[:1].upper() + words[1:]
