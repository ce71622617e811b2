"""Two-level factorials and regular fractions of least aberration, and how they are put into days.

A word is a set of factors, written as a whole number with a bit a factor; multiplying effects is
``^``. Sources: Box & Hunter 1961, Technometrics 3: 311-351; Fries & Hunter 1980, Technometrics 22:
601-608 (least aberration); Montgomery, Design and Analysis of Experiments, ch. 7 (blocks).
"""

from __future__ import annotations

from functools import reduce
from itertools import combinations

import numpy as np

from ..frozen import frozen

MOST_FACTORS, MOST_MIXES = 7, 16  # beyond these a layout is chosen by exchange
# generators, in the order they are used
PUBLISHED = ("AB", "AC", "BC", "ABC", "BCD", "ACD", "ABD", "ABCD")
# (factors, days) of full factorials
PUBLISHED_DAYS = {(4, 4): ("ABD", "ACD"), (5, 4): ("ABC", "CDE")}


@frozen
class TwoLevel:
    """A two-level layout in days.

    signs (mixes, factors) : −1 or 1; day (mixes,) : its number; defining : words that are constant,
    the identity left out; days : words that are constant within days, times every defining word,
    the identity left out
    """

    signs: np.ndarray
    day: np.ndarray
    defining: tuple[int, ...]
    days: tuple[int, ...]


def two_level(factors: int, mixes: int, days: int) -> TwoLevel | None:
    """Return the layout of so many mixes in days, main effects clear of the days; None where there
    is none.

    ``mixes`` and ``days`` are powers of two. More mixes than the full factorial has repeat it, with
    the same words in days.
    """
    basic = min(mixes.bit_length() - 1, factors)
    if factors > basic and (factors > MOST_FACTORS or mixes > MOST_MIXES):
        return None
    generators = least_aberration(factors, basic)
    if generators is None:
        return None
    defining = products(tuple(g | 1 << basic + i for i, g in enumerate(generators)))
    repeats = mixes // 2**basic
    inside = max(days // repeats, 1)
    day_words = words_for_days(factors, basic, inside, defining)
    if day_words is None:
        return None
    runs = np.arange(2**basic)
    base = 1 - 2 * ((runs[:, None] >> np.arange(basic)) & 1)
    signs = np.column_stack([base, *(_column(base, g) for g in generators)]) if generators else base
    day = np.zeros(len(runs), dtype=np.int64)
    for bit, word in enumerate(day_words):
        day += (_column(signs, word) < 0) << bit
    repeated = np.concatenate([day + inside * (r % max(days // inside, 1)) for r in range(repeats)])
    tied = products(day_words)
    return TwoLevel(
        np.tile(signs, (repeats, 1)),
        repeated,
        defining,
        tuple(sorted({word ^ one for word in tied for one in (0, *defining)})),
    )


def least_aberration(factors: int, basic: int) -> tuple[int, ...] | None:
    """Return the generators of the other factors, as words of the first ``basic``, or None where
    there are too few.

    Least aberration: fewest words of length 3, then 4, …; among equals the published generators.
    """
    extra = factors - basic
    published = [word_of(letters) for letters in PUBLISHED]
    others = [w for w in range(1, 2**basic) if w.bit_count() > 1 and w not in published]
    candidates = [w for w in published if w < 2**basic] + others
    if extra > len(candidates):
        return None
    best, least = None, None
    for chosen in combinations(candidates, extra):
        words = products(tuple(g | 1 << basic + i for i, g in enumerate(chosen)))
        lengths = [word.bit_count() for word in words]
        pattern = [lengths.count(n) for n in range(3, factors + 1)]
        if least is None or pattern < least:
            best, least = chosen, pattern
    return best


def words_for_days(
    factors: int, basic: int, days: int, defining: tuple[int, ...]
) -> tuple[int, ...] | None:
    """Return words that split the mixes into days: none a main effect, then fewest pairs, then of
    highest order.
    """
    wanted = days.bit_length() - 1
    published = () if defining else tuple(map(word_of, PUBLISHED_DAYS.get((factors, days), ())))
    shortest = {w: min((w ^ d).bit_count() for d in (0, *defining)) for w in range(2**basic)}
    best, least = None, None
    for chosen in (*([published] if published else []), *combinations(range(1, 2**basic), wanted)):
        spent = [shortest[w] for w in products(chosen)]
        if 0 in products(chosen) or 1 in spent:
            continue
        pattern = [spent.count(n) for n in range(2, factors + 1)]
        if least is None or pattern < least:
            best, least = chosen, pattern
    return best


def word_of(letters: str) -> int:
    """Return the word written with letters, A for the first factor."""
    return sum(1 << "ABCDEFG".index(letter) for letter in letters)


def products(words: tuple[int, ...]) -> tuple[int, ...]:
    """Return every product of one or more of the words."""
    return tuple(
        reduce(int.__xor__, some)
        for n in range(1, len(words) + 1)
        for some in combinations(words, n)
    )


def _column(signs: np.ndarray, word: int) -> np.ndarray:
    """Return the product of the columns in a word."""
    chosen = [bit for bit in range(signs.shape[1]) if word >> bit & 1]
    return signs[:, chosen].prod(axis=1)


def ties_of(layout: TwoLevel, factors: int) -> list[list[int]]:
    """Return the groups of main effects and pairs that cannot be told apart; the day is the word 0.

    Each group in the order main effects, pairs, the day.
    """
    effects = [w for w in sorted(range(1, 2**factors), key=_by_length) if w.bit_count() <= 2]
    groups: dict[int, list[int]] = {}
    for word in effects:
        groups.setdefault(min((word ^ d) for d in (0, *layout.defining)), []).append(word)
    tied = [group + ([0] if group[0] in layout.days else []) for group in groups.values()]
    return [group for group in tied if len(group) > 1]


def _by_length(word: int) -> tuple[int, list[int]]:
    return word.bit_count(), [bit for bit in range(word.bit_length()) if word >> bit & 1]
