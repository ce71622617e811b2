"""What goes with the formula: a condition in which the two formulas never meet cannot be told apart
from them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

import numpy as np
import pandas as pd

from ..checks.check import Spot
from ..columns import BLOCKS
from ..measuring.mixes import mix_codes
from ..words.lists import listed
from ..words.naming import set_apart
from ..words.numbers import ENGLISH, level_inside
from .conditions import Pair, linked_levels
from .fair_check import FairCheck, fair, words_for

CONFOUNDED = (*BLOCKS, "oven_place", "tin", "proof_min", "flour_lot")
MOST_LEVELS_TOLD = 4


def tied_to(name: str) -> FairCheck:
    """Return the check that stops a comparison whose formulas differ in one level of this
    condition.
    """
    words = words_for(name)

    @fair(
        f"formula-tied-to-{name.replace('_', '-')}",
        "error",
        f"Whatever the {words} did to the loaves looks as if the formula had done it.",
        title=f"Can formula and {words} be told apart?",
    )
    def tied(pair: Pair) -> Iterator[Spot]:
        apart = levels_apart(pair, name)
        if apart is not None and min(map(len, apart)) == 1:
            ours, theirs = map(_told, apart)
            yield Spot(
                message=(
                    f"Formula and {words} cannot be told apart: {set_apart(pair.formula)} only"
                    f" with {words} "
                    f"{ours}, {set_apart(pair.against)} only with {words} {theirs}."
                ),
                column=name,
                fix=f"Bake both formulas with the same {words}, several mixes of each.",
            )

    return tied


def apart_in(name: str) -> FairCheck:
    """Return the check that says when the formulas never met in this condition, though each had
    several levels.
    """
    words = words_for(name)

    @fair(
        f"formulas-apart-in-{name.replace('_', '-')}",
        "warning",
        f"Formulas are compared best with the same {words}.",
        title=f"Did both formulas meet in the same {words}?",
    )
    def never_met(pair: Pair) -> Iterator[Spot]:
        apart = levels_apart(pair, name)
        if apart is not None and min(map(len, apart)) > 1:
            yield Spot(
                message=(
                    f"{set_apart(pair.formula)} and {set_apart(pair.against)} never had the same"
                    f" {words}: their"
                    f" difference also holds the difference between one {words} and another."
                ),
                column=name,
                fix=f"Next time give both formulas to every {words}.",
            )

    return never_met


def levels_apart(pair: Pair, name: str) -> tuple[Collection[object], Collection[object]] | None:
    """Return the levels on either side where nothing joins the two formulas in this condition, else
    None.

    A third formula that met both joins them. An oven load that is the mix under another name is not
    looked at, nor is proof time where dough was proofed to height.
    """
    column = _find_column(pair.loaves, name)
    if (
        column is None
        or pair.loaves[column].isna().all()
        or (name == "oven_load" and _load_is_mix(pair))
    ):
        return None
    if name == "proof_min" and pair.trial.card.proof_to == "height":
        return None
    if _met(pair, column):
        return None
    side = {
        formula: levels for formulas, levels in linked_levels(pair, column) for formula in formulas
    }
    ours, theirs = side.get(pair.formula), side.get(pair.against)
    return (ours, theirs) if ours and theirs and not ours & theirs else None


def _met(pair: Pair, column: str) -> bool:
    """Return whether the two formulas themselves share a level."""
    codes, levels = pd.factorize(pair.loaves[column])
    known, first = codes >= 0, pair.is_formula.to_numpy()
    ours, theirs = (
        np.bincount(codes[known & side], minlength=len(levels)) > 0 for side in (first, ~first)
    )
    return bool((ours & theirs).any())


def _told(levels: Collection[object]) -> str:
    names = sorted(level_inside(level, ENGLISH) for level in levels)
    return listed(names[:MOST_LEVELS_TOLD], more=len(names[MOST_LEVELS_TOLD:]))


def _find_column(loaves: pd.DataFrame, name: str) -> str | None:
    """Return the column of this condition; a flour lot is any column with the word lot in its
    name.
    """
    if name in loaves:
        return name
    if name == "flour_lot":
        return next(
            (str(c) for c in loaves if "lot" in str(c).lower().replace("_", " ").split()), None
        )
    return None


def _load_is_mix(pair: Pair) -> bool:
    """Return whether every oven load held one mix and every mix went into one load: then the load
    is the mix.
    """
    loads, mixes = pd.factorize(pair.loaves["oven_load"])[0], mix_codes(pair.loaves)
    both = len(np.unique(np.stack([loads, mixes]), axis=1).T)
    return both == len(np.unique(loads)) == len(np.unique(mixes))
