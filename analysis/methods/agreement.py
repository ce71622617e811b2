"""How well people who score or rank the same things agree: ranks, intraclass correlations, kappas.

Tables of scores are arrays, turned as in their sources: one row an assessor and one column a sample
for ranks, one row a target (loaf) and one column a rater (assessor) for the intraclass
correlations.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from itertools import permutations
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from ...trials.frozen import frozen

MOST_SAMPLES_FOR_EXACT_PAGE = 7


@frozen(kw_only=True)
class Friedman:
    """Do the assessors rank the samples alike? NaN where every assessor gave every sample the same
    score.
    """

    chi2: float
    df: int
    p_value: float
    kendall_w: float
    rank_sums: tuple[float, ...]
    n_assessors: int

    def to_dict(self) -> dict[str, Any]:
        """Return plain data."""
        return asdict(self)


@frozen(kw_only=True)
class PageTrend:
    """Do the samples rank in the order in which they are given? ``p_value`` is one-sided."""

    L: float
    z: float
    p_value: float
    exact: bool


@frozen(kw_only=True)
class Coefficient:
    """A coefficient of agreement with its interval."""

    value: float
    ci_low: float
    ci_high: float


@frozen(kw_only=True)
class Intraclass:
    """The six intraclass correlations, named as Shrout and Fleiss 1979 name them; ``k`` is the
    number of raters.

    icc_1_1, icc_1_k : raters differ from target to target; icc_2_*: the same raters, taken as drawn
    from many, their severity counted as disagreement; icc_3_*: these raters only, their severity
    left out. ``_1`` is one rater's score, ``_k`` the mean of all.
    """

    icc_1_1: Coefficient
    icc_2_1: Coefficient
    icc_3_1: Coefficient
    icc_1_k: Coefficient
    icc_2_k: Coefficient
    icc_3_k: Coefficient
    n_targets: int
    n_raters: int


def ranks(scores: ArrayLike) -> np.ndarray:
    """Return the ranks within each row, ties at the mean of their places: (m, k) → (m, k)."""
    table = np.asarray(scores, dtype=float)
    below = (table[:, :, None] > table[:, None, :]).sum(axis=2)
    equal = (table[:, :, None] == table[:, None, :]).sum(axis=2)
    return below + (equal + 1) / 2


def friedman(scores: ArrayLike) -> Friedman:
    """Return Friedman's test with ties corrected, and Kendall's W = χ²/(m(k − 1)).

    scores : (m, k), one row an assessor, one column a sample, none missing.
    Sources: ISO 8587:2006, 9.2 (clause number from memory); Kendall and Babington Smith 1939.
    """
    ranked = ranks(scores)
    m, k = ranked.shape
    sums = ranked.sum(axis=0)
    scatter = float(((ranked - (k + 1) / 2) ** 2).sum())
    chi2 = (
        (k - 1) * float(((sums - m * (k + 1) / 2) ** 2).sum()) / scatter if scatter > 0 else np.nan
    )
    return Friedman(
        chi2=chi2,
        df=k - 1,
        p_value=float(special.chdtrc(k - 1, chi2)),
        kendall_w=chi2 / (m * (k - 1)),
        rank_sums=tuple(float(s) for s in sums),
        n_assessors=m,
    )


def page_trend(scores: ArrayLike) -> PageTrend:
    """Return Page's test that the samples rise from the first column to the last.

    Exact (by convolution over the assessors, ties as they are) up to 7 samples, by the normal limit
    beyond. Source: Page 1963 (J. Am. Stat. Assoc. 58, 216-230).
    """
    ranked = ranks(scores)
    m, k = ranked.shape
    places = np.arange(1, k + 1)
    L = float((ranked @ places).sum())
    spread = sum(float(row.var(ddof=1)) for row in ranked) * k * (k + 1) * (k - 1) / 12
    z = (L - m * k * (k + 1) ** 2 / 4) / np.sqrt(spread) if spread > 0 else np.nan
    exact = k <= MOST_SAMPLES_FOR_EXACT_PAGE
    p_value = _page_tail(ranked, L) if exact else float(special.ndtr(-z))
    return PageTrend(L=L, z=float(z), p_value=p_value, exact=exact)


def _page_tail(ranked: np.ndarray, L: float) -> float:
    """Return the chance of L or more when each row's ranks are shuffled; half ranks are counted in
    whole halves.
    """
    k = ranked.shape[1]
    every = np.array(list(permutations(range(k))))
    places = np.arange(1, k + 1)
    total: Counter[int] = Counter({0: 1})
    for row in np.rint(2 * ranked).astype(int):
        sums, counts = np.unique(row[every] @ places, return_counts=True)
        longer: Counter[int] = Counter()
        for so_far, ways in total.items():
            for extra, more in zip(sums.tolist(), counts.tolist(), strict=True):
                longer[so_far + extra] += ways * more
        total = longer
    return sum(ways for value, ways in total.items() if value >= 2 * L - 1e-9) / sum(total.values())


def intraclass(scores: ArrayLike, confidence: float = 0.95) -> Intraclass:
    """Return the intraclass correlations of scores (n targets, k raters), none missing.

    Sources: Shrout and Fleiss 1979 (Psychol. Bull. 86, 420-428); intervals: McGraw and Wong 1996
    (Psychol. Methods 1, 30-46), those of the mean of k raters by the Spearman-Brown formula.
    """
    table = np.asarray(scores, dtype=float)
    n, k = table.shape
    with np.errstate(divide="ignore", invalid="ignore"):
        between, raters, rest, within = _mean_squares(table)
        tail = (1 - confidence) / 2
        one = _from_f(between, within, n - 1, n * (k - 1), k, tail)
        three = _from_f(between, rest, n - 1, (n - 1) * (k - 1), k, tail)
        two = _two_way_random(between, raters, rest, n, k, tail)
        return Intraclass(
            icc_1_1=one,
            icc_2_1=two,
            icc_3_1=three,
            n_targets=n,
            n_raters=k,
            icc_1_k=_of_mean(one, k),
            icc_2_k=_of_mean(two, k),
            icc_3_k=_of_mean(three, k),
        )


def _mean_squares(table: np.ndarray) -> tuple[np.float64, np.float64, np.float64, np.float64]:
    """Return the mean squares between targets, between raters, of the rest, and within targets."""
    n, k = table.shape
    target, rater, centre = table.mean(axis=1, keepdims=True), table.mean(axis=0), table.mean()
    between = k * ((target - centre) ** 2).sum() / (n - 1)
    raters = n * ((rater - centre) ** 2).sum() / (k - 1)
    rest = ((table - target - rater + centre) ** 2).sum() / ((n - 1) * (k - 1))
    within = ((table - target) ** 2).sum() / (n * (k - 1))
    return between, raters, rest, within


def _from_f(
    between: np.float64, error: np.float64, df: int, df_error: int, k: int, tail: float
) -> Coefficient:
    """Return (F − 1)/(F + k − 1) with the interval that follows from F's."""
    value, low, high = (
        (part - error) / (part + (k - 1) * error)
        for part in (
            between,
            between / special.fdtri(df, df_error, 1 - tail),
            between * special.fdtri(df_error, df, 1 - tail),
        )
    )
    return Coefficient(value=float(value), ci_low=float(low), ci_high=float(high))


