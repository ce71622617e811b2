"""Several comparisons at once: all pairs (Tukey), several against one control (Dunnett), any set of
tests (Holm).

Both distributions are one integral over the estimated standard deviation and one over a shared
normal deviate. What is integrated is smooth and dies away at both ends, so that equal steps are
exact to about eight digits (fewer where contrasts correlate above 0.97, and of a t above 100), and
the same on every run.

Sources: Tukey 1953 and Kramer 1956 (Biometrics 12: 307-310); Dunnett 1955 (J. Amer. Statist. Assoc.
50: 1096-1121); equal steps, Trefethen and Weideman 2014 (SIAM Review 56: 385-458), over a deviation
that is exp(x - exp(-x)), Takahasi and Mori 1974 (Publ. RIMS Kyoto 9: 721-741); correlations that a
single shared deviate does not reproduce are replaced by the nearest that it does: Hsu 1992 (J.
Comput. Graph. Statist. 1: 151-168); Holm 1979 (Scand. J. Statist. 6: 65-70).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from scipy import special

from .root import root

STEPS = 80  # of either integral
FAR = 8.5  # standard normal deviates beyond this are left out of the integrals
TAIL = 1e-15  # so are standard deviations beyond these quantiles
LEAST = 1e-300  # of a square whose logarithm is taken
LOWEST = -6.0  # of two or more deviates: no chance that counts lies below
WIDEST = 12.0  # no chance that counts has a range of deviates that is wider
POINTS = 81  # between which the chance of a range is interpolated
CLOSE = 1e-9  # of a root to the one before, whose next digits it has right
# decimals of a p-value that are not rounding error; none is told below 1e-12
PLACES = 12
MOST_SHARED = 0.999999  # a loading of 1 would divide by zero


def tukey_p_value(t_value: float, df: float, n_means: int) -> float:
    """Return the adjusted two-sided p-value of one pair among all pairs of ``n_means`` means.

    ``t_value`` is the pair's difference over its own standard error (Tukey-Kramer), ``df`` its own.
    """
    return _told(_tukey_p(abs(t_value), df, n_means))


def tukey_critical(confidence: float, df: float, n_means: int) -> float:
    """Return how many standard errors of a difference the interval of one pair reaches to each
    side.
    """
    pairs = n_means * (n_means - 1) // 2
    return _root(lambda t: _tukey_p(t, df, n_means), 1 - confidence, df, pairs)


def dunnett_p_value(t_value: float, df: float, correlation: np.ndarray) -> float:
    """Return the adjusted two-sided p-value of one among several contrasts with this correlation
    (k, k).
    """
    loadings = _shared_loadings(correlation)
    return _told(_over_spread(lambda s: _any_exceeds(abs(t_value) * s, loadings), df))


def dunnett_critical(confidence: float, df: float, correlation: np.ndarray) -> float:
    """Return how many standard errors each of several intervals reaches to each side, jointly at
    ``confidence``.
    """
    loadings = _shared_loadings(correlation)
    return _root(
        lambda t: _over_spread(lambda s: _any_exceeds(t * s, loadings), df),
        1 - confidence,
        df,
        len(loadings),
    )


def correlation_of(covariance: np.ndarray) -> np.ndarray:
    """Return the correlation (k, k) of contrasts. Where one of them has no variance to be had, all
    are taken as uncorrelated, for which Dunnett's limit is widest (Šidák 1967, J. Amer. Statist.
    Assoc. 62: 626-633).
    """
    errors = np.sqrt(np.diag(covariance))
    if not (np.isfinite(covariance).all() and (errors > 0).all()):
        return np.eye(len(covariance))
    return covariance / np.outer(errors, errors)


def holm(p_values: np.ndarray) -> np.ndarray:
    """Return p-values adjusted by Holm's step-down method, in the order given; NaN stays NaN and is
    not counted.
    """
    p = np.asarray(p_values, dtype=float)
    adjusted = np.full(p.shape, np.nan)
    known = np.flatnonzero(np.isfinite(p))
    order = known[np.argsort(p[known], kind="stable")]
    steps = p[order] * np.arange(len(order), 0, -1)
    adjusted[order] = np.minimum(np.maximum.accumulate(steps), 1.0)
    return adjusted


def _told(p_value: float) -> float:
    """Return a p-value without the digits that are rounding error."""
    return p_value if math.isnan(p_value) else max(round(p_value, PLACES), 10.0**-PLACES)


def _tukey_p(t: float, df: float, n_means: int) -> float:
    return _over_spread(lambda s: _range_exceeds(np.sqrt(2) * t * s, n_means), df)


# --- the integrals -----------------------------------------------------------------------------


def _middles(low: float, high: float) -> np.ndarray:
    """Return the middles of equal steps from low to high."""
    return low + (np.arange(STEPS) + 0.5) * (high - low) / STEPS


def _normal_deviates(low: float) -> tuple[np.ndarray, np.ndarray]:
    """Return points and weights that integrate over a standard normal deviate, from low on."""
    z = _middles(low, FAR)
    return z, (z[1] - z[0]) * np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)


def _over_spread(exceeds: Callable[[np.ndarray], np.ndarray], df: float) -> float:
    """Average a chance over s, the estimated over the true standard deviation: df·s² is chi-square
    with df. A chance below TAIL is rounding error, sometimes 0 or less, and is given as TAIL.
    """
    s, weights = _spread(df)
    return float(np.clip(weights @ exceeds(s), TAIL, 1))


@lru_cache(maxsize=32)
def _spread(df: float) -> tuple[np.ndarray, np.ndarray]:
    """Return points of s and weights that average over it. The steps are even in x, of which log s
    is x − exp(−x): there the density dies away at both ends for any df.
    """
    if not np.isfinite(df):
        return np.ones(1), np.ones(1)
    squares = 2 * special.gammaincinv(df / 2, [TAIL, 1 - TAIL]) / df
    ends = np.log(np.maximum(squares, LEAST)) / 2
    x = _middles(*(ends + special.wrightomega(-ends)))
    log_s = x - np.exp(-x)
    s = np.exp(log_s)
    weights = (1 + np.exp(-x)) * np.exp(df * (log_s - (s**2 - 1) / 2))
    return s, weights / weights.sum()


def _range_exceeds(width: np.ndarray, n_means: int) -> np.ndarray:
    """Chance that the range of ``n_means`` standard normal deviates is above each width, between
    Chebyshev's points to 13 digits (Berrut and Trefethen 2004, SIAM Review 46: 501-517).
    """
    points, signs, chances = _ranges(n_means)
    apart = np.minimum(width, WIDEST)[:, None] - points
    apart[apart == 0] = TAIL  # at a point its own chance counts alone
    weights = signs / apart
    return (weights @ chances) / weights.sum(axis=1)


@lru_cache(maxsize=32)
def _ranges(n_means: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Chebyshev's points from 0 to WIDEST, the signs of their weights, and the chance that the
    range of ``n_means`` standard normal deviates, the largest of which is z, is above each.
    """
    turn = np.arange(POINTS)
    points = WIDEST / 2 * (1 - np.cos(np.pi * turn / (POINTS - 1)))
    signs = np.where(turn % 2, -1.0, 1.0) * np.where((turn == 0) | (turn == POINTS - 1), 0.5, 1.0)
    z, weights = _normal_deviates(LOWEST)
    inside = special.ndtr(z) - special.ndtr(z - points[:, None])
    return points, signs, 1 - n_means * (inside ** (n_means - 1)) @ weights


