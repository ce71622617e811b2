"""Power: how often a difference of a given size is shown, and the smallest that is shown often
enough.

A two-sided test with critical value c shows a true difference of δ standard errors with chance
P(|T| > c), T noncentral t with df degrees of freedom and noncentrality δ (Cohen 1988, Statistical
Power Analysis, 2nd ed., ch. 2). Any critical value will do: of t itself, of Tukey's range, of
Dunnett's contrasts.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc, chdtri, gammaln, nctdtr, stdtrit

from .root import root

USUAL = 0.80  # power that is asked for where nobody says otherwise (Cohen 1988)
LENTH_TRIALS = 60_000  # simulated, with a fixed seed
LENTH_SEED = 1989
# the far tail of the noncentral t where the library gives none: below 1e-8
ABSENT = 0.0


def power_of_t(noncentrality: ArrayLike, df: ArrayLike, critical: ArrayLike) -> NDArray:
    """Return the chance that a t statistic lies beyond ±critical; arrays are broadcast.

    The noncentral t is missing (NaN) far out. Its lower tail is below 1e-8 there and counts as
    zero; within the limits the normal deviate is nothing beside the noncentrality, which leaves
    the chance that the error is estimated so large.
    """
    delta, degrees, limit = (
        np.abs(noncentrality),
        np.asarray(df, float),
        np.asarray(critical, float),
    )
    with np.errstate(all="ignore"):
        lower, below = nctdtr(degrees, delta, -limit), nctdtr(degrees, delta, limit)
        far = chdtrc(degrees, degrees * (delta / limit) ** 2)
    below = np.where(np.isfinite(below), below, far)
    return np.asarray(1 - below + np.where(np.isfinite(lower), lower, ABSENT))


def shown_with(power: float, df: float, critical: float) -> float:
    """Return the difference, in standard errors, that is shown with this chance; NaN without
    degrees of freedom.
    """
    if not (df > 0 and math.isfinite(critical)):
        return math.nan
    high = critical + 3.0
    while power_of_t(high, df, critical) < power:
        high *= 2
    return root(lambda delta: float(power_of_t(delta, df, critical)) - power, 0.0, high)


def own_critical(df: float, confidence: float = 0.95) -> float:
    """Return the critical value of a single two-sided t test."""
    return float(stdtrit(df, (1 + confidence) / 2))


def possible_variances(df: float, points: int) -> NDArray:
    """Return factors (points,) for a variance that was estimated with ``df`` degrees of freedom:
    ν/χ² at midpoints.

    Source: Julious and Owen 2006, Pharmaceutical Statistics 5, 29-37.
    """
    shares = (np.arange(points) + 0.5) / points
    return np.asarray(df / chdtri(df, 1 - shares))


def mean_of_possible_sd(df: float) -> float:
    """Return the mean of √(ν/χ²): a standard deviation that was estimated, over what it may be.

    It grows without bound towards one degree of freedom: where it lies beyond the upper 80 % limit
    (below 1.5 or so) that stands in its place.
    """
    if df <= 1:
        return upper_sd(df)
    mean = math.sqrt(df / 2) * math.exp(gammaln((df - 1) / 2) - gammaln(df / 2))
    return min(mean, upper_sd(df))


def assurance(
    delta: float, df: float, critical: float, known_df: float, points: int = 400
) -> float:
    """Return the mean power when the variance behind ``delta`` standard errors is known with
    ``known_df`` only.

    Source: O'Hagan, Stevens and Campbell 2005, Pharmaceutical Statistics 4, 187-201.
    """
    factors = possible_variances(known_df, points)
    return float(power_of_t(delta / np.sqrt(factors), df, critical).mean())


def upper_sd(df: float, confidence: float = 0.80) -> float:
    """Return the factor to the upper limit of a standard deviation: √(ν/χ²) (Browne 1995, Stat.
    Med. 14, 1933-1940).
    """
    return math.sqrt(df / float(chdtri(df, confidence)))


def best_repeats(
    cost_unit: float, cost_repeat: float, unit_variance: float, repeat_variance: float
) -> int:
    """Return how many repeats inside a unit cost least for what they show: √(c₁/c₂ · s²₂/s²₁), at
    least one.

    Source: Cochran 1977, Sampling Techniques, 3rd ed., ch. 10. Of the two whole numbers beside it,
    the cheaper.
    """
    if unit_variance <= 0 or cost_repeat <= 0:
        raise ValueError("the unit's variance and the repeat's cost must be above zero")
    exact = math.sqrt(cost_unit / cost_repeat * repeat_variance / unit_variance)
    sides = {max(1, math.floor(exact)), max(1, math.ceil(exact))}
    return min(
        sides, key=lambda n: (unit_variance + repeat_variance / n) * (cost_unit + cost_repeat * n)
    )


@lru_cache(maxsize=32)
def lenth_shown_with(power: float, n_effects: int, confidence: float = 0.95) -> float:
    """Return the difference, in standard errors, that Lenth's margin shows with this chance: one
    effect among noise.

    Simulated with a fixed seed, good to about 0.03. Source of the margin: Lenth 1989, Technometrics
    31, 469-473.
    """
    low, high = 1.0, 40.0
    while high - low > 1e-3:
        delta = (low + high) / 2
        low, high = (
            (delta, high) if lenth_power(delta, n_effects, confidence) < power else (low, delta)
        )
    return (low + high) / 2


@lru_cache(maxsize=32)
def lenth_power(delta: float, n_effects: int, confidence: float = 0.95) -> float:
    """Return the chance that Lenth's margin shows an effect of ``delta`` standard errors among
    noise (simulated).
    """
    noise = np.random.default_rng(LENTH_SEED).standard_normal((LENTH_TRIALS, n_effects))
    effects = np.abs(noise)
    effects[:, 0] = np.abs(delta + noise[:, 0])
    return float((effects[:, 0] > _lenth_margins(effects, confidence)).mean())


def _lenth_margins(absolute: NDArray, confidence: float) -> NDArray:
    """Return Lenth's margin of each row of absolute effects (trials, m)."""
    m = absolute.shape[1]
    ranked, row = np.sort(absolute, axis=1), np.arange(len(absolute))
    first = 1.5 * (ranked[:, (m - 1) // 2] + ranked[:, m // 2]) / 2
    small = (ranked < 2.5 * first[:, None]).sum(axis=1)
    pseudo_error = 1.5 * (ranked[row, (small - 1) // 2] + ranked[row, small // 2]) / 2
    return np.asarray(own_critical(m / 3, confidence) * pseudo_error)
