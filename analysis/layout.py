"""Which factor was applied to what (day, oven load, mix, loaf), and what can and cannot be told apart.

Plain data only: `wording` makes the sentences.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

GROUPINGS = ("day", "oven_load", "mix")


@dataclass(frozen=True, slots=True)
class Layout:
    """How a trial was laid out.

    factors : one row a factor: factor, applied_to (day, oven_load, mix, loaf), kind (category, number),
        levels (tuple), n_levels.
    units : one row a grouping and one for "loaf": grouping, n, kept (bool), reason.
    labels : one integer column a kept grouping (and "mix" always), the index of the loaves: whose loaf is whose.
    blocks : groupings to compare within (fixed blocks unless a contrast needs them as the unit).
    groups : groupings that are random in any case → a reason code.
    left_out : grouping → reason code ("absent", "one only", "same as mix", "one loaf each", …).
    relations : one row a pair of factors or groupings: first, second, relation
        ("crossed", "partly crossed", "nested" = first inside second, "tied" = each tells the other).
    empty_combinations : pair of factors → DataFrame of the level combinations that were never baked.
    mix_assumed : True when there is no mix column and every loaf was taken as a mix of its own.
    mix_relabelled : True when a mix label came back on another day (or formula) and was taken as another mix.
    """
    factors: pd.DataFrame
    units: pd.DataFrame
    labels: pd.DataFrame
    blocks: tuple[str, ...]
    groups: Mapping[str, str]
    left_out: Mapping[str, str]
    relations: pd.DataFrame
    empty_combinations: Mapping[tuple[str, str], pd.DataFrame]
    mix_assumed: bool
    mix_relabelled: bool

    @property
    def tied(self) -> tuple[tuple[str, str], ...]:
        """Pairs that always changed together."""
        raise NotImplementedError

    def applied_to(self, *factors: str) -> str:
        """The finest unit that any of these factors was applied to."""
        raise NotImplementedError


def find_layout(loaves: pd.DataFrame, factors: Sequence[str],
                groupings: Sequence[str] = GROUPINGS) -> Layout:
    """Work the layout out of the records: `loaves` needs the factors' columns; groupings may be absent."""
    raise NotImplementedError
