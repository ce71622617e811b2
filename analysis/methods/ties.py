"""Picking the largest or sorting so that the last bits of a sum never choose: what rounds alike is
a tie.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from ..plain_data import DIGITS, significant


def largest(values: Iterable[float]) -> list[int]:
    """Return where the largest value stands, and every one that ties with it; none where none is
    known.
    """
    known = np.asarray(list(values), dtype=float)
    if not np.isfinite(known).any():
        return []
    top = np.nanmax(known)
    return np.flatnonzero(known >= top - 10.0**-DIGITS * np.nanmax(np.abs(known))).tolist()


def smallest(values: Iterable[float]) -> list[int]:
    """Return where the smallest value stands, and every one that ties with it; none where none is
    known.
    """
    return largest([-value for value in values])


def rounded(values: pd.Series) -> pd.Series:
    """Return numbers as sorting and ranking should see them (the key of a stable `sort_values`)."""
    return values.map(lambda value: significant(float(value)))
