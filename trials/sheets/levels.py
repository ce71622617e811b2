"""The levels of factors that a loaf or a mix has, as a sheet names them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import pandas as pd

from ..planning.result import TrialPlan

Levels = tuple[tuple[str, str | float], ...]  # (factor, level), in the card's order


def levels_of(row: Mapping[str, Any] | pd.Series, factors: Iterable[str]) -> Levels:
    """Return the levels of these factors that a row has."""
    return tuple(
        (name, float(row[name]) if isinstance(row[name], int | float) else str(row[name]))
        for name in factors
        if pd.notna(row[name])
    )


def mix_factors(plan: TrialPlan) -> tuple[str, ...]:
    """Return the factors that all loaves of a mix share, in the card's order."""
    return tuple(name for name, unit in plan.made_per.items() if unit in ("day", "mix"))
