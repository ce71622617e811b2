"""Plans of the six kitchens with many seeds, exchange against ten times as many starts, and what a
plan costs.

Run with -m benchmark -s; it prints its figures. SEEDS plans a kitchen, from the seed FIRST: spreads
as promised, the fair-test audit silent, no code one slip from another, every 25th drawn twice to
the same bytes.
"""

import os
import time

import numpy as np
import pytest
from fairloaf.analysis import plan_power
from fairloaf.trials import plan_trial
from fairloaf.trials.planning.exchange import Model, Units, exchange, information, mean_variance
from fairloaf.trials.planning.plan import ALWAYS_SPEAKS, unfair
from fairloaf.trials.planning.saving import csv_bytes
from fairloaf.trials.reading.card_file import read_card

from ..planned_kitchens import card_text_of, kitchens, slips_of

AGAIN = 25  # every so many seeds are audited once more, and drawn twice
SEEDS, FIRST = int(os.environ.get("SEEDS", "1000")), int(os.environ.get("FIRST", "0"))


@pytest.mark.benchmark
@pytest.mark.parametrize("name", kitchens())
def test_every_seed_of_a_kitchen(name):
    card = read_card(kitchens()[name]["card"])
    draws, started = [], time.process_time()
    for seed in range(FIRST, FIRST + SEEDS):
        plan = plan_trial(card, seed=seed)
        draws.append(plan.draws)
        assert (plan.balance["spread"] <= plan.balance["promised"]).all(), seed
        # a plan is drawn until the audit is silent, or had spoken every time
        if plan.draws >= ALWAYS_SPEAKS or seed % AGAIN == 0:
            assert not unfair(card, plan.loaves), seed
        codes = set(plan.loaves["loaf"])
        assert len(codes) == len(plan.loaves)
        assert not any(codes & slips_of(code) for code in codes), seed
        if seed % AGAIN == 0:
            assert csv_bytes(plan.loaves) == csv_bytes(plan_trial(card, seed=seed).loaves), seed
    each = (time.process_time() - started) / SEEDS
    print(
        f"\n{name}: {SEEDS} seeds from {FIRST}, {max(draws)} draws at most,"
        f" {np.mean(np.array(draws) > 1):.1%} drawn anew, {each:.3f} s processor time each with"
        " the audit"
    )


def _layout(rng):
    levels = tuple(int(n) for n in rng.choice([2, 3, 4, 5], size=rng.integers(1, 4)))
    days, mixes = int(rng.integers(3, 9)), int(rng.integers(2, 6))
    needs = days + sum(levels) - len(levels)
    return (levels, days, mixes) if days * mixes >= needs and days * mixes <= 21 else _layout(rng)


@pytest.mark.benchmark
def test_exchange_is_within_a_hundredth_of_the_best_of_300_starts():
    rng, worst = np.random.default_rng(16), 0.0
    for _ in range(20):
        levels, days, mixes = _layout(rng)
        model = Model(levels, (None,) * len(levels))
        units = Units(np.arange(days * mixes), np.repeat(np.arange(days), mixes))

        def variance(starts, seed, model=model, units=units):
            settings = exchange(
                np.random.Generator(np.random.PCG64(seed)), model, units, starts=starts
            )
            return float(
                mean_variance(
                    information(model.rows(settings), units),
                    model.weights([True] * len(model.levels)),
                )
            )

        ratio = variance(30, 1) / variance(300, 2)
        worst = max(worst, ratio)
        print(
            f"{levels} on {days} days of {mixes}: {100 * (ratio - 1):.3f} % above the best of 300"
            " starts"
        )
        assert ratio <= 1.01
    print(f"worst: {100 * (worst - 1):.3f} %")


@pytest.mark.benchmark
@pytest.mark.parametrize("name", kitchens())
def test_2000_simulated_trials_take_a_second_at_most(name):
    plan = plan_trial(read_card(kitchens()[name]["card"]), seed=1)
    took = {}
    for trials in (0, 0, 2000):  # the first one loads
        started = time.process_time()
        plan_power(plan, trials=trials)
        took[trials] = time.process_time() - started
    print(
        f"\n{name}: {took[2000]:.2f} s processor time with 2,000 simulated trials of all factors,"
        f" {took[0]:.2f} s without"
    )
    assert took[2000] - took[0] <= 1.0


@pytest.mark.benchmark
def test_a_plan_of_60_loaves_takes_a_second_at_most():
    factors = 'formula = ["a", "b", "c"]\ntin = ["open", "lidded"]\nproof_min = [45, 60, 75]'
    cards = {
        "five flours": kitchens()["five_formulas_two_a_day"]["card"],
        "by exchange": card_text_of(factors, "days = 5\nmixes_a_day = 3\nloaves_a_mix = 4"),
    }
    for name, text in cards.items():
        card = read_card(text)
        started = time.process_time()
        plan = plan_trial(card, seed=1)
        took = time.process_time() - started
        print(f"{name}: {len(plan.loaves)} loaves in {took:.2f} s processor time")
        assert len(plan.loaves) == 60
        assert took <= 1.0
