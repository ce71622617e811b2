"""Scores taken as ordered steps: a check that does not care how far one step lies from the next.

Where every assessor scored every formula: Friedman's test by assessor, ties corrected (ISO 8587). Elsewhere: a
cumulative-link (proportional-odds) model, with and without the formula (McCullagh 1980, J. R. Stat. Soc. B 42,
109-142). Neither knows of mixes and days: they speak of the scores, not of the next bake.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from scipy import special

from .agreement import friedman
from .formula_fit import FORMULA
from .score_fit import SCORE, mean_matrix

Way = Literal["friedman", "cumulative link", "none"]
FEWEST_ASSESSORS = 3
MOST_STEPS = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class CumulativeLink:
    """A fitted cumulative-logit model: logit P(score ≤ step) = threshold − x·coefficient."""

    coefficients: dict[str, float]
    standard_errors: dict[str, float]
    thresholds: tuple[float, ...]
    log_likelihood: float


def ordered_check(rows: pd.DataFrame, formulas: Sequence[str]) -> tuple[float, Way]:
    """Return the p-value that these formulas are scored alike, and the test that it comes from.

    rows : score, assessor (missing: the loaf's only score), formula. NaN and "none" where no test can be given.
    """
    own = rows[rows[FORMULA].astype(str).isin(formulas)]
    if own[FORMULA].nunique() < 2 or own[SCORE].nunique() < 2:
        return np.nan, "none"
    if own["assessor"].notna().all():
        means = mean_matrix(own.assign(**{FORMULA: own[FORMULA].astype(str)}), FORMULA)
        loaves = own.groupby("assessor")["row"].nunique()
        if len(means) >= FEWEST_ASSESSORS and np.isfinite(means).all() and (loaves == own["row"].nunique()).all():
            p_value = friedman(means).p_value
            return (p_value, "friedman") if np.isfinite(p_value) else (np.nan, "none")
    p_value = _without_formula(own)
    return (p_value, "cumulative link") if np.isfinite(p_value) else (np.nan, "none")


def _without_formula(rows: pd.DataFrame) -> float:
    """Likelihood-ratio p-value of the formula, beside fixed assessors."""
    assessors = _dummies(rows["assessor"].astype(object).fillna("").astype(str))
    formula = _dummies(rows[FORMULA].astype(str))
    full = cumulative_link(rows[SCORE], pd.concat([formula, assessors], axis=1))
    less = cumulative_link(rows[SCORE], assessors)
    return float(special.chdtrc(formula.shape[1], max(2 * (full.log_likelihood - less.log_likelihood), 0.0)))


def _dummies(labels: pd.Series) -> pd.DataFrame:
    """Columns of 0 and 1, the first level left out."""
    return pd.get_dummies(labels, drop_first=True, dtype=float)


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
