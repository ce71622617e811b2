"""Pairs of formulas judged together: one pair by itself, several against one (Dunnett), all pairs
(Tukey).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from ...trials.fairness.pairing import Family
from ..codes import Adjustment
from ..methods.multiplicity import (
    correlation_of,
    dunnett_critical,
    dunnett_p_value,
    tukey_critical,
    tukey_p_value,
)
from ..model.estimates import Estimate
from ..result import DIFFERENCE
from ..verdict import verdict
from .formula_fit import FormulaFit

ADJUSTMENT: dict[Family, Adjustment] = {
    "one pair": "none",
    "all against one": "Dunnett",
    "all pairs": "Tukey",
}
# → standard errors that the interval reaches, and p
Adjust = Callable[[Estimate], tuple[float, float]]
PAIRS = [
    "formula",
    "against",
    *DIFFERENCE,
    "verdict",
    "way",
    "why",
    "unit",
    "n_units",
    "between",
    "ignored",
]


def judge_pairs(
    fitted: FormulaFit, pairs: Sequence[tuple[str, str]], family: Family, matters: float | None
) -> pd.DataFrame:
    """Return one row a pair with its interval, p-value and verdict, adjusted for the family of
    pairs.
    """
    adjust = family_adjustment(fitted, pairs, family)
    rows = [tuple(judge_pair(fitted, pair, adjust, matters).values()) for pair in pairs]
    return pd.DataFrame(rows, columns=PAIRS)


def judge_pair(
    fitted: FormulaFit, pair: tuple[str, str], adjust: Adjust, matters: float | None
) -> dict[str, Any]:
    """Return one pair of a family, judged, by the names of ``PAIRS``.

    Each pair keeps its own degrees of freedom. A pair that rests on a single mix of a formula has
    no interval and no p-value, whatever the loaves.
    """
    d = fitted.difference(*pair)
    error, df, p, reach = d.standard_error, d.df, d.p_value, np.nan
    if fitted.lacks_mixes(pair):
        error = df = p = np.nan
    elif np.isfinite(df):
        critical, p = adjust(d)
        reach = critical * error
    low, high = d.estimate - reach, d.estimate + reach
    row = (
        *pair,
        d.estimate,
        error,
        df,
        low,
        high,
        p,
        verdict(low, high, matters),
        d.way,
        d.why,
        d.unit,
        d.n_units,
        d.between,
        d.ignored,
    )
    return dict(zip(PAIRS, row, strict=True))


def family_adjustment(
    fitted: FormulaFit, pairs: Sequence[tuple[str, str]], family: Family
) -> Adjust:
    """Return how an estimate is held against the family of pairs that it belongs to, whichever of
    them is told.

    Also a pair's differences at each tin or proof time: the pair was picked among all.
    """
    L = np.array([fitted.row(*pair) for pair in pairs])
    correlation = (
        correlation_of(fitted.fit.covariance_of(L)) if family == "all against one" else np.eye(1)
    )
    n_means = len({formula for pair in pairs for formula in pair})

    def adjust(d: Estimate) -> tuple[float, float]:
        return _adjusted(d.t_value, d.df, d.confidence, family, n_means, correlation)

    return adjust


def _adjusted(
    t: float, df: float, confidence: float, family: Family, n_means: int, correlation: np.ndarray
) -> tuple[float, float]:
    """Return how many standard errors the interval reaches, and the p-value."""
    if family == "all pairs":
        return _tukey_critical(confidence, round(df, 9), n_means), tukey_p_value(t, df, n_means)
    if len(correlation) == 1:
        return float(stdtrit(df, (1 + confidence) / 2)), float(2 * stdtr(df, -abs(t)))
    critical = _dunnett_critical(confidence, round(df, 6), correlation.tobytes())
    return critical, dunnett_p_value(t, df, correlation)


@lru_cache(maxsize=256)
def _tukey_critical(confidence: float, df: float, n_means: int) -> float:
    """Many pairs, and attributes, share their df: the root is found once."""
    return tukey_critical(confidence, df, n_means)


@lru_cache(maxsize=256)
def _dunnett_critical(confidence: float, df: float, correlation: bytes) -> float:
    """As `_tukey_critical`, for one correlation."""
    R = np.frombuffer(correlation)
    return dunnett_critical(confidence, df, R.reshape(math.isqrt(len(R)), -1))
