"""Scores as ordered steps: the cumulative-logit (proportional-odds) model, fitted by statsmodels.

Source: McCullagh 1980 (J. R. Stat. Soc. B 42, 109-142).
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

MOST_STEPS = 500


class ConvergenceError(ArithmeticError):
    """A likelihood whose top was not reached, so that nothing may be read from it."""


@dataclass(frozen=True, slots=True, kw_only=True)
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
    if columns.empty:
        return without_columns(score)
    from statsmodels.miscmodels.ordinal_model import OrderedModel  # slow to import

    model = OrderedModel(score.to_numpy(float), columns.to_numpy(float), distr="logit")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of what is asked for below
        found = model.fit(method="bfgs", maxiter=MOST_STEPS, disp=False)
    if not (found.mle_retvals["converged"] and np.isfinite(found.llf)):
        raise ConvergenceError("the likelihood has no top that could be found")
    p = columns.shape[1]
    return CumulativeLink(
        coefficients=dict(zip(map(str, columns), found.params[:p].tolist(), strict=True)),
        standard_errors=dict(zip(map(str, columns), found.bse[:p].tolist(), strict=True)),
        thresholds=tuple(model.transform_threshold_params(found.params)[1:-1].tolist()),
        log_likelihood=float(found.llf),
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