def _any_exceeds(limit: np.ndarray, loadings: np.ndarray) -> np.ndarray:
    """Chance that any of the contrasts' standard normal deviates lies outside ±limit, for each
    limit. What lies inside is the same for a shared deviate and its negative: one half is summed.
    """
    z, weights = _normal_deviates(0.0)
    own = np.sqrt(1 - loadings**2)
    inside = np.ones((len(limit), len(z)))
    for shared, scale in zip(loadings, own, strict=True):
        upper = (limit[:, None] - shared * z) / scale
        lower = (-limit[:, None] - shared * z) / scale
        inside *= special.ndtr(upper) - special.ndtr(lower)
    return 1 - 2 * inside @ weights


def _root(p_value: Callable[[float], float], alpha: float, df: float, n_tests: int) -> float:
    """Return the t at which a falling p-value equals alpha: between that of a single test and
    Bonferroni's, but where the integrals are inexact (contrasts nearly the same).
    """
    single, bonferroni = special.stdtrit(df, 1 - alpha / 2 / np.array([1, n_tests]))
    try:
        return root(lambda t: p_value(t) - alpha, 0.99 * single, 1.01 * bonferroni, CLOSE)
    except ValueError:  # neither side of the root
        high = 4.0
        while p_value(high) > alpha:
            high *= 2
        return root(lambda t: p_value(t) - alpha, 0.0, high, CLOSE)


def _shared_loadings(correlation: np.ndarray) -> np.ndarray:
    """Return λ (k,) whose products λᵢλⱼ come nearest to the correlations; exact for independent
    means.

    Two contrasts share √|r|, which always reproduces r. The products' squared distance is minimised
    otherwise.
    """
    R = np.asarray(correlation, dtype=float)
    k = len(R)
    if k == 1:
        return np.zeros(1)
    if k == 2:
        return np.sqrt(abs(R[0, 1])) * np.array([1.0, np.sign(R[0, 1]) or 1.0])
    upper = np.triu_indices(k, 1)
    start = np.sqrt(np.clip((R.sum(axis=1) - 1) / (k - 1), 0.01, 0.98))
    from scipy.optimize import least_squares  # slow to import

    found = least_squares(
        lambda loading: np.outer(loading, loading)[upper] - R[upper],
        start,
        bounds=(-MOST_SHARED, MOST_SHARED),
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    return found.x
