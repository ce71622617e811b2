"""What right answers mean in tests of telling apart: exact sums, limits, sensory distance.

P(right) at the sensory distance d′ (in standard deviations of one perception), for each test's rule
of answering: Ennis 1993 (J. Sensory Stud. 8, 353-370), tetrad: Ennis and Jesionka 2011 (J. Sensory
Stud. 26, 371-382); both from memory. Integrals over the whole axis are trapezium sums from −9 to 9:
error below 1e-13.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from .root import root

# test → share of right answers by guessing
GUESS: Mapping[str, float] = MappingProxyType(
    {"triangle": 1 / 3, "duo-trio": 1 / 2, "tetrad": 1 / 3, "three-choice": 1 / 3, "pair": 1 / 2}
)
FARTHEST = 30.0  # sensory distances beyond this are not told apart
TINY = 1e-300  # a beta function wants parameters above zero
_Z = np.arange(-180, 181) * 0.05
_DENSITY = np.exp(-(_Z**2) / 2) / np.sqrt(2 * np.pi) * 0.05


def share_right(test: str, d_prime: float) -> float:
    """Return the expected share of right answers at this sensory distance."""
    return _SHARES[test](d_prime)


def d_prime(test: str, share: float) -> float:
    """Return the sensory distance at which this share is right: 0 at or below guessing, infinite
    when all are.
    """
    if np.isnan(share) or share >= 1:
        return float(share) if np.isnan(share) else np.inf
    if share <= GUESS[test]:
        return 0.0
    if share_right(test, FARTHEST) <= share:
        return np.inf
    return root(lambda d: float(share_right(test, d) - share), 0.0, FARTHEST)


def can_tell(share: float, guess: float) -> float:
    """Return the share of people who can tell, pd = max(0, (share right − guess)/(1 − guess))."""
    return float(np.maximum(0.0, (share - guess) / (1 - guess)))


def right_at(telling: ArrayLike, guess: float) -> np.ndarray:
    """Return the expected share of right answers when this share of people can tell and the others
    guess.
    """
    return guess + (1 - guess) * np.asarray(telling)


def p_different(right: int, of: int, guess: float) -> float:
    """Return the chance of at least so many right answers when everybody guesses (exact binomial
    tail).
    """
    return float(at_least(right, of, guess))


def at_least(right: ArrayLike, of: ArrayLike, share: ArrayLike) -> np.ndarray:
    """Return P(X ≥ right), X binomial with ``of`` answers, each right with chance ``share``.

    As the regularised incomplete beta function, which also takes numbers of answers that are not
    whole.
    """
    x, n = np.asarray(right, dtype=float), np.asarray(of, dtype=float)
    tail = special.betainc(np.maximum(x, TINY), np.maximum(n - x + 1, TINY), share)
    return np.where(x <= 0, 1.0, np.where(x > n, 0.0, tail))


def at_most(right: ArrayLike, of: ArrayLike, share: ArrayLike) -> np.ndarray:
    """Return P(X ≤ right), the other tail of ``at_least``."""
    x, n = np.asarray(right, dtype=float), np.asarray(of, dtype=float)
    tail = special.betaincc(np.maximum(x + 1, TINY), np.maximum(n - x, TINY), share)
    return np.where(x < 0, 0.0, np.where(x >= n, 1.0, tail))


# --- the rules of answering --------------------------------------------------------------------


def _sum(values: np.ndarray) -> float:
    """Return the mean of values over a standard normal deviate."""
    return float(_DENSITY @ values)


def _pair(d: float) -> float:
    return float(special.ndtr(d / np.sqrt(2)))


def _three_choice(d: float) -> float:
    return _sum(special.ndtr(_Z + d) ** 2)


def _duo_trio(d: float) -> float:
    a, b = special.ndtr(d / np.sqrt(2)), special.ndtr(d / np.sqrt(6))
    return float(1 - a - b + 2 * a * b)


def _triangle(d: float) -> float:
    """Return 2∫₀^∞ [Φ(−z√3 + d√(2/3)) + Φ(−z√3 − d√(2/3))] φ(z) dz, by Gauss and Legendre's rule.

    The half axis has an end inside the density, where trapezium sums are poor.
    """
    points, weights = np.polynomial.legendre.leggauss(80)
    z, shift = 4.5 * (points + 1), d * np.sqrt(2 / 3)
    both = special.ndtr(shift - np.sqrt(3) * z) + special.ndtr(-shift - np.sqrt(3) * z)
    return float(2 * 4.5 * weights @ (both * np.exp(-(z**2) / 2)) / np.sqrt(2 * np.pi))


def _tetrad(d: float) -> float:
    near, far = special.ndtr(_Z), special.ndtr(_Z - d)
    return 1 - 2 * _sum(2 * near * far - far**2)


_SHARES: Mapping[str, Callable[[float], float]] = MappingProxyType(
    {
        "triangle": _triangle,
        "duo-trio": _duo_trio,
        "tetrad": _tetrad,
        "three-choice": _three_choice,
        "pair": _pair,
    }
)
