"""What else differed: the same answer as a full comparison gives, measure by measure."""

from dataclasses import replace

import pytest
from fairloaf.analysis.answers import compare_formulas
from fairloaf.analysis.comparison.other_measures import other_difference, other_measures
from fairloaf.trials import TrialError

from .report_examples import trial


@pytest.mark.parametrize("measure", ["specific_volume", "bake_loss_pct"])
def test_it_is_the_difference_of_a_full_comparison(measure):
    full = compare_formulas(trial("class_bake"), measure=measure)
    short = other_difference(trial("class_bake"), full.formula, full.against, measure, 0.95)
    for name in ("difference", "standard_error", "df", "ci_low", "ci_high", "p_value"):
        assert getattr(short, name) == pytest.approx(getattr(full, name), rel=1e-9), name
    assert (short.verdict, short.n_mixes, short.n_loaves) == (
        full.verdict,
        full.n_mixes,
        full.n_loaves,
    )
    assert (short.label, short.unit, short.matters) == (full.label, full.unit, full.matters)


def test_three_factors_together_are_in_the_model_where_the_card_asks_for_them():
    bakery = trial("small_bakery")
    gaps = replace(bakery, loaves=bakery.loaves.drop(index=[3, 10, 17, 29, 40]))
    asked = replace(gaps, card=replace(gaps.card, three_way=True))
    three = compare_formulas(asked, measure="bake_loss_pct")
    short, two = (
        other_difference(some, three.formula, three.against, "bake_loss_pct", 0.95)
        for some in (asked, gaps)
    )
    assert short.standard_error == pytest.approx(three.standard_error, rel=1e-9)
    assert short.standard_error != pytest.approx(two.standard_error, rel=1e-3)


def test_the_other_measures_are_the_cards_and_the_usual_ones_without_scores():
    assert other_measures(trial("small_bakery"), "specific_volume") == (
        "bake_loss_pct",
        "volume_per_100g_flour",
        "height_mm",
    )
    assert "specific_volume" not in other_measures(trial("class_bake"), "specific_volume")


def test_a_measure_that_cannot_be_compared_says_why():
    with pytest.raises(TrialError, match="no_such"):
        other_difference(trial("class_bake"), "oat", "white", "no_such", 0.95)


def test_a_measure_that_nobody_has_is_said_with_what_it_is_made_from():
    bake = trial("class_bake")
    bare = replace(bake, loaves=bake.loaves.assign(specific_volume=float("nan")))
    with pytest.raises(TrialError) as stop:
        compare_formulas(bare, measure="specific_volume")
    told = {f.message: f.fix for f in stop.value.findings}
    assert told["No loaf has 'specific_volume'."] == (
        "It is worked out from loaf volume and baked mass: fill those in, or ask for another"
        " measure."
    )
