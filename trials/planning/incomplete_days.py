"""Balanced incomplete days: every two formulas meet on a day equally often, by construction and not
by search.

Sources: Cochran & Cox 1957, Experimental Designs, ch. 11; cyclic difference sets: Bose 1939, Ann.
Eugenics 9: 353-399.
"""

from __future__ import annotations

from itertools import combinations
from math import comb

# (formulas, mixes a day) → the first day; the others follow by adding 1, modulo the formulas
CYCLIC = {(7, 3): (0, 1, 3), (7, 4): (2, 4, 5, 6), (11, 5): (1, 3, 4, 5, 9), (13, 4): (0, 1, 3, 9)}
LISTED = {
    (6, 3): ("012", "013", "024", "035", "045", "125", "134", "145", "234", "235"),
    (9, 3): ("012", "345", "678", "036", "147", "258", "048", "156", "237", "057", "138", "246"),
}


def incomplete_days(formulas: int, mixes: int, days: int) -> list[tuple[int, ...]] | None:
    """Return which formulas each day has, balanced; None where no construction here fits so many
    days.

    The smallest construction is repeated while it divides the days.
    """
    if not 2 <= mixes < formulas:
        return None
    base = _smallest(formulas, mixes, days)
    return base * (days // len(base)) if base and days % len(base) == 0 else None


def _smallest(formulas: int, mixes: int, most: int) -> list[tuple[int, ...]] | None:
    if (formulas, mixes) in CYCLIC:
        first = CYCLIC[formulas, mixes]
        return [tuple(sorted((one + step) % formulas for one in first)) for step in range(formulas)]
    if (formulas, mixes) in LISTED:
        return [tuple(map(int, day)) for day in LISTED[formulas, mixes]]
    if comb(formulas, mixes) <= most:
        return list(combinations(range(formulas), mixes))
    return None
