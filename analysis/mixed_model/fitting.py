"""Restricted maximum likelihood with Kenward–Roger tests, for loaves that share a mix, a day, an
oven load.

Model: y = Xβ + Σₖ Zₖuₖ + e with V = σ²I + Σₖ θₖ ZₖZₖᵀ. A variance θₖ may be estimated below zero as
long as V stays positive definite; none is ever dropped or pooled.

    m = fit_reml(response, design, groups={"day": days, "mix": mixes})
    m.contrast(L)          # one row: estimate, standard error, df, t, p, interval
    m.f_test(L)            # several rows: F, numerator and denominator df, p

Read on in this order: `least_squares` (zero point and unit), `groupings` and `components` (who
shares what), `sufficient` (few rows for many loaves), `reml` (the likelihood), `ascent` (its top),
`kenward_roger` (the tests), `many_fits` (from there back to the user's unit and columns).

Sources: Patterson & Thompson 1971, Biometrika 58, 545–554 (REML); Kenward & Roger 1997, Biometrics
53, 983–997.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtrc, stdtr, stdtrit

from ...trials.frozen import frozen
from .ascent import maximise
from .by_setting import BySetting
from .groupings import read_groupings
from .least_squares import Basis, RankDeficient, basis, finite, least_squares
from .many_fits import RemlFits
from .reml import Likelihood, plain_information
from .sufficient import Reduced, reduce_design, split

__all__ = [
    "Contrast",
    "FTest",
    "NoVariation",
    "NotIdentifiable",
    "PreparedModel",
    "RankDeficient",
    "RemlFit",
    "RemlFits",
    "fit_reml",
    "prepare",
]

INSEPARABLE = 1e-9  # least eigenvalue of the projected Gram matrix, scaled to unit diagonal


class NotIdentifiable(ValueError):  # noqa: N818 - said as statisticians say it
    """Variances that these records cannot tell apart; `.groupings` names them ("residual" is the
    single loaf).
    """

    def __init__(self, message: str, groupings: tuple[str, ...]):
        self.groupings = groupings
        super().__init__(message)


class NoVariation(ValueError):  # noqa: N818 - likewise
    """The design reproduces the response exactly: no variation is left to judge a difference by."""


@frozen(kw_only=True)
class Contrast:
    """One linear combination of the coefficients. All but the estimate are NaN when the fit is
    `at_edge`.
    """

    estimate: float
    standard_error: float
    df: float
    t_value: float
    p_value: float  # two-sided
    ci_low: float
    ci_high: float
    confidence: float  # 0.95, not 95

    def to_dict(self) -> dict[str, float]:
        """The fields by name."""
        return asdict(self)


@frozen(kw_only=True)
class FTest:
    """Several linear combinations tested together. All but the numerator df are NaN when the fit is
    `at_edge`.
    """

    f_value: float  # with the scale in it
    num_df: int
    den_df: float
    p_value: float
    scale: float  # Kenward and Roger's factor on F (1 in balanced layouts)
    # theirs was absurd: scale 1, and the containment df or else 2q/A₂
    scale_refused: bool

    def to_dict(self) -> dict[str, float]:
        """The fields by name."""
        return asdict(self)


def fit_reml(
    response: ArrayLike,
    design: ArrayLike,
    groups: Mapping[str, ArrayLike],
    *,
    bounded: bool = False,
    column_names: Sequence[str] | None = None,
) -> RemlFit:
    """Fit the mixed model to one response.

    response : (n,) numbers, any unit, none missing
    design : (n, p) columns of the fixed effects, independent; the caller includes the intercept
    groups : {name: (n,) labels} of the random groupings, nested or crossed; {} is ordinary least
        squares
    bounded : hold every grouping's variance at or above zero (conservative)
    column_names : names of the design's columns, for errors

    Raises NotIdentifiable, RankDeficient, NoVariation, or ValueError (shapes, numbers that are not
    finite, labels that are missing: says where).
    """
    return prepare(design, groups, column_names=column_names).fit(response, bounded=bounded)


def prepare(
    design: ArrayLike | BySetting,
    groups: Mapping[str, ArrayLike],
    *,
    column_names: Sequence[str] | None = None,
) -> PreparedModel:
    """All about a design and its groupings that does not depend on the response. Raises as
    `fit_reml` does.
    """
    known = isinstance(design, BySetting)
    X = BySetting.of(design if known else finite(design, "the design", 2))
    n, p = X.shape
    if p == 0:
        raise ValueError("the design has no columns")
    if n <= p:
        raise NotIdentifiable(
            f"{n} loaves and {p} columns leave nothing to estimate a variance from", ("residual",)
        )
    if "residual" in groups:
        raise ValueError("a grouping cannot be called 'residual': that is the single loaf")
    columns = basis(X, column_names)
    model = PreparedModel(columns, reduce_design(read_groupings(groups, n), columns.Q))
    model.check_identifiable()
    return model


@frozen
class PreparedModel:
    """A design and its groupings, ready for one response or for many."""

    basis: Basis
    reduced: Reduced

    @property
    def kind(self) -> tuple[int, int]:
        """How many variances and columns it has."""
        return len(self.reduced.names), self.basis.Q.shape[1]

    def check_identifiable(self) -> None:
        """Refuse groupings whose Gᵢ, seen outside the design, are zero or combinations of one
        another.
        """
        gram = plain_information(self.reduced.pieces)
        size = np.array(
            [
                sum(
                    (piece.H[0, i] ** 2).sum((1, 2)) @ piece.copies[0]
                    for piece in self.reduced.pieces
                )
                for i in range(len(gram))
            ]
        )
        absorbed = tuple(
            name
            for name, g, s in zip(self.reduced.names, np.diag(gram), size, strict=True)
            if g < INSEPARABLE * s
        )
        if absorbed:
            raise NotIdentifiable(
                f"no variation between {' and between '.join(map(repr, absorbed))} is left "
                "beside the fixed effects",
                absorbed,
            )
        scale = 1 / np.sqrt(np.diag(gram))
        least, E = np.linalg.eigh(gram * np.outer(scale, scale))
        if least[0] < INSEPARABLE:
            tied = tuple(
                name for name, w in zip(self.reduced.names, E[:, 0], strict=True) if abs(w) > 1e-3
            )
            raise NotIdentifiable(
                f"the variances of {' and '.join(map(repr, tied))} cannot be told apart", tied
            )

    def fit(self, response: ArrayLike, *, bounded: bool = False) -> RemlFit:
        """Fit one response (n,). Raises NoVariation, or ValueError for a response that is not n
        finite numbers.
        """
        y = finite(response, "the response", 1)
        fits = self.fit_many(y[:, None], bounded=bounded)
        if fits.no_variation[0]:
            raise NoVariation(
                "the design reproduces the response exactly: no variation is left to judge by"
            )
        return RemlFit(fits, y)

    def fit_many(self, responses: ArrayLike, *, bounded: bool = False) -> RemlFits:
        """Fit many responses at once, one a column (n, m)."""
        Y = finite(responses, "the response", 2)
        if len(Y) != len(self.basis.Q):
            raise ValueError(
                f"the response has {len(Y)} values, the design {len(self.basis.Q)} rows"
            )
        start = least_squares(Y, self.basis)
        varied = np.flatnonzero(~start.exact)
        converged = np.zeros(Y.shape[1], bool)
        likelihood = Likelihood(
            self.reduced.pieces, self.reduced.responses(start.residuals[:, varied])
        )
        state, converged[varied] = maximise(likelihood, bounded)
        return RemlFits(
            self.basis,
            self.reduced,
            start,
            state.spread_over(varied, Y.shape[1]),
            converged,
            bounded,
        )


@frozen(slots=False)
class RemlFit:
    """One fitted mixed model."""

    fits: RemlFits  # of this one response
    response: NDArray  # (n,)

    @property
    def coefficients(self) -> NDArray:
        """(p,) in the unit of the response per unit of the column."""
        return self.fits.coefficients[0]

    @property
    def covariance(self) -> NDArray:
        """(p, p) of the coefficients, Kenward–Roger adjusted; NaN when at_edge."""
        return self.fits.covariance[0]

    @property
    def variances(self) -> dict[str, float]:
        """One a grouping in the order given, then "residual"; unit of the response squared."""
        return dict(zip(self.fits.names, self.fits.variances[0].tolist(), strict=True))

    @property
    def log_likelihood(self) -> float:
        """Restricted log-likelihood; depends on the coding of the design."""
        return float(self.fits.log_likelihood[0])

    @property
    def converged(self) -> bool:
        """Whether the Newton decrement fell below 1e-6."""
        return bool(self.fits.converged[0])

    @property
    def at_edge(self) -> bool:
        """Whether the climb ended against the edge of {V positive definite}: no interval is to be
        had.
        """
        return bool(self.fits.at_edge[0])

    @property
    def negative(self) -> tuple[str, ...]:
        """Groupings whose variance is estimated below zero."""
        return tuple(
            name
            for name, below in zip(self.fits.names, self.fits.negative[0], strict=False)
            if below
        )

    @property
    def bounded(self) -> bool:
        """Whether the groupings' variances were held at or above zero."""
        return self.fits.bounded

    def contrast(self, L: ArrayLike, confidence: float = 0.95) -> Contrast:
        """L (p,): the estimate Lβ, its adjusted standard error, df = 2/A₂, two-sided p and
        interval.
        """
        if not 0 < confidence < 1:
            raise ValueError(f"confidence is a share between 0 and 1, not {confidence}")
        estimate, error, df = (float(value[0]) for value in self.fits.contrast(L))
        t, reach = estimate / error, float(stdtrit(df, (1 + confidence) / 2)) * error
        return Contrast(
            estimate=estimate,
            standard_error=error,
            df=df,
            t_value=t,
            p_value=float(2 * stdtr(df, -abs(t))),
            ci_low=estimate - reach,
            ci_high=estimate + reach,
            confidence=confidence,
        )

    def f_test(self, L: ArrayLike, containment_df: float | None = None) -> FTest:
        """L (q, p) of full row rank: Kenward and Roger's F test of Lβ = 0.

        containment_df : taken, with scale 1, where their scale is absurd (unbalanced and df below
            about 3)
        """
        rows = self.fits.hypothesis(L)
        raw, scale, df, refused = (part[0] for part in self.fits.f_parts(rows))
        if refused and containment_df is not None:
            df = containment_df
        f = float(raw * scale)
        return FTest(
            f_value=f,
            num_df=len(rows),
            den_df=float(df),
            p_value=float(fdtrc(len(rows), df, f)),
            scale=float(scale),
            scale_refused=bool(refused),
        )

    @cached_property
    def effects(self) -> NDArray:
        """(groups,) predicted effect of every group of every grouping, θₖ Zₖᵀ V⁻¹ (y − Xβ)."""
        fits, groupings = self.fits, self.fits.reduced.groupings
        left = fits.start.residuals - fits.basis.Q @ fits.state.beta.T
        effects = np.zeros((groupings.n_groups, 1))
        theta = fits.state.theta
        for block, t in zip(groupings.blocks, split(groupings, left)[0], strict=True):
            V = np.tensordot(theta[0], block.H, 1)
            A = block.A[block.pattern]
            effects[block.groups] = A.swapaxes(1, 2) @ np.linalg.solve(V[block.pattern], t)
        return fits.start.spread[0] * np.repeat(theta[0, :-1], groupings.counts) * effects[:, 0]

    @property
    def residuals(self) -> NDArray:
        """(n,) response less fixed effects and predicted group effects."""
        fits, groupings = self.fits, self.fits.reduced.groupings
        left = fits.start.residuals[:, 0] - fits.basis.Q @ fits.state.beta[0]
        return fits.start.spread[0] * left - groupings.spread(self.effects[:, None])[:, 0]

    @property
    def fitted(self) -> NDArray:
        """(n,) fixed effects and predicted group effects."""
        return self.response - self.residuals
