"""A difference as a percentage of the mean that it is held against."""

from __future__ import annotations

import math

import numpy as np

from ...trials.frozen import frozen
from .formula_fit import FORMULA, FormulaFit


@frozen(kw_only=True)
class Percent:
    """The difference in percent of the other formula's mean, with its interval (NaN where there is
    none).
    """

    difference: float
    ci_low: float
    ci_high: float


def percent_of(
    fitted: FormulaFit, formula: str, against: str, standard_error: float, reach: float
) -> Percent | None:
    """Return a difference in percent of the mean of ``against``; None where that mean is not above
    zero.

    standard_error : of the difference as it was judged; reach : how many of them its interval goes
    to each side. The interval is that of a ratio of two estimates, and leaves zero out just when
    the difference's does. Source: Fieller 1954, J. Roy. Statist. Soc. B 16: 175-185.
    """
    L = np.array([fitted.row(formula, against), fitted.fit.design.at({FORMULA: against})])
    difference, base = (fitted.fit.contrast(row).estimate for row in L)
    if not base > 0:
        return None
    covariance = fitted.fit.covariance_of(L)
    low, high = _ratio_interval(
        difference, base, standard_error**2, covariance[0, 1], covariance[1, 1], reach
    )
    return Percent(difference=100 * difference / base, ci_low=100 * low, ci_high=100 * high)


def _ratio_interval(
    top: float, bottom: float, var_top: float, cov: float, var_bottom: float, reach: float
) -> tuple[float, float]:
    """Return the two ratios r at which top − r·bottom lies just ``reach`` standard errors from
    zero.
    """
    a = bottom**2 - reach**2 * var_bottom
    b = top * bottom - reach**2 * cov
    c = top**2 - reach**2 * var_top
    inside = b**2 - a * c
    if not (a > 0 and inside >= 0):
        return math.nan, math.nan
    return (b - math.sqrt(inside)) / a, (b + math.sqrt(inside)) / a
