"""Scores as ordered steps: the cumulative-logit (proportional-odds) model, by Newton's steps.

Sources: McCullagh 1980 (J. R. Stat. Soc. B 42, 109-142); the likelihood is concave in thresholds
and coefficients together, Pratt 1981 (J. Am. Stat. Assoc. 76, 103-106). A library's fit of the same
model takes longer to load than a whole report of a trial to work out.
"""

from __future__ import annotations

from dataclasses import field

import numpy as np
import pandas as pd
from scipy.special import expit

from ...trials.frozen import frozen

MOST_STEPS = 100
LEAST_GAIN = 1e-10  # of the log-likelihood in a step; a coefficient that runs away gains e^-1 each
LEAST_CHANCE = 1e-300


class ConvergenceError(ArithmeticError):
    """A likelihood whose top was not reached, so that nothing may be read from it."""


@frozen(kw_only=True)
class CumulativeLink:
    """A fitted cumulative-logit model: logit P(score ≤ step) = threshold − x·coefficient.

    standard_errors : of the coefficients, from the curvature of the likelihood; empty with random
        assessors, where
        only likelihoods are compared
    """

    coefficients: dict[str, float]
    thresholds: tuple[float, ...]
    log_likelihood: float
    standard_errors: dict[str, float] = field(default_factory=dict)


def cumulative_link(score: pd.Series, columns: pd.DataFrame) -> CumulativeLink:
    """Return the fit of a score of two steps or more on columns (n, p), independent and without an
    intercept.

    Where groups do not overlap a coefficient runs to infinity: its size then means nothing, the
    likelihood does. Raises ConvergenceError.
    """
    first = without_columns(score)
    if columns.empty:
        return first
    scores = _scores(score, columns)
    cuts = len(first.thresholds)
    at, reached = np.r_[first.thresholds, np.zeros(columns.shape[1])], first.log_likelihood
    for _ in range(MOST_STEPS):
        slope, curve = scores.derivatives(at)
        try:
            inverse = np.linalg.inv(curve)
        except np.linalg.LinAlgError:
            break
        move = inverse @ slope
        if slope @ move / 2 < LEAST_GAIN:
            with np.errstate(invalid="ignore"):  # of a coefficient that runs away
                errors = np.sqrt(np.diag(inverse))
            names = list(map(str, columns))
            return CumulativeLink(
                coefficients=dict(zip(names, at[cuts:].tolist(), strict=True)),
                standard_errors=dict(zip(names, errors[cuts:].tolist(), strict=True)),
                thresholds=tuple(at[:cuts].tolist()),
                log_likelihood=reached,
            )
        while (found := scores.log_likelihood(at + move)) < reached:
            move = move / 2
        at, reached = at + move, found
    raise ConvergenceError("the likelihood has no top that could be found")


@frozen
class _Scores:
    """What stands above and below each score, as columns (n, thresholds + p) that are multiplied
    by the thresholds and coefficients, and what is added: ±∞ beyond the last steps.
    """

    above: np.ndarray
    below: np.ndarray
    no_end: np.ndarray  # (n,)
    no_beginning: np.ndarray  # (n,)

    def _shares(self, at: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The share of scores up to each score, below it, and its own."""
        upto = expit(self.above @ at + self.no_end)
        below = expit(self.below @ at + self.no_beginning)
        return upto, below, np.maximum(upto - below, LEAST_CHANCE)

    def log_likelihood(self, at: np.ndarray) -> float:
        return float(np.log(self._shares(at)[2]).sum())

    def derivatives(self, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Slope, and minus the curvature."""
        upto, below, own = self._shares(at)
        a, b = upto * (1 - upto) / own, below * (1 - below) / own  # of log own, b with −
        by_above, by_below = a * (1 - 2 * upto) - a**2, -b * (1 - 2 * below) - b**2
        both = a * b
        curve = self.above.T @ (by_above[:, None] * self.above + both[:, None] * self.below)
        curve += self.below.T @ (by_below[:, None] * self.below + both[:, None] * self.above)
        return self.above.T @ a - self.below.T @ b, -curve


def _scores(score: pd.Series, columns: pd.DataFrame) -> _Scores:
    steps, step = np.unique(score.to_numpy(float), return_inverse=True)
    cuts, x = len(steps) - 1, columns.to_numpy(float)
    return _Scores(
        above=np.c_[np.eye(cuts + 1, cuts)[step], -x],
        below=np.c_[np.eye(cuts + 1, cuts, -1)[step], -x],
        no_end=np.where(step == cuts, np.inf, 0.0),
        no_beginning=np.where(step == 0, -np.inf, 0.0),
    )


def without_columns(score: pd.Series) -> CumulativeLink:
    """Return the fit of nothing but thresholds: each step has the share that it was given."""
    share = score.value_counts(normalize=True).sort_index().to_numpy()
    below = np.cumsum(share)[:-1]
    return CumulativeLink(
        coefficients={},
        thresholds=tuple(np.log(below / (1 - below)).tolist()),
        log_likelihood=float(len(score) * (share * np.log(share)).sum()),
    )
