"""Tests of telling apart, against the standards' tables and by laws that need no reference.

Values: tests/reference/tasting.json; each entry names its source, and whether that was read,
remembered or computed.
"""

import csv
import json
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from fairloaf.analysis.methods import discrimination as d
from fairloaf.analysis.methods import repeated_answers as repeated
from fairloaf.analysis.methods.groups import p_groups_differ
from fairloaf.analysis.methods.numbers_needed import power_different, power_similar
from fairloaf.analysis.methods.preferences import p_turned_round
from fairloaf.analysis.methods.repeated_answers import Answers
from hypothesis import given, settings
from hypothesis import strategies as some
from scipy import special

REFERENCE = Path(__file__).parent / "reference"
TASTING = {
    entry["name"]: entry for entry in json.loads((REFERENCE / "tasting.json").read_text("utf-8"))
}


def p_similar(right: float, of: float, guess: float, may_tell: float) -> float:
    """Return the chance of at most so many right answers when the share ``may_tell`` can tell
    (exact tail).
    """
    return float(d.at_most(right, of, d.right_at(may_tell, guess)))


def minimum_right(of: int, guess: float, alpha: float = 0.05) -> int | None:
    """Return the fewest right answers whose chance by guessing is at most alpha; None where not
    even all are.
    """
    tails = d.at_least(np.arange(of + 1), of, guess)
    enough = np.flatnonzero(tails <= alpha)
    return int(enough[0]) if len(enough) else None


def maximum_similar(of: int, guess: float, may_tell: float, alpha: float = 0.05) -> int | None:
    """Return the most right answers that still show that fewer than ``may_tell`` can tell; None
    where none do.
    """
    tails = d.at_most(np.arange(of + 1), of, d.right_at(may_tell, guess))
    few = np.flatnonzero(tails <= alpha)
    return int(few[-1]) if len(few) else None


def once(right: int, of: int) -> Answers:
    return Answers(right=np.array([1] * right + [0] * (of - right)), of=np.ones(of, dtype=int))


def times(right: list[int], each: int) -> Answers:
    return Answers(right=np.array(right), of=np.full(len(right), each))


# --- counts ------------------------------------------------------------------------------------


def printed(name: str) -> list[tuple[int, list[int | None]]]:
    return [(row[0], row[1:]) for row in TASTING[name]["published"]["table"]]


# FAO document V7180E, appendix A: all 176 printed numbers
@pytest.mark.parametrize(("of", "fewest"), printed("triangle_minimum_correct"))
def test_the_fewest_right_of_a_triangle_test_are_the_printed_ones(of, fewest):
    assert [minimum_right(of, 1 / 3, alpha) for alpha in (0.10, 0.05, 0.01, 0.001)] == fewest


# ISO 10399 as printed in GOST ISO 10399-2015, table A.1; row 22 is one too low in the scan (ISO
# 5495 has it right)
@pytest.mark.parametrize(
    ("of", "fewest"), [row for row in printed("duo_trio_minimum_correct") if row[0] != 22]
)
def test_the_fewest_right_of_a_duo_trio_test_are_the_printed_ones(of, fewest):
    assert [minimum_right(of, 1 / 2, alpha) for alpha in (0.20, 0.10, 0.05, 0.01, 0.001)] == fewest


# ISO 5495:2005 table A.1, read in GOST R 53161-2008: 120 printed numbers
def test_the_fewest_agreeing_of_a_paired_test_are_the_printed_ones():
    rows = {
        int(n): row
        for n, row in TASTING["paired_minimum_one_sided"]["expected"].items()
        if n.isdigit()
    }
    found = {n: [minimum_right(n, 1 / 2, a) for a in (0.20, 0.10, 0.05, 0.01, 0.001)] for n in rows}
    assert found == rows


