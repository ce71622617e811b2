"""A fit that one wrong value cannot bend: medians of groups, taken in turn (Tukey 1977, median
polish).

Works on a million rows, since all groups of one size are sorted as one table.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..frozen import frozen

ROUNDS = 2  # the cut is found with as many; more change little
SMALL_GROUP = 16  # rows that are sorted faster than they are divided at their middle
SIMULATED, TRIALS, SEED = 300, 500, 20261125
LEAST_IN_STRATUM = 8  # free residuals from which a stratum has a scale of its own
MAD_TO_SD = 0.6745  # median of |z| of a standard normal z


@frozen
class Groups:
    """Rows sorted into groups: ``codes`` (n,) from 0, ``tables`` (groups of one size, rows of
    each).
    """

    codes: NDArray
    tables: tuple[tuple[NDArray, NDArray], ...]

    @classmethod
    def of(cls, codes: NDArray) -> Groups:
        """Sort rows by their codes, which must be 0 … g − 1 with none left out."""
        order = np.argsort(codes, kind="stable")
        sizes = np.bincount(codes)
        starts = np.cumsum(sizes) - sizes
        tables = []
        for size in np.unique(sizes):
            groups = np.flatnonzero(sizes == size)
            tables.append((groups, order[starts[groups][:, None] + np.arange(size)]))
        return cls(codes, tuple(tables))

    @property
    def n(self) -> int:
        """Number of groups."""
        return int(self.codes.max()) + 1

    def medians(self, values: NDArray) -> NDArray:
        """Median of every group: (n, …) → (g, …)."""
        out = np.empty((self.n, *values.shape[1:]))
        for groups, rows in self.tables:
            out[groups] = middle(values[rows])
        return out


def middle(table: NDArray) -> NDArray:
    """Return the median along the second axis: (g, size, …) → (g, …); nothing may be missing."""
    half, odd = divmod(table.shape[1], 2)
    if table.shape[1] <= SMALL_GROUP:
        table = np.sort(table, axis=1)
    else:
        table = np.partition(table, half if odd else (half - 1, half), axis=1)
    return table[:, half] if odd else (table[:, half - 1] + table[:, half]) / 2


def polish(values: NDArray, groupings: Sequence[Groups]) -> NDArray:
    """Return the residuals of an additive fit of the groupings by medians, column by column: (n, …)
    → (n, …).
    """
    residuals = values
    for _ in range(ROUNDS):
        for groups in groupings:
            residuals = residuals - groups.medians(residuals)[groups.codes]
    return residuals


def free_values(groupings: Sequence[Groups]) -> int:
    """Return how many residuals are free: rows less the rank of the groupings.

    Exact for two groupings, and for a third that crosses them; too few where it does not.
    """
    n = len(groupings[0].codes)
    rank = groupings[0].n
    joined = groupings[0].codes
    for groups in groupings[1:]:
        linked = components(joined, groups.codes)
        rank += groups.n - (int(linked.max()) + 1)
        joined = linked
    return n - rank


def components(one: NDArray, other: NDArray) -> NDArray:
    """Return each row's connected piece (n,): rows with an equal code of either kind are linked."""
    label = one.astype(np.int64)
    while True:
        smallest = least_in_group(other, label)[other]
        smallest = least_in_group(one, smallest)[one]
        if np.array_equal(smallest, label):
            return np.unique(label, return_inverse=True)[1]
        label = smallest


def least_in_group(codes: NDArray, labels: NDArray) -> NDArray:
    """Return the smallest label in every group (g,)."""
    least = np.full(int(codes.max()) + 1, np.iinfo(np.int64).max)
    np.minimum.at(least, codes, labels)
    return least


def robust_scale(residuals: NDArray, free: int) -> NDArray:
    """Return the median of the ``free`` largest absolute residuals, column by column: (n, …) → (…).

    The others are zero because the fit has used them up; counting them would make the scale too
    small.
    """
    largest = np.sort(np.abs(residuals), axis=0)[-free:]
    half, odd = divmod(len(largest), 2)
    return largest[half] if odd else (largest[half - 1] + largest[half]) / 2


def scales(residuals: NDArray, strata: NDArray, free: int) -> NDArray:
    """Return the robust scale of each row's stratum: (n, …) → (n, …).

    That of all rows serves where a stratum is small, and where the fit has used up its residuals.
    """
    of_all = robust_scale(residuals, free)
    scale = np.broadcast_to(of_all, residuals.shape).copy()
    for stratum in range(int(strata.max(initial=-1)) + 1):
        rows = strata == stratum
        own = round(free * rows.mean())
        if own >= LEAST_IN_STRATUM:
            alone = robust_scale(residuals[rows], own)
            scale[rows] = np.where(alone > 0, alone, of_all)
    return scale


def cutoff(
    groupings: Sequence[Groups],
    strata: NDArray,
    free: int,
    alarms: float,
    simulated: int = SIMULATED,
) -> float:
    """Return how many scales a residual may be from zero, so that ``alarms`` false alarms are
    expected in all rows.

    Errors of loaves are taken as normal. Up to ``simulated`` rows the trial's own layout is filled
    with random errors; beyond, Student's t with ``2.4 √free`` degrees of freedom, which such
    simulations gave for the ratio of a residual to ``robust_scale`` (layouts of 12 to 96 loaves;
    see tests/benchmarks/test_slip_finding.py).
    """
    n = len(strata)
    if n > simulated:
        from scipy.special import stdtrit

        return float(stdtrit(2.4 * np.sqrt(free), 1 - alarms / (2 * n))) / MAD_TO_SD
    residuals = polish(np.random.default_rng(SEED).standard_normal((n, TRIALS)), groupings)
    ratios = np.abs(residuals) / scales(residuals, strata, free)
    return float(np.quantile(ratios, 1 - alarms / n))
