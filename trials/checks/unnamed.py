"""What seems to have been changed on purpose though nobody named it: a column under a header that
is not known here, whose values are laid out as a trial lays out what it compares.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import BY_NAME, CRUMB_PREFIX, GROUPINGS
from ..measuring.mixes import codes_of
from ..trial import Trial
from ..words.for_card import factor_line, level
from ..words.lists import listed
from .check import Spot, check
from .grouping import MOST_LEVELS, SETTINGS, batch_codes, joint_codes, kinds_in

QUOTE = '"'
LEAST_OF_LEVEL = 2  # mixes that have a level; one alone is an incident and no treatment


def unknown_headers(loaves: pd.DataFrame, trial: Trial) -> list[tuple[str, str]]:
    """Return (column, header) of what neither the vocabulary nor the card knows."""
    said = {*trial.card.factors, *trial.card.measures, *trial.card.columns, trial.card.measure}
    return [
        (name, text)
        for name, text in trial.headers.items()
        if name in loaves
        and name not in BY_NAME
        and name not in said
        and not name.startswith(CRUMB_PREFIX)
        and text
    ]


def unnamed_settings(loaves: pd.DataFrame, trial: Trial) -> list[tuple[str, str]]:
    """Return (column, header) of what is not known here and is laid out like a factor."""
    unknown = unknown_headers(loaves, trial)
    if not unknown or not len(loaves):
        return []
    mixes = batch_codes(loaves)
    known = [
        codes_of(loaves[name])
        for name in dict.fromkeys([*trial.factors, *(grouping.name for grouping in GROUPINGS)])
        if name in loaves and name not in ("mix", "loaf")
    ]
    return [
        (name, text)
        for name, text in unknown
        if laid_out(loaves[name], mixes)
        and not any(follows(codes_of(loaves[name]), codes) for codes in known)
    ]


def unnamed_codes(loaves: pd.DataFrame, trial: Trial) -> list[NDArray]:
    """Return codes (n,) for each setting that varies in the table and that nobody named as a
    factor.
    """
    usual = [
        name
        for name in SETTINGS
        if name in loaves
        and name not in trial.factors
        and not (name == "proof_min" and trial.card.proof_to == "height")
        and 1 < loaves[name].nunique() <= MOST_LEVELS
    ]
    unusual = [name for name, _ in unnamed_settings(loaves, trial)]
    return [joint_codes(loaves, [name]) for name in (*usual, *unusual)]


def laid_out(column: pd.Series, mixes: NDArray) -> bool:
    """Return whether a column (n,) is laid out as what is compared: a few levels, none missing,
    each in several mixes, and either one level a mix or every level equally often in every mix.

    What was only observed, such as a crust's colour, falls on the loaves of a mix as it comes;
    numbers that count the loaves of each mix say nothing but their place.
    """
    if column.isna().any() or not 2 <= column.nunique() <= MOST_LEVELS:
        return False
    codes = codes_of(column)
    counts = np.zeros((int(mixes.max()) + 1, int(codes.max()) + 1), dtype=int)
    np.add.at(counts, (mixes, codes), 1)
    if ((counts > 0).sum(axis=0) < LEAST_OF_LEVEL).any():
        return False
    if (kinds_in(mixes, column) == 1).all():
        return True
    counted = column.dtype.kind == "f" and set(column) == set(range(1, counts.shape[1] + 1))
    return bool((counts == counts[:, :1]).all()) and not (counted and counts.max() == 1)


def follows(codes: NDArray, known: NDArray) -> bool:
    """Return whether what is known already says which level every loaf has."""
    return bool((kinds_in(known, pd.Series(codes)) <= 1).all())


@check(
    "changed-not-named",
    "warning",
    "What was changed and is not named is taken for scatter, or for the effect of something else.",
)
def changed_but_not_named(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is what was changed on purpose named, so that it is allowed for?"""
    others = [name for name in trial.factors if name in loaves]
    beside_them = f"  beside {listed(others)}" if others and not trial.card.factors else ""
    for name, text in unnamed_settings(loaves, trial):
        levels = sorted(loaves[name].unique())
        said = ", ".join(map(level, levels)).replace(QUOTE, "")
        yield Spot(
            message=(
                f"{text!r} is not known here, and its {len(levels)} values"
                f" ({said}) are laid out as what a trial compares."
            ),
            column=name,
            fix=(
                "If it was changed on purpose, write on the card under [factors] "
                f" {factor_line(name, levels)}{beside_them}"
            ),
        )
