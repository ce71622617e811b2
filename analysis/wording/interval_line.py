"""The interval against the zones as one line of text, for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...trials.words.numbers import NumberStyle, number

if TYPE_CHECKING:
    from ..comparison.result import Comparison

WIDTH = 49
BACKGROUND, ZONE, BAR, LEFT, RIGHT, MIDDLE, NONE = "·░━┣┫●0"


def interval_line(c: Comparison, places: int, style: NumberStyle) -> str:
    """Return the line: ``┣━●━┫`` the likely range, ``░`` differences too small to matter, ``0``
    none at all.
    """
    matters = c.matters or 0.0
    low, high = min(c.ci_low, -matters, 0.0), max(c.ci_high, matters, 0.0)

    def column(value: float) -> int:
        return round((value - low) / (high - low) * (WIDTH - 1))

    cells = [BACKGROUND] * WIDTH
    if matters:
        _fill(cells, ZONE, column(-matters), column(matters))
    _fill(cells, BAR, column(c.ci_low), column(c.ci_high))
    cells[column(0.0)] = NONE
    cells[column(c.ci_low)], cells[column(c.ci_high)], cells[column(c.difference)] = (
        LEFT,
        RIGHT,
        MIDDLE,
    )
    ends = [number(value, places, style) for value in (low, high)]
    zone = f"   {ZONE} too small to matter" if matters else ""
    return f"{ends[0]} {''.join(cells)} {ends[1]} {c.unit}".rstrip() + zone


def _fill(cells: list[str], mark: str, first: int, last: int) -> None:
    cells[first : last + 1] = [mark] * (last + 1 - first)
