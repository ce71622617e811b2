"""The layouts by themselves: fractions, days, incomplete days, exchange, evenness and codes,
against published ones.
"""

from itertools import combinations, product

import numpy as np
import pytest
from fairloaf.trials.planning.codes import all_codes, blind_codes
from fairloaf.trials.planning.even_order import Even, deal_evenly, spread
from fairloaf.trials.planning.exchange import Model, Units, exchange, information, mean_variance
from fairloaf.trials.planning.incomplete_days import incomplete_days
from fairloaf.trials.planning.two_level import ties_of, two_level

from .planned_kitchens import checked, slips_of


def letters(word: int) -> str:
    return "".join(letter for bit, letter in enumerate("ABCDEFG") if word >> bit & 1)


def rng(seed: int = 1) -> np.random.Generator:
    return np.random.Generator(np.random.PCG64(seed))


def days_of(blocks: int, mixes: int) -> Units:
    return Units(np.arange(blocks * mixes), np.repeat(np.arange(blocks), mixes))


# Box & Hunter 1961; NIST/SEMATECH e-Handbook 5.3.3.4.7: defining words, and what is aliased up to
# pairs.
@pytest.mark.parametrize(
    "case", checked("fractions"), ids=lambda c: f"{c['factors']} in {c['runs']}"
)
def test_fractions_are_the_published_ones(case):
    made = two_level(case["factors"], case["runs"], 1)
    assert sorted(map(letters, made.defining)) == sorted(case["defining"])
    tied = [[letters(word) for word in group] for group in ties_of(made, case["factors"])]
    assert tied == [group for group in case["aliases"] if len(group) > 1]
    assert len(np.unique(made.signs, axis=0)) == case["runs"]
    assert (made.signs.T @ made.signs == case["runs"] * np.eye(case["factors"])).all()


# Montgomery, Design and Analysis of Experiments, table 7.9.
@pytest.mark.parametrize(
    "case", checked("in_days"), ids=lambda c: f"{c['factors']} on {c['days']} days"
)
def test_factorials_on_days_spare_what_is_published(case):
    made = two_level(
        case["factors"], 2 ** (case["factors"] - len(case["generators"])), case["days"]
    )
    shortest = {
        min((word ^ d for d in (0, *made.defining)), key=lambda w: (w.bit_count(), w))
        for word in made.days
    }
    assert set(map(letters, shortest)) == set(case["taken"])
    assert len(set(np.bincount(made.day))) == 1
    for word in made.days:  # the word is one sign all day
        column = made.signs[:, [b for b in range(case["factors"]) if word >> b & 1]].prod(axis=1)
        assert all(len(set(column[made.day == day])) == 1 for day in range(case["days"]))


# Cochran & Cox 1957, ch. 11: the variance of a difference inside days.
@pytest.mark.parametrize(
    "case", checked("incomplete_days"), ids=lambda c: f"{c['t']} by {c['k']} on {c['b']}"
)
def test_incomplete_days_are_balanced(case):
    days = incomplete_days(case["t"], case["k"], case["b"])
    meet = [sum({a, b} <= set(day) for day in days) for a, b in combinations(range(case["t"]), 2)]
    assert set(meet) == {case["lambda_"]}
    model = Model((case["t"],), (None,))
    settings = np.array(days).reshape(-1, 1)
    variance = mean_variance(
        information(model.rows(settings), days_of(case["b"], case["k"])), model.weights([True])
    )
    assert variance == pytest.approx(case["variance_of_difference"], rel=1e-6)


def test_incomplete_days_are_repeated_while_they_divide():
    assert len(incomplete_days(7, 3, 14)) == 14
    assert incomplete_days(7, 3, 8) is None
    assert incomplete_days(8, 3, 10) is None


def test_the_information_is_the_checked_one():
    """Two mixes a day, days eliminated, mixes random: crossed closed form, and opposite halves."""
    crossed, halves = checked("determinants")
    model = Model((2, 2, 2), (None,) * 3, ((0, 1), (0, 2), (1, 2)))
    loaf = list(product((0, 1), repeat=2))
    settings = np.array([(f, *each) for _ in range(2) for f in (0, 1) for each in loaf])
    units = Units(np.repeat(np.arange(4), 4), np.repeat([0, 1], 8), 1.0)
    assert np.linalg.slogdet(information(model.rows(settings), units))[1] == pytest.approx(
        crossed["log_det"]
    )
    formula = np.repeat(np.tile([0, 1], 4), 2)
    units = Units(np.repeat(np.arange(8), 2), np.repeat(np.arange(4), 4), 1.0)
    chosen = exchange(rng(), model, units, {0: formula}, starts=20)
    assert np.linalg.slogdet(information(model.rows(chosen), units))[1] == pytest.approx(
        halves["log_det"]
    )


def test_exchange_gives_the_control_more_mixes():
    """Four formulas on 5 days of 3 against a control: mean variance 0.549, the control in every
    day.
    """
    model, units = Model((4,), (0,)), days_of(5, 3)
    chosen = exchange(rng(), model, units)
    variance = mean_variance(information(model.rows(chosen), units), model.weights([True]))
    assert variance == pytest.approx(0.5491, abs=1e-4)
    assert np.bincount(chosen[:, 0]).tolist()[0] == 5


@pytest.mark.parametrize("seed", range(5))
def test_among_equals_both_formulas_are_mixed_equally_often(seed):
    chosen = exchange(rng(seed), Model((2,), (0,)), days_of(4, 3))
    assert np.bincount(chosen[:, 0]).tolist() == [6, 6]


# Exhaustive search over blocks: balanced incomplete ones are best (Kiefer 1975).
@pytest.mark.parametrize(
    "case", checked("best_blocks"), ids=lambda c: f"{c['t']} by {c['k']} on {c['b']}"
)
def test_exchange_finds_the_best_blocks(case):
    t = case["t"]
    model, units = Model((t,), (None,)), days_of(case["b"], case["k"])
    chosen = exchange(rng(), model, units)
    info = information(model.rows(chosen), units)
    # columns have squared length t for every mix: the information's determinant is t^(t−1) that of
    # C's nonzero part
    assert np.linalg.det(info) / t ** (t - 1) == pytest.approx(case["best_product"], rel=1e-6)


def test_an_even_deal_is_as_even_as_numbers_allow():
    """A Latin square comes out by itself: four formulas, four days, four places."""
    label, group, place = (
        np.tile(np.arange(4), 4),
        np.repeat(np.arange(4), 4),
        np.tile(np.arange(4), 4),
    )
    slot = deal_evenly(rng(), group, [Even(label, place, ordered=True)], place)
    assert (group[slot] == group).all()
    assert sorted(slot) == list(range(16))
    assert spread(label, place[slot]) == 0


# Exhaustive: how many codes of each remainder there are; no slip gives another one.
@pytest.mark.parametrize("case", checked("codes"), ids=lambda c: str(c["r"]))
def test_no_slip_of_the_pen_is_another_code(case):
    codes = set(all_codes(3, case["r"]))
    assert len(codes) == case["three_different_no_run"]
    assert not any(codes & slips_of(code) for code in codes)


@pytest.mark.parametrize("n", [1, 50, 51, 390, 500])
def test_codes_are_different_and_say_nothing(n):
    codes = blind_codes(rng(), n)
    assert len(set(codes)) == n
    assert len(codes[0]) == (3 if n <= 50 else 4 if n <= 390 else 5)
    assert n < 3 or codes != sorted(codes)
    assert not any(set(codes) & slips_of(code) for code in codes)
