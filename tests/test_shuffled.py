"""Ranks and ticks judged by shuffling inside people, against published tables and exact sums.

Values: tests/reference/tasting.json; each entry names its source.
"""

import csv
import json
from collections import Counter
from itertools import combinations, permutations
from math import comb
from pathlib import Path

import numpy as np
import pytest
from fairloaf.analysis.methods.shuffled import Looks, looks, n_parts, pair_z, shuffled_test
from fairloaf.analysis.methods.tick_agreement import tick_agreement
from scipy import special, stats

REFERENCE = Path(__file__).parent / "reference"
TASTING = {
    entry["name"]: entry for entry in json.loads((REFERENCE / "tasting.json").read_text("utf-8"))
}


def of_patterns(patterns: dict[str, int]) -> np.ndarray:
    return np.array(
        [[int(tick) for tick in pattern] for pattern, n in patterns.items() for _ in range(n)],
        float,
    )


def ticks_of(entry: dict) -> np.ndarray:
    if "patterns" in entry:
        return of_patterns(entry["patterns"])
    return np.array(entry["data_people_by_breads"], dtype=float)


def one_word(ticks: np.ndarray) -> Looks:
    return looks(ticks[:, :, None])


def exact_p(ticks: np.ndarray) -> float:
    """The chance of a Q at least as large, by convolution over sorted column totals of people's
    ticks.
    """
    k = ticks.shape[1]
    totals = Counter({(0,) * k: 1.0})
    for n in ticks.sum(axis=1).astype(int):
        if 0 < n < k:
            longer: Counter = Counter()
            for state, chance in totals.items():
                for places in combinations(range(k), n):
                    new = list(state)
                    for place in places:
                        new[place] += 1
                    longer[tuple(sorted(new))] += chance / comb(k, n)
            totals = longer
    always = (ticks.sum(axis=1) == k).sum()
    observed = ((ticks.sum(axis=0) - always) ** 2).sum()
    return sum(chance for state, chance in totals.items() if sum(t**2 for t in state) >= observed)


# Cochran 1950 (remembered); Conover p. 253, and examples in a statistics library's tests (read)
COCHRAN = {
    "1950": TASTING["cochran_q_1950"]["expected"],
    "conover": TASTING["cochran_q_conover"]["expected"],
    "twelve": TASTING["cochran_q_twelve"]["expected"],
    "drugs": TASTING["cochran_q_drugs"]["expected"],
    "four": TASTING["cochran_q_nine"]["expected"]["four"],
    "five": TASTING["cochran_q_nine"]["expected"]["five"],
}


@pytest.mark.parametrize("name", list(COCHRAN))
def test_of_ticks_it_is_cochrans_q(name):
    entry = COCHRAN[name]
    found = shuffled_test(one_word(ticks_of(entry)))
    assert found.s[0] == pytest.approx(entry["q"], rel=1e-9)
    assert found.df == entry["df"] if "df" in entry else True
    assert found.p_chi2[0] == pytest.approx(entry["p_chi2"], rel=1e-8)


@pytest.mark.parametrize("name", ["1950", "conover", "twelve", "four", "five"])
def test_shuffled_p_is_the_exact_one_within_the_draws(name):
    entry = COCHRAN[name]
    exact = exact_p(ticks_of(entry))
    assert exact == pytest.approx(entry["p_exact"], abs=2e-6)
    found = shuffled_test(one_word(ticks_of(entry))).p_shuffled[0]
    assert found == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 9999) + 1e-4)


# beers of Korosteleva's book: the same statistic as Friedman's test with ties corrected
def test_of_ranks_it_is_friedmans_test():
    entry = TASTING["ranking_beer"]["expected"]
    ranks = stats.rankdata(np.array(entry["data_tasters_by_samples"]), axis=1)
    found = shuffled_test(one_word(ranks))
    assert found.s[0] == pytest.approx(entry["chi2_ties_corrected"], rel=1e-9)
    assert found.p_chi2[0] == pytest.approx(entry["p_chi2"], rel=1e-8)
    assert ranks.sum(axis=0).tolist() == entry["rank_sums"]


# ISO 8587's least significant difference, 1.96 √(m k (k + 1)/6), from memory
def test_pairs_of_ranks_have_the_standards_spread():
    rng = np.random.default_rng(3)
    ranks = np.array([rng.permutation(5) + 1.0 for _ in range(14)])
    difference, z = pair_z(one_word(ranks), 0, 0, 3)
    assert difference == pytest.approx(ranks[:, 0].sum() - ranks[:, 3].sum())
    assert special.ndtri(0.975) * difference / z == pytest.approx(
        TASTING["rank_sum_lsd"]["expected"]["m14_k5"], rel=1e-4
    )


