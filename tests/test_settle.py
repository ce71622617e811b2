"""What would settle it: power and half-widths against computed references, and what is told from a
trial.
"""

import json
import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas
from fairloaf.analysis.comparison import settle
from fairloaf.analysis.comparison.settle import MOST_MIXES, Bake
from fairloaf.analysis.methods.power import own_critical, power_of_t
from hypothesis import given
from hypothesis import strategies as st

from .bakes import as_trial, bake

PLANNING = json.loads((Path(__file__).parent / "reference" / "planning.json").read_text("utf-8"))
EXPECTED = {entry["name"]: entry["expected"] for entry in PLANNING}
BLOCKED = EXPECTED["mixes_and_loaves"]["one_mix_of_each_formula_a_day"]


# Split-plot variance of a difference, Cochran & Cox 1957, ch. 7; noncentral t, checked by
# simulation.
@pytest.mark.parametrize(
    "case", BLOCKED, ids=lambda case: f"{case['days']}x{case['loaves_per_mix']}"
)
def test_one_mix_of_each_formula_a_day(case):
    plan = Bake(
        mix_variance=case["sd_mix"] ** 2,
        loaf_variance=case["sd_loaf"] ** 2,
        n_formulas=2,
        mixes_a_day=1,
        confidence=0.95,
    )
    days, loaves = case["days"], case["loaves_per_mix"]
    assert plan.error(days, loaves) == pytest.approx(case["standard_error"], rel=1e-9)
    assert plan.df(days) == case["df"]
    assert plan.half_width(days, loaves) == pytest.approx(case["half_width_95"], rel=1e-9)
    assert plan.power(days, loaves, case["difference"]) == pytest.approx(case["power"], rel=1e-6)
    assert plan.power(days, loaves, case["smallest_difference_power_80"]) == pytest.approx(
        0.80, abs=1e-6
    )


# R's help page of power.t.test: n 20 a group, delta 1, sd 1 (both tails counted).
def test_power_of_two_means():
    expected = EXPECTED["r_power_t_help"]["power_both_tails"]
    assert float(power_of_t(math.sqrt(20 / 2), 38, own_critical(38))) == pytest.approx(
        expected, rel=1e-7
    )


def test_degrees_of_freedom_without_days_and_with_three_formulas():
    def df(formulas, a_day, mixes):
        return Bake(1.0, 1.0, formulas, a_day, 0.95).df(mixes)

    assert [df(2, 0, 4), df(2, 1, 4), df(2, 2, 4), df(3, 1, 4)] == [6, 3, 5, 6]


@given(st.floats(0.01, 3), st.floats(0.01, 3), st.integers(2, 30), st.integers(1, 8))
def test_more_mixes_and_more_loaves_never_make_it_less_sure(mix, loaf, mixes, loaves):
    plan = Bake(mix, loaf, 2, 0, 0.95)
    assert plan.half_width(mixes + 1, loaves) < plan.half_width(mixes, loaves)
    assert plan.half_width(mixes, loaves + 1) < plan.half_width(mixes, loaves)
    assert plan.power(mixes + 1, loaves, 1.0) >= plan.power(mixes, loaves, 1.0) - 1e-9


@given(
    st.sampled_from([0.0, 1e-3, 0.1, 1.0]),
    st.floats(1e-3, 3),
    st.integers(2, 5),
    st.integers(1, 8),
    st.integers(0, 8),
    st.sampled_from([1.0, 2.0, 8.0, math.inf]),
    st.floats(0.02, 30),
    st.sampled_from(["power", "half width"]),
)
def test_the_fewest_mixes_are_those_that_a_search_one_by_one_finds(
    mix, loaf, formulas, mixes, days, known_df, size, goal
):
    plan = Bake(mix, loaf, formulas, mixes / days if days else 0, 0.95, known_df=known_df)
    reaches = settle._reaches(goal, size, size)
    one_by_one = (m for m in range(2, MOST_MIXES + 1) if plan.df(m) > 0 and reaches(plan, m, 2.0))
    assert settle._fewest(plan, 2.0, reaches) == next(one_by_one, None)


def exact_bake(mix_variance: float, loaf_variance: float, mixes: int, loaves: int) -> pd.DataFrame:
    """Loaves of two formulas alike, whose estimated variances are exactly these."""

    def spread(n: int, variance: float) -> np.ndarray:
        z = np.arange(n) - (n - 1) / 2
        return z * math.sqrt(variance / z.var(ddof=1))

    mix_means = spread(mixes, mix_variance + loaf_variance / loaves)
    rows = [
        (formula, f"{formula}{m}", 4.0 + mean + loaf)
        for formula in ("house", "malted")
        for m, mean in enumerate(mix_means)
        for loaf in spread(loaves, loaf_variance)
    ]
    return pd.DataFrame(rows, columns=["formula", "mix", "specific_volume"])


