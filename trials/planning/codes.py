"""Blind codes: three digits that say nothing, and of which no slip of the pen makes another."""

from __future__ import annotations

from itertools import pairwise, permutations

import numpy as np

CHECK = 11
MOST_OF_THREE = 50  # at least 52 codes of three digits have any one remainder


def blind_codes(rng: np.random.Generator, n: int) -> list[str]:
    """Return n codes in an order drawn by lot.

    Digits a, b, c with a + 2b + 3c ≡ r (mod 11), r drawn: weights and their differences are no
    multiples of 11, so that one wrong digit, or two neighbours exchanged, gives no other code. The
    digits differ, the first is not 0, and none runs up or down (123, 321). Above 50 loaves there
    are four digits or more.
    """
    width = 3
    remainder = int(rng.integers(CHECK))
    codes = all_codes(width, remainder)
    while n > (MOST_OF_THREE if width == 3 else len(codes)):
        width += 1
        codes = all_codes(width, remainder)
    chosen = rng.permutation(len(codes))[:n]
    return [codes[i] for i in chosen]


def all_codes(width: int, remainder: int) -> list[str]:
    """Return every code of so many digits with this remainder, in order."""
    found = []
    for digits in permutations(range(10), width):
        steps = {b - a for a, b in pairwise(digits)}
        checked = sum(place * digit for place, digit in enumerate(digits, 1)) % CHECK
        if digits[0] and steps not in ({1}, {-1}) and checked == remainder:
            found.append("".join(map(str, digits)))
    return found