def _two_way_random(
    between: np.float64, raters: np.float64, rest: np.float64, n: int, k: int, tail: float
) -> Coefficient:
    """Return ICC(2,1); its interval by Satterthwaite's df (Shrout and Fleiss 1979, p. 424)."""
    icc = (between - rest) / (between + (k - 1) * rest + k * (raters - rest) / n)
    a = k * icc
    b = n * (1 - icc) + k * icc * (n - 1)
    df = (a * raters + b * rest) ** 2 / (
        (a * raters) ** 2 / (k - 1) + (b * rest) ** 2 / ((n - 1) * (k - 1))
    )
    low, high = special.fdtri(n - 1, df, 1 - tail), special.fdtri(df, n - 1, 1 - tail)
    error = k * raters + (k * n - k - n) * rest
    return Coefficient(
        value=float(icc),
        ci_low=float(n * (between - low * rest) / (low * error + n * between)),
        ci_high=float(n * (high * between - rest) / (error + n * high * between)),
    )


def _of_mean(one: Coefficient, k: int) -> Coefficient:
    """Return the coefficient of the mean of k raters from that of one (Spearman-Brown)."""
    value, low, high = (
        k * r / (1 + (k - 1) * r) for r in np.array([one.value, one.ci_low, one.ci_high])
    )
    return Coefficient(value=float(value), ci_low=float(low), ci_high=float(high))


def cohen_kappa(table: ArrayLike, weighted: bool = False, confidence: float = 0.95) -> Coefficient:
    """Return Cohen's kappa of two raters from their cross-table of counts (c, c) of c ordered
    categories.

    weighted : near misses count in part, by linear weights 1 − |i − j|/(c − 1)
    Sources: Cohen 1960 and 1968; standard error: Fleiss, Cohen and Everitt 1969 (Psychol. Bull. 72,
    323-327).
    """
    from statsmodels.stats.inter_rater import cohens_kappa  # slow to import

    counts = np.asarray(table, dtype=float)
    # everybody said the same throughout
    if (counts.sum(axis=0) + counts.sum(axis=1)).max() >= 2 * counts.sum():
        return Coefficient(value=np.nan, ci_low=np.nan, ci_high=np.nan)
    # in its z test, where one rater said one thing only
    with np.errstate(divide="ignore", invalid="ignore"):
        found = cohens_kappa(counts, wt="linear" if weighted else None)
    kappa, half = (
        float(found.kappa),
        float(special.ndtri(0.5 + confidence / 2) * np.sqrt(max(found.var_kappa, 0))),
    )
    return Coefficient(value=kappa, ci_low=kappa - half, ci_high=kappa + half)


def fleiss_kappa(counts: ArrayLike) -> float:
    """Return Fleiss' kappa: (n targets, c categories) counts of how many raters chose what, equally
    many a target.

    Source: Fleiss 1971 (Psychol. Bull. 76, 378-382).
    """
    from statsmodels.stats.inter_rater import fleiss_kappa as of_statsmodels  # slow to import

    table = np.asarray(counts, dtype=float)
    return float(of_statsmodels(table)) if np.count_nonzero(table.sum(axis=0)) > 1 else np.nan
