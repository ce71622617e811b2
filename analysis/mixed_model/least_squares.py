"""Least squares with care for digits: where the mixed model starts, and all there is when no loaves
are grouped.

The response is centred at one of its own values (which is exact), projected twice, and handed on as
residuals in units of their own spread. The engine never sees the zero point or unit of the
response, nor those of the columns.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ...trials.frozen import frozen
from .by_setting import BySetting

# a column, at unit length, is a combination of earlier ones below this distance
DEPENDENT = 1e-10
ABSENT = 1e-9  # a column with a smaller part than this in the constant one has none
LARGEST = 1e100  # greater numbers overflow when they are squared
SMALLEST = 1e-100  # differences below this vanish when they are squared
ROUNDING = 16 * np.finfo(float).eps


class RankDeficient(ValueError):  # noqa: N818 - said as statisticians say it
    """Columns of the design that are combinations of earlier ones; `.columns` holds their indices
    (from 0).
    """

    def __init__(self, tied: dict[int, list[int]], names: Sequence[str] | None):
        self.columns = tuple(tied)
        super().__init__(
            "the design's columns are not independent: "
            + "; ".join(describe_tie(column, others, names) for column, others in tied.items())
        )


def describe_tie(column: int, others: list[int], names: Sequence[str] | None) -> str:
    """One dependent column in words."""

    def name(j: int) -> str:
        return f"column {j}" if names is None else f"column {j} ({names[j]})"

    if not others:
        return f"{name(column)} is all zero"
    return f"{name(column)} follows from {', '.join(name(j) for j in others)}"


def finite(values: ArrayLike, what: str, dimensions: int) -> NDArray:
    """Numbers as an array of floats. ValueError: wrong number of dimensions, or not finite, and
    where.
    """
    array = np.asarray(values, float)
    if array.ndim != dimensions:
        raise ValueError(f"{what} has {array.ndim} dimensions instead of {dimensions}")
    if not np.isfinite(array).all():
        place = np.argwhere(~np.isfinite(array))[0]
        where = f"row {place[0]}" + (f", column {place[1]}" if dimensions == 2 else "")
        raise ValueError(f"{what} is not a number in {where} (counted from 0)")
    if array.size and np.abs(array).max() > LARGEST:
        raise ValueError(f"{what} has numbers beyond {LARGEST:g}; choose a larger unit")
    return array


@frozen
class Basis:
    """The columns of the design as X = QR, and the combination of them that is 1 for every loaf, if
    any is.
    """

    Q: BySetting  # (n, p)
    R: NDArray  # (p, p)
    constant: NDArray | None  # (p,)

    def coefficients(self, projected: NDArray) -> NDArray:
        """Coefficients of the design's own columns from those of Q; the columns are on the last
        axis.
        """
        return np.linalg.solve(self.R, projected[..., None])[..., 0]


def basis(X: BySetting, names: Sequence[str] | None) -> Basis:
    """Decompose the design (n, p). Raises RankDeficient."""
    R = X.root()
    length = np.linalg.norm(R, axis=0)
    unit = R / np.where(length > 0, length, 1)
    if np.linalg.svd(unit, compute_uv=False)[-1] < DEPENDENT or not length.all():
        raise RankDeficient(tied_columns(unit), names)
    Q = X.turned(np.linalg.inv(R))
    constant = np.linalg.solve(R, Q.counts @ Q.values)
    constant[np.abs(constant) * length < ABSENT * np.sqrt(len(X))] = 0
    return Basis(Q, R, constant if np.abs(X.values @ constant - 1).max() < 1e-8 else None)


def tied_columns(unit: NDArray) -> dict[int, list[int]]:
    """Each column that follows from earlier independent ones, and which."""
    kept: list[int] = []
    tied = {}
    for j in range(unit.shape[1]):
        weights = np.linalg.lstsq(unit[:, kept], unit[:, j], rcond=None)[0] if kept else np.zeros(0)
        if np.linalg.norm(unit[:, j] - unit[:, kept] @ weights) < 10 * DEPENDENT:
            tied[j] = [i for i, w in zip(kept, weights, strict=True) if abs(w) > 1e-6]
        else:
            kept.append(j)
    return tied


@frozen
class LeastSquares:
    """Responses (one a column) as centre + fit + residuals.

    centre : (m,) taken off every value first; in the design's columns it is centre · basis.constant
    projected : (m, p) coefficients, in the columns Q, of the centred responses
    residuals : (n, m) divided by `spread`; spread (m,) their standard deviation on n − p df
    exact : (m,) where the residuals are nothing but rounding (spread is then given as 1)
    """

    centre: NDArray
    projected: NDArray
    residuals: NDArray
    spread: NDArray
    exact: NDArray


def least_squares(Y: NDArray, basis: Basis) -> LeastSquares:
    """Fit responses (n, m) by least squares."""
    n, p = basis.Q.shape
    size = np.abs(Y).max(0)
    centre = Y[0] if basis.constant is not None else np.zeros(Y.shape[1])
    rest = Y - centre
    projected = np.zeros((p, Y.shape[1]))
    for _ in range(2):
        more = basis.Q.products(rest)
        rest = rest - basis.Q @ more
        projected += more
    exact = np.abs(rest).max(0) <= np.maximum(ROUNDING * size, SMALLEST)
    spread = np.where(exact, 1.0, np.sqrt((rest**2).sum(0) / (n - p)))
    return LeastSquares(centre, projected.T, np.where(exact, 0.0, rest / spread), spread, exact)
