"""Lidded tins: a loaf can be no bigger than its tin, so a filled one says nothing about the
formula.
"""

from __future__ import annotations

import pandas as pd

from ..card import TrialCard
from ..columns import MEASURES

FILLED = 0.97  # loaf volume / tin volume from which a lidded tin is full
# or standard deviation / mean of volumes under one kind of lid: common practice, no source
HARDLY_ANY = 0.01


def capped_loaves(loaves: pd.DataFrame, card: TrialCard, measure: str) -> pd.Series:
    """Return which loaves to leave out of a comparison of ``measure``: bool, with the index of
    ``loaves``.

    Only volumes and height are capped, and only in a kind of tin that the card calls lidded. As
    soon as one loaf filled such a tin (``FILLED`` of its volume, or hardly any spread among its
    loaves), all loaves from it go: leaving out the full ones alone would favour the formula that
    rose less.
    """
    capped = pd.Series(False, index=loaves.index)
    if measure not in MEASURES or not MEASURES[measure].capped:
        return capped
    if not {"tin", "loaf_ml"} <= set(loaves.columns):
        return capped
    for name, tin in card.tins.items():
        here = loaves["tin"] == name
        if tin.lid and _is_full(loaves.loc[here, "loaf_ml"].dropna(), tin.volume_ml):
            capped |= here
    return capped


def _is_full(volumes: pd.Series, tin_ml: float | None) -> bool:
    """Return whether any loaf filled its lidded tin."""
    if tin_ml is not None and (volumes >= FILLED * tin_ml).any():
        return True
    return len(volumes) > 2 and bool(volumes.std() < HARDLY_ANY * volumes.mean())
