"""What lies between blocks: used beside what lies inside them where comparing within them leaves
too little.

A day that had one formula only says nothing of a difference inside days. Nine such days of either
formula and one day of both are a sound trial of days, and next to none inside days.

The rule. A block is compared within, unless one of its kind lacked a formula that others had, and
half the interval's width to be expected is smaller without: were mixes to vary by 1 and blocks by
`BLOCK_VARIANCE`. That looks at the layout alone, never at what was measured. Such a block is random
(restricted likelihood, Kenward and Roger) where something is left to judge by inside blocks too.
Where nothing is, or the fit has no inner optimum, the unit is what one block had of one formula:
cautious, since two formulas of one day are more alike than those of two.

With blocks random, one contrast is judged by the means of the mixes, each of which counts once,
where mixes have unequally many loaves and no other factor varies inside them
(`Arrangement.of_means`): two variances are left to estimate in place of three. By the loaves,
Kenward and Roger's test misses 2 to 3 % at a nominal 5 where loaves were lost. Three formulas or
more stay with the loaves, which is cautious: an F test misses 2.2 to 4.5 %, a pair 2.7 to 5.1; by
the means 5.7 to 6.4 and 6.1 to 6.6, with the mixes' variance 0 to 4 times the loaf's (two days of
all three beside three of each alone, 15 % lost). Source of means that count alike: Yates 1934 (J.
Amer. Statist. Assoc. 29, 51-66).

Where nothing can be judged in any of these ways, blocks are left out that the contrast could be
told apart from, as if nobody had written them down: they are taken as alike, and the answer says
so. What was written down beside a trial does not take its answer away.

Chosen by simulation: tests/benchmarks/test_calibration.py. Source: recovery of what lies between
blocks, Yates 1940 (Annals of Eugenics 10, 317-325).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
from scipy.special import stdtrit

from .arrangement import Arrangement
from .units import combined, is_nested

# times a mix's: taken on the high side, so that blocks are left only for much
BLOCK_VARIANCE = 3.0
LEVEL = 0.975  # of the t value by which widths are compared
CLEARLY = 1e-6  # relative: what must be gained


def choices(blocks: Sequence[str]) -> list[tuple[str, ...]]:
    """Return every set of these blocks that could be left, small sets first."""
    return [some for size in range(1, len(blocks) + 1) for some in combinations(blocks, size)]


def shares(
    groups: Mapping[str, np.ndarray], left: Sequence[str], codes: Sequence[np.ndarray]
) -> dict[str, np.ndarray]:
    """Return the random groupings, coarse to fine, with each block that is left divided by what is
    compared.

    groups : {name: labels (n,)}; codes : of the factors compared. A share that is one mix, or one
    loaf, is no grouping of its own.
    """
    divided = {
        name: combined([labels, *codes]) if name in left else labels
        for name, labels in groups.items()
    }
    sizes = {name: len(np.unique(labels)) for name, labels in divided.items()}
    kept: dict[str, np.ndarray] = {}
    for name in sorted(divided, key=lambda name: (name in left, sizes[name])):
        twin = any(
            sizes[name] == sizes[other] and is_nested(divided[name], divided[other])
            for other in kept
        )
        if sizes[name] < len(divided[name]) and not twin:
            kept[name] = divided[name]
    return {name: kept[name] for name in sorted(kept, key=lambda name: sizes[name])}


def expected_reach(arrangement: Arrangement, L: np.ndarray, variance: float = 1.0) -> float:
    """Return half the interval's width to be expected for contrasts L (q, P), with units of this
    variance; infinite where nothing is left to judge by, or these blocks do not let them be
    estimated."""
    if not arrangement.design.estimable(L).all():
        return np.inf
    reduced = arrangement.design.reduced(L)
    means = arrangement.means(arrangement.unit_of(reduced))
    if (
        means is None
        or means.df <= 0
        or means.lacks_inside(reduced)
        or (len(L) == 1 and means.rests_on_one(reduced))
    ):
        return np.inf
    return float(stdtrit(means.df, LEVEL) * np.sqrt(variance * means.spread(reduced)))


def recovers(within: Arrangement, apart: Arrangement, L: np.ndarray) -> bool:
    """Return whether anything lies between the blocks: were they not to differ, shares would say
    more.
    """
    inside, whole = (arrangement.design.reduced(L) for arrangement in (within, apart))
    finer, coarser = within.means(within.unit_of(inside)), apart.means(apart.unit_of(whole))
    if finer is None or coarser is None:
        return False
    return coarser.spread(whole) * coarser.n_units < finer.spread(inside) * finer.n_units * (
        1 - CLEARLY
    )


def units_apart(within: Arrangement, apart: Arrangement, L: np.ndarray) -> float:
    """Return the variance of a share beside a unit's inside blocks, by the rule's assumption."""
    n_inside, n_whole = (
        arrangement.n_units(arrangement.unit_of(arrangement.design.reduced(L)))
        for arrangement in (within, apart)
    )
    return BLOCK_VARIANCE * len(apart.between) + n_whole / n_inside