# ISO 5495:2005 table A.3, last rows; the five numbers of β = 0.001 are printed one too low
def test_the_most_right_that_still_show_similarity_are_the_printed_ones():
    agreed = 0
    for of, by_risk in TASTING["paired_maximum_similar"]["published"]["table"].items():
        for risk, row in by_risk.items():
            for may_tell, most in zip((0.1, 0.2, 0.3, 0.4, 0.5), row, strict=True):
                if most is not None:
                    found = maximum_similar(int(of), 1 / 2, may_tell, float(risk))
                    assert found == most + (risk == "0.001" and found != most)
                    agreed += found == most
    assert agreed == 34


def test_every_computed_minimum_is_in_its_table():
    columns = {
        "alpha_0.2": 0.2,
        "alpha_0.1": 0.1,
        "alpha_0.05": 0.05,
        "alpha_0.01": 0.01,
        "alpha_0.001": 0.001,
    }
    with (REFERENCE / "tasting_minimum_correct.csv").open(encoding="utf-8", newline="") as lines:
        rows = [row for row in csv.DictReader(lines) if row["test"] in ("triangle", "duo-trio")]
    assert len(rows) > 100
    for row in rows:
        found = [
            minimum_right(int(row["n"]), d.GUESS[row["test"]], alpha) for alpha in columns.values()
        ]
        assert found == [int(row[name]) if row[name] else None for name in columns]


# --- sensory distance --------------------------------------------------------------------------


# Ennis 1993 and Ennis and Jesionka 2011, as remembered; integrals done again in R
@pytest.mark.parametrize("test", list(d.GUESS))
def test_shares_and_distances_are_the_published_ones(test):
    published = TASTING["d_prime"]["expected"]
    for at, share in zip(
        (0.5, 1, 1.5, 2, 3), published["share_right_at_0.5_1_1.5_2_3"][test], strict=True
    ):
        assert d.share_right(test, at) == pytest.approx(share, abs=1e-11)
    for share, at in zip((0.6, 0.7, 0.8), published["d_at_0.6_0.7_0.8"][test], strict=True):
        assert d.d_prime(test, share) == pytest.approx(at, abs=1e-9)


def test_the_table_of_shares_is_met_throughout():
    names = {"2-AFC": "pair", "3-AFC": "three-choice"} | {
        test: test for test in ("triangle", "duo-trio", "tetrad")
    }
    with (REFERENCE / "tasting_dprime.csv").open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            for column, test in names.items():
                assert d.share_right(test, float(row["d_prime"])) == pytest.approx(
                    float(row[column]), abs=2e-10
                )


@pytest.mark.parametrize("distance", [0.01, 0.5, 1.0, 3.0, 6.0])
def test_the_triangle_is_a_tail_of_the_noncentral_f(distance):
    tail = 1 - special.ncfdtr(1, 1, 2 * distance**2 / 3, 3)
    assert d.share_right("triangle", distance) == pytest.approx(tail, abs=1e-12)


@pytest.mark.parametrize("test", list(d.GUESS))
def test_distance_is_none_at_guessing_and_without_bound_when_all_are_right(test):
    assert d.d_prime(test, d.GUESS[test]) == 0 == d.d_prime(test, 0.1)
    assert d.d_prime(test, 1.0) == np.inf
    assert d.d_prime(test, d.share_right(test, 2.2)) == pytest.approx(2.2, abs=1e-9)


# --- limits ------------------------------------------------------------------------------------


# computed twice, in R and in Python (tasting.json, repeated_limits)
@pytest.mark.parametrize(
    ("answers", "guess", "entry"),
    [
        (once(18, 30), 1 / 3, "triangle_18_of_30_once_each"),
        (times([3] * 8 + [1] * 12, 3), 1 / 3, "triangle_20x3_right_3_or_1"),
    ],
)
def test_limits_are_those_computed_elsewhere(answers, guess, entry):
    assert repeated.limits(answers, guess) == pytest.approx(
        TASTING["repeated_limits"]["expected"][entry], abs=1e-9
    )


