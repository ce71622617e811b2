"""The randomisation test against Box, Hunter and Hunter's examples and against counting."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.comparison.randomisation import randomisation_test

REFERENCE = Path(__file__).parent / "reference"
ENTRIES = json.loads((REFERENCE / "expected.json").read_text("utf-8"))
EXPECTED = {entry["name"]: entry["expected"] for entry in ENTRIES}


# Box, Hunter & Hunter 2005, Statistics for Experimenters, ch. 3: 11 tomato plants, all 462
# arrangements.
def test_tomatoes():
    tomato = pd.read_csv(REFERENCE / "tomato.csv")
    expected = EXPECTED["tomato_randomisation"]
    test = randomisation_test(
        tomato["pounds"].to_numpy(),
        (tomato["fertilizer"] == "B").to_numpy(),
        np.zeros(11, int),
        model_p=0.67,
    )
    assert (test.n_rearrangements, test.exact, test.blocked) == (
        expected["arrangements"],
        True,
        False,
    )
    assert test.p_value == pytest.approx(expected["p_two_sided"], rel=1e-12)
    assert test.smallest_p == pytest.approx(expected["smallest_possible_p_one_sided"], rel=1e-12)
    assert test.agrees is True


# The same book: boys' shoes, materials exchanged within each boy, all 1,024 sign changes.
def test_shoes():
    shoes = pd.read_csv(REFERENCE / "shoes.csv")
    expected = EXPECTED["shoes_randomisation"]
    wear = np.concatenate([shoes["wear_a"], shoes["wear_b"]])
    boys = np.tile(np.arange(10), 2)
    test = randomisation_test(wear, np.arange(20) >= 10, boys, model_p=0.0085)
    assert (test.n_rearrangements, test.blocked) == (expected["arrangements"], True)
    assert test.p_value == pytest.approx(expected["p_two_sided"], rel=1e-12)
    assert test.smallest_p == pytest.approx(expected["smallest_possible_p_two_sided"], rel=1e-12)


# Counting; Phipson and Smyth 2010 on why p is never 0.
@pytest.mark.parametrize(
    "case", EXPECTED["smallest_possible_p"]["two_formulas_k_mixes_each_unblocked"]
)
def test_smallest_p_unblocked(case):
    k = case["mixes_each"]
    apart = randomisation_test(
        np.arange(2.0 * k), np.arange(2 * k) >= k, np.zeros(2 * k, int), model_p=0.01
    )
    assert apart.n_rearrangements == case["arrangements"]
    assert (
        apart.smallest_p == apart.p_value == pytest.approx(case["smallest_two_sided_p"], rel=1e-9)
    )


@pytest.mark.parametrize("case", EXPECTED["smallest_possible_p"]["two_formulas_one_mix_each_a_day"])
def test_smallest_p_in_days(case):
    days = case["days"]
    rng = np.random.default_rng(1)
    means = np.concatenate([np.zeros(days), 1 + rng.random(days)])
    test = randomisation_test(
        means, np.arange(2 * days) >= days, np.tile(np.arange(days), 2), model_p=0.01
    )
    assert test.n_rearrangements == case["arrangements"]
    assert test.smallest_p == test.p_value == pytest.approx(case["smallest_two_sided_p"], rel=1e-9)


def test_three_against_three_cannot_answer_at_five_percent():
    test = randomisation_test(np.arange(6.0), np.arange(6) >= 3, np.zeros(6, int), model_p=0.01)
    assert test.p_value == pytest.approx(0.10)
    assert test.agrees is None


def test_opinions_that_disagree_are_seen():
    means = np.array([0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9])
    test = randomisation_test(means, np.arange(10) >= 5, np.zeros(10, int), model_p=0.40)
    assert test.p_value < 0.05
    assert test.agrees is False


def test_unequal_numbers_have_no_mirror_image():
    test = randomisation_test(
        np.array([5.0, 1, 2, 3]),
        np.array([True, False, False, False]),
        np.zeros(4, int),
        model_p=0.2,
    )
    assert test.smallest_p == test.p_value == pytest.approx(1 / 4)


def test_drawn_rearrangements_come_close_and_are_the_same_on_every_run():
    """12 against 12 has 2.7 million rearrangements; the draw must lie within four standard errors
    of the t test.
    """
    rng = np.random.default_rng(7)
    means = rng.normal(size=24)
    means[12:] += 0.55
    runs = [
        randomisation_test(means, np.arange(24) >= 12, np.zeros(24, int), model_p=0.2)
        for _ in range(2)
    ]
    assert runs[0] == runs[1]
    assert not runs[0].exact
    assert runs[0].n_used == 20_000
    everything = np.array([np.abs(_difference(rng.permutation(means))) for _ in range(20_000)])
    share = (everything >= abs(_difference(means)) - 1e-12).mean()
    assert runs[0].p_value == pytest.approx(
        share, abs=4 * np.sqrt(2 * share * (1 - share) / 20_000)
    )


def _difference(means: np.ndarray) -> float:
    return means[12:].mean() - means[:12].mean()


def test_nothing_to_rearrange():
    assert (
        randomisation_test(
            np.array([1.0, 2]), np.array([True, False]), np.array([0, 1]), model_p=0.5
        )
        is None
    )


def test_means_without_spread_give_one():
    test = randomisation_test(np.ones(6), np.arange(6) >= 3, np.zeros(6, int), model_p=1.0)
    assert test.p_value == 1.0
