"""Ordered scores with many assessors: a cumulative-logit model in which each assessor's severity is random.

Fixed assessors would each need a coefficient, and with many of them and few scores each the others are then biased.
The likelihood is integrated over each assessor's severity by adaptive Gauss-Hermite quadrature. Sources: McCullagh
1980 (J. R. Stat. Soc. B 42, 109-142); quadrature about each assessor's mode, Liu and Pierce 1994 (Biometrika 81,
624-629).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd
from scipy import optimize, special

from .cumulative_link import CumulativeLink, cumulative_link

NODES = 15
MODE_STEPS = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class RandomAssessors:
    """A fitted model: ``link`` without standard errors (empty), and the variance of the assessors' severities."""

    link: CumulativeLink
    assessor_variance: float


@dataclass(frozen=True, slots=True)
class _Scores:
    """step (n,) from 0, columns (n, p), group (n,) from 0, and how many steps and groups there are."""

    step: np.ndarray
    columns: np.ndarray
    group: np.ndarray
    n_steps: int
    n_groups: int


def cumulative_link_random(score: pd.Series, columns: pd.DataFrame, assessor: pd.Series) -> RandomAssessors:
    """Return the fit of a score on columns (n, p; p may be 0) with a random severity an assessor."""
    steps, step = np.unique(score.to_numpy(float), return_inverse=True)
    group, names = pd.factorize(assessor)
    data = _Scores(step, columns.to_numpy(float), group, len(steps), len(names))
    start = cumulative_link(score, columns)
    first = np.r_[start.thresholds[:1], np.log(np.diff(start.thresholds)), list(start.coefficients.values()), 0.0]
    found = optimize.minimize(lambda at: -_log_likelihood(at, data), first, method="BFGS", options={"gtol": 1e-4})
    thresholds, slopes, sigma = _parts(found.x, data)
    link = CumulativeLink(
        coefficients=dict(zip(map(str, columns), slopes.tolist(), strict=True)), standard_errors={},
        thresholds=tuple(thresholds.tolist()), log_likelihood=float(-found.fun),
    )
    return RandomAssessors(link=link, assessor_variance=float(sigma**2))


def _parts(at: np.ndarray, data: _Scores) -> tuple[np.ndarray, np.ndarray, float]:
    """Thresholds (first, then logarithms of the gaps), coefficients, and the severities' SD (a logarithm)."""
    cuts = data.n_steps - 1
    thresholds = at[0] + np.r_[0.0, np.cumsum(np.exp(at[1:cuts]))]
    return thresholds, at[cuts:-1], float(np.exp(np.clip(at[-1], -12, 6)))


@lru_cache(maxsize=1)
def _nodes() -> tuple[np.ndarray, np.ndarray]:
    nodes, weights = np.polynomial.hermite_e.hermegauss(NODES)
    return nodes, np.log(weights) + nodes**2 / 2 - np.log(2 * np.pi) / 2


def _log_likelihood(at: np.ndarray, data: _Scores) -> float:
    """Log-likelihood with each severity u, standard normal times its SD, integrated out about its mode."""
    thresholds, slopes, sigma = _parts(at, data)
    cuts = np.r_[-np.inf, thresholds, np.inf]
    eta = data.columns @ slopes
    upper, lower = cuts[data.step + 1] - eta, cuts[data.step] - eta
    mode = np.zeros(data.n_groups)
    for _ in range(MODE_STEPS):
        slope, curve = _derivatives(upper, lower, sigma, mode, data)
        move = slope / curve
        mode = mode + np.clip(move, -2, 2)
        if np.abs(move).max() < 1e-9:
            break
    width = 1 / np.sqrt(_derivatives(upper, lower, sigma, mode, data)[1])
    nodes, log_weights = _nodes()
    u = mode[:, None] + width[:, None] * nodes
    shift = sigma * u[data.group]
    chance = special.expit(upper[:, None] - shift) - special.expit(lower[:, None] - shift)
    logs = np.zeros(u.shape)
    np.add.at(logs, data.group, np.log(np.maximum(chance, 1e-300)))
    return float((special.logsumexp(logs - u**2 / 2 + log_weights, axis=1) + np.log(width)).sum())


def _derivatives(upper: np.ndarray, lower: np.ndarray, sigma: float, u: np.ndarray, data: _Scores
                 ) -> tuple[np.ndarray, np.ndarray]:
    """Slope and minus the curvature, in each severity u, of log chance of the scores − u²/2."""
    shift = sigma * u[data.group]
    above, below = special.expit(upper - shift), special.expit(lower - shift)
    # d/dη of log{F(a) − F(b)} is −(1 − F(a) − F(b)), its second derivative −{F(a)(1 − F(a)) + F(b)(1 − F(b))}
    slope = -sigma * np.bincount(data.group, 1 - above - below, data.n_groups) - u
    curve = sigma**2 * np.bincount(data.group, above * (1 - above) + below * (1 - below), data.n_groups) + 1
    return slope, curve
