"""How seldom a χ² so large comes by chance: by its sum of finitely many terms, as loading a library
for it would take longer than all checks of a small trial.
"""

from __future__ import annotations

from math import erfc, exp, pi, sqrt


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
