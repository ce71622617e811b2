"""Scores as ordered steps: the cumulative-logit (proportional-odds) model, fitted by maximum likelihood.

Source: McCullagh 1980 (J. R. Stat. Soc. B 42, 109-142). Fitted here because statsmodels' OrderedModel, against
which the tests check it, differentiates numerically: it took seconds where this takes milliseconds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import special

MOST_STEPS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class CumulativeLink:
    """A fitted cumulative-logit model: logit P(score ≤ step) = threshold − x·coefficient."""

    coefficients: dict[str, float]
    standard_errors: dict[str, float]
    thresholds: tuple[float, ...]
    log_likelihood: float


def cumulative_link(score: pd.Series, columns: pd.DataFrame) -> CumulativeLink:
    """Return the cumulative-logit fit of a score on these columns (n, p), independent and without an intercept.

    The log-likelihood is concave (Burridge 1981, J. R. Stat. Soc. B 43, 41-45), so Newton's steps, halved where
    they overshoot, reach its top. Where groups do not overlap a coefficient runs to infinity: the fit stops when
    the likelihood no longer grows, and its standard errors mean nothing.
    """
    steps, step = np.unique(score.to_numpy(float), return_inverse=True)
    n, cuts, p = len(step), len(steps) - 1, columns.shape[1]
    upper, lower = np.zeros((n, cuts + p)), np.zeros((n, cuts + p))
    upper[:, cuts:] = lower[:, cuts:] = -columns.to_numpy(float)
    rows = np.arange(n)
    upper[rows[step < cuts], step[step < cuts]] = 1
    lower[rows[step > 0], step[step > 0] - 1] = 1
    ends = (np.where(step < cuts, 0.0, np.inf), np.where(step > 0, 0.0, -np.inf))
    share = np.cumsum(np.bincount(step))[:-1] / n
    at = np.r_[np.log(share / (1 - share)), np.zeros(p)]
    value, slope, curve = _likelihood(at, upper, lower, ends)
    for _ in range(MOST_STEPS):
        move = np.linalg.lstsq(curve, slope, rcond=1e-12)[0]
        halved = (at + move / 2**i for i in range(30))
        better = next((x for x in halved if _likelihood(x, upper, lower, ends)[0] > value), None)
        if better is None:
            break
        grown = _likelihood(better, upper, lower, ends)[0] - value
        at, (value, slope, curve) = better, _likelihood(better, upper, lower, ends)
        if grown < 1e-11 * (1 + abs(value)):
            break
    names = [str(name) for name in columns]
    errors = np.sqrt(np.maximum(np.diag(np.linalg.pinv(curve, hermitian=True)), 0))
    return CumulativeLink(
        coefficients=dict(zip(names, at[cuts:].tolist(), strict=True)),
        standard_errors=dict(zip(names, errors[cuts:].tolist(), strict=True)),
        thresholds=tuple(at[:cuts].tolist()), log_likelihood=float(value),
    )


def _likelihood(at: np.ndarray, upper: np.ndarray, lower: np.ndarray, ends: tuple[np.ndarray, np.ndarray]
                ) -> tuple[float, np.ndarray, np.ndarray]:
    """Log-likelihood, its slope and its curvature (minus the second derivative) at thresholds and coefficients.

    A score has the chance F(upper·at) − F(lower·at), F logistic; ``ends`` puts the outer steps at ±infinity.
    """
    above, below = special.expit(upper @ at + ends[0]), special.expit(lower @ at + ends[1])
    chance = above - below
    if (chance <= 0).any():
        return -np.inf, np.zeros(len(at)), np.eye(len(at))
    dense_above, dense_below = above * (1 - above) / chance, below * (1 - below) / chance
    single = dense_above[:, None] * upper - dense_below[:, None] * lower
    bent = (upper.T * (dense_above * (1 - 2 * above))) @ upper - (lower.T * (dense_below * (1 - 2 * below))) @ lower
    return float(np.log(chance).sum()), single.sum(axis=0), single.T @ single - bent
