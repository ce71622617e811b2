"""A formula that goes with its tin, day or baker silences its own pairs, and not those of the
others.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis import compare_formulas, crumb_scores, factor_effects
from fairloaf.analysis.report.pictures import pairs
from fairloaf.analysis.report.sections import found, scored
from fairloaf.analysis.report.summary import summarise
from fairloaf.trials import Trial, TrialError
from fairloaf.trials.printing.document import Answer

from .bakes import as_trial

EFFECT = {"house": 0.0, "malted": 0.5, "seeded": -0.4, "wholemeal": -1.0}


def bakes(**control: str) -> Trial:
    """Return four formulas on four days, the last of them in long tins alone; invented."""
    rng = np.random.default_rng(4)
    rows = []
    for day in range(4):
        for formula, effect in EFFECT.items():
            mix = rng.normal(0, 0.05)
            rows += [
                {
                    "loaf": f"{day}{formula}{i}",
                    "formula": formula,
                    "day": f"d{day}",
                    "mix": f"{formula}{day}",
                    "tin": "long" if formula == "wholemeal" else "open",
                    "specific_volume": 4 + effect + mix + rng.normal(0, 0.03),
                }
                for i in range(3)
            ]
    return as_trial(pd.DataFrame(rows), **({"control": None} | control))


def without(trial: Trial, formula: str) -> Trial:
    """Return the same trial without the loaves of a formula."""
    return replace(trial, loaves=trial.loaves[trial.loaves["formula"] != formula])


@pytest.mark.parametrize("control", [None, "house"])
def test_the_others_are_compared_as_if_it_had_not_been_baked(control):
    """Tukey's and Dunnett's limits count those that are compared; the days and what mixes scatter
    are judged by one formula more.
    """
    trial = bakes(control=control)
    whole, less = compare_formulas(trial), compare_formulas(without(trial, "wholemeal"))
    pairs = ["formula", "against"]
    assert whole.pairs[pairs].equals(less.pairs[pairs])
    assert whole.adjustment == less.adjustment
    np.testing.assert_allclose(whole.pairs["difference"], less.pairs["difference"], atol=1e-9)
    assert (whole.pairs["ci_low"].notna()).all()
    assert (whole.formula, whole.against) == (less.formula, less.against)


def test_it_is_told_once_that_it_was_not_compared():
    c = compare_formulas(bakes())
    (told,) = (f for f in c.findings if f.code == "formula-tied-to-tin")
    assert told.severity == "warning"
    assert "wholemeal only with tin long" in told.message


def test_a_pair_that_is_left_is_one_pair():
    c = compare_formulas(without(bakes(control="house"), "seeded"))
    assert c.adjustment == "none"
    assert len(c.pairs) == 1


def test_what_is_asked_for_by_name_is_refused():
    with pytest.raises(TrialError, match="wholemeal only with tin long"):
        compare_formulas(bakes(), "wholemeal", "house")


def test_nothing_is_compared_where_every_pair_is_tied():
    trial = bakes()
    tins = trial.loaves["formula"].map(dict(zip(EFFECT, "abcd", strict=True)))
    with pytest.raises(TrialError, match="cannot be told apart") as stop:
        compare_formulas(replace(trial, loaves=trial.loaves.assign(tin=tins)))
    assert len(stop.value.findings) == 6
    assert {f.severity for f in stop.value.findings} == {"error"}


def test_factors_and_comparison_agree_on_what_is_left():
    trial = bakes()
    c, f = compare_formulas(trial), factor_effects(trial)
    row = f.effects.set_index("factor").loc["formula"]
    assert row["size"] == pytest.approx(abs(c.difference))
    assert row["ci_high"] - row["ci_low"] == pytest.approx(c.ci_high - c.ci_low, rel=1e-4)


def test_a_class_reads_no_mean_that_nobody_knows():
    trial = bakes()
    rng = np.random.default_rng(1)
    loaves = trial.loaves.assign(
        **{"crumb_evenness": 5 + trial.loaves["specific_volume"] + rng.normal(0, 0.2, 48)}
    )
    s = summarise(replace(trial, loaves=loaves))
    (told,) = (part for part in found(s) if isinstance(part, Answer))
    assert told.numbers == ()
    (picture,) = pairs(s)
    assert "last row" not in picture.caption
    (points,) = scored(s)
    assert "beside" in points.items[0]
    assert "too few" not in points.items[0]
    assert crumb_scores(s.trial).formulas == ("house", "malted", "seeded")
