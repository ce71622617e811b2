"""A difference at one level of a factor that was varied inside the units, as malted against house
in open tins.

It is the difference over all levels, judged between units (mixes) on few degrees of freedom, plus
how far this level departs from it, judged inside the units on many. Estimate and standard error are
those of the fit; the t that they are held against is the two parts' own, weighted by their
variances: t* = (v₁t₁ + v₂t₂) / (v₁ + v₂). Kenward and Roger's single degrees of freedom are too
many here: with two mixes of each formula such a range would miss 7 % in place of 5. Source: the
split-plot rule of Cochran and Cox, Experimental Designs, 2nd ed., ch. 7 (section from memory);
chosen by simulation: tests/benchmarks/test_level_calibration.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.special import stdtr, stdtrit

from ..methods.root import root
from .estimates import Estimate
from .trial_fit import TrialFit


def contrast_at_level(fit: TrialFit, here: np.ndarray, whole: np.ndarray) -> Estimate:
    """Judge a contrast at one level, L `here` (P,), whose average over the levels is L `whole`
    (P,).

    Its degrees of freedom are those at which t is the weighted one. Where both parts are judged at
    one unit, or one of them cannot be judged, it is judged like any other contrast.
    """
    found, parts = fit.contrast(here), (fit.contrast(whole), fit.contrast(here - whole))
    known = all(np.isfinite(part.df) and part.standard_error > 0 for part in (found, *parts))
    if not known or parts[0].unit == parts[1].unit:
        return found
    t = weighted_t(
        [part.standard_error for part in parts], [part.df for part in parts], found.confidence
    )
    df = df_of_t(float(t), found.confidence, [part.df for part in parts])
    half = float(t) * found.standard_error
    return replace(
        found,
        df=df,
        p_value=float(2 * stdtr(df, -abs(found.t_value))),
        ci_low=found.estimate - half,
        ci_high=found.estimate + half,
    )


def weighted_t(
    errors: Sequence[np.ndarray | float], dfs: Sequence[np.ndarray | float], confidence: float
) -> np.ndarray:
    """Return the parts' two-sided t, weighted by their variances; parts are numbers or arrays
    (m,).
    """
    variances = [np.square(error) for error in errors]
    t = [stdtrit(df, (1 + confidence) / 2) for df in dfs]
    return sum(v * each for v, each in zip(variances, t, strict=True)) / sum(variances)


def df_of_t(t: float, confidence: float, between: Sequence[float]) -> float:
    """Return the degrees of freedom, between those of the parts, at which the two-sided t is
    this.
    """
    low, high = min(between), max(between)

    def over(df: float) -> float:
        return float(stdtrit(df, (1 + confidence) / 2)) - t

    if over(low) <= 0 or over(high) >= 0:  # one part alone, down to rounding
        return low if abs(over(low)) < abs(over(high)) else high
    return root(over, low, high)
