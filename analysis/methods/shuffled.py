"""Ranks or ticks of people over breads: one statistic, judged by shuffling the breads inside each
person.

For ranks the statistic is Friedman's chi-squared with ties corrected (ISO 8587), for ticks
Cochran's Q (Cochran 1950, Biometrika 37, 256-266); with gaps it is Skillings and Mack's form (1981,
Technometrics 23, 171-177), from memory. Shuffles with the observed arrangement counted: Phipson and
Smyth 2010 (Stat. Appl. Genet. Mol. Biol. 9, 39); for ticks of panels: Meyners, Castura and Carr
2013 (Food Qual. Prefer. 30, 309-319). Several words at once: step-down largest statistic, Westfall
and Young 1993, Resampling-Based Multiple Testing.
"""

from __future__ import annotations

import numpy as np
from scipy import special

from ...trials.frozen import frozen

DRAWS, SEED = 9999, 20_243
TOGETHER = 1e-9  # statistics nearer than this, relatively, are the same


@frozen(kw_only=True)
class Looks:
    """What people said of breads, centred inside each person.

    centred : (people, breads, words), 0 where a person did not judge; had : bool (people, breads);
    seen : the values as given, NaN where not judged
    """

    seen: np.ndarray
    centred: np.ndarray
    had: np.ndarray

    @property
    def sums(self) -> np.ndarray:
        """Return d, what each bread got above the means of those who had it: (breads, words)."""
        return self.centred.sum(axis=0)

    @property
    def variance(self) -> np.ndarray:
        """Return V, the covariance of ``sums`` when breads are shuffled inside people: (words,
        breads, breads).

        V = Σᵢ sᵢ²(I − J/kᵢ), over the kᵢ breads that person i had.
        """
        count = self.had.sum(axis=1)
        spread = (self.centred**2).sum(axis=1) / np.maximum(count - 1, 1)[:, None]
        inside = np.einsum("ij,jl->ijl", self.had, np.eye(self.had.shape[1]))
        inside = (
            inside
            - np.einsum("ij,il->ijl", self.had, self.had) / np.maximum(count, 1)[:, None, None]
        )
        return np.einsum("iw,ijl->wjl", spread, inside)


@frozen(kw_only=True)
class Shuffled:
    """The statistic of every word: NaN where nobody, or everybody always, ticked.

    s, p_shuffled, p_adjusted (step-down over the words) : (words,); df : breads less the parts that
    they fall into;
    p_chi2 : the chi-squared limit; p_together : of all words at once, by the sum of their
        statistics
    """

    s: np.ndarray
    df: int
    p_shuffled: np.ndarray
    p_adjusted: np.ndarray
    p_chi2: np.ndarray
    p_together: float


def looks(seen: np.ndarray, had: np.ndarray | None = None) -> Looks:
    """Return looks from values (people, breads, words), NaN where a word was not judged.

    ``had`` says who was given which bread; where silent, whatever was judged in any word. A value
    that is missing on a bread that was had is shuffled with the bread. People are put into an order
    of their own, so that no draw depends on the order of the rows.
    """
    seen = np.asarray(seen, dtype=float)
    had = np.isfinite(seen).any(axis=2) if had is None else np.asarray(had, dtype=bool)
    keys = np.hstack([had, np.nan_to_num(seen, nan=-1.0).reshape(len(seen), -1)])
    order = np.lexsort(keys.T[::-1])
    seen, had = seen[order], had[order]
    judged = np.isfinite(seen)
    mean = np.where(judged, seen, 0).sum(axis=1) / np.maximum(judged.sum(axis=1), 1)
    return Looks(seen=seen, centred=np.where(judged, seen - mean[:, None, :], 0.0), had=had)


def n_parts(had: np.ndarray) -> int:
    """Return into how many parts the breads fall that no person joins."""
    n = had.shape[1]
    joined = (had[:, :, None] & had[:, None, :]).any(axis=0) | np.eye(n, dtype=bool)
    # each bread with all that it is joined to, also by way of others
    return len(np.unique(np.linalg.matrix_power(joined, n), axis=0))


def shuffled_test(given: Looks, draws: int = DRAWS, seed: int = SEED) -> Shuffled:
    """Return the statistic of every word and its p-values; one shuffle moves all words of a person
    together.
    """
    df = given.had.shape[1] - n_parts(given.had)
    inverse = np.linalg.pinv(given.variance, rcond=1e-10, hermitian=True)
    s = _statistic(given.sums[None], inverse)[0]
    known = (given.centred**2).sum(axis=(0, 1)) > 1e-12
    s = np.where(known, s, np.nan)
    drawn = _statistic(_drawn_sums(given, draws, np.random.default_rng(seed)), inverse)[:, known]
    p_shuffled, p_adjusted = np.full(len(s), np.nan), np.full(len(s), np.nan)
    if known.any():
        p_shuffled[known] = _p(s[known], drawn)
        p_adjusted[known] = _step_down(s[known], drawn)
    together = (
        float(_p(s[known].sum(keepdims=True), drawn.sum(axis=1, keepdims=True))[0])
        if known.any()
        else np.nan
    )
    return Shuffled(
        s=s,
        df=df,
        p_shuffled=p_shuffled,
        p_adjusted=p_adjusted,
        p_chi2=special.chdtrc(max(df, 1), s),
        p_together=together,
    )


def pair_z(given: Looks, word: int, first: int, second: int) -> tuple[float, float]:
    """Return the difference of two breads' sums and its z, by V: of ranks, (Cᵢ − Cⱼ)/√(2Σs²)."""
    sums, variance = given.sums[:, word], given.variance[word]
    spread = variance[first, first] + variance[second, second] - 2 * variance[first, second]
    difference = float(sums[first] - sums[second])
    return difference, difference / float(np.sqrt(spread)) if spread > 0 else np.nan


def _drawn_sums(given: Looks, draws: int, rng: np.random.Generator) -> np.ndarray:
    """Return the breads' sums after each shuffle: (draws, breads, words)."""
    sums = np.zeros((draws, *given.sums.shape))
    for had, values in zip(given.had, given.centred, strict=True):
        places = np.flatnonzero(had)
        if len(places) > 1 and values.any():
            order = rng.random((draws, len(places))).argsort(axis=1)
            sums[:, places] += values[places][order]
    return sums


def _statistic(sums: np.ndarray, inverse: np.ndarray) -> np.ndarray:
    """Return dᵀV⁻d for every draw and word."""
    return np.einsum("njw,wjl,nlw->nw", sums, inverse, sums, optimize=True)


def _p(observed: np.ndarray, drawn: np.ndarray) -> np.ndarray:
    """Return the share of draws at least as large, the observed arrangement counted in."""
    least = observed - TOGETHER * np.maximum(1.0, observed)
    return (1 + np.count_nonzero(drawn >= least, axis=0)) / (len(drawn) + 1)


def _step_down(observed: np.ndarray, drawn: np.ndarray) -> np.ndarray:
    """Return p-values adjusted by the largest statistic among the words that are not yet told."""
    order = np.argsort(-np.round(observed, 9), kind="stable")
    largest = np.maximum.accumulate(drawn[:, order[::-1]], axis=1)[:, ::-1]
    adjusted = np.empty(len(observed))
    adjusted[order] = np.maximum.accumulate(_p(observed[order], largest))
    return adjusted
