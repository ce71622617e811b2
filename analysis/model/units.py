"""Whose loaf is whose: which day, oven load and mix each loaf belongs to, as whole numbers."""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

GROUPINGS = ("day", "oven_load", "mix")
LIES_INSIDE = {"mix": ("day", "formula"), "oven_load": ("day",)}


@dataclass(frozen=True, slots=True)
class Units:
    """Labels of the groupings, and what was assumed to make them.

    labels : one integer column a recorded grouping, and "mix" always; the index of the loaves.
    mix_assumed : there is no mix column, so every loaf was taken as a mix of its own.
    relabelled : groupings whose labels came back on another day (of a mix also: for another formula) and were
        taken as other mixes and oven loads.
    missing : grouping → number of loaves without a label (for mix: taken as mixes of their own; for the others:
        taken together as one more group).
    """
    labels: pd.DataFrame
    mix_assumed: bool
    relabelled: tuple[str, ...]
    missing: Mapping[str, int]


def label_units(loaves: pd.DataFrame, groupings: Sequence[str] = GROUPINGS) -> Units:
    """Number the groups of every grouping; a dough is one formula's and one day's, an oven load one day's."""
    recorded = [name for name in groupings if name in loaves and loaves[name].notna().any()]
    labels = pd.DataFrame({name: _numbered(loaves, name) for name in recorded}, index=loaves.index)
    if "mix" not in recorded:
        labels["mix"] = np.arange(len(loaves))
    missing = {name: int(loaves[name].isna().sum()) for name in recorded if loaves[name].isna().any()}
    return Units(labels, "mix" not in recorded, _relabelled(loaves, labels, recorded), missing)


def _numbered(loaves: pd.DataFrame, name: str) -> np.ndarray:
    """Codes of one grouping, told apart by what it lies inside; a loaf without a mix is a mix of its own."""
    keys = [key for key in (*LIES_INSIDE.get(name, ()), name) if key in loaves]
    codes = loaves.groupby(keys, sort=False, observed=True, dropna=False).ngroup().to_numpy().copy()
    if name == "mix":
        alone = loaves[name].isna().to_numpy()
        codes[alone] = codes.max() + 1 + np.arange(alone.sum())
    return pd.factorize(codes)[0]


def _relabelled(loaves: pd.DataFrame, labels: pd.DataFrame, recorded: Sequence[str]) -> tuple[str, ...]:
    """Groupings with one label for several groups."""
    named = [(name, loaves[name].notna()) for name in recorded]
    return tuple(name for name, known in named
                 if labels.loc[known, name].nunique() > loaves.loc[known, name].nunique())


def is_nested(first: np.ndarray, second: np.ndarray) -> bool:
    """Each group of the first lies inside one group of the second."""
    codes, groups = pd.factorize(first)
    second = np.asarray(second)
    one_of_second = np.empty(len(groups), dtype=second.dtype)
    one_of_second[codes] = second
    return bool((one_of_second[codes] == second).all())
