"""A design judged before there is a response: standard errors and degrees of freedom at assumed
variances.

(XᵀV⁻¹X)⁻¹ at these variances, and Kenward and Roger's degrees of freedom with the expected
information there (Biometrics 1997, 53, 983-997).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ...trials.frozen import frozen
from .fitting import PreparedModel
from .kenward_roger import spread_terms, variance_covariance
from .reml import Likelihood, State


@frozen
class Assumed:
    """A prepared design at m sets of variances."""

    model: PreparedModel
    state: State

    def contrast(self, L: ArrayLike) -> tuple[NDArray, NDArray]:
        """Return standard errors and degrees of freedom (m,) of one contrast L (p,)."""
        inner = self._rows(L)
        variance = (inner @ self.state.Phi @ inner.T)[:, 0, 0]
        W = variance_covariance(self.state.expected)
        return np.sqrt(variance), 2 / spread_terms(self.state, W, inner)[1]

    def covariance(self, L: ArrayLike) -> NDArray:
        """Return the covariance (m, q, q) of contrasts L (q, p)."""
        inner = self._rows(L)
        return np.asarray(inner @ self.state.Phi @ inner.T)

    def _rows(self, L: ArrayLike) -> NDArray:
        return np.linalg.solve(self.model.basis.R.T, np.atleast_2d(np.asarray(L, float)).T).T


def at_variances(model: PreparedModel, variances: Mapping[str, ArrayLike]) -> Assumed:
    """Return a design at assumed variances.

    variances : {name: one number or (m,)} for every one of ``model.reduced.names``, "residual" last
        and above zero
    """
    columns = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(variances[name], float)) for name in model.reduced.names)
    )
    theta = np.column_stack(columns)
    none = tuple(np.zeros((len(theta), *piece.X.shape[1:3])) for piece in model.reduced.pieces)
    return Assumed(model, Likelihood(model.reduced.pieces, none).at(theta))
