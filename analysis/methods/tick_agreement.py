"""Do people tick the same breads? Plain agreement, agreement by chance, and kappa with its
interval.

In the population kappa is Var(pⱼ)/[p̄(1 − p̄)], the spread of the breads' shares: near 0 it says
that these breads do not differ in the word, not that people are poor at it.
Sources: Fleiss 1971 (Psychol. Bull. 76, 378-382); jackknife: Efron and Tibshirani 1993, ch. 11
(from memory).
"""

from __future__ import annotations

import numpy as np
from scipy import special

from ...trials.frozen import frozen


@frozen(kw_only=True)
class TickAgreement:
    """Agreement in one word; NaN where it is not defined (nobody ticked, everybody always did, one
    person).
    """

    same_answer: float
    by_chance: float
    kappa: float
    kappa_low: float
    kappa_high: float


def tick_agreement(ticks: np.ndarray, confidence: float = 0.95) -> TickAgreement:
    """Return the agreement of people (or tables) in one word.

    ticks : (people, breads), 0 to 1, NaN where not judged. Values between are shares of a table:
    then it is the agreement of one person from each of two tables. The interval drops one person at
    a time, breads fixed.
    """
    judged = np.isfinite(ticks)
    ticks = np.where(judged, ticks, 0.0)
    people = len(ticks)
    parts = _sums(ticks, judged)
    same, chance, kappa = _kappa(*parts)
    each = []
    for i in range(people):
        own = _sums(ticks[i : i + 1], judged[i : i + 1])
        each.append(_kappa(*(whole - part for whole, part in zip(parts, own, strict=True)))[2])
    without, half = np.array(each), np.nan
    if people > 2 and np.isfinite(without).all():
        spread = np.sqrt((people - 1) / people * ((without - np.mean(without)) ** 2).sum())
        half = float(special.stdtrit(people - 1, 0.5 + confidence / 2) * spread)
    return TickAgreement(
        same_answer=same,
        by_chance=chance,
        kappa=kappa,
        kappa_low=float(np.maximum(-1, kappa - half)),
        kappa_high=float(np.minimum(1, kappa + half)),
    )


def _sums(
    ticks: np.ndarray, judged: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return, by bread: people, ticks, and what each says beside themselves (Σx² and Σ(1 − x)²)."""
    return (
        judged.sum(axis=0).astype(float),
        ticks.sum(axis=0),
        (ticks**2).sum(axis=0),
        (np.where(judged, 1 - ticks, 0) ** 2).sum(axis=0),
    )


def _kappa(
    m: np.ndarray, y: np.ndarray, own: np.ndarray, own_not: np.ndarray
) -> tuple[float, float, float]:
    """Return plain agreement, agreement by chance and kappa: Pₒ = mean of [Σ over pairs of
    people]/[m(m − 1)].
    """
    enough = m > 1
    if not enough.any():
        return np.nan, np.nan, np.nan
    m, y, own, own_not = m[enough], y[enough], own[enough], own_not[enough]
    same = float(((y**2 - own + (m - y) ** 2 - own_not) / (m * (m - 1))).mean())
    share = float(y.sum() / m.sum())
    chance = share**2 + (1 - share) ** 2
    return same, chance, (same - chance) / (1 - chance) if chance < 1 - 1e-12 else np.nan