# Clopper and Pearson's limits as quantiles of the beta distribution
@pytest.mark.parametrize(
    ("right", "of", "guess"), [(18, 30, 1 / 3), (14, 30, 1 / 3), (24, 24, 1 / 2), (20, 24, 1 / 2)]
)
def test_limits_of_strangers_are_clopper_and_pearsons(right, of, guess):
    low = special.betaincinv(right, of - right + 1, 0.05)
    high = special.betaincinv(right + 1, of - right, 0.95) if right < of else 1.0
    assert repeated.limits(once(right, of), guess) == pytest.approx(
        (d.can_tell(low, guess), d.can_tell(high, guess)), abs=1e-9
    )


@settings(max_examples=150, deadline=None)
@given(
    right=some.lists(some.integers(0, 4), min_size=2, max_size=20),
    each=some.integers(4, 6),
    guess=some.sampled_from([1 / 3, 1 / 2]),
    may_tell=some.floats(0.05, 0.95),
)
def test_limit_and_test_never_disagree(right, each, guess, may_tell):
    answers = times(right, each)
    low, high = repeated.limits(answers, guess)
    p_different = d.p_different(int(answers.right.sum()), int(answers.of.sum()), guess)
    assert (low > 0) == (p_different < 0.05) or abs(p_different - 0.05) < 1e-9
    if may_tell > high + 1e-9:
        assert repeated.p_similar_by_person(answers, guess, may_tell) <= 0.05 + 1e-9


@settings(max_examples=100, deadline=None)
@given(
    right=some.integers(0, 40),
    of=some.integers(5, 40),
    guess=some.sampled_from([1 / 3, 1 / 2]),
    may_tell=some.floats(0.01, 0.99),
)
def test_strangers_limits_and_both_tests_are_one_statement(right, of, guess, may_tell):
    right = min(right, of)
    low, high = repeated.limits(once(right, of), guess)
    different, similar = d.p_different(right, of, guess), p_similar(right, of, guess, may_tell)
    assert (low > 0) == (different < 0.05) or abs(different - 0.05) < 1e-9
    assert (high < may_tell) == (similar < 0.05) or abs(similar - 0.05) < 1e-7


def test_people_who_answer_all_or_none_right_are_worth_fewer_answers():
    alike, apart = times([2] * 12, 4), times([4] * 6 + [0] * 6, 4)
    assert repeated.design_effect(alike) == 1
    assert repeated.design_effect(apart) > 4
    assert repeated.limits(apart, 1 / 3)[1] > repeated.limits(alike, 1 / 3)[1] + 0.1


def test_people_differ_is_the_count_of_all_deals():
    answers = Answers(right=np.array([3, 0, 1]), of=np.array([3, 2, 2]))

    def statistic(x):
        return sum(x_i**2 / r for x_i, r in zip(x, answers.of, strict=True))

    ways = {True: 0.0, False: 0.0}
    for x in product(*(range(r + 1) for r in answers.of)):
        if sum(x) == 4:
            ways[statistic(x) >= statistic(answers.right) - 1e-9] += np.prod(
                special.comb(answers.of, x)
            )
    assert repeated.p_people_differ(answers) == pytest.approx(ways[True] / sum(ways.values()))
    assert np.isnan(repeated.p_people_differ(once(3, 9)))


def test_too_many_different_numbers_of_servings_are_dealt_out(monkeypatch):
    answers = Answers(right=np.array([3, 0, 6, 2, 7, 1]), of=np.array([3, 4, 6, 3, 7, 5]))
    exact = repeated.p_people_differ(answers)
    monkeypatch.setattr(repeated, "MOST_CELLS", 10)
    assert repeated.p_people_differ(answers) == pytest.approx(exact, abs=0.01)


# --- preference, groups, numbers ---------------------------------------------------------------


# sign test, two-sided (ISO 5495), and the mid-p of McNemar's test: Fagerland, Lydersen and Laake
# 2013, table 1
def test_preferences_of_strangers_are_the_sign_test():
    published = TASTING["preference_by_person"]["expected"]
    assert p_turned_round(np.array([1] * 26 + [-1] * 10)) == pytest.approx(
        published["26_against_10_once_each"]
    )
    mid = p_turned_round(np.array([1] * 7 + [-1]), half_of_ties=True)
    assert mid == pytest.approx(TASTING["mcnemar_mid_p"]["expected"]["p_mid"])


