"""Numbers as numbers: straight line, curve, lack of fit, the fitted curve with its band, and the
best setting.

Sources: polynomial of a quantitative factor and its lack of fit, Montgomery, Design and Analysis of
Experiments, 8th ed., sections 3.3 and 11.2; interval of a ratio, Fieller 1954 (J. R. Statist. Soc.
B 16, 175-185).
"""

from __future__ import annotations

from typing import Literal

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from ...trials.frozen import frozen
from ..model.coding import Number
from ..model.trial_fit import TrialFit

POINTS = 25  # on the fitted curve


@frozen(kw_only=True)
class BestSetting:
    """Where the fitted curve turns, in the factor's unit.

    kind : "highest" or "lowest" point of the measure.
    where : "inside" what was baked, or "beyond" it (then `estimate` and the interval are NaN:
        nothing is said
        there).
    ci_low, ci_high : Fieller's interval, cut at the baked range; NaN where `interval` is
        "unbounded".
    interval : "fieller", "cut at the range" (Fieller's interval leaves the baked range on one side
        or both),
        or "unbounded" (the curvature is too unsure for any interval).
    """

    kind: Literal["highest", "lowest"]
    where: Literal["inside", "beyond"]
    estimate: float
    ci_low: float
    ci_high: float
    interval: Literal["fieller", "cut at the range", "unbounded"]


@frozen(kw_only=True)
class Curve:
    """One numeric factor's line or curve, averaged over the other factors.

    Attributes
    ----------
    factor, baked : the factor and its baked values, rising
    tests : term "line", "curve", "lack of fit" (of the line or curve that is drawn): num_df,
        den_df, f_value,
        p_value
    degree : 2 where the curve is there (its test at the interval's own level), else 1
    centre, coefficients : the fit in powers of (value − centre), constant first
    fitted : value, mean, standard_error, df, ci_low, ci_high on a grid from the lowest to the
        highest baked value
    slope, slope_ci_low, slope_ci_high : of the straight line, measure's unit per unit of the factor
    best : the turning point of the curve; None for a straight line
    """

    factor: str
    baked: tuple[float, ...]
    tests: pd.DataFrame
    degree: int
    centre: float
    coefficients: tuple[float, ...]
    fitted: pd.DataFrame
    slope: float
    slope_ci_low: float
    slope_ci_high: float
    best: BestSetting | None


def numeric_curve(loaves: pd.DataFrame, fit: TrialFit, factor: str) -> Curve | None:
    """Return the line and curve of a numeric factor with three or more baked values, the other
    terms as in `fit`.

    loaves : those that `fit` used. Where `fit` has the factor as a category, line and curve are
    tested as contrasts of its marginal means and lack of fit is what a line or curve leaves of
    them; otherwise by the fitted coefficients. None where the factor is tied to another, so that it
    has no line of its own.
    """
    line = _refit(loaves, fit, factor, 1)
    slope = line.contrast(line.design.powers(factor)[0])
    if np.isnan(slope.estimate):
        return None
    tests = _tests(loaves, fit, line, factor)
    bends = float(tests.loc[tests["term"] == "curve", "p_value"].iloc[0]) < 1 - fit.confidence
    drawn = _refit(loaves, fit, factor, 2) if bends else line
    tests = pd.concat([tests, _lack_of_fit(fit, factor, 2 if bends else 1)], ignore_index=True)
    baked = tuple(float(value) for value in line.design.levels[factor])
    return Curve(
        factor=factor,
        baked=baked,
        tests=tests,
        degree=2 if bends else 1,
        centre=drawn.design.centre(factor),
        coefficients=_coefficients(drawn, factor),
        fitted=_band(drawn, factor, baked),
        slope=slope.estimate,
        slope_ci_low=slope.ci_low,
        slope_ci_high=slope.ci_high,
        best=_turning_point(drawn, factor, baked) if bends else None,
    )


def fieller_turning_point(
    slope: float, bend: float, covariance: np.ndarray, critical: float
) -> tuple[float, float]:
    """Return the interval of −slope / (2 bend), where a + slope·x + bend·x² turns; infinite when it
    is unbounded.

    covariance : (2, 2) of slope and bend; critical : the t quantile. The interval holds every x at
    which the tangent's slope, slope + 2·bend·x, is within its own interval of zero (Fieller 1954).
    """
    t2 = critical**2
    a = 4 * (bend**2 - t2 * covariance[1, 1])
    b = 4 * (slope * bend - t2 * covariance[0, 1])
    c = slope**2 - t2 * covariance[0, 0]
    inside = b**2 - 4 * a * c
    if not (a > 0 and inside >= 0):
        return -np.inf, np.inf
    half = np.sqrt(inside) / (2 * a)
    return -b / (2 * a) - half, -b / (2 * a) + half


