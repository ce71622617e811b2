"""The random trials themselves: the same for the same seed, and of every shape that they
promise.
"""

import pandas as pd

from .random_trials import FORMULAS, MOST_LOAVES, random_trial, renamed, reordered

TRIALS = [random_trial(seed) for seed in range(60)]


def test_the_same_seed_gives_the_same_trial():
    pd.testing.assert_frame_equal(random_trial(7).loaves, TRIALS[7].loaves)


def test_every_shape_occurs():
    loaves = [trial.loaves for trial in TRIALS]
    assert {table["formula"].nunique() for table in loaves} == {2, 3, 4, 5}
    assert all(6 <= len(table) <= MOST_LOAVES for table in loaves)
    for name in ("day", "baker", "oven", "oven_load", "mix"):
        assert {name in table for table in loaves} == {True, False}, name
    assert {trial.card.control is None for trial in TRIALS} == {True, False}


def test_another_order_and_other_names_are_the_same_records():
    trial = next(trial for trial in TRIALS if "mix" in trial.loaves)
    mixed, (named, formulas) = reordered(trial, 1), renamed(trial, 1)
    back = mixed.loaves.sort_values("line")[trial.loaves.columns].reset_index(drop=True)
    pd.testing.assert_frame_equal(back, trial.loaves)
    assert set(formulas) <= set(FORMULAS)
    assert (
        named.loaves["formula"]
        .map({new: old for old, new in formulas.items()})
        .equals(trial.loaves["formula"])
    )
    pd.testing.assert_series_equal(named.loaves["specific_volume"], trial.loaves["specific_volume"])
