"""Writing down more takes nothing away: blocks that leave too little to judge by are not compared
within alone.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis import compare_formulas
from fairloaf.analysis.comparison.formula_fit import fit_formulas
from fairloaf.analysis.comparison.reached import Reached, reached
from fairloaf.analysis.mixed_model import fit_reml
from fairloaf.analysis.model.design import Term
from fairloaf.analysis.model.estimates import Estimate
from fairloaf.analysis.model.trial_fit import fit_trial
from scipy import stats

from .random_trials import random_trial
from .seeds import seeds

FORMULA = Term(("formula",))


def days(shared: int, alone: int, loaves: int = 3, seed: int = 1) -> pd.DataFrame:
    """Days that had one mix of A and of B, and as many days of each alone."""
    rng = np.random.default_rng(seed)
    had = ["AB"] * shared + ["A", "B"] * alone
    rows = [
        (f"day {d}", formula, f"{d}{formula}")
        for d, formulas in enumerate(had)
        for formula in formulas
        for _ in range(loaves)
    ]
    table = pd.DataFrame(rows, columns=["day", "formula", "mix"])
    push = {name: 0.1 * rng.normal(size=table[name].nunique()) for name in ("day", "mix")}
    volume = 4 + 0.05 * rng.normal(size=len(table))
    for name, effects in push.items():
        volume += effects[pd.factorize(table[name])[0]]
    return table.assign(volume=volume)


def judged(table: pd.DataFrame) -> Estimate:
    fit = fit_trial(table, "volume", [FORMULA])
    return fit.contrast(fit.design.at({"formula": "B"}) - fit.design.at({"formula": "A"}))


def half_width(found: Estimate) -> float:
    return (found.ci_high - found.ci_low) / 2


def test_one_day_of_both_beside_nine_of_each_is_the_t_test_of_the_mixes():
    table = days(1, 9)
    found = judged(table)
    means = table.groupby(["formula", "mix"])["volume"].mean()
    classical = stats.ttest_ind(means["B"], means["A"])
    assert (found.between, found.unit, found.n_units) == (("day",), "mix", 20)
    assert (found.t_value, found.df) == pytest.approx((classical.statistic, 18))


def test_two_days_of_both_beside_four_of_each_have_their_days_random():
    tables = [days(2, 4, seed=seed) for seed in range(15)]
    found = [judged(table) for table in tables]
    assert {(one.way, one.why, one.between) for one in found} == {("reml", "between", ("day",))}
    within = [judged(table.query("day in ['day 0', 'day 1']")) for table in tables]
    assert (
        np.median([half_width(one) for one in found])
        < np.median([half_width(one) for one in within]) / 2
    )


@pytest.mark.parametrize("seed", range(4))
def test_random_days_are_judged_by_the_means_of_mixes_with_unequal_loaves(seed):
    """Yates's unweighted means: the fit of one value a mix, by the engine itself."""
    table = days(2, 4, seed=seed).drop(index=[0, 4, 5, 20])
    found = judged(table)
    means = table.groupby(["day", "formula", "mix"], as_index=False)["volume"].mean()
    is_b = (means["formula"] == "B").astype(float)
    X = np.column_stack([np.ones(len(means)), is_b])
    own = fit_reml(means["volume"], X, groups={"day": means["day"]}).contrast([0.0, 1.0])
    assert (found.why, found.unit, found.n_units) == ("between", "mix", 12)
    assert (found.estimate, found.standard_error, found.df) == pytest.approx(
        (own.estimate, own.standard_error, own.df)
    )


def test_equal_loaves_give_the_same_by_loaves_and_by_means():
    table = days(2, 4)
    found = judged(table)
    averaged = table.assign(volume=table.groupby("mix")["volume"].transform("mean"))
    means = judged(averaged.groupby("mix").head(1))
    assert (found.estimate, found.standard_error, found.df) == pytest.approx(
        (means.estimate, means.standard_error, means.df)
    )


@pytest.mark.parametrize(("shared", "alone"), [(2, 0), (3, 0), (6, 0), (8, 2)])
def test_days_that_had_both_are_compared_within(shared, alone):
    assert judged(days(shared, alone)).between == ()


@pytest.mark.parametrize("alone", [2, 3, 4, 9])
def test_one_more_day_never_takes_the_interval(alone):
    widths = [half_width(judged(days(shared, alone))) for shared in range(6)]
    assert np.isfinite(widths).all()


LEFT_OUT = {
    "baker": lambda mix, n: f"baker {mix % n}",
    "oven_load": lambda mix, n: f"load {mix // n}",
}


@pytest.mark.parametrize("seed", seeds(range(40), 16))
def test_a_column_that_tells_nothing_takes_no_interval(seed):
    """Bakers and oven loads by lot; where a formula is tied to one of them nothing could be told,
    and is not.
    """
    trial, rng = random_trial(seed), np.random.default_rng(seed)
    loaves = trial.loaves.drop(columns=[name for name in LEFT_OUT if name in trial.loaves])
    mixes = pd.factorize(loaves["mix"])[0] if "mix" in loaves else np.arange(len(loaves))
    before = fit_trial(loaves, "specific_volume", [FORMULA])
    for name, label in LEFT_OUT.items():
        dealt = rng.permutation(mixes.max() + 1)
        more = loaves.assign(**{name: [label(dealt[mix], int(2 + seed % 2)) for mix in mixes]})
        after = fit_trial(more, "specific_volume", [FORMULA])
        apart = pd.crosstab(after.layout.labels[name], more["formula"]) > 0
        for formula in before.design.levels["formula"][1:]:
            pair = [before.design.levels["formula"][0], formula]
            met = apart[pair].all(axis=1).any()
            L = before.design.at({"formula": pair[0]}) - before.design.at({"formula": pair[1]})
            if met and np.isfinite(before.contrast(L).ci_low):
                assert np.isfinite(after.contrast(L).ci_low), (name, pair)


def test_nor_does_one_that_crosses_the_mixes():
    """Ten loaves dealt by lot to three decks: beside loads that cross the mixes too,
    nothing would be left to judge by.
    """
    trial, rng = random_trial(303), np.random.default_rng(303)
    before = compare_formulas(trial)
    decks = [f"deck {k}" for k in rng.integers(3, size=len(trial.loaves))]
    more = replace(trial, loaves=trial.loaves.assign(deck=decks))
    after = compare_formulas(more, before.formula, before.against)
    assert np.isfinite([before.ci_low, after.ci_low]).all()


def test_formulas_that_never_had_one_tin_say_through_which_they_were_reached():
    rng = np.random.default_rng(3)
    had = {"house": ["open"], "malted": ["long"], "seeded": ["open", "long"]}
    rows = [
        (formula, f"{formula} {k}", tin)
        for formula, tins in had.items()
        for k in range(4)
        for tin in tins
        for _ in range(2)
    ]
    loaves = pd.DataFrame(rows, columns=["formula", "mix", "tin"])
    loaves = loaves.assign(volume=4 + 0.1 * rng.normal(size=len(loaves)))
    fitted = fit_formulas(
        loaves, "volume", ["formula", "tin"], numbers={}, order=2, confidence=0.95
    )
    assert reached(fitted, "malted", "house") == Reached(conditions=("tin",), through=("seeded",))
    assert reached(fitted, "seeded", "house") is None
