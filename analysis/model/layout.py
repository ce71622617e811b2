"""Which factor was applied to what (day, oven load, mix, loaf), and what can and cannot be told
apart.

Plain data only: `wording` makes the sentences.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property, lru_cache
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd

from ...trials.frozen import frozen
from ..plain_data import plain
from .coding import DesignError, centred, ordered_levels
from .kept import MOST_KEPT, MOST_LOAVES, Alike, alike
from .units import GROUPINGS, Units, count_units, is_nested, label_units, named_by

# incomplete blocks from which their own differences are well enough known to be random
MANY_BLOCKS = 20
MANY_INCOMPLETE = "many incomplete blocks"
MOST_FIXED = 100  # blocks beyond which each is no longer given a column of its own
# of two that are the same, the first is kept
PREFERRED = tuple(dict.fromkeys(("mix", "day", *reversed(GROUPINGS))))


@frozen(kw_only=True, slots=False)
class Layout:
    """How a trial was laid out. What only a reader asks for is worked out when it is first asked
    for.

    loaves : the factors of the loaves. groupings : those looked for.
    codes : whole numbers (n,) of each recorded grouping, and of "mix" always.
    blocks : groupings to compare within, as fixed blocks unless a contrast needs one as its unit;
        coarse to fine.
    groups : groupings that are random → why ("shared dough", "inside the mix", "many incomplete
        blocks",
        "too many blocks to fix").
    left_out : grouping → why ("not recorded", "one only", "one loaf each", "same as mix", "same as
        day").
    mix_assumed : no mix column, so every loaf was taken as a mix of its own.
    relabelled : groupings whose labels came back on another day (of a mix also: for another
        formula) and were
        taken as other mixes and oven loads.
    missing_labels : grouping → number of loaves without a label.
    """

    loaves: pd.DataFrame
    groupings: tuple[str, ...]
    codes: Mapping[str, np.ndarray]
    blocks: tuple[str, ...]
    groups: Mapping[str, str]
    left_out: Mapping[str, str]
    mix_assumed: bool
    relabelled: tuple[str, ...]
    missing_labels: Mapping[str, int]

    @cached_property
    def kept(self) -> tuple[str, ...]:
        """Blocks and groups together, from the coarsest to the finest."""
        return tuple(sorted((*self.blocks, *self.groups), key=self.n))

    def covered(self, block: str, blocks: Sequence[str]) -> bool:
        """Another of these blocks lies inside this one and so takes its place."""
        label = self.codes[block]
        return any(is_nested(self.codes[other], label) for other in blocks if other != block)

    @cached_property
    def labels(self) -> pd.DataFrame:
        """One integer column a recorded grouping, and "mix" always; the index of the loaves."""
        return pd.DataFrame(self.codes, index=self.loaves.index, copy=False)

    def n(self, grouping: str) -> int:
        """How many days, oven loads, mixes or loaves there are (0 when not recorded)."""
        return self._sizes.get(grouping, 0)

    @cached_property
    def _sizes(self) -> dict[str, int]:
        return count_units(self.codes) | {"loaf": len(self.loaves)}

    @cached_property
    def factors(self) -> pd.DataFrame:
        """One row a factor: factor, applied_to (a grouping or "loaf"), kind (category, number),
        levels (tuple), n_levels."""
        rows = []
        for factor in self.loaves:
            values = self.loaves[factor]
            number = pd.api.types.is_numeric_dtype(values) and not pd.api.types.is_bool_dtype(
                values
            )
            levels = ordered_levels(values)
            rows.append(
                {
                    "factor": factor,
                    "applied_to": self.applied_to(str(factor)),
                    "kind": "number" if number else "category",
                    "levels": levels,
                    "n_levels": len(levels),
                }
            )
        return pd.DataFrame(rows, columns=["factor", "applied_to", "kind", "levels", "n_levels"])

    def applied_to(self, factor: str) -> str:
        """The unit that a factor was applied to: a grouping, such as "day" or "mix", or "loaf"."""
        return self._applied[factor]

    @cached_property
    def _applied(self) -> dict[str, str]:
        """Factor → the coarsest grouping within which it never varies."""
        labels = {name: self.codes[name] for name in self.kept}
        return {
            str(factor): next((name for name in labels if is_nested(labels[name], code)), "loaf")
            for factor, code in _codes(self.loaves).items()
        }

    @cached_property
    def units(self) -> pd.DataFrame:
        """One row a grouping and one for "loaf": grouping, n (groups; 0 when not recorded), role
        (block, group, left out, unit), reason."""
        rows = []
        for name in self.groupings:
            role = (
                "left out" if name in self.left_out else "group" if name in self.groups else "block"
            )
            reason = self.left_out.get(name) or self.groups.get(name) or "compared within"
            rows.append({"grouping": name, "n": self.n(name), "role": role, "reason": reason})
        rows.append(
            {"grouping": "loaf", "n": len(self.loaves), "role": "unit", "reason": "measured"}
        )
        return pd.DataFrame(rows)

    @cached_property
    def relations(self) -> pd.DataFrame:
        """One row a pair of factors or groupings: first, second, relation: "tied" (each tells the
        other), "nested" (first inside second), "crossed" (every combination), "partly crossed"."""
        return _relations(_codes(self.loaves) | {name: self.codes[name] for name in self.kept})

    @cached_property
    def tied(self) -> tuple[tuple[str, str], ...]:
        """Pairs of factors or groupings that always changed together."""
        pairs = self.relations[self.relations["relation"] == "tied"]
        return tuple(zip(pairs["first"], pairs["second"], strict=True))

    @cached_property
    def empty_combinations(self) -> dict[tuple[str, str], pd.DataFrame]:
        """Pair of crossed factors → the combinations of their levels that were never baked."""
        partly = self.relations[self.relations["relation"] == "partly crossed"]
        pairs = zip(partly["first"], partly["second"], strict=True)
        numbers = [name for name in self.factors["factor"] if name in self.loaves]
        middle = set(centred(self.loaves, numbers))
        return {
            pair: missing
            for pair in pairs
            if set(pair) <= set(self.loaves)
            and not (missing := _never_baked(self._corners(pair, middle))).empty
        }

    def _corners(self, pair: tuple[str, str], middle: set[str]) -> pd.DataFrame:
        """The two columns without the centre points, which no combination of ends is missing by."""
        own = self.loaves[list(pair)]
        if not middle.issuperset(pair):
            return own
        return own[own[pair[0]].isin([own[pair[0]].min(), own[pair[0]].max()])]

    def with_grouping(self, name: str, codes: np.ndarray) -> Layout:
        """The same with one more grouping, of these codes (n,)."""
        labels = {**self.codes, name: pd.factorize(codes)[0]}
        units = Units(labels, self.mix_assumed, self.relabelled, self.missing_labels)
        return _laid_out(self.loaves, (*self.groupings, name), units)

    def without(self, gone: np.ndarray) -> Layout:
        """The layout of the loaves that are not gone (bool); what is said of labels stays."""
        labels = {name: pd.factorize(codes[~gone])[0] for name, codes in self.codes.items()}
        units = Units(labels, self.mix_assumed, self.relabelled, self.missing_labels)
        return _laid_out(self.loaves[~gone], self.groupings, units)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        empty = {" × ".join(pair): table for pair, table in self.empty_combinations.items()}
        return {
            "factors": plain(self.factors),
            "units": plain(self.units),
            "labels": plain(self.labels),
            "blocks": plain(self.blocks),
            "groups": plain(self.groups),
            "left_out": plain(self.left_out),
            "relations": plain(self.relations),
            "empty_combinations": plain(empty),
            "mix_assumed": self.mix_assumed,
            "relabelled": plain(self.relabelled),
            "missing_labels": plain(self.missing_labels),
        }


def find_layout(
    loaves: pd.DataFrame, factors: Sequence[str], groupings: Sequence[str] = GROUPINGS
) -> Layout:
    """Work the layout out of the records; groupings may be absent, factors may not.

    A factor is applied to the coarsest grouping within which it never varies; a grouping that is
    itself asked about as a factor groups nothing.
    Raises DesignError: factors that are no columns; names them all.
    """
    absent = [factor for factor in factors if factor not in loaves]
    if absent:
        raise DesignError(f"there is no column {', '.join(map(repr, absent))}")
    groupings = tuple(name for name in groupings if name not in factors)
    if len(loaves) > MOST_LOAVES:
        return _layout(loaves, tuple(factors), groupings)
    kind = alike(loaves, (*factors, *named_by(groupings)))
    return _kept_layout(kind, tuple(factors), groupings)


@lru_cache(maxsize=MOST_KEPT)
def _kept_layout(alike: Alike, factors: tuple[str, ...], groupings: tuple[str, ...]) -> Layout:
    """The layout of loaves that are alike, made once for every question."""
    return _layout(alike.loaves, factors, groupings)


def _layout(loaves: pd.DataFrame, factors: tuple[str, ...], groupings: tuple[str, ...]) -> Layout:
    """Work the layout out (`find_layout`)."""
    return _laid_out(loaves[list(factors)], groupings, label_units(loaves, groupings))


def _laid_out(asked: pd.DataFrame, groupings: tuple[str, ...], units: Units) -> Layout:
    """The layout of these factors in these units."""
    labels, sizes = units.labels, count_units(units.labels)
    left_out = _left_out(labels, sizes, groupings, units.mix_assumed)
    kept = sorted((name for name in labels if name not in left_out), key=sizes.__getitem__)
    groups = {
        name: reason for name in kept if (reason := _random(name, sizes[name], labels, asked))
    }
    return Layout(
        loaves=asked,
        groupings=groupings,
        codes=labels,
        blocks=tuple(name for name in kept if name not in groups),
        groups=groups,
        left_out=left_out,
        mix_assumed=units.mix_assumed,
        relabelled=units.relabelled,
        missing_labels=units.missing,
    )


def _codes(loaves: pd.DataFrame) -> dict[str, np.ndarray]:
    """Factor → a number for each of its levels, loaf by loaf."""
    return {str(factor): pd.factorize(loaves[factor])[0] for factor in loaves}


def _left_out(
    labels: Mapping[str, np.ndarray],
    sizes: Mapping[str, int],
    groupings: Sequence[str],
    mix_assumed: bool,
) -> dict[str, str]:
    """Groupings that tell nothing of their own, and why."""
    left_out = {name: "not recorded" for name in groupings if name not in labels}
    kept: list[str] = []
    for name in sorted(
        sizes, key=lambda name: PREFERRED.index(name) if name in PREFERRED else len(PREFERRED)
    ):
        n, loaves = sizes[name], len(labels[name])
        twin = next((other for other in kept if _same(labels[name], labels[other])), None)
        if name == "mix" and mix_assumed:
            left_out[name] = "not recorded"
        elif n == loaves:
            left_out[name] = "one loaf each"
        elif n == 1:
            left_out[name] = "one only"
        elif twin:
            left_out[name] = f"same as {twin}"
        else:
            kept.append(name)
    return left_out


def _same(first: np.ndarray, second: np.ndarray) -> bool:
    return is_nested(first, second) and is_nested(second, first)


def _random(
    name: str, n: int, labels: Mapping[str, np.ndarray], factors: pd.DataFrame
) -> str | None:
    """Why a grouping of n groups is random, or None when it is a fixed block."""
    if name == "mix":
        return "shared dough"
    if is_nested(labels[name], labels["mix"]):
        return "inside the mix"
    if n >= MANY_BLOCKS and any(
        incomplete(labels[name], codes) for codes in _codes(factors).values()
    ):
        return MANY_INCOMPLETE
    return "too many blocks to fix" if n > MOST_FIXED else None


def incomplete(blocks: np.ndarray, factor: np.ndarray) -> bool:
    """Some block lacks a level of a factor that varies inside blocks; both as codes, from 0 on."""
    n_levels = int(factor.max()) + 1
    there = np.bincount(blocks * n_levels + factor, minlength=(int(blocks.max()) + 1) * n_levels)
    per_block = (there > 0).reshape(-1, n_levels).sum(axis=1)
    return bool(per_block.max() > 1 and per_block.min() < n_levels)


def _relations(codes: Mapping[str, np.ndarray]) -> pd.DataFrame:
    """How every two columns of codes stand to each other; a column with one value stands to
    none.
    """
    varying = [name for name, code in codes.items() if code.max() > 0]
    rows = [_relation(codes, first, second) for first, second in combinations(varying, 2)]
    return pd.DataFrame(rows, columns=["first", "second", "relation"])


def _relation(codes: Mapping[str, np.ndarray], first: str, second: str) -> tuple[str, str, str]:
    """Tied, nested (first inside second), crossed or partly crossed."""
    a, b = codes[first], codes[second]
    inside, outside = is_nested(a, b), is_nested(b, a)
    if inside and outside:
        return first, second, "tied"
    if inside or outside:
        return (first, second, "nested") if inside else (second, first, "nested")
    n_first, n_second = int(a.max()) + 1, int(b.max()) + 1
    full = np.count_nonzero(np.bincount(a * n_second + b)) == n_first * n_second
    return first, second, "crossed" if full else "partly crossed"


def _never_baked(pair: pd.DataFrame) -> pd.DataFrame:
    """The combinations of two factors' levels that do not occur."""
    every = pd.MultiIndex.from_product(
        [ordered_levels(pair[name]) for name in pair], names=list(pair.columns)
    )
    return every.difference(pd.MultiIndex.from_frame(pair.astype(object)), sort=False).to_frame(
        index=False
    )
