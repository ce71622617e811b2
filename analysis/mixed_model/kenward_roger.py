"""Kenward and Roger's small-sample tests in a model whose V is linear in its variances.

Φ = (XᵀV⁻¹X)⁻¹, Pᵢ = −XᵀV⁻¹GᵢV⁻¹X, Qᵢⱼ = XᵀV⁻¹GᵢV⁻¹GⱼV⁻¹X, W the covariance of the variances
(inverse of their expected information). The terms with second derivatives of V vanish.

Source: Kenward & Roger 1997, Biometrics 53, 983–997; section and symbol names are theirs. The first
axis of every array is the response.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .reml import State

LEAST_SCALE = 0.5  # a scale below this is absurd
LEAST_INFORMATION = 1e-14  # an eigenvalue of the scaled information below this is rounding


def variance_covariance(expected: NDArray) -> NDArray:
    """W, the inverse of the expected information, scaled to unit diagonal before it is inverted."""
    scale = 1 / np.sqrt(np.diagonal(expected, axis1=1, axis2=2))
    both = scale[:, :, None] * scale[:, None, :]
    size, E = np.linalg.eigh(expected * both)
    return (E / np.maximum(size, LEAST_INFORMATION)[:, None, :]) @ E.swapaxes(1, 2) * both


def adjusted_covariance(state: State, W: NDArray) -> NDArray:
    """Φ_A = Φ + 2Φ {Σᵢⱼ Wᵢⱼ (Qᵢⱼ − PᵢΦPⱼ)} Φ: (m, p, p)."""
    Phi, P = state.Phi, state.P
    WP = np.einsum("mij,mjab->miab", W, P)
    middle = np.einsum("mij,mijab->mab", W, state.Q) - (P @ Phi[:, None] @ WP).sum(1)
    adjusted = Phi + 2 * Phi @ middle @ Phi
    return (adjusted + adjusted.swapaxes(1, 2)) / 2


def spread_terms(state: State, W: NDArray, L: NDArray) -> tuple[NDArray, NDArray]:
    """A₁ and A₂ of the paper for the hypothesis Lβ = 0, L (q, p): each (m,)."""
    Phi = state.Phi[:, None]
    LPhi = L @ Phi
    variance, middle = LPhi @ L.T, LPhi @ state.P @ LPhi.swapaxes(-1, -2)
    # tr S = tr ΘΦPᵢΦ
    S = middle / variance if len(L) == 1 else np.linalg.solve(variance, middle)
    traces = S.trace(axis1=-2, axis2=-1)
    A1 = np.einsum("mij,mi,mj->m", W, traces, traces)
    A2 = np.einsum("mij,miab,mjba->m", W, S, S)
    return A1, A2


def scale_and_df(A1: NDArray, A2: NDArray, q: int) -> tuple[NDArray, NDArray]:
    """The factor λ on F and the denominator df m, from A₁ and A₂.

    In the paper ρ = V*/(2E*²), m = 4 + (q + 2)/(qρ − 1), λ = m/(E*(m − 2)). Written here with E* =
    1/e and qρ = N e²/D, which has no pole where D is 0 (df 4); where e and D vanish together (df 2)
    the common factor e² is taken out, and λ is 1.
    """
    B = (A1 + 6 * A2) / (2 * q)
    g = ((q + 1) * A1 - (q + 4) * A2) / ((q + 2) * A2)
    below = 3 * q + 2 * (1 - g)
    c1, c2, c3 = g / below, (q - g) / below, (q + 2 - g) / below
    e, root = 1 - A2 / q, 1 - c2 * B
    both = (np.abs(e) < 1e-8) & (np.abs(root) < 1e-8)
    N = (1 + c1 * B) * np.where(both, 1, e**2)
    D = np.where(both, 1, root**2) * (1 - c3 * B)
    with np.errstate(divide="ignore", invalid="ignore"):
        m = (4 * N + (q - 2) * D) / (N - D)
        scale = np.where(both, 1.0, e * (4 * N + (q - 2) * D) / (2 * N + q * D))
    return scale, m


def usable(scale: NDArray, df: NDArray) -> NDArray:
    """Where scale and df make sense; in unbalanced trials with df below about 3 they need not."""
    return np.isfinite(scale) & np.isfinite(df) & (scale >= LEAST_SCALE) & (df > 0)