def _refit(loaves: pd.DataFrame, fit: TrialFit, factor: str, degree: int) -> TrialFit:
    """The same terms with this factor as a polynomial; other numbers stay as they are in `fit`."""
    numbers = {
        name: coding.degree
        for name, coding in fit.design.codings.items()
        if isinstance(coding, Number)
    }
    return fit.again(loaves, fit.design.terms, numbers | {factor: degree})


def _tests(loaves: pd.DataFrame, fit: TrialFit, line: TrialFit, factor: str) -> pd.DataFrame:
    """F tests of the straight line and of the curve beside it."""
    if (
        isinstance(fit.design.codings[factor], Number)
        or not fit.design.means([factor]).estimable.all()
    ):
        curve = _refit(loaves, fit, factor, 2)
        asked = [(line, line.design.powers(factor)[:1]), (curve, curve.design.powers(factor)[1:2])]
    else:
        rows = (
            _orthogonal(np.array(fit.design.levels[factor], float)) @ fit.design.means([factor]).L
        )
        asked = [(fit, rows[:1]), (fit, rows[1:2])]
    return pd.DataFrame(
        [_row(name, *one) for name, one in zip(("line", "curve"), asked, strict=True)]
    )


def _orthogonal(values: np.ndarray) -> np.ndarray:
    """(2, k): the linear and the quadratic contrast of k equally weighted means at these values."""
    powers = np.vander((values - values.mean()) / np.ptp(values), 3, increasing=True)
    return np.linalg.qr(powers)[0].T[1:]


def _lack_of_fit(fit: TrialFit, factor: str, degree: int) -> pd.DataFrame:
    """What the line or curve leaves of the marginal means; no row where nothing is left to test."""
    if isinstance(fit.design.codings[factor], Number):
        return pd.DataFrame()
    L = fit.design.lack_of_fit(factor, degree)
    return pd.DataFrame([_row("lack of fit", fit, L)]) if len(L) else pd.DataFrame()


def _row(term: str, fit: TrialFit, L: np.ndarray) -> dict[str, object]:
    test = fit.f_test(L)
    return {
        "term": term,
        "num_df": test.num_df,
        "den_df": test.den_df,
        "f_value": test.f_value,
        "p_value": test.p_value,
    }


def _coefficients(fit: TrialFit, factor: str) -> tuple[float, ...]:
    constant = fit.contrast(fit.design.at({factor: fit.design.centre(factor)})).estimate
    return (constant, *(fit.contrast(L).estimate for L in fit.design.powers(factor)))


def _band(fit: TrialFit, factor: str, baked: tuple[float, ...]) -> pd.DataFrame:
    """The fitted curve, pointwise interval by interval, from the lowest to the highest baked
    value.
    """
    rows = []
    for value in np.linspace(baked[0], baked[-1], POINTS):
        mean = fit.contrast(fit.design.at({factor: value}))
        rows.append(
            {
                "value": value,
                "mean": mean.estimate,
                "standard_error": mean.standard_error,
                "df": mean.df,
                "ci_low": mean.ci_low,
                "ci_high": mean.ci_high,
            }
        )
    return pd.DataFrame(rows)


def _turning_point(fit: TrialFit, factor: str, baked: tuple[float, ...]) -> BestSetting:
    """The highest or lowest point of the curve with Fieller's interval, never beyond what was
    baked.
    """
    L = fit.design.powers(factor)
    slope, bend = (fit.contrast(row).estimate for row in L)
    turn = -slope / (2 * bend)
    kind: Literal["highest", "lowest"] = "highest" if bend < 0 else "lowest"
    centre = fit.design.centre(factor)
    if not baked[0] <= centre + turn <= baked[-1]:
        return BestSetting(
            kind=kind,
            where="beyond",
            estimate=np.nan,
            ci_low=np.nan,
            ci_high=np.nan,
            interval="unbounded",
        )
    df = fit.contrast(L[0] + 2 * turn * L[1]).df
    critical = float(stdtrit(df, (1 + fit.confidence) / 2))
    low, high = (
        centre + x for x in fieller_turning_point(slope, bend, fit.covariance_of(L), critical)
    )
    cut = low < baked[0] or high > baked[-1]
    unbounded = not np.isfinite(low)
    return BestSetting(
        kind=kind,
        where="inside",
        estimate=centre + turn,
        ci_low=np.nan if unbounded else max(low, baked[0]),
        ci_high=np.nan if unbounded else min(high, baked[-1]),
        interval="unbounded" if unbounded else "cut at the range" if cut else "fieller",
    )
