"""Who scores which loaves in which order: every assessor all of a day's loaves, places and
neighbours evened out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np
import pandas as pd

from ..frozen import frozen
from ..planning.result import TrialPlan
from ..planning.serving import williams_square
from .levels import mix_factors

MOST_AT_ONCE = 12  # loaves that are scored without a pause
MOST_IN_A_SET = 8  # loaves of a set where there are more


@frozen(kw_only=True)
class ScorePage:
    """One assessor's loaves of a day: sets with pauses between them, each in the order of scoring.

    ``assessor`` is a number from 1, None for a blank page, which has no codes.
    """

    day: str
    assessor: int | None
    sets: tuple[tuple[str, ...], ...]

    @property
    def loaves(self) -> tuple[str, ...]:
        """Return the codes in the order of scoring."""
        return tuple(code for one in self.sets for code in one)


def score_pages(plan: TrialPlan) -> tuple[ScorePage, ...]:
    """Return a page for every day and assessor, or a blank one a day where the card names no number
    of assessors.
    """
    scores = plan.card.scores
    if scores is None or not scores.attributes:
        return ()
    pages = []
    for at, (day, loaves) in enumerate(plan.loaves.groupby("day", sort=False)):
        rng = np.random.Generator(np.random.PCG64([plan.seed, at, len(loaves)]))
        if scores.assessors is None:
            pages.append(ScorePage(day=str(day), assessor=None, sets=()))
            continue
        sets = _sets(loaves, mix_factors(plan), rng)
        orders = [serving_orders(some, scores.assessors, rng) for some in sets]
        turns = serving_orders([str(i) for i in range(len(sets))], scores.assessors, rng)
        for assessor in range(scores.assessors):
            mine = tuple(orders[int(i)][assessor] for i in turns[assessor])
            pages.append(ScorePage(day=str(day), assessor=assessor + 1, sets=mine))
    return tuple(pages)


def serving_orders(
    codes: Sequence[str], assessors: int, rng: np.random.Generator
) -> list[tuple[str, ...]]:
    """Return an order of the codes for every assessor: rows of Williams squares, codes and rows
    drawn by lot.

    Within one square each code stands once in each place, so that over any number of assessors
    places are even to within one. Source: Williams 1949, Aust. J. Sci. Res. A 2: 149–168.
    """
    drawn = [codes[i] for i in rng.permutation(len(codes))]
    squares = williams(len(codes))
    rows: list[tuple[int, ...]] = []
    while len(rows) < assessors:
        for square in squares:
            rows += [square[i] for i in rng.permutation(len(square))]
    return [tuple(drawn[i] for i in row) for row in rows[:assessors]]


def williams(n: int) -> list[list[tuple[int, ...]]]:
    """Return Williams' squares of 0 … n−1: one for even n, two that mirror one another for odd n.

    Over all rows each stands equally often in each place, and follows each other equally often.
    """
    orders = [tuple(row) for row in williams_square(n).tolist()]
    squares = [orders[at : at + n] for at in range(0, len(orders), n)]
    return squares[:1] if n == 1 else squares


def _sets(loaves: pd.DataFrame, by: Sequence[str], rng: np.random.Generator) -> list[list[str]]:
    """Return the codes in sets: one, or of at most eight that each hold every combination as evenly
    as can be.
    """
    if len(loaves) <= MOST_AT_ONCE:
        return [list(map(str, loaves["loaf"]))]
    n = -(-len(loaves) // MOST_IN_A_SET)
    labels = (
        loaves[list(by)].astype(str).agg("/".join, axis=1)
        if by
        else pd.Series("", index=loaves.index)
    )
    drawn = loaves.assign(_label=labels).iloc[rng.permutation(len(loaves))]
    counts = Counter(drawn["_label"])
    dealt: list[list[str]] = [[] for _ in range(n)]
    at = 0
    for label in sorted(counts, key=lambda name: (-counts[name], name)):
        for code in drawn.loc[drawn["_label"] == label, "loaf"]:
            dealt[at % n].append(str(code))
            at += 1
    return dealt
