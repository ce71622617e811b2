"""How well people who score or rank the same things agree: ranks, intraclass correlations, kappas.

Tables of scores are arrays, turned as in their sources: one row an assessor and one column a sample for ranks, one
row a target (loaf) and one column a rater (assessor) for the intraclass correlations.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special


@dataclass(frozen=True, slots=True, kw_only=True)
class Friedman:
    """Do the assessors rank the samples alike? NaN where every assessor gave every sample the same score."""

    chi2: float
    df: int
    p_value: float
    kendall_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Coefficient:
    """A coefficient of agreement with its interval."""

    value: float
    ci_low: float
    ci_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Intraclass:
    """Intraclass correlations, named as Shrout and Fleiss 1979 name them; ``k`` is the number of raters.

    The same raters scored every target, are taken as drawn from many, and their severity counts as disagreement:
    ``_1`` is one rater's score, ``_k`` the mean of all. The other forms answer what no panel is asked: raters who
    differ from target to target, or severity left out, for which Kendall's W stands.
    """

    icc_2_1: Coefficient
    icc_2_k: Coefficient


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
    chi2 = (k - 1) * float(((sums - m * (k + 1) / 2) ** 2).sum()) / scatter if scatter > 0 else np.nan
    return Friedman(chi2=chi2, df=k - 1, p_value=float(special.chdtrc(k - 1, chi2)), kendall_w=chi2 / (m * (k - 1)))


def intraclass(scores: ArrayLike, confidence: float = 0.95) -> Intraclass:
    """Return the intraclass correlations of scores (n targets, k raters), none missing.

    The interval of one rater's is by Satterthwaite's df (Shrout and Fleiss 1979, Psychol. Bull. 86, 420-428, p. 424),
    that of the mean of k raters by the Spearman-Brown formula (McGraw and Wong 1996, Psychol. Methods 1, 30-46).
    """
    table = np.asarray(scores, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        one = _two_way_random(table, (1 - confidence) / 2)
        return Intraclass(icc_2_1=one, icc_2_k=_of_mean(one, table.shape[1]))


def _two_way_random(table: np.ndarray, tail: float) -> Coefficient:
    """Return ICC(2,1) from the mean squares between targets, between raters and of the rest."""
    n, k = table.shape
    target, rater, centre = table.mean(axis=1, keepdims=True), table.mean(axis=0), table.mean()
    between = k * ((target - centre) ** 2).sum() / (n - 1)
    raters = n * ((rater - centre) ** 2).sum() / (k - 1)
    rest = ((table - target - rater + centre) ** 2).sum() / ((n - 1) * (k - 1))
    icc = (between - rest) / (between + (k - 1) * rest + k * (raters - rest) / n)
    a = k * icc
    b = n * (1 - icc) + k * icc * (n - 1)
    df = (a * raters + b * rest) ** 2 / ((a * raters) ** 2 / (k - 1) + (b * rest) ** 2 / ((n - 1) * (k - 1)))
    low, high = special.fdtri(n - 1, df, 1 - tail), special.fdtri(df, n - 1, 1 - tail)
    error = k * raters + (k * n - k - n) * rest
    return Coefficient(value=float(icc), ci_low=float(n * (between - low * rest) / (low * error + n * between)),
                       ci_high=float(n * (high * between - rest) / (error + n * high * between)))


def _of_mean(one: Coefficient, k: int) -> Coefficient:
    """Return the coefficient of the mean of k raters from that of one (Spearman-Brown)."""
    value, low, high = (k * r / (1 + (k - 1) * r) for r in np.array([one.value, one.ci_low, one.ci_high]))
    return Coefficient(value=float(value), ci_low=float(low), ci_high=float(high))


def cohen_kappa(table: ArrayLike, weighted: bool = False, confidence: float = 0.95) -> Coefficient:
    """Return Cohen's kappa of two raters from their cross-table of counts (c, c) of c ordered categories.

    weighted : near misses count in part, by linear weights 1 − |i − j|/(c − 1)
    Sources: Cohen 1960 and 1968; standard error: Fleiss, Cohen and Everitt 1969 (Psychol. Bull. 72, 323-327).
    """
    from statsmodels.stats.inter_rater import cohens_kappa  # slow to import

    counts = np.asarray(table, dtype=float)
    if (counts.sum(axis=0) + counts.sum(axis=1)).max() >= 2 * counts.sum():    # everybody said the same throughout
        return Coefficient(value=np.nan, ci_low=np.nan, ci_high=np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):     # in its z test, where one rater said one thing only
        found = cohens_kappa(counts, wt="linear" if weighted else None)
    kappa, half = float(found.kappa), float(special.ndtri(0.5 + confidence / 2) * np.sqrt(max(found.var_kappa, 0)))
    return Coefficient(value=kappa, ci_low=kappa - half, ci_high=kappa + half)
