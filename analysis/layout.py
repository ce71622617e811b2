"""Which factor was applied to what (day, oven load, mix, loaf), and what can and cannot be told apart.

Plain data only: `wording` makes the sentences.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from .model.coding import DesignError, ordered_levels
from .model.units import GROUPINGS, is_nested, label_units

MANY_BLOCKS = 20        # incomplete blocks from which their own differences are well enough known to be random
MOST_FIXED = 100        # blocks beyond which each is no longer given a column of its own
PREFERRED = ("mix", "day", "oven_load")     # of two groupings that are the same, the first here is kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How a trial was laid out.

    factors : one row a factor: factor, applied_to (day, oven_load, mix, loaf), kind (category, number),
        levels (tuple), n_levels.
    units : one row a grouping and one for "loaf": grouping, n (groups; 0 when not recorded), role (block, group,
        left out, unit), reason.
    labels : one integer column a recorded grouping, and "mix" always; the index of the loaves.
    blocks : groupings to compare within, as fixed blocks unless a contrast needs one as its unit; coarse to fine.
    groups : groupings that are random → why ("shared dough", "inside the mix", "many incomplete blocks",
        "too many blocks to fix").
    left_out : grouping → why ("not recorded", "one only", "one loaf each", "same as mix", "same as day").
    relations : one row a pair of factors or groupings: first, second, relation: "tied" (each tells the other),
        "nested" (first inside second), "crossed" (every combination), "partly crossed".
    empty_combinations : pair of crossed factors → the combinations of their levels that were never baked.
    mix_assumed : no mix column, so every loaf was taken as a mix of its own.
    relabelled : groupings whose labels came back on another day (of a mix also: for another formula) and were
        taken as other mixes and oven loads.
    missing_labels : grouping → number of loaves without a label.
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
    relabelled: tuple[str, ...]
    missing_labels: Mapping[str, int]

    @property
    def kept(self) -> tuple[str, ...]:
        """Blocks and groups together, from the coarsest to the finest."""
        return tuple(sorted((*self.blocks, *self.groups), key=lambda name: self.labels[name].nunique()))

    def covered(self, block: str, blocks: Sequence[str]) -> bool:
        """Another of these blocks lies inside this one and so takes its place."""
        label = self.labels[block].to_numpy()
        return any(is_nested(self.labels[other].to_numpy(), label) for other in blocks if other != block)

    @property
    def tied(self) -> tuple[tuple[str, str], ...]:
        """Pairs of factors or groupings that always changed together."""
        pairs = self.relations[self.relations["relation"] == "tied"]
        return tuple(zip(pairs["first"], pairs["second"], strict=True))

    def applied_to(self, factor: str) -> str:
        """The unit that a factor was applied to: day, oven_load, mix or loaf."""
        return str(self.factors.set_index("factor").loc[factor, "applied_to"])

    def n(self, grouping: str) -> int:
        """How many days, oven loads, mixes or loaves there are (0 when not recorded)."""
        return int(self.units.set_index("grouping")["n"].to_dict()[grouping])


def find_layout(loaves: pd.DataFrame, factors: Sequence[str], groupings: Sequence[str] = GROUPINGS) -> Layout:
    """Work the layout out of the records; groupings may be absent, factors may not.

    A factor is applied to the coarsest grouping within which it never varies; a grouping that is itself asked
    about as a factor groups nothing.
    Raises DesignError: factors that are no columns; names them all.
    """
    absent = [factor for factor in factors if factor not in loaves]
    if absent:
        raise DesignError(f"there is no column {', '.join(map(repr, absent))}")
    groupings = [name for name in groupings if name not in factors]
    units = label_units(loaves, groupings)
    left_out = _left_out(units.labels, groupings, units.mix_assumed)
    recorded = [str(name) for name in units.labels if name not in left_out]
    kept = sorted(recorded, key=lambda name: units.labels[name].nunique())
    codes = pd.DataFrame({factor: pd.factorize(loaves[factor])[0] for factor in factors}, index=loaves.index)
    groups = {name: reason for name in kept if (reason := _random(name, units.labels, codes))}
    relations = _relations(pd.concat([codes, units.labels[kept]], axis=1))
    return Layout(
        factors=_factor_table(loaves, codes, units.labels[kept]),
        units=_unit_table(units.labels, groupings, left_out, groups),
        labels=units.labels,
        blocks=tuple(name for name in kept if name not in groups),
        groups=groups,
        left_out=left_out,
        relations=relations,
        empty_combinations=_empty_combinations(loaves, factors, relations),
        mix_assumed=units.mix_assumed,
        relabelled=units.relabelled,
        missing_labels=units.missing,
    )


def _left_out(labels: pd.DataFrame, groupings: Sequence[str], mix_assumed: bool) -> dict[str, str]:
    """Groupings that tell nothing of their own, and why."""
    left_out = {name: "not recorded" for name in groupings if name not in labels}
    kept: list[str] = []
    others = [str(name) for name in labels if name not in PREFERRED]
    for name in (name for name in (*PREFERRED, *others) if name in labels):
        n = labels[name].nunique()
        twin = next((other for other in kept if _same(labels[name], labels[other])), None)
        if name == "mix" and mix_assumed:
            left_out[name] = "not recorded"
        elif n == len(labels):
            left_out[name] = "one loaf each"
        elif n == 1:
            left_out[name] = "one only"
        elif twin:
            left_out[name] = f"same as {twin}"
        else:
            kept.append(name)
    return left_out


def _same(first: pd.Series, second: pd.Series) -> bool:
    return is_nested(first.to_numpy(), second.to_numpy()) and is_nested(second.to_numpy(), first.to_numpy())


def _random(name: str, labels: pd.DataFrame, codes: pd.DataFrame) -> str | None:
    """Why a grouping is random, or None when it is a fixed block."""
    if name == "mix":
        return "shared dough"
    if is_nested(labels[name].to_numpy(), labels["mix"].to_numpy()):
        return "inside the mix"
    n = labels[name].nunique()
    if n >= MANY_BLOCKS and any(_incomplete(labels[name], codes[factor]) for factor in codes):
        return "many incomplete blocks"
    return "too many blocks to fix" if n > MOST_FIXED else None


def _incomplete(blocks: pd.Series, factor: pd.Series) -> bool:
    """Some block lacks a level of a factor that varies inside blocks."""
    per_block = factor.groupby(blocks).nunique()
    return bool(per_block.max() > 1 and per_block.min() < factor.nunique())


def _factor_table(loaves: pd.DataFrame, codes: pd.DataFrame, kept: pd.DataFrame) -> pd.DataFrame:
    """One row a factor; `kept` holds the groupings from coarse to fine."""
    rows = []
    for factor in codes:
        never_varies = (name for name in kept if is_nested(kept[name].to_numpy(), codes[factor].to_numpy()))
        number = pd.api.types.is_numeric_dtype(loaves[factor]) and not pd.api.types.is_bool_dtype(loaves[factor])
        levels = ordered_levels(loaves[factor])
        rows.append({"factor": factor, "applied_to": next(never_varies, "loaf"),
                     "kind": "number" if number else "category", "levels": levels, "n_levels": len(levels)})
    return pd.DataFrame(rows, columns=["factor", "applied_to", "kind", "levels", "n_levels"])


def _unit_table(labels: pd.DataFrame, groupings: Sequence[str], left_out: Mapping[str, str],
                groups: Mapping[str, str]) -> pd.DataFrame:
    rows = []
    for name in groupings:
        n = labels[name].nunique() if name in labels else 0
        role = "left out" if name in left_out else "group" if name in groups else "block"
        reason = left_out.get(name) or groups.get(name) or "compared within"
        rows.append({"grouping": name, "n": n, "role": role, "reason": reason})
    rows.append({"grouping": "loaf", "n": len(labels), "role": "unit", "reason": "measured"})
    return pd.DataFrame(rows)


def _relations(codes: pd.DataFrame) -> pd.DataFrame:
    """How every two columns of codes stand to each other; a column with one value stands to none."""
    varying = [str(name) for name in codes if codes[name].max() > 0]
    rows = [_relation(codes, first, second) for first, second in combinations(varying, 2)]
    return pd.DataFrame(rows, columns=["first", "second", "relation"])


def _relation(codes: pd.DataFrame, first: str, second: str) -> tuple[str, str, str]:
    """Tied, nested (first inside second), crossed or partly crossed."""
    a, b = codes[first].to_numpy(), codes[second].to_numpy()
    inside, outside = is_nested(a, b), is_nested(b, a)
    if inside and outside:
        return first, second, "tied"
    if inside or outside:
        return (first, second, "nested") if inside else (second, first, "nested")
    n_first, n_second = int(a.max()) + 1, int(b.max()) + 1
    full = np.count_nonzero(np.bincount(a * n_second + b)) == n_first * n_second
    return first, second, "crossed" if full else "partly crossed"


def _empty_combinations(loaves: pd.DataFrame, factors: Sequence[str], relations: pd.DataFrame
                        ) -> dict[tuple[str, str], pd.DataFrame]:
    """Combinations never baked, for every two factors that are partly crossed."""
    partly = relations[relations["relation"] == "partly crossed"]
    pairs = [pair for pair in zip(partly["first"], partly["second"], strict=True) if set(pair) <= set(factors)]
    empty = {}
    for pair in pairs:
        every = pd.MultiIndex.from_product([ordered_levels(loaves[name]) for name in pair], names=pair)
        baked = pd.MultiIndex.from_frame(loaves[list(pair)].astype(object))
        empty[pair] = every.difference(baked, sort=False).to_frame(index=False)
    return empty
