"""Rearrangements: the ways in which the plan could have dealt one of two labels out, inside every
block.

What is counted or averaged is always the sum of a score over the units that carry the label, so
only these sums are made: all of them where there are few, a seeded draw where there are many.
"""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np

from ..frozen import frozen

# rearrangements beyond which as many are drawn; fewer only where units are very many
MOST_LISTED = 20_000
FEWEST_DRAWN = 999
MOST_CELLS = 40_000_000  # drawn rearrangements × units
SEED = 20_000
CELLS_AT_ONCE = 250_000  # a few megabytes


@frozen
class Rearrangements:
    """Sums of the score over the labelled units.

    sums : one a rearrangement, all (``exact``) or drawn; count : how many distinct ones there are
    mirrored : whether every rearrangement has an opposite one (as many units with the label as
        without, everywhere)
    """

    sums: np.ndarray
    count: int
    exact: bool
    mirrored: bool


def rearrange(labelled: np.ndarray, scores: np.ndarray, blocks: np.ndarray) -> Rearrangements:
    """Deal the labels out again inside each block and sum the scores of the units that get one.

    labelled : bool (n,), the units that carry the label; scores : (n,); blocks : whole numbers (n,)
    """
    members = [np.flatnonzero(blocks == block) for block in np.unique(blocks)]
    sizes = [(len(m), int(labelled[m].sum())) for m in members]
    count = math.prod(math.comb(n, k) for n, k in sizes)
    exact = count <= MOST_LISTED
    deal = _listed if exact else _drawn
    parts = [(np.sort(scores[m]), k) for m, (_, k) in zip(members, sizes, strict=True) if k]
    return Rearrangements(
        deal(_in_order(parts)), count, exact, all(2 * k == n for n, k in sizes if 0 < k < n)
    )


def exchanged(
    labelled: np.ndarray, centred: np.ndarray, blocks: np.ndarray
) -> tuple[float, Rearrangements]:
    """Return the sum over the labelled units, and the rearrangements of whichever label has the
    larger sum.

    centred : (n,) scores whose mean in every block is zero, so that the two labels' sums are
    opposite and a draw by lot gives either the same p-value.
    """
    observed = float(centred[labelled].sum())
    return observed, rearrange(labelled if observed > 0 else ~labelled, centred, blocks)


def _in_order(parts: list[tuple[np.ndarray, int]]) -> list[tuple[np.ndarray, int]]:
    """The blocks in an order that no name and no row decides, so that a draw by lot is the same."""
    size = max((float(np.abs(scores).max()) for scores, _ in parts), default=0.0) or 1.0
    return sorted(parts, key=lambda part: (len(part[0]), part[1], *np.round(part[0] / size, 9)))


def _listed(parts: list[tuple[np.ndarray, int]]) -> np.ndarray:
    """All sums: every choice in one block with every choice in the others."""
    sums = np.zeros(1)
    for scores, k in parts:
        within = np.array(
            [scores[list(chosen)].sum() for chosen in combinations(range(len(scores)), k)]
        )
        sums = np.add.outer(sums, within).ravel()
    return sums


def _drawn(parts: list[tuple[np.ndarray, int]]) -> np.ndarray:
    """A draw of sums, the same on every run."""
    rng = np.random.default_rng(SEED)
    units = sum(len(scores) for scores, _ in parts)
    draws = min(MOST_LISTED, max(FEWEST_DRAWN, MOST_CELLS // units))
    sums = np.zeros(draws)
    for scores, k in parts:
        rows = max(1, CELLS_AT_ONCE // len(scores))
        for start in range(0, draws, rows):
            stop = min(start + rows, draws)
            keys = rng.random((stop - start, len(scores)))
            chosen = np.argpartition(keys, k - 1, axis=1)[:, :k]
            sums[start:stop] += scores[chosen].sum(axis=1)
    return sums


def share_as_extreme(observed: float, dealt: Rearrangements) -> float:
    """Return the two-sided p-value of an observed sum whose expectation is zero, the observed one
    counted in.

    Source: Phipson and Smyth 2010, Stat. Appl. Genet. Mol. Biol. 9(1): 39 (why a drawn p is never
    0).
    """
    tolerance = 1e-9 * max(float(np.abs(dealt.sums).max()), abs(observed))
    as_extreme = int((np.abs(dealt.sums) >= abs(observed) - tolerance).sum())
    if dealt.exact:
        return as_extreme / len(dealt.sums)
    return (as_extreme + 1) / (len(dealt.sums) + 1)


def smallest_p(dealt: Rearrangements) -> float:
    """Return the smallest two-sided p-value that the arrangement allows (counting; all sums
    different).
    """
    return min(1.0, (2 if dealt.mirrored else 1) / dealt.count)
