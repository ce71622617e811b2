"""Many responses of one design, fitted at once: estimates and Kenward–Roger tests as arrays over
the responses.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtrc

from ...trials.frozen import frozen
from .kenward_roger import (
    adjusted_covariance,
    scale_and_df,
    spread_terms,
    usable,
    variance_covariance,
)
from .least_squares import Basis, LeastSquares, finite
from .reml import State
from .sufficient import Reduced


@frozen(slots=False)
class RemlFits:
    """Many fits of one design: every result is an array over the m responses.

    Where there is no variation all but the coefficients is NaN.
    """

    basis: Basis
    reduced: Reduced
    start: LeastSquares
    # of the residuals of least squares, in units of their spread and columns Q
    state: State
    converged: NDArray  # (m,) the Newton decrement fell below 1e-6
    bounded: bool

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the variances, the residual last."""
        return self.reduced.names

    @property
    def no_variation(self) -> NDArray:
        """(m,) where the design reproduces the response exactly."""
        return self.start.exact

    @property
    def at_edge(self) -> NDArray:
        """(m,) where the climb ended against the edge of {V positive definite}: no interval is to
        be had.
        """
        return ~self.converged & ~self.no_variation

    @property
    def negative(self) -> NDArray:
        """(m, groupings) where a grouping's variance is estimated below zero."""
        return self.state.theta[:, :-1] < 0

    @property
    def variances(self) -> NDArray:
        """(m, groupings + 1) in the order of `names`, unit of the response squared."""
        return self.start.spread[:, None] ** 2 * self.state.theta

    @property
    def log_likelihood(self) -> NDArray:
        """(m,) restricted log-likelihood; depends on the coding of the design."""
        n, p = self.basis.Q.shape
        coding = 2 * np.log(np.abs(np.diag(self.basis.R))).sum()
        units = 2 * (n - p) * np.log(self.start.spread)
        return -(self.state.value + units + coding + (n - p) * np.log(2 * np.pi)) / 2

    @cached_property
    def in_basis(self) -> NDArray:
        """(m, p) coefficients of the centred responses in the columns Q."""
        beta = np.where(self.no_variation[:, None], 0, self.state.beta)
        return self.start.projected + self.start.spread[:, None] * beta

    @cached_property
    def sound(self) -> State:
        """The states that converged."""
        return self.state.take(np.flatnonzero(self.converged))

    @cached_property
    def of_variances(self) -> NDArray:
        """Covariance of the variances of the states that converged."""
        return variance_covariance(self.sound.expected)

    def among_all(self, values: NDArray) -> NDArray:
        """Values of the fits that converged, with NaN for the others."""
        full = np.full((len(self.converged), *values.shape[1:]), np.nan)
        full[self.converged] = values
        return full

    @cached_property
    def adjusted(self) -> NDArray:
        """(m, p, p) Kenward–Roger adjusted covariance in the columns Q; NaN where no interval is to
        be had.
        """
        return self.start.spread[:, None, None] ** 2 * self.among_all(
            adjusted_covariance(self.sound, self.of_variances)
        )

    @property
    def coefficients(self) -> NDArray:
        """(m, p) in the unit of the response per unit of the column."""
        inner = self.basis.coefficients(self.in_basis)
        constant = self.basis.constant
        return inner if constant is None else inner + self.start.centre[:, None] * constant

    @cached_property
    def covariance(self) -> NDArray:
        """(m, p, p) of the coefficients, Kenward–Roger adjusted."""
        root = np.linalg.inv(self.basis.R)
        return root @ self.adjusted @ root.T

    def estimates(self, L: NDArray, inner: NDArray) -> NDArray:
        """L (q, p) β: (m, q), from L and its `rows`. Rows that do not feel the zero point of the
        response are kept free of it.
        """
        inner = self.in_basis @ inner.T
        constant = self.basis.constant
        if constant is None:
            return inner
        moved = L @ constant
        moved[np.abs(moved) <= 1e-10 * (np.abs(L) @ np.abs(constant))] = 0
        return inner + self.start.centre[:, None] * moved

    def rows(self, L: NDArray) -> NDArray:
        """L (q, p) for the design's columns → for the columns Q."""
        return np.linalg.solve(self.basis.R.T, L.T).T

    def contrast(self, L: ArrayLike) -> tuple[NDArray, NDArray, NDArray]:
        """L (p,): estimates, standard errors and df, each (m,); the last two NaN where at_edge or
        no_variation.
        """
        row = self.hypothesis(np.asarray(L, float)[None])
        inner = self.rows(row)
        variance = (inner @ self.adjusted @ inner.T)[:, 0, 0]
        df = 2 / spread_terms(self.sound, self.of_variances, inner)[1]
        return self.estimates(row, inner)[:, 0], np.sqrt(variance), self.among_all(df)

    def f_test(self, L: ArrayLike) -> tuple[NDArray, NDArray, NDArray]:
        """L (q, p): F values (scale in them), denominator df and p, each (m,)."""
        rows = self.hypothesis(L)
        raw, scale, df, _ = self.f_parts(rows)
        f = raw * scale
        return f, df, fdtrc(len(rows), df, f)

    def f_parts(self, rows: NDArray) -> tuple[NDArray, NDArray, NDArray, NDArray]:
        """F without its scale, the scale, the denominator df, and where Kenward and Roger's scale
        was refused.
        """
        q, inner = len(rows), self.rows(rows)
        estimate = self.estimates(rows, inner)
        covariance = inner @ self.adjusted @ inner.T
        f = (estimate * np.linalg.solve(covariance, estimate[..., None])[..., 0]).sum(1) / q
        A1, A2 = spread_terms(self.sound, self.of_variances, inner)
        scale, df = scale_and_df(A1, A2, q)
        fine = usable(scale, df)
        scale, df = np.where(fine, scale, 1.0), np.where(fine, df, 2 * q / A2)
        refused = np.zeros(len(f), bool)
        refused[self.converged] = ~fine
        return f, self.among_all(scale), self.among_all(df), refused

    def hypothesis(self, L: ArrayLike) -> NDArray:
        """L checked: (q, p), finite, rows independent."""
        rows = finite(L, "L", 2)
        p = self.basis.R.shape[0]
        if rows.shape[1] != p:
            raise ValueError(f"L has {rows.shape[1]} columns, the design has {p}")
        if not rows.any() or (len(rows) > 1 and np.linalg.matrix_rank(rows) < len(rows)):
            raise ValueError("the rows of L are zero or not independent")
        return rows
