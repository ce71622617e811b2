"""Which loaves belong together: codes for combinations of factors, for mixes, for any set of
columns.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..measuring.mixes import codes_of, combined, mix_codes
from ..trial import Trial

# what is set for a loaf, whether the card names it as a factor or not
SETTINGS = ("formula", "tin", "proof_min", "oven_place", "oven", "deck")
MOST_LEVELS = 6  # a factor of numbers with more of them is no set of groups


def logs(values: pd.Series) -> NDArray:
    """Return logarithms; missing where the value is missing or not above zero."""
    numbers = values.to_numpy(dtype=float)
    return np.log(np.where(numbers > 0, numbers, np.nan))


def combination_codes(loaves: pd.DataFrame, trial: Trial) -> NDArray:
    """Return a code for each row's combination of factors (n,)."""
    return joint_codes(
        loaves,
        [
            name
            for name in trial.factors
            if name in loaves
            and (loaves[name].dtype.kind != "f" or loaves[name].nunique() <= MOST_LEVELS)
        ],
    )


def batch_codes(loaves: pd.DataFrame) -> NDArray:
    """Return a code for each row's mix (n,); the day's where mixes were not recorded."""
    return (
        mix_codes(loaves)
        if "mix" in loaves
        else joint_codes(loaves, [name for name in ("day",) if name in loaves])
    )


def joint_codes(loaves: pd.DataFrame, names: Sequence[str]) -> NDArray:
    """Return a code from 0 for each distinct row of the columns (n,); what is missing is a value
    like another.
    """
    if not names:
        return np.zeros(len(loaves), dtype=np.int64)
    return combined([codes_of(loaves[name]) for name in names])


def kinds_in(groups: NDArray, column: pd.Series) -> NDArray:
    """Return how many distinct values, none missing, a column has in each group (g,)."""
    known, codes = ~column.array.isna(), codes_of(column)
    more = int(codes.max(initial=0)) + 1
    pairs = pd.unique((groups * more + codes)[known])
    return np.bincount(pairs // more, minlength=int(groups.max(initial=-1)) + 1)


def varies(column: pd.Series) -> bool:
    """Return whether a column holds two values at least, none of them missing."""
    known = codes_of(column)[~column.array.isna()]
    return len(known) > 0 and bool((known != known[0]).any())


def ranks(values: NDArray) -> NDArray:
    """Return the rank of each value (n,), from 1; equal ones share the middle of theirs."""
    _, place, counts = np.unique(values, return_inverse=True, return_counts=True)
    return (np.cumsum(counts) - (counts - 1) / 2)[place]


def in_majority(groups: NDArray, codes: NDArray) -> NDArray:
    """Return which rows hold the one value that is more frequent in their group than any other
    (n,).
    """
    more = int(codes.max(initial=0)) + 1
    pairs, place, counts = np.unique(groups * more + codes, return_inverse=True, return_counts=True)
    owner = pairs // more
    most = np.zeros(int(groups.max(initial=-1)) + 1, dtype=int)
    np.maximum.at(most, owner, counts)
    first = counts == most[owner]
    alone = np.bincount(owner[first], minlength=len(most)) == 1
    return (first & alone[owner])[place]


def with_coded_names(loaves: pd.DataFrame, names: Sequence[str]) -> pd.DataFrame:
    """Return the same table with columns of names as categories, so that every distinct name is
    looked at once.
    """
    coded = {}
    for name in dict.fromkeys(names):
        if name in loaves and (column := loaves[name]).dtype.kind not in "fiub":
            codes, levels = pd.factorize(column.to_numpy())
            coded[name] = pd.Categorical.from_codes(codes, pd.Index(levels, dtype=object))
    return loaves.assign(**coded)


def tally(column: pd.Series) -> pd.Series:
    """Return how often each name occurs, the most frequent first."""
    counts = column.value_counts()
    counts.index = counts.index.astype(object)
    return counts[counts > 0]
