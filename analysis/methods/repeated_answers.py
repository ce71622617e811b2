"""Right answers of people who answered one or several times: limits of the share who can tell.

Servings of one person are looks at one person. The pooled count is judged exactly when nobody can
tell (every answer is then a guess); a share needs the number of answers that as many strangers
would have had to give.

Sources: Clopper and Pearson 1934 (Biometrika 26, 404-413); effective numbers in them: Korn and
Graubard 1998 (Survey Methodology 24, 193-201), with the design effect bounded by what the mean
allows (our own rule); pooled test: Kunert and Meyners 1999 (Food Qual. Prefer. 10, 477-482). The
last two from memory.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import reduce
from math import comb, lcm

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from ...trials.frozen import frozen
from .discrimination import at_least, at_most, right_at
from .root import root

GRID = 401  # trial values of the share who can tell
DRAWS, SEED = 9999, 20_241
MOST_CELLS = 20_000_000
_TRIED = np.linspace(0, 1, GRID)


@frozen(kw_only=True)
class Answers:
    """Right answers by person: ``right`` of ``of`` servings each, both (k,) whole numbers."""

    right: np.ndarray
    of: np.ndarray

    @property
    def share(self) -> float:
        """Return the share of all answers that are right."""
        return float(self.right.sum() / self.of.sum())

    @property
    def once_each(self) -> bool:
        """Return whether everybody answered once."""
        return bool((self.of == 1).all())


def design_effect(answers: Answers, confidence: float = 0.95) -> float:
    """Return how many answers count as one stranger's answer, at least 1; NaN where the answers
    cannot show it.

    The variance of the share between people over that of as many strangers, times (t/z)² for few
    people.
    """
    k, total, share = len(answers.of), int(answers.of.sum()), answers.share
    if answers.once_each:
        return 1.0
    if k < 2 or share in (0.0, 1.0):
        return np.nan
    apart = float(((answers.right - answers.of * share) ** 2).sum())
    variance = k / (k - 1) * apart / total**2
    few = special.stdtrit(k - 1, confidence) / special.ndtri(confidence)
    return float(max(1.0, variance / (share * (1 - share) / total) * few**2))


def limits(answers: Answers, guess: float, confidence: float = 0.95) -> tuple[float, float]:
    """Return the lower and the upper limit of the share who can tell, each one-sided at
    ``confidence``.
    """
    alpha, effect = 1 - confidence, design_effect(answers, confidence)

    def low_tail(telling: ArrayLike) -> np.ndarray:
        count = _strangers(answers, telling, guess, effect)
        return at_least(count * answers.share, count, right_at(telling, guess))

    def high_tail(telling: ArrayLike) -> np.ndarray:
        count = _strangers(answers, telling, guess, effect)
        return at_most(count * answers.share, count, right_at(telling, guess))

    from_below, from_above = (
        np.flatnonzero(low_tail(_TRIED) > alpha),
        np.flatnonzero(high_tail(_TRIED) > alpha),
    )
    lower = _edge(low_tail, alpha, from_below[0], from_below[0] - 1) if len(from_below) else 1.0
    upper = _edge(high_tail, alpha, from_above[-1], from_above[-1] + 1) if len(from_above) else 0.0
    return lower, upper


def p_similar_by_person(
    answers: Answers, guess: float, may_tell: float, confidence: float = 0.95
) -> float:
    """Return the chance of at most so many right answers when the share ``may_tell`` can tell."""
    count = _strangers(answers, may_tell, guess, design_effect(answers, confidence))
    return float(at_most(count * answers.share, count, right_at(may_tell, guess)))


def p_people_differ(answers: Answers) -> float:
    """Return the chance of people as different as these when right answers fall on the servings at
    random.

    Exact for Σ(xᵢ − rᵢP)²/rᵢ, by convolution with Π C(rᵢ, xᵢ); 9,999 deals where that takes too
    much room. NaN where everybody answered once, or all alike by need.
    """
    of, right = answers.of.astype(int), answers.right.astype(int)
    total = int(right.sum())
    if answers.once_each or len(of) < 2 or total in (0, int(of.sum())):
        return np.nan
    unit = reduce(lcm, of.tolist())
    observed = int((right**2 * (unit // of)).sum())
    room = (total + 1) * (int((of * unit).sum()) + 1)
    if room > MOST_CELLS:
        return _p_by_dealing(of, total, observed, unit)
    ways = np.zeros((total + 1, room // (total + 1)))
    ways[0, 0] = 1.0
    for servings in of.tolist():
        longer = np.zeros_like(ways)
        for x in range(min(servings, total) + 1):
            step = x * x * unit // servings
            longer[x:, step:] += comb(servings, x) * ways[: total + 1 - x, : ways.shape[1] - step]
        ways = longer / longer.max()
    return float(ways[total, observed:].sum() / ways[total].sum())


def _p_by_dealing(of: np.ndarray, total: int, observed: int, unit: int) -> float:
    dealt = np.random.default_rng(SEED).multivariate_hypergeometric(
        of, total, size=DRAWS, method="marginals"
    )
    return float(
        (1 + np.count_nonzero((dealt**2 * (unit // of)).sum(axis=1) >= observed)) / (DRAWS + 1)
    )


def _strangers(answers: Answers, telling: ArrayLike, guess: float, effect: float) -> np.ndarray:
    """Return how many strangers' answers these are worth when the share ``telling`` can tell.

    The design effect is at most that of people of whom some always tell and the others always
    guess.
    """
    total, telling = answers.of.sum(), np.asarray(telling)
    right = right_at(telling, guess)
    largest = 1 + ((answers.of**2).sum() / total - 1) * (1 - guess) ** 2 * (
        telling * (1 - telling) / np.maximum(right * (1 - right), 1e-300)
    )
    return total / (largest if np.isnan(effect) else np.minimum(effect, largest))


def _edge(
    tail: Callable[[ArrayLike], np.ndarray], alpha: float, possible: int, beyond: int
) -> float:
    """Return where a tail comes down to alpha, between two neighbours of the grid; the grid's end
    has no beyond.
    """
    if not 0 <= beyond < GRID:
        return float(_TRIED[possible])
    ends = sorted((float(_TRIED[possible]), float(_TRIED[beyond])))
    return root(lambda telling: float(tail(telling)) - alpha, *ends)
