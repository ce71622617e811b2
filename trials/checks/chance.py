"""How seldom a χ² or a t so large comes by chance: by their sums of finitely many terms, as loading
a library for them would take longer than all checks of a small trial.
"""

from __future__ import annotations

from math import erfc, exp, pi, sqrt

import numpy as np
from numpy.typing import NDArray


def chi_square_tail(df: int, x: float) -> float:
    """Return the chance of a χ² with ``df`` degrees of freedom above ``x``.

    Raises ValueError where ``df`` is below one.

    Source: Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 26.4.4 and 26.4.5.
    """
    if df < 1:
        raise ValueError(f"df is {df}: a χ² has at least one degree of freedom.")
    if x <= 0:
        return 1.0
    odd = df % 2
    term = sqrt(2 * x / pi) * exp(-x / 2) if odd else exp(-x / 2)
    total = erfc(sqrt(x / 2)) if odd else 0.0
    for k in range(odd, df, 2):
        total += term
        term *= x / (k + 2)
    return total


def t_tails(df: NDArray, t: NDArray) -> NDArray:
    """Return the chance (n,) of Student's t beyond ±t, ``df`` (n,) whole degrees of freedom.

    Exact to about 1e-15, not to a part of a chance that is smaller than that.

    Source: Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 26.7.3 and 26.7.4.
    """
    angle = np.arctan(np.abs(t) / np.sqrt(df))
    inside = np.empty_like(angle)
    for one in np.unique(df):
        rows, odd = df == one, one % 2
        cosine = np.cos(angle[rows])
        k = np.arange(2 + odd, one - 1, 2)[:, None]
        terms = np.cumprod(cosine**2 * ((k - 1) / k), axis=0)
        total = (cosine if odd else 1.0) * (1.0 + terms.sum(axis=0)) if one > 1 else 0.0
        within = np.sin(angle[rows]) * total
        inside[rows] = 2 / pi * (angle[rows] + within) if odd else within
    return np.clip(1 - inside, 0.0, 1.0)
