"""The mixed model straight from the formulas, with whole n × n matrices: slow, plain, the check of
the engine.

V = Σₖ θₖ Gₖ with Gₖ = ZₖZₖᵀ and the identity last. Restricted likelihood, its score and
information: Harville 1977 (J. Am. Stat. Assoc. 72, 320-338). Adjusted covariance, degrees of
freedom and scale: Kenward and Roger 1997 (Biometrics 53, 983-997), section 2 and 3; V is linear in
θ, so their second-derivative terms are zero. Nothing here is shared with `analysis/mixed_model.py`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import optimize, special


@dataclass(frozen=True)
class Pieces:
    """What one value of θ gives: V⁻¹, Φ = (XᵀV⁻¹X)⁻¹, P, and −2 × the restricted log-likelihood."""

    inverse: np.ndarray
    phi: np.ndarray
    P: np.ndarray
    deviance: float


@dataclass(frozen=True)
class DenseFit:
    """A fitted model; `covariance` is Kenward and Roger's adjusted one, `at_edge`: there is no
    inner optimum.
    """

    coefficients: np.ndarray
    covariance: np.ndarray
    variances: dict[str, float]
    negative: bool
    at_edge: bool
    phi: np.ndarray
    W: np.ndarray  # covariance of the variances
    slopes: list[np.ndarray]  # Pᵢ = −XᵀV⁻¹GᵢV⁻¹X

    def contrast(self, L: np.ndarray) -> dict[str, float]:
        """t test of one row L."""
        test = self.f_test(L)
        estimate = float(L @ self.coefficients)
        error = float(np.sqrt(L @ self.covariance @ L))
        return {
            "estimate": estimate,
            "standard_error": error,
            "df": test["den_df"],
            "t_value": estimate / error,
            "p_value": test["p_value"],
        }

    def f_test(self, L: np.ndarray) -> dict[str, float]:
        """F test of Lβ = 0 for the rows of L."""
        L = np.atleast_2d(L)
        q = L.shape[0]
        effect = L @ self.coefficients
        raw = float(effect @ np.linalg.solve(L @ self.covariance @ L.T, effect)) / q
        scale, df = _scale_and_df(*self._moments(L), q)
        f = scale * raw
        return {"f_value": f, "num_df": q, "den_df": df, "p_value": float(special.fdtrc(q, df, f))}

    def _moments(self, L: np.ndarray) -> tuple[float, float]:
        """A₁ and A₂."""
        theta = L.T @ np.linalg.solve(L @ self.phi @ L.T, L)
        turned = [theta @ self.phi @ slope @ self.phi for slope in self.slopes]
        traces = np.array([np.trace(t) for t in turned])
        products = np.array([[np.trace(a @ b) for b in turned] for a in turned])
        return float(traces @ self.W @ traces), float((self.W * products).sum())


def _scale_and_df(A1: float, A2: float, q: int) -> tuple[float, float]:
    """Scale λ and denominator df m of the F test (Kenward and Roger 1997, p. 987)."""
    if q == 1:
        return 1.0, 2 / A2
    B = (A1 + 6 * A2) / (2 * q)
    g = ((q + 1) * A1 - (q + 4) * A2) / ((q + 2) * A2)
    c1, c2, c3 = np.array([g, q - g, q + 2 - g]) / (3 * q + 2 * (1 - g))
    left = 1 - c2 * B
    ratio = (1 - A2 / q) / left if abs(left) > 1e-10 else 1.0
    rho = ratio**2 * (1 + c1 * B) / (1 - c3 * B) / q
    m = 4 + (q + 2) / (q * rho - 1)
    scale = 1.0 if abs(m - 2) < 1e-2 else m * (1 - A2 / q) / (m - 2)
    return scale, m


def fit_dense(
    response: np.ndarray, design: np.ndarray, groups: dict[str, np.ndarray], bounded: bool = False
) -> DenseFit:
    """Fit by restricted likelihood; variances may be negative unless `bounded`."""
    y, X = np.asarray(response, float), np.asarray(design, float)
    G = [
        (labels[:, None] == labels[None, :]).astype(float)
        for labels in map(np.asarray, groups.values())
    ]
    G.append(np.eye(len(y)))
    size = _residual_variance(y, X)
    y = y / np.sqrt(size)
    theta = _bounded_optimum(y, X, G)
    at_edge = False
    if not bounded:
        theta, at_edge = _inner_optimum(theta, y, X, G)
    return _finish(theta, y, X, G, size, [*groups, "residual"], at_edge)


def _residual_variance(y: np.ndarray, X: np.ndarray) -> float:
    rest = y - X @ np.linalg.lstsq(X, y, rcond=None)[0]
    return float(rest @ rest) / (len(y) - X.shape[1])


def _pieces(theta: np.ndarray, y: np.ndarray, X: np.ndarray, G: list[np.ndarray]) -> Pieces | None:
    """Everything at θ, or None where V is not positive definite."""
    V = sum(t * g for t, g in zip(theta, G, strict=True))
    values = np.linalg.eigvalsh(V)
    if values[0] <= 1e-9 * values[-1]:
        return None
    inverse = np.linalg.inv(V)
    information = X.T @ inverse @ X
    phi = np.linalg.inv(information)
    P = inverse - inverse @ X @ phi @ X.T @ inverse
    deviance = np.log(values).sum() + np.linalg.slogdet(information)[1] + y @ P @ y
    return Pieces(inverse, phi, P, float(deviance))


def _slope_and_information(
    at: Pieces, y: np.ndarray, G: list[np.ndarray]
) -> tuple[np.ndarray, ...]:
    """Score, expected and observed information of θ (Harville 1977)."""
    PG = [at.P @ g for g in G]
    Py = at.P @ y
    score = np.array([Py @ g @ Py - np.trace(pg) for g, pg in zip(G, PG, strict=True)]) / 2
    expected = np.array([[np.sum(a * b.T) for b in PG] for a in PG]) / 2
    average = np.array([[Py @ a @ at.P @ b @ Py for b in G] for a in G]) / 2
    return score, expected, 2 * average - expected


def _bounded_optimum(y: np.ndarray, X: np.ndarray, G: list[np.ndarray]) -> np.ndarray:
    """The best θ ≥ 0 (from several starts, as a plain search may stop early)."""

    def deviance_and_slope(theta: np.ndarray) -> tuple[float, np.ndarray]:
        at = _pieces(theta, y, X, G)
        if at is None:
            return 1e10, np.zeros_like(theta)
        return at.deviance, -2 * _slope_and_information(at, y, G)[0]

    k = len(G)
    bounds = [(0.0, None)] * (k - 1) + [(1e-6, None)]
    starts = [np.full(k, 1 / k), np.r_[np.zeros(k - 1), 1.0], np.r_[np.full(k - 1, 1.0), 0.2]]
    found = [
        optimize.minimize(
            deviance_and_slope,
            start,
            jac=True,
            method="L-BFGS-B",
            bounds=bounds,
            options={"ftol": 1e-15, "gtol": 1e-10, "maxiter": 1000},
        )
        for start in starts
    ]
    return min(found, key=lambda result: result.fun).x


def _inner_optimum(
    theta: np.ndarray, y: np.ndarray, X: np.ndarray, G: list[np.ndarray]
) -> tuple[np.ndarray, bool]:
    """Newton with halved steps from θ, inside {V positive definite}; True when it is stuck at the
    edge.
    """
    at = _pieces(theta, y, X, G)
    assert at is not None
    for _ in range(200):
        score, expected, observed = _slope_and_information(at, y, G)
        curvature = observed if np.linalg.eigvalsh(observed)[0] > 0 else expected
        if score @ np.linalg.solve(expected, score) < 1e-16:
            return theta, False
        step = np.linalg.solve(curvature, score)
        for halving in range(40):
            tried = theta + step / 2**halving
            there = _pieces(tried, y, X, G)
            if there is not None and there.deviance < at.deviance:
                theta, at = tried, there
                break
        else:
            decrement = score @ np.linalg.solve(expected, score)
            return theta, bool(decrement > 1e-6)
    return theta, True


def _finish(
    theta: np.ndarray,
    y: np.ndarray,
    X: np.ndarray,
    G: list[np.ndarray],
    size: float,
    names: list[str],
    at_edge: bool,
) -> DenseFit:
    """Coefficients, adjusted covariance and what the tests need, back in the unit of the
    response.
    """
    at = _pieces(theta, y, X, G)
    assert at is not None
    W = np.linalg.inv(_slope_and_information(at, y, G)[1])
    VX = at.inverse @ X
    slopes = [-VX.T @ g @ VX for g in G]
    middle = sum(
        W[i, j] * (VX.T @ G[i] @ at.inverse @ G[j] @ VX - slopes[i] @ at.phi @ slopes[j])
        for i in range(len(G))
        for j in range(len(G))
    )
    covariance = at.phi + 2 * at.phi @ middle @ at.phi
    return DenseFit(
        coefficients=np.sqrt(size) * at.phi @ VX.T @ y,
        covariance=size * covariance,
        variances=dict(zip(names, size * theta, strict=True)),
        negative=bool(theta.min() < 0),
        at_edge=at_edge,
        phi=size * at.phi,
        W=size**2 * W,
        slopes=[slope / size**2 for slope in slopes],
    )
