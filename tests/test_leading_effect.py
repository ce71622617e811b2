"""What the factors' answer leads with: the largest effect that is shown, and of which factor
nothing can be judged.
"""

import math

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas, factor_effects
from fairloaf.analysis.factors.effect_sizes import CONTRASTS, effect_of
from fairloaf.analysis.wording.factors import leading_effect
from fairloaf.trials import TrialError
from scipy.special import stdtrit

from .random_trials import random_trial
from .trials_from_tables import trial_from


def pairs(*rows):
    """Pairs of levels: first, second, difference, half-width (NaN: cannot be judged)."""
    table = [("formula", a, b, d, w / 2, 4.0, d - w, d + w, 0.5, "Tukey") for a, b, d, w in rows]
    return [dict(zip(CONTRASTS, row, strict=True)) for row in table]


@pytest.mark.parametrize(
    ("table", "low", "high", "size"),
    [
        (pairs(("b", "a", 0.5, 0.9), ("c", "a", 0.4, 0.2), ("c", "b", -0.1, 0.5)), "a", "c", 0.4),
        (pairs(("b", "a", -0.5, 0.2), ("c", "a", 0.4, 0.2)), "b", "a", 0.5),
        (pairs(("b", "a", 0.5, 0.9), ("c", "a", 0.4, 0.6)), "a", "b", 0.5),
        (pairs(("b", "a", 0.5, math.nan), ("c", "a", 0.4, 0.6)), "a", "c", 0.4),
        (pairs(("b", "a", 0.5, math.nan), ("c", "a", 0.4, math.nan)), "a", "b", 0.5),
    ],
    ids=[
        "shown before wider",
        "turned round",
        "none shown",
        "one level in one mix",
        "none can be judged",
    ],
)
def test_a_factors_effect_is_the_widest_pair_that_is_shown(table, low, high, size):
    row = effect_of("formula", table)
    assert (row["low_level"], row["high_level"]) == (low, high)
    assert row["size"] == pytest.approx(size)
    assert not row["ci_low"] > row["ci_high"]


def two_factors():
    """Formula from mix to mix, wide; tin inside the mixes, small and sure; invented."""
    bumps = {"h1": 0.0, "h2": 0.6, "m1": 0.3, "m2": 1.0}
    rows = [
        (mix, mix[0], tin, 4 + bump + 0.1 * (tin == "long") + 0.01 * i)
        for mix, bump in bumps.items()
        for tin in ("open", "long")
        for i in (0, 1)
    ]
    return pd.DataFrame(rows, columns=["mix", "formula", "tin", "y"])


def test_the_largest_effect_that_is_shown_leads_and_not_the_largest():
    f = factor_effects(trial_from(two_factors(), "y", ["formula", "tin"]))
    assert list(f.effects["factor"]) == ["formula", "tin"]
    assert leading_effect(f)["factor"] == "tin"
    assert f.sentences[0].startswith("Tin moved y: long above open by 0.1")
    assert any(
        words.startswith("Formula is not shown to have moved it: “m” above “h”")
        for words in f.sentences
    )


def test_of_a_factor_that_cannot_be_judged_it_is_said_beside_one_that_can():
    table = two_factors()
    f = factor_effects(trial_from(table[table["mix"].isin(["h1", "m1"])], "y", ["formula", "tin"]))
    assert f.sentences[0].startswith("Tin moved y: long above open")
    assert any(
        words.startswith("Formula cannot be judged: “m” above “h” by 0.3") for words in f.sentences
    )


def test_an_effect_is_known_where_no_mean_of_its_levels_is():
    """House and malted in open tins, seeded in long ones: no proof time's mean over all of them is
    known, but what proof did inside every mix is, by the t test on the mixes' own differences
    (Student, Biometrika 6 (1908), 1-25), pooled over the formulas.
    """
    rng = np.random.default_rng(7)
    rows = [
        (f"{formula}{i}", formula, "long" if formula == "seeded" else "open", proof, rng.normal(4))
        for formula in ("house", "malted", "seeded")
        for i in range(3)
        for proof in (45.0, 60.0)
    ]
    loaves = pd.DataFrame(rows, columns=["mix", "formula", "tin", "proof_min", "y"])
    loaves["y"] += 3 * (loaves["proof_min"] == 60)
    f = factor_effects(trial_from(loaves, "y", ["formula", "tin", "proof_min"]))
    assert f.means["mean"].isna().all()
    row = f.effects.set_index("factor").loc["proof_min"]
    wide = loaves.pivot(index=["formula", "mix"], columns="proof_min", values="y")
    apart = wide[60.0] - wide[45.0]
    df = 9 - 3
    error = np.sqrt((apart - apart.groupby("formula").transform("mean")).pow(2).sum() / df / 9)
    half = stdtrit(df, 0.975) * error
    assert row["size"] == pytest.approx(apart.mean())
    assert (row["ci_low"], row["ci_high"]) == pytest.approx(
        (apart.mean() - half, apart.mean() + half)
    )
    assert f.sentence.startswith("Proof time moved")


@pytest.mark.parametrize("seed", range(6))
def test_every_factor_whose_own_test_judges_it_has_an_effect_with_a_range(seed):
    try:
        f = factor_effects(random_trial(93_000 + seed))
    except TrialError:
        return
    judged = f.tests[f.tests["term"].isin(f.factors) & f.tests["p_value"].notna()]
    assert set(judged["term"]) <= set(f.effects.loc[f.effects["ci_low"].notna(), "factor"])


def test_a_pair_beside_one_that_cannot_be_judged_has_the_range_of_the_comparison():
    """Malted and seeded against house, where malted rests on one mix."""
    trial = random_trial(62_114, effects=False)
    pairs, f = compare_formulas(trial).pairs, factor_effects(trial)
    judged = pairs[pairs["ci_low"].notna()].squeeze()
    formula = f.effects.set_index("factor").loc["formula"]
    assert (len(pairs), judged["formula"], formula["high_level"]) == (2, "seeded", "seeded")
    for here, there in (("size", "difference"), ("ci_low", "ci_low"), ("ci_high", "ci_high")):
        assert formula[here] == pytest.approx(judged[there], rel=1e-6)
    assert "How surely formula malted differs from the others cannot be judged." in f.sentences
