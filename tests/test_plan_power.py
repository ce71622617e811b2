"""What a plan can show: every public kitchen's figures (tests/reference/kitchens_public.json), and
the sentence.
"""

import json
from functools import lru_cache
from pathlib import Path

import pytest
from fairloaf.analysis import plan_power
from fairloaf.analysis.model.judging import Fitted, by_strata
from fairloaf.analysis.planning.planned_model import PlannedModel, simulated_errors
from fairloaf.analysis.planning.variation import assumption_for
from fairloaf.analysis.wording.plan_power import power_lines
from fairloaf.trials import TrialError, plan_trial
from fairloaf.trials.kitchen import Variation
from fairloaf.trials.reading.card_file import read_card
from fairloaf.trials.words.numbers import ENGLISH

from .report_examples import trial as example

HERE = Path(__file__).parent
KITCHENS = {
    entry["name"]: entry
    for entry in json.loads((HERE / "reference" / "kitchens_public.json").read_text("utf-8"))
}


@lru_cache
def plan_of(kitchen: str):
    return plan_trial(read_card(KITCHENS[kitchen]["card"]), seed=1)


@lru_cache
def shown_by(kitchen: str):
    return plan_power(plan_of(kitchen), trials=0)


@pytest.mark.parametrize("kitchen", KITCHENS)
def test_every_factor_of_every_kitchen(kitchen):
    """Standard error, df, limit, half-width and smallest difference: computed in R (see the
    file).
    """
    shows = shown_by(kitchen)
    for row in shows.factors.to_dict("records"):
        expected = KITCHENS[kitchen]["expect"]["factors"][row["factor"]]
        tolerance = expected["tolerance"]
        for name in ("standard_error", "df", "critical", "half_width", "smallest_difference"):
            if name in expected:
                assert row[name] == pytest.approx(expected[name], rel=tolerance), (
                    row["factor"],
                    name,
                )
        assert (row["unit"], row["n_units"]) == (expected["unit"], expected["n_units"])
        if "power_at_matters" in expected:
            assert row["power"] == pytest.approx(expected["power_at_matters"], abs=1e-4)


def test_simulated_trials_show_the_smallest_difference_as_often_as_promised():
    """2,000 simulated trials: within four standard errors of 0.80."""
    shows = plan_power(plan_of("small_bakery"))
    assert shows.factors["simulated_power"].to_numpy() == pytest.approx(0.80, abs=4 * 0.009)


def test_the_answer_comes_first_and_names_the_days():
    shows = shown_by("small_bakery")
    assert (
        shows.sentence
        == "4 mixes of each will show 0.39 mL/g four times in five; you said that 0.20 mL/g "
        "matters: 9 days would do."
    )
    assert (shows.days, shows.days_needed, shows.source) == (4, 9, "card")
    assert "0.12 mL/g" in power_lines(shows, style=ENGLISH)[-1]


def test_more_variation_takes_more_days_and_the_call_goes_first():
    calm = plan_power(
        plan_of("small_bakery"), variation=Variation(mix=0.06, loaf=0.06, load=0.0), trials=0
    )
    wild = plan_power(
        plan_of("small_bakery"), variation=Variation(mix=0.24, loaf=0.12, load=0.0), trials=0
    )
    assert calm.source == wild.source == "call"
    assert calm.days_needed < 9 < wild.days_needed


def test_a_past_trial_lends_its_scatter_and_how_well_it_is_known():
    like = example("small_bakery")
    shows = plan_power(plan_of("small_bakery"), like=like, trials=0)
    assert shows.source == "past trial"
    assert 0 < shows.variation.loaf < 0.2
    row = shows.factors.set_index("factor").loc["formula"]
    assert row["assurance"] <= row["power"] + 1e-9
    assert shows.days_needed_if_unlucky >= shows.days_needed


def test_a_past_trial_without_the_measure_cannot_tell():
    like = example("small_bakery")
    card = KITCHENS["small_bakery"]["card"].replace('"specific_volume"', '"height_of_crown"')
    with pytest.raises(TrialError, match="cannot tell how height_of_crown varies") as stop:
        plan_power(plan_trial(read_card(card), seed=1), like=like, trials=0)
    assert stop.value.findings[0].code == "like-cannot-tell"


def test_without_a_word_on_scatter_it_is_called_rough():
    card = KITCHENS["three_formulas"]["card"].split("[variation]")
    card = card[0] + card[1].split("\n\n", 1)[1]
    shows = plan_power(plan_trial(read_card(card), seed=1), trials=0)
    assert shows.source == "rough"
    assert shows.half < shows.factors["smallest_difference"].iloc[0] < shows.double
    assert "rough rule of thumb" in power_lines(shows, style=ENGLISH)[-1]


def test_where_nothing_is_repeated_nothing_is_shown():
    """One day with one mix of each of two formulas: no difference, however large; the days that
    would do are told.
    """
    card = KITCHENS["small_bakery"]["card"].replace("days = 4", "days = 1")
    shows = plan_power(plan_trial(read_card(card), seed=1), trials=0)
    assert shows.shows_nothing == ("formula",)
    assert [(found.code, found.severity, found.column) for found in shows.findings] == [
        ("shows-nothing", "warning", "formula")
    ]
    assert (
        shows.sentence
        == "This plan can show nothing of formula, however large: nothing is left to judge it by. "
        "Make mixes again, on more days. 9 days would do."
    )


@pytest.mark.parametrize("name", KITCHENS)
def test_a_balanced_plan_is_simulated_by_its_strata_as_the_fits_would_judge(name):
    """No fit is made of 2,000 trials where the unbounded fit is the classical analysis."""
    card = read_card(KITCHENS[name]["card"])
    plan = plan_trial(card, seed=2)
    model = PlannedModel(plan.loaves, plan.factors, card.control)
    variances = assumption_for(card, None, None, "specific_volume").variances
    errors = simulated_errors(model.model.layout.labels, variances, 40)
    for factor in plan.factors:
        found = model.hardest(factor, variances)
        if found is None:
            continue
        fitted = Fitted(found.arrangement, errors).contrast(found.L)
        quick = by_strata(found.arrangement, found.L, errors)
        for part in ("estimate", "standard_error", "df"):
            assert getattr(quick, part) == pytest.approx(getattr(fitted, part), rel=1e-7)
