"""The restricted likelihood, its score and its information, for many responses at once.

With P = V⁻¹ − V⁻¹XΦXᵀV⁻¹, Φ = (XᵀV⁻¹X)⁻¹ and Gᵢ = ∂V/∂θᵢ (ZₖZₖᵀ, or I for the residual):

    −2 log-likelihood   log|V| + log|XᵀV⁻¹X| + yᵀPy  (+ constant)
    score               ½ (yᵀPGᵢPy − tr PGᵢ)
    expected            ½ tr PGᵢPGⱼ
    average             ½ yᵀPGᵢPGⱼPy
    observed            2 · average − expected

Sources: Searle, Casella & McCulloch 1992, Variance Components, ch. 6; average information: Gilmour,
Thompson and Cullis 1995, Biometrics 51, 1440–1450. The first axis of every array is the response.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import reduce
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ...trials.frozen import frozen
from .sufficient import Piece

POSITIVE = 1e-13  # an eigenvalue of V below this part of the largest is taken for zero
# so is one below this part of the residual's (it shrinks through variances below zero):
AT_EDGE = 1e-5
#                             closer to the edge the score is lost in rounding


class State(NamedTuple):
    """The restricted likelihood at θ, a row for each of m responses. Letters as in Kenward & Roger
    1997.
    """

    theta: NDArray  # (m, k + 1)
    # (m,) −2 log-likelihood without its constant; inf where V is not positive definite
    value: NDArray
    beta: NDArray  # (m, p)
    Phi: NDArray  # (m, p, p)
    P: NDArray  # (m, k + 1, p, p)          −XᵀV⁻¹GᵢV⁻¹X
    Q: NDArray  # (m, k + 1, k + 1, p, p)    XᵀV⁻¹GᵢV⁻¹GⱼV⁻¹X
    score: NDArray  # (m, k + 1)
    expected: NDArray  # (m, k + 1, k + 1)
    average: NDArray  # (m, k + 1, k + 1)

    def take(self, rows: NDArray) -> State:
        """The state of some of the responses."""
        return State(*(part[rows] for part in self))

    def of_columns(self, p: int) -> State:
        """The state without all columns but the first p."""
        return self._replace(
            beta=self.beta[:, :p],
            Phi=self.Phi[:, :p, :p],
            P=self.P[..., :p, :p],
            Q=self.Q[..., :p, :p],
        )

    def spread_over(self, rows: NDArray, m: int) -> State:
        """The same as the state of `rows` among m responses, NaN for the others."""
        full = State(*(np.full((m, *part.shape[1:]), np.nan) for part in self))
        full.put(rows, self)
        return full

    def put(self, rows: NDArray, other: State) -> None:
        """Overwrite some of the responses with another state."""
        for mine, theirs in zip(self, other, strict=True):
            mine[rows] = theirs


@frozen
class Likelihood:
    """The restricted likelihood of m responses, brought into the rows of the design's pieces.

    They have one design, or each its own.
    """

    pieces: tuple[Piece, ...]
    rows: tuple[NDArray, ...]  # one (m, rows, q) a piece

    def __len__(self) -> int:
        return len(self.rows[0])

    @property
    def n_variances(self) -> int:
        """k + 1."""
        return self.pieces[0].H.shape[1]

    def of(self, chosen: NDArray) -> Likelihood:
        """The likelihood of some of the responses."""
        pieces = tuple(piece.of(chosen) for piece in self.pieces)
        return Likelihood(pieces, tuple(y[chosen] for y in self.rows))

    def at(self, theta: NDArray) -> State:
        """Value, score, information and the pieces of Kenward and Roger's formulas at θ (m, k +
        1).
        """
        m, n_variances = theta.shape
        width = self.pieces[0].X.shape[-1] + 1  # the design's columns and the response
        parts = n_variances + 1
        gram = np.zeros((m, parts * width, parts * width))
        log_V, trace = np.zeros(m), np.zeros((m, n_variances))
        trace2 = np.zeros((m, n_variances, n_variances))
        spectra = self.spectra(theta)
        for piece, y, (eigenvalues, eigenvectors) in zip(
            self.pieces, self.rows, spectra, strict=True
        ):
            # an eigenvalue that is not above zero counts for nothing: the state is not usable then
            counted = np.where(eigenvalues > 0, eigenvalues, 1.0)
            log_V += (np.log(counted).sum(-1)[:, None] @ piece.copies[..., None])[:, 0, 0]
            root = eigenvectors / np.sqrt(counted)[..., None, :]  # D of V⁻¹: DᵀVD = I
            B = times(times(root.swapaxes(-1, -2)[:, None], piece.H), root[:, None])
            trace += (B.trace(axis1=-2, axis2=-1) @ piece.copies[..., None])[..., 0]
            trace2 += products(B, piece.copies)
            gram += cross_products(root, B, piece, y)
        return assemble(
            theta,
            gram.reshape(m, parts, width, parts, width),
            log_V,
            trace,
            trace2,
            positive=definite(theta, spectra),
        )

    def spectra(self, theta: NDArray) -> list[tuple[NDArray, NDArray]]:
        """Eigenvalues and vectors of V, of each piece's patterns: (m, g, q) and (m, g, q, q)."""
        found = []
        for piece in self.pieces:
            d, n_variances, *pattern_shape = piece.H.shape
            flat = piece.H.reshape(d, n_variances, math.prod(pattern_shape))
            V = theta.reshape(d, len(theta) // d, n_variances) @ flat
            found.append(eigen(V.reshape(len(theta), *pattern_shape)))
        return found


def plain_information(pieces: Sequence[Piece]) -> NDArray:
    """tr PGᵢPGⱼ (k + 1, k + 1) of one design where V is I, so that P is I − XXᵀ: twice the expected
    information there. The columns X are orthonormal.
    """
    k1, p = pieces[0].H.shape[1], pieces[0].X.shape[-1]
    GG, XGGX, XGX = np.zeros((k1, k1)), np.zeros((k1, k1)), np.zeros((k1, p, p))
    for piece in pieces:
        GX = times(by_row(piece.H.swapaxes(1, 2), piece.pattern)[0].swapaxes(0, 1), piece.X[0])
        flat = GX.reshape(k1, -1)
        GG += products(piece.H, piece.copies)[0]
        XGGX += flat @ flat.T
        XGX += piece.X[0].reshape(-1, p).T @ GX.reshape(k1, -1, p)
    flat = XGX.reshape(k1, p * p)
    return GG - 2 * XGGX + flat @ flat.T


def definite(theta: NDArray, spectra: Sequence[tuple[NDArray, NDArray]]) -> NDArray:
    """Where V is positive definite (m,), and not so close to the edge that rounding decides."""
    least = reduce(np.minimum, (eigenvalues.min((1, 2)) for eigenvalues, _ in spectra))
    most = reduce(np.maximum, (np.abs(eigenvalues).max((1, 2)) for eigenvalues, _ in spectra))
    return np.asarray(least > np.maximum(POSITIVE * most, AT_EDGE * theta[:, -1]))


def eigen(V: NDArray) -> tuple[NDArray, NDArray]:
    """Eigenvalues and vectors of symmetric matrices; those of a single number are plain."""
    if V.shape[-1] == 1:
        return V[..., 0], np.ones_like(V)
    eigenvalues, eigenvectors = np.linalg.eigh(V)
    return eigenvalues, eigenvectors


def times(A: NDArray, B: NDArray) -> NDArray:
    """AB: a plain product where A is a single number, as it is where loaves share mixes alone."""
    return A * B if A.shape[-1] == A.shape[-2] == 1 else A @ B


def products(B: NDArray, copies: NDArray) -> NDArray:
    """tr BᵢBⱼ summed over all components, from Bᵢ = D'GᵢD of each pattern: (m, k + 1, k + 1)."""
    flat = B.reshape(*B.shape[:2], math.prod(B.shape[2:]))
    weight = np.repeat(copies, B.shape[-1] ** 2, axis=1)[:, None]
    return (flat * weight) @ flat.swapaxes(1, 2)


def cross_products(root: NDArray, B: NDArray, piece: Piece, y: NDArray) -> NDArray:
    """All products among [A, B₁A, B₂A …] where A = D'[X, y]: XᵀV⁻¹y, XᵀV⁻¹GᵢV⁻¹X, yᵀV⁻¹GᵢV⁻¹GⱼV⁻¹y
    and so on.
    """
    Xy = np.empty((*y.shape, piece.X.shape[-1] + 1))
    Xy[..., :-1], Xy[..., -1] = piece.X, y
    A = times(by_row(root.swapaxes(-1, -2), piece.pattern), Xy)[:, :, None]
    BA = times(by_row(B.swapaxes(1, 2), piece.pattern), A)
    together = np.concatenate([A, BA], axis=2).swapaxes(2, 3)
    m, rows, q, parts, width = together.shape
    # one row a loaf of the piece, the products' columns beside one another
    wide = together.reshape(m, rows * q, parts * width)
    return wide.swapaxes(1, 2) @ wide


def by_row(values: NDArray, pattern: NDArray) -> NDArray:
    """What belongs to a pattern (m, g, …) for each row: (m, rows, …)."""
    if len(pattern) == 1:
        return values[:, pattern[0]]
    return values[np.arange(len(values))[:, None], pattern]


def assemble(
    theta: NDArray,
    gram: NDArray,
    log_V: NDArray,
    trace: NDArray,
    trace2: NDArray,
    positive: NDArray,
) -> State:
    """The state from the cross-products (m, k + 2, p + 1, k + 2, p + 1) and the traces of V⁻¹Gᵢ,
    V⁻¹GᵢV⁻¹Gⱼ.
    """
    p = gram.shape[2] - 1
    Phi, log_C = inverse(gram[:, 0, :p, 0, :p])
    beta = (Phi @ gram[:, 0, :p, 0, p, None])[..., 0]
    F = swap_response_for_residual(gram.transpose(0, 1, 3, 2, 4), beta)
    P, Q = -F[:, 0, 1:, :p, :p], F[:, 1:, 1:, :p, :p]
    # r is the residual y − Xβ: XᵀV⁻¹GᵢV⁻¹r, rᵀV⁻¹GᵢV⁻¹r, rᵀV⁻¹GᵢV⁻¹GⱼV⁻¹r
    XGr, rGr, rGGr = F[:, 0, 1:, :p, p], F[:, 0, 1:, p, p], F[:, 1:, 1:, p, p]
    PhiP = Phi[:, None] @ P
    trace_PG = trace + PhiP.trace(axis1=-2, axis2=-1)
    trace_PGPG = (
        trace2 - 2 * np.einsum("mab,mijba->mij", Phi, Q) + np.einsum("miab,mjba->mij", PhiP, PhiP)
    )
    value = log_V + log_C + F[:, 0, 0, p, p]
    score = (rGr - trace_PG) / 2
    expected = trace_PGPG / 2
    usable = (
        positive
        & np.isfinite(value)
        & np.isfinite(score).all(1)
        & np.isfinite(expected).all((1, 2))
        & (np.diagonal(expected, axis1=1, axis2=2) > 0).all(1)
    )
    return State(
        theta,
        np.where(usable, value, np.inf),
        beta,
        Phi,
        P,
        Q,
        score,
        expected,
        average=(rGGr - XGr @ Phi @ XGr.swapaxes(1, 2)) / 2,
    )


def inverse(C: NDArray) -> tuple[NDArray, NDArray]:
    """Inverse and log determinant of positive definite matrices; of another, the unit matrix and
    infinity.
    """
    sign, log_determinant = np.linalg.slogdet(C)
    sound = (sign > 0) & np.isfinite(log_determinant)
    if not sound.all():
        C = np.where(sound[:, None, None], C, np.eye(C.shape[-1]))
        log_determinant = np.where(sound, log_determinant, np.inf)
    return np.linalg.inv(C), log_determinant


def swap_response_for_residual(F: NDArray, beta: NDArray) -> NDArray:
    """Products of [X, y − Xβ] from those of [X, y], on the last two axes."""
    p = beta.shape[1]
    swapped = F.copy()
    swapped[..., p] -= (F[..., :p] @ beta[:, None, None, :, None])[..., 0]
    swapped[..., p, :] -= (beta[:, None, None, None] @ swapped[..., :p, :])[..., 0, :]
    return swapped
