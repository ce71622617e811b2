"""Where a function of one number passes zero, and where it is lowest: without waiting for a
library, which takes longer to load than a trial to analyse.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from math import sqrt

MOST_STEPS = 100
GOLDEN = (sqrt(5) - 1) / 2


def root(f: Callable[[float], float], low: float, high: float, xtol: float = 1e-12) -> float:
    """Return an x between ``low`` and ``high`` where ``f``, of other signs at the two, is zero.

    xtol : how close to it, in parts of x (or of one, where x is smaller).
    Raises ValueError where ``f`` has one sign at both ends.

    Source: Ridders 1979, IEEE Transactions on Circuits and Systems 26, 979–980.
    """
    at_low, at_high = f(low), f(high)
    if at_low == 0 or at_high == 0:
        return low if at_low == 0 else high
    if (at_low > 0) == (at_high > 0):
        raise ValueError(f"f has one sign at {low} and {high}")
    x = low
    for _ in range(MOST_STEPS):
        middle = (low + high) / 2
        at_middle = f(middle)
        if at_middle == 0:
            return middle
        before = x
        curve = sqrt(at_middle * at_middle - at_low * at_high)
        toward = at_middle if at_low > 0 else -at_middle
        x = middle + (middle - low) * toward / curve if curve else middle
        at_x = f(x)
        within = xtol * max(1.0, abs(x))
        if at_x == 0 or abs(x - before) <= within:
            return x
        # the closest ends that hold the root between them
        ends = sorted([(low, at_low), (middle, at_middle), (x, at_x), (high, at_high)])
        for (one, at_one), (other, at_other) in pairwise(ends):
            if (at_one > 0) != (at_other > 0):
                low, at_low, high, at_high = one, at_one, other, at_other
                break
        if high - low <= within:
            return x
    return x


def lowest(f: Callable[[float], float], low: float, high: float, xtol: float = 1e-8) -> float:
    """Return the x between ``low`` and ``high`` where ``f``, which falls and then rises, is lowest.

    xtol : the width of what is left; a smaller one is lost in rounding.

    Source: golden section, Kiefer 1953, Proceedings of the American Mathematical Society
    4, 502–506.
    """
    left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    at_left, at_right = f(left), f(right)
    while high - low > xtol:
        if at_left <= at_right:
            high, right, at_right = right, left, at_left
            left = high - GOLDEN * (high - low)
            at_left = f(left)
        else:
            low, left, at_left = left, right, at_right
            right = low + GOLDEN * (high - low)
            at_right = f(right)
    return (low + high) / 2