def test_a_trial_that_is_not_settled_tells_how_many_mixes_would():
    trial = as_trial(exact_bake(0.04, 0.02, mixes=3, loaves=4), changed=("formula",), matters=0.4)
    c = compare_formulas(trial)
    s = c.settle
    assert c.verdict == "not settled"
    assert (s.goal, s.power, s.matters, s.unit) == ("power", 0.80, 0.4, "mix")
    assert (s.sd_mix, s.sd_loaf) == pytest.approx((0.2, math.sqrt(0.02)), rel=1e-6)
    assert (s.mixes_now, s.loaves_per_mix) == (3, 4)
    plan = Bake(0.04, 0.02, 2, 0, 0.95, known_df=4)
    assert plan.power(s.mixes_needed, 4, 0.4) >= 0.80 > plan.power(s.mixes_needed - 1, 4, 0.4)
    assert s.more_mixes == s.mixes_needed - 3
    assert s.mixes_low < s.mixes_needed < s.mixes_high
    options = s.options.set_index("loaves_per_mix")
    assert options.loc[4, "mixes_needed"] == s.mixes_needed
    assert options.loc[1, "mixes_needed"] > options.loc[8, "mixes_needed"]
    assert options.loc[2, "loaves_in_all"] == 4 * options.loc[2, "mixes_needed"]


def test_a_difference_of_unsure_size_asks_for_half_the_width():
    table = exact_bake(0.04, 0.02, mixes=6, loaves=4)
    shifted = table.assign(
        specific_volume=table["specific_volume"] + 0.4 * (table["formula"] == "malted")
    )
    c = compare_formulas(as_trial(shifted, changed=("formula",), matters=0.4))
    assert c.verdict == "real, size unsure"
    assert c.settle.goal == "half width"
    assert c.settle.half_width == pytest.approx((c.ci_high - c.ci_low) / 4, rel=1e-9)
    plan = Bake(0.04, 0.02, 2, 0, 0.95, known_df=10)
    assert plan.half_width(c.settle.mixes_needed, 4) <= c.settle.half_width


def test_what_cannot_be_reached_is_said():
    c = compare_formulas(
        as_trial(exact_bake(4.0, 0.02, mixes=3, loaves=2), changed=("formula",), matters=0.1)
    )
    assert (c.settle.mixes_needed, c.settle.more_mixes, c.settle.most) == (None, None, MOST_MIXES)


def test_a_settled_trial_needs_nothing_more():
    assert compare_formulas(as_trial(bake())).settle is None


def test_several_formulas_need_more_at_the_limit_that_will_be_used():
    """Dunnett's and Tukey's limits are wider than t: more mixes for the same chance."""

    def needed(family, formulas):
        plan = Bake(0.04, 0.0, formulas, 1, 0.95, family)
        return next(m for m in range(2, 100) if plan.df(m) > 0 and plan.power(m, 1, 0.4) >= 0.80)

    assert needed("one pair", 5) < needed("all against one", 5) < needed("all pairs", 5)


def promised(mixes: int, matters: float, pilots: int = 300) -> float:
    """Mean true chance of the next trial of two formulas within days, of pilots that were not
    settled (variance 1).
    """
    random, reached = np.random.default_rng(7), []
    for _ in range(pilots):
        df = mixes - 1
        variance = random.chisquare(df) / df
        difference = matters + random.standard_normal() * math.sqrt(2 / mixes)
        reach = own_critical(df) * math.sqrt(2 * variance / mixes)
        if not (difference - reach < 0 < difference + reach):
            continue
        plan = Bake(variance, 0.0, 2, 1, 0.95, known_df=df)
        needed = next(
            (m for m in range(2, MOST_MIXES + 1) if plan.power(m, 1, matters) >= 0.80), None
        )
        if needed is not None:
            reached.append(Bake(1.0, 0.0, 2, 1, 0.95).power(needed, 1, matters))
    return float(np.mean(reached))


@pytest.mark.parametrize("mixes", [3, 4])
def test_the_promise_holds_for_pilots_that_were_lucky(mixes):
    """The variance of a pilot is known with few degrees of freedom; what was promised 80 % must not
    get less.
    """
    assert promised(mixes, matters=1.5) >= 0.78
