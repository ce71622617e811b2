"""Preferences of people who chose once or several times, judged person by person.

Each person's net preference is turned round, all signs alike likely; once each this is the sign
test (ISO 5495).
"""

from __future__ import annotations

from fractions import Fraction
from math import lcm

import numpy as np

FINEST = 60  # looks over which a preference may be a mean


def p_turned_round(net: np.ndarray, two_sided: bool = True, half_of_ties: bool = False) -> float:
    """Return the chance of a sum of net preferences as large as the observed one when each sign is
    a coin's.

    net : (k,) what each person chose one bread more often than the other, in any unit; zeros and
    missing ones do not count. ``half_of_ties`` counts half of the chance of the very sum observed
    (mid-p). Exact, by convolution. Once each with mid-p, two-sided, it is the mid-p McNemar test:
    Fagerland, Lydersen and Laake 2013 (BMC Med. Res. Methodol. 13, 91).
    """
    net = np.asarray(net, dtype=float)
    net = net[np.isfinite(net) & (net != 0)]
    if not len(net):
        return 1.0
    steps = _whole(np.abs(net))
    ways = np.ones(1)
    for step in steps.tolist():
        longer = np.zeros(len(ways) + 2 * step)
        longer[2 * step :] += ways / 2
        longer[: len(ways)] += ways / 2
        ways = longer
    sums = np.arange(len(ways)) - (len(ways) - 1) // 2
    observed = int((steps * np.sign(net)).sum())
    size, mark = (np.abs(sums), abs(observed)) if two_sided else (sums, observed)
    p_value = ways[size >= mark].sum() - half_of_ties * ways[size == mark].sum() / 2
    return float(min(1.0, p_value))


def _whole(sizes: np.ndarray) -> np.ndarray:
    """Return sizes as whole numbers in their common ratio; they are means over a few looks."""
    parts = [Fraction(size).limit_denominator(FINEST) for size in sizes.tolist()]
    unit = lcm(*(part.denominator for part in parts))
    return np.array([int(part * unit) for part in parts])
