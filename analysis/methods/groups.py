"""Do groups of people answer alike? People are dealt to the groups again."""

from __future__ import annotations

import numpy as np
from scipy import special

from .repeated_answers import Answers

DRAWS, SEED = 9999, 20_242


def p_groups_differ(answers: Answers, group: np.ndarray) -> float:
    """Return the chance of groups as far apart as these when people fall into them at random.

    group : (k,) whole numbers from 0. Two groups of people who answered once each: exact
    (hypergeometric), by the difference of shares. Otherwise 9,999 deals with a fixed seed, by the
    chi-squared of homogeneity. Of arrangements that are just as far apart half are counted
    (Lancaster's mid-p). NaN with a single group.
    """
    sizes = np.bincount(group)
    if np.count_nonzero(sizes) < 2:
        return np.nan
    if len(sizes) == 2 and answers.once_each:
        return _hypergeometric(answers, group)
    rng = np.random.default_rng(SEED)
    observed = _chi2(answers, group)
    dealt = np.array([_chi2(answers, rng.permutation(group)) for _ in range(DRAWS)])
    near = np.abs(dealt - observed) <= 1e-9 * max(1.0, observed)
    beyond = np.count_nonzero((dealt > observed) & ~near)
    return float((beyond + np.count_nonzero(near) / 2 + 0.5) / (DRAWS + 1))


def _hypergeometric(answers: Answers, group: np.ndarray) -> float:
    of = np.bincount(group)
    total = int(answers.right.sum())
    first = np.arange(max(0, total - of[1]), min(of[0], total) + 1)
    logs = _log_choose(of[0], first) + _log_choose(of[1], total - first)
    chance = np.exp(logs - logs.max())
    # difference of shares, in whole numbers
    apart = np.abs(first * of[1] - (total - first) * of[0])
    observed = apart[first == int(answers.right[group == 0].sum())][0]
    return float(
        (chance[apart > observed].sum() + chance[apart == observed].sum() / 2) / chance.sum()
    )


def _log_choose(n: int, k: np.ndarray) -> np.ndarray:
    return special.gammaln(n + 1) - special.gammaln(k + 1) - special.gammaln(n - k + 1)


def _chi2(answers: Answers, group: np.ndarray) -> float:
    """Return the chi-squared of homogeneity of right answers between groups."""
    right, of = np.bincount(group, answers.right), np.bincount(group, answers.of)
    share = answers.share
    if share in (0.0, 1.0):
        return 0.0
    return float((((right - of * share) ** 2)[of > 0] / (of[of > 0] * share * (1 - share))).sum())
