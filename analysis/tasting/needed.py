"""How many people a test needs, to show a difference or to show that few can tell."""

from __future__ import annotations

import pandas as pd

from ...trials import TrialError
from ..methods.discrimination import GUESS, right_at, share_right
from ..methods.discrimination import can_tell as telling_at
from ..methods.discrimination import d_prime as distance
from ..methods.numbers_needed import Power, power_different, power_similar
from .result import TastersNeeded
from .telling import checked_share, checked_test, is_number

ALPHA = 0.05
AROUND = 6  # rows of the table before the first number and after the last


def count_tasters(
    test: str,
    can_tell: float | None = None,
    d_prime: float | None = None,
    may_tell: float | None = None,
    power: float = 0.8,
) -> TastersNeeded:
    """Return how many people a test needs, one serving each.

    Parameters
    ----------
    can_tell, d_prime : how different the breads are in truth: share of people who can tell (0 to
        1), or the sensory
        distance; one of the two. With ``may_tell`` it may be left out, and is then 0
    may_tell : where given, the number needed to show that fewer than this share can tell
    power : chance to show it, between 0 and 1; the chance to show what is not so is 0.05

    Raises
    ------
    TrialError: an unknown test, or numbers that make no sense together.
    """
    test = checked_test(test)
    truth = _truth(test, can_tell, d_prime, may_tell)
    if not (is_number(power) and 0.05 < power < 1):
        raise TrialError.one(
            "power-impossible", f"{power} is no power.", "Give a number such as 0.8 or 0.9."
        )
    if may_tell is None:
        found = power_different(GUESS[test], truth, power, ALPHA)
    else:
        found = power_similar(GUESS[test], truth, checked_share(may_tell), power, ALPHA)
    return TastersNeeded(
        test=test,
        aim="different" if may_tell is None else "similar enough",
        can_tell=truth,
        power=power,
        alpha=ALPHA,
        d_prime=distance(test, float(right_at(truth, GUESS[test]))),
        may_tell=may_tell,
        needed=found.stays,
        first=found.first,
        table=_table(found),
    )


def _truth(
    test: str, can_tell: float | None, d_prime: float | None, may_tell: float | None
) -> float:
    """Return the share of people who can tell, in truth."""
    if can_tell is not None and d_prime is not None:
        raise TrialError.one(
            "two-truths",
            "Both the share who can tell and the sensory distance are given.",
            "Give one of the two.",
        )
    if may_tell is not None:
        may_tell = checked_share(may_tell)
    truth: float | None
    if d_prime is not None:
        if not (is_number(d_prime) and 0 < d_prime < 30):
            raise TrialError.one(
                "distance-impossible",
                f"A sensory distance of {d_prime} makes no sense here.",
                "Give a number such as 1 or 1.5.",
            )
        truth = telling_at(share_right(test, d_prime), GUESS[test])
    else:
        truth = 0.0 if can_tell is None and may_tell is not None else can_tell
    if truth is None or not (is_number(truth) and 0 <= truth <= 1 and (may_tell or truth)):
        said = "It is not said how different the breads are."
        raise TrialError.one(
            "share-impossible",
            said if truth is None else f"{truth} is no share of people who can tell.",
            "Give the share of people who can tell, such as 0.3, or a sensory distance, such as 1.",
        )
    if may_tell is not None and truth >= may_tell:
        raise TrialError.one(
            "share-impossible",
            f"If {truth:.2g} of the people can tell, nothing can show that fewer "
            f"than {may_tell:g} can.",
            "Give a smaller share who can tell, or a larger one who may.",
        )
    return float(truth)


def _table(found: Power) -> pd.DataFrame:
    """Return the power around the numbers needed."""
    table = pd.DataFrame({"n_assessors": found.of, "right": found.limit, "power": found.power})
    if found.first is None:
        return table.tail(AROUND).reset_index(drop=True)
    last = found.stays or found.first
    return table[table["n_assessors"].between(found.first - AROUND, last + AROUND)].reset_index(
        drop=True
    )
