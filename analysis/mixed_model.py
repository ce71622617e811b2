"""Restricted maximum likelihood with Kenward–Roger tests, for loaves that share a mix, a day, an oven load.

Model: y = Xβ + Σₖ Zₖuₖ + e with V = σ²I + Σₖ θₖ ZₖZₖᵀ. A variance θₖ may be estimated below zero as long as V stays
positive definite; none is ever dropped or pooled.

    m = fit_reml(response, design, groups={"day": days, "mix": mixes})
    m.contrast(L)          # one row: estimate, standard error, df, t, p, interval
    m.f_test(L)            # several rows: F, numerator and denominator df, p

Source: Kenward & Roger 1997, Biometrics 53, 983–997.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from numpy.typing import ArrayLike, NDArray


class NotIdentifiable(ValueError):
    """Variances that these records cannot tell apart; `.groupings` names them ("residual" is the single loaf)."""

    groupings: tuple[str, ...]


class RankDeficient(ValueError):
    """Columns of the design that are combinations of earlier ones; `.columns` holds their indices (from 0)."""

    columns: tuple[int, ...]


class NoVariation(ValueError):
    """The design reproduces the response exactly: no variation is left to judge a difference by."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contrast:
    """One linear combination of the coefficients. All NaN but the estimate when the fit is `at_edge`."""

    estimate: float
    standard_error: float
    df: float
    t_value: float
    p_value: float                 # two-sided
    ci_low: float
    ci_high: float
    confidence: float              # 0.95, not 95


@dataclass(frozen=True, slots=True, kw_only=True)
class FTest:
    """Several linear combinations tested together. F, df and p are NaN when the fit is `at_edge`."""

    f_value: float                 # with the scale already in it
    num_df: int
    den_df: float
    p_value: float
    scale: float                   # Kenward and Roger's factor on F (1 in balanced layouts)
    scale_refused: bool            # theirs was absurd (below 0.5 or no number): scale 1 and 2q/A₂, or containment, df


def fit_reml(response: ArrayLike, design: ArrayLike, groups: Mapping[str, ArrayLike], *,
             bounded: bool = False, column_names: Sequence[str] | None = None) -> RemlFit:
    """Fit the mixed model to one response.

    response : (n,) numbers, any unit, none missing
    design : (n, p) columns of the fixed effects, of full column rank, intercept included by the caller
    groups : {name: (n,) labels} of the random groupings, nested or crossed; {} is ordinary least squares
    bounded : hold every grouping's variance at or above zero (conservative; off by default)
    column_names : names of the design's columns, for errors

    Raises NotIdentifiable, RankDeficient, NoVariation, or ValueError (shapes, numbers that are not finite, labels
    that are missing: says where).
    """
    raise NotImplementedError


class RemlFit:
    """One fitted mixed model."""

    coefficients: NDArray          # (p,) unit of the response per unit of the column
    covariance: NDArray            # (p, p) Kenward–Roger adjusted
    variances: dict[str, float]    # one a grouping in the order given, then "residual"; unit of the response squared
    log_likelihood: float          # restricted; depends on the coding of the design
    converged: bool                # the Newton decrement fell below 1e-6
    at_edge: bool                  # stuck where V stops being positive definite: no interval is to be had from this fit
    negative: tuple[str, ...]      # groupings whose variance is estimated below zero
    bounded: bool
    fitted: NDArray                # (n,) Xβ + Σ Zu
    residuals: NDArray             # (n,) response − fitted
    group_effects: dict[str, dict[object, float]]    # predicted effect of each day, mix … (BLUP), by label

    def contrast(self, L: ArrayLike, confidence: float = 0.95) -> Contrast:
        """L (p,): estimate Lβ, its adjusted standard error, df = 2/A₂, two-sided p and interval."""
        raise NotImplementedError

    def f_test(self, L: ArrayLike, containment_df: float | None = None) -> FTest:
        """L (q, p) of full row rank: Kenward and Roger's F test of Lβ = 0.

        containment_df : used, with scale 1, where their scale is absurd (unbalanced and df below about 3)
        """
        raise NotImplementedError


def prepare(design: ArrayLike, groups: Mapping[str, ArrayLike], *,
            column_names: Sequence[str] | None = None) -> PreparedModel:
    """Everything about a design and its groupings that does not depend on the response. Raises as `fit_reml`."""
    raise NotImplementedError


class PreparedModel:
    """A design and its groupings, ready for one response or for many."""

    def fit(self, response: ArrayLike, *, bounded: bool = False) -> RemlFit:
        """Fit one response (n,)."""
        raise NotImplementedError

    def fit_many(self, responses: ArrayLike, *, bounded: bool = False) -> RemlFits:
        """Fit many responses, one a column (n, m), all at once."""
        raise NotImplementedError


class RemlFits:
    """Many fits of one design: everything is an array over the m responses. A fit with no variation is NaN."""

    coefficients: NDArray          # (m, p)
    variances: NDArray             # (m, groupings + 1), the residual last
    names: tuple[str, ...]         # of the variances
    log_likelihood: NDArray        # (m,)
    converged: NDArray             # (m,) bool
    at_edge: NDArray               # (m,) bool
    no_variation: NDArray          # (m,) bool
    negative: NDArray              # (m, groupings) bool
    bounded: bool

    def contrast(self, L: ArrayLike) -> tuple[NDArray, NDArray, NDArray]:
        """L (p,): estimates, standard errors and df, each (m,); the last two NaN where at_edge or no_variation."""
        raise NotImplementedError

    def f_test(self, L: ArrayLike) -> tuple[NDArray, NDArray, NDArray]:
        """L (q, p): F values, denominator df and p, each (m,)."""
        raise NotImplementedError