# Armitage & Berry 1994, p. 127; the example of R's mcnemar.test
@pytest.mark.parametrize("entry", ["mcnemar_media", "mcnemar_approval"])
def test_exact_and_mid_p_of_mcnemars_test_are_published(entry):
    value = TASTING[entry]["expected"]
    net = np.array([1] * value["only_first"] + [-1] * value["only_second"])
    assert p_turned_round(net) == pytest.approx(value["p_exact"], rel=1e-9)
    assert p_turned_round(net, half_of_ties=True) == pytest.approx(value["p_mid"], rel=1e-9)


def test_repeated_preferences_turn_people_and_not_servings():
    net = np.array([3] * 6 + [1] * 3 + [-1] + [-3] * 2)
    assert net.sum() == 14
    signs = np.array(list(product([-1, 1], repeat=12))) @ np.abs(net)
    counted = float((np.abs(signs) >= 14).mean())
    assert p_turned_round(net) == pytest.approx(counted)
    assert counted == TASTING["preference_by_person"]["expected"]["12_people_3_times_net_14"]
    assert p_turned_round(net, two_sided=False) == pytest.approx(float((signs >= 14).mean()))


def test_shares_of_a_preference_keep_their_ratios():
    assert (
        p_turned_round(np.array([0.5, 1, -0.5, 0.5]))
        == p_turned_round(np.array([1, 2, -1, 1]))
        == 0.5
    )


# Fisher 1935, The Design of Experiments, ch. II: eight cups, all told right: 1/70 each way
def test_groups_once_each_are_the_hypergeometric_distribution():
    answers = Answers(right=np.array([1] * 4 + [0] * 4), of=np.ones(8, dtype=int))
    half = TASTING["fisher_tea"]["expected"]["p_value"]
    # both ways, half of ties
    assert p_groups_differ(answers, np.array([0] * 4 + [1] * 4)) == pytest.approx(half)


def test_more_groups_are_dealt_again():
    rng = np.random.default_rng(5)
    answers = times(rng.integers(0, 4, 30).tolist(), 3)
    group = np.arange(30) % 3
    assert 0.02 < p_groups_differ(answers, group) < 1
    apart = times([3] * 10 + [1] * 10 + [0] * 10, 3)
    assert p_groups_differ(apart, np.repeat([0, 1, 2], 10)) < 0.001
    assert np.isnan(p_groups_differ(apart, np.zeros(30, dtype=int)))


# tables A.3 of ISO 4120 and ISO 10399, as remembered, hold the first number; power stays from the
# later one
@pytest.mark.parametrize("test", ["triangle", "duo-trio"])
@pytest.mark.parametrize("percent", ["50", "40", "30", "20"])
def test_numbers_needed_are_the_standards_and_those_from_which_power_stays(test, percent):
    published = TASTING["numbers_needed"]["expected"]
    found = [
        power_different(d.GUESS[test], int(percent) / 100, power) for power in (0.8, 0.9, 0.95)
    ]
    assert [power.first for power in found] == published["first"][test][percent]
    assert [power.stays for power in found] == published["from_there_on"][test][percent]


def test_numbers_needed_for_similarity():
    assert power_similar(1 / 3, 0.0, 0.3, 0.8).stays == 46
    assert power_similar(1 / 2, 0.0, 0.3, 0.8).stays == 77


def test_the_power_is_the_tail_beyond_the_fewest_right():
    table = power_different(1 / 3, 0.3, 0.8)
    at = int(np.flatnonzero(table.of == 24)[0])
    assert table.limit[at] == minimum_right(24, 1 / 3)
    # "not significant" of a triangle where 30 % can
    assert 1 - table.power[at] == pytest.approx(0.45, abs=0.005)
