"""How many people a test of telling apart needs: exact power, which saws as the number grows.

The tables of ISO 4120 and ISO 10399 hold the first number that reaches the power (compared from
memory); we plan with the number from which the power stays there.
"""

from __future__ import annotations

import numpy as np

from ...trials.frozen import frozen
from .discrimination import at_least, at_most, right_at

MOST = 5000  # people beyond which nobody plans
FURTHER, AT_LEAST = 1.5, 60  # how far the power is followed from where it seems to stay


@frozen(kw_only=True)
class Power:
    """The power of a test by the number of people: arrays of equal length, from one person on.

    of : people; limit : right answers that show it (at least so many for a difference, at most for
    similarity; −1 where no number does); risk : chance of showing it where it is not so; power : of
    showing it where it is
    """

    of: np.ndarray
    limit: np.ndarray
    risk: np.ndarray
    power: np.ndarray
    first: int | None
    stays: int | None


def power_different(guess: float, telling: float, power: float, alpha: float = 0.05) -> Power:
    """Return the power to show a difference when the share ``telling`` can tell.

    ``first`` is the first number of people that reaches ``power``, ``stays`` the one from which it
    never falls below; None where that takes more than 5,000 people.
    """
    rows: list[tuple[int, int, float, float]] = []
    fewest = 1
    for of in range(1, MOST + 1):
        while at_least(fewest, of, guess) > alpha:
            fewest += 1
        shown = fewest <= of
        rows.append(
            (
                of,
                fewest if shown else -1,
                float(at_least(fewest, of, guess)),
                float(at_least(fewest, of, right_at(telling, guess))),
            )
        )
        if _followed(rows, power):
            break
    return _summed_up(rows, power)


def power_similar(
    guess: float, telling: float, may_tell: float, power: float, alpha: float = 0.05
) -> Power:
    """Return the power to show that fewer than ``may_tell`` can tell when the share ``telling``
    can.
    """
    rows: list[tuple[int, int, float, float]] = []
    most = -1
    for of in range(1, MOST + 1):
        while at_most(most + 1, of, right_at(may_tell, guess)) <= alpha:
            most += 1
        rows.append(
            (
                of,
                most,
                float(at_most(most, of, right_at(may_tell, guess))),
                float(at_most(most, of, right_at(telling, guess))),
            )
        )
        if _followed(rows, power):
            break
    return _summed_up(rows, power)


def _followed(rows: list[tuple[int, int, float, float]], power: float) -> bool:
    """Return whether the power has stayed high for half as far again, and for 60 people at
    least.
    """
    of = rows[-1][0]
    since = max(int(of / FURTHER), 0)
    back = min(since, of - AT_LEAST)
    return back > 0 and all(row[3] >= power for row in rows[back:])


def _summed_up(rows: list[tuple[int, int, float, float]], power: float) -> Power:
    of, limit, risk, reached = (np.array(column) for column in zip(*rows, strict=True))
    enough = np.flatnonzero(reached >= power)
    short = np.flatnonzero(reached < power)
    last_short = short[-1] if len(short) else -1
    known = _followed(rows, power)
    return Power(
        of=of,
        limit=limit,
        risk=risk,
        power=reached,
        first=int(of[enough[0]]) if len(enough) else None,
        stays=int(of[last_short + 1]) if known else None,
    )
