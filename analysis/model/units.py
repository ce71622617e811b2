"""Whose loaf is whose: which day, baker, oven, load and mix each loaf belongs to, as whole
numbers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from ...trials import columns
from ...trials.frozen import frozen
from ...trials.measuring.mixes import codes_of, combined, mix_codes

GROUPINGS = tuple(grouping.name for grouping in columns.GROUPINGS)  # coarse to fine
LIES_INSIDE = {grouping.name: grouping.inside for grouping in columns.GROUPINGS}


@frozen
class Units:
    """Labels of the groupings, and what was assumed to make them.

    labels : whole numbers (n,) of each recorded grouping, and of "mix" always.
    mix_assumed : there is no mix column, so every loaf was taken as a mix of its own.
    relabelled : groupings whose labels came back on another day (of a mix also: for another
        formula) and were
        taken as other mixes and oven loads.
    missing : grouping → number of loaves without a label (for mix: taken as mixes of their own; for
        the others:
        taken together as one more group).
    """

    labels: Mapping[str, np.ndarray]
    mix_assumed: bool
    relabelled: tuple[str, ...]
    missing: Mapping[str, int]


def label_units(loaves: pd.DataFrame, groupings: Sequence[str] = GROUPINGS) -> Units:
    """Number the groups of every grouping; a dough is one formula's and one day's, a load one
    oven's.
    """
    recorded = {name: loaves[name] for name in groupings if name in loaves}
    known = {name: column.notna().to_numpy() for name, column in recorded.items()}
    known = {name: there for name, there in known.items() if there.any()}
    labels = {name: _numbered(loaves, name) for name in known}
    missing = {name: int((~there).sum()) for name, there in known.items() if not there.all()}
    relabelled = tuple(
        name
        for name, there in known.items()
        if len(_lies_inside(loaves, name)) > 1
        and len(np.unique(labels[name][there])) > recorded[name].nunique()
    )
    assumed = {} if "mix" in known else {"mix": np.arange(len(loaves))}
    return Units(labels | assumed, bool(assumed), relabelled, missing)


def named_by(groupings: Sequence[str]) -> list[str]:
    """Return the columns that tell the groups of these groupings apart."""
    return [key for name in groupings for key in (*LIES_INSIDE.get(name, ()), name)]


def _numbered(loaves: pd.DataFrame, name: str) -> np.ndarray:
    """Codes of one grouping, told apart by what it lies inside; a loaf without a mix is a mix of
    its own.
    """
    if name == "mix":
        return mix_codes(loaves)
    keys = _lies_inside(loaves, name)
    return combined([codes_of(loaves[key]) for key in keys])


def _lies_inside(loaves: pd.DataFrame, name: str) -> list[str]:
    """What tells the groups of a grouping apart: itself, and what it lies inside of."""
    return [key for key in (*LIES_INSIDE.get(name, ()), name) if key in loaves]


def count_units(labels: Mapping[str, np.ndarray]) -> dict[str, int]:
    """How many groups each grouping has."""
    return {name: int(codes.max(initial=-1)) + 1 for name, codes in labels.items()}


def is_nested(first: np.ndarray, second: np.ndarray) -> bool:
    """Each group of the first lies inside one group of the second."""
    first, second = np.asarray(first), np.asarray(second)
    small = first.dtype.kind == "i" and 0 <= first.min(initial=0) <= first.max(initial=0) <= len(
        first
    )
    codes = first if small else pd.factorize(first)[0]
    one_of_second = np.empty(codes.max(initial=0) + 1, dtype=second.dtype)
    one_of_second[codes] = second
    return bool((one_of_second[codes] == second).all())