def test_with_gaps_the_variance_is_that_of_all_shuffles():
    seen = np.array([[1, 0, np.nan], [0, 1, 1], [np.nan, 1, 0], [1, 0, 0]])
    given = one_word(seen)
    sums = []
    for a in permutations([0, 1]):
        for b in permutations([0, 1, 2]):
            for c in permutations([1, 2]):
                for e in permutations([0, 1, 2]):
                    total = np.zeros(3)
                    for had, order, row in zip(
                        ([0, 1], [0, 1, 2], [1, 2], [0, 1, 2]), (a, b, c, e), seen, strict=True
                    ):
                        values = row[list(had)] - row[list(had)].mean()
                        total[list(had)] += values[[list(had).index(place) for place in order]]
                    sums.append(total)
    assert given.variance[0] == pytest.approx(np.cov(np.array(sums).T, bias=True))
    found = shuffled_test(given)
    assert found.df == 2
    assert found.s[0] == pytest.approx(
        given.sums[:, 0] @ np.linalg.pinv(given.variance[0]) @ given.sums[:, 0]
    )


def test_breads_that_nobody_joins_are_parts():
    had = np.array([[1, 1, 0, 0], [0, 0, 1, 1]], dtype=bool)
    assert n_parts(had) == 2
    assert n_parts(np.vstack([had, [False, True, True, False]])) == 1


def class_of(seed: int, people: int = 24, breads: int = 5, words: int = 6) -> np.ndarray:
    return (np.random.default_rng(seed).random((people, breads, words)) < 0.3).astype(float)


def test_order_of_people_and_of_words_changes_nothing():
    seen = class_of(1)
    seen[:, 0, 2] = 1
    found, turned = shuffled_test(looks(seen)), shuffled_test(looks(seen[::-1]))
    assert turned.p_adjusted.tolist() == found.p_adjusted.tolist()
    moved = shuffled_test(looks(seen[:, :, [2, 0, 1, 5, 4, 3]]))
    assert moved.s == pytest.approx(found.s[[2, 0, 1, 5, 4, 3]])


def test_adjusted_p_values_are_at_least_the_plain_ones_and_in_their_order():
    seen = class_of(2)
    seen[:, 0, 4] = 1
    found = shuffled_test(looks(seen))
    assert (found.p_adjusted >= found.p_shuffled).all()
    order = np.argsort(-found.s)
    assert (np.diff(found.p_adjusted[order]) >= 0).all()
    assert found.p_adjusted[4] < 0.05 < found.p_adjusted[[0, 1, 2, 3, 5]].min()
    assert found.p_shuffled.min() >= 1e-4


def test_words_that_nobody_ticked_are_no_statistic():
    seen = class_of(3)
    seen[:, :, 1], seen[:, :, 3] = 0, 1
    found = shuffled_test(looks(seen))
    assert np.isnan(found.s[[1, 3]]).all()
    assert np.isnan(found.p_adjusted[[1, 3]]).all()
    assert np.isfinite(found.p_adjusted[[0, 2, 4, 5]]).all()
    nothing = shuffled_test(looks(np.zeros((8, 3, 2))))
    assert np.isnan(nothing.p_together)


# Fleiss 1971: 30 patients, 6 raters, 5 diagnoses; kappa 0.4302445 is the mean of the diagnoses'
# own, weighted
def test_kappas_of_the_diagnoses_make_fleiss_kappa():
    with (REFERENCE / "diagnoses.csv").open(encoding="utf-8", newline="") as lines:
        said = np.array([list(row.values()) for row in csv.DictReader(lines)]).astype(int).T
    kappas, weights = [], []
    for diagnosis in range(1, 6):
        ticks = (said == diagnosis).astype(float)
        kappas.append(tick_agreement(ticks).kappa)
        weights.append(ticks.mean() * (1 - ticks.mean()))
    published = TASTING["agreement_diagnoses"]["published"]["fleiss_kappa"]
    assert np.average(kappas, weights=weights) == pytest.approx(published, abs=5e-8)


def test_agreement_of_one_word_is_worked_by_hand():
    """Three people, two breads: one bread ticked by all, the other by one."""
    found = tick_agreement(np.array([[1, 1], [1, 0], [1, 0]], dtype=float))
    assert found.same_answer == pytest.approx((1 + 1 / 3) / 2)
    assert found.by_chance == pytest.approx((4 / 6) ** 2 + (2 / 6) ** 2)
    assert found.kappa == pytest.approx((2 / 3 - 5 / 9) / (4 / 9))
    assert found.kappa_low <= found.kappa <= found.kappa_high


def test_a_table_of_shares_agrees_between_tables():
    """Two tables of two pupils: half of the pairs between tables give the same answer."""
    found = tick_agreement(np.array([[0.5, 1], [1, 0]], dtype=float))
    assert found.same_answer == pytest.approx((0.5 + 0) / 2)


def test_a_word_that_nobody_ticked_has_no_kappa():
    found = tick_agreement(np.zeros((6, 4)))
    assert found.same_answer == 1
    assert np.isnan([found.kappa, found.kappa_low, found.kappa_high]).all()
