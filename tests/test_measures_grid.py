"""Several measures at once: the grid, what is wanted, and the overall desirability."""

import json
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import factor_effects, measures_grid
from fairloaf.analysis.asking.score_rows import loaf_scores, measure_rows
from fairloaf.analysis.factors.desirability import desirability, overall, says_enough
from fairloaf.analysis.verdict import verdict
from fairloaf.analysis.wording.measures_grid import grid_text
from fairloaf.trials import TrialError
from fairloaf.trials.card import Measure
from fairloaf.trials.words.numbers import ENGLISH

from .report_examples import trial as example
from .trials_from_tables import REFERENCE, trial_from

EXAMPLES = REFERENCE.parents[1] / "example_trials"


def bigger_but_coarser(**measures):
    """Twelve mixes of two formulas: malted is bigger and coarser; invented."""
    rng = np.random.default_rng(2)
    malted = np.repeat([False, True], 24)
    table = pd.DataFrame(
        {
            "mix": [f"m{i // 4}" for i in range(48)],
            "formula": np.where(malted, "malted", "house"),
            "tin": ["low", "tall"] * 24,
            "specific_volume": 4 + 0.5 * malted + rng.normal(0, 0.05, 48),
            "crumb_fineness": 7 - 2 * malted + rng.normal(0, 0.3, 48),
            "height_mm": rng.normal(120, 2, 48),
        }
    )
    card = {
        "specific_volume": Measure(
            better="higher", matters=0.2, **measures.get("specific_volume", {})
        ),
        "crumb_fineness": Measure(better="higher", **measures.get("crumb_fineness", {})),
        "height_mm": Measure(),
    }
    trial = trial_from(
        table,
        "specific_volume",
        ["formula", "tin"],
        numbers=["crumb_fineness", "height_mm"],
        control="house",
        measures=card,
    )
    return trial


def test_bigger_but_coarser_shows_in_one_row_a_cell():
    g = measures_grid(bigger_but_coarser())
    cells = g.grid.set_index(["factor", "measure"])
    assert len(g.grid) == 2 * 3
    volume, crumb = (
        cells.loc[("formula", "specific_volume")],
        cells.loc[("formula", "crumb_fineness")],
    )
    assert (volume["direction"], volume["wanted"], volume["verdict"]) == ("up", "better", "matters")
    assert (crumb["direction"], crumb["wanted"], crumb["verdict"]) == (
        "down",
        "worse",
        "real, size unsure",
    )
    assert cells.loc[("tin", "height_mm"), "direction"] == ""
    table = grid_text(g, style=ENGLISH).splitlines()
    assert table[1].startswith("formula, house → malted")
    assert "up 0.5" in table[1]
    assert "worse (real; what matters is not said yet)" in table[1]
    formula = g.sentences[0]
    assert "specific volume malted above house by 0.5" in formula
    assert "crumb fineness house above malted" in formula
    assert "which is not wanted" in formula


def test_each_cell_is_the_measures_own_answer():
    trial = bigger_but_coarser()
    g = measures_grid(trial)
    for measure in ("specific_volume", "height_mm"):
        own = factor_effects(trial, measure)
        cells = g.grid[g.grid["measure"] == measure].set_index("factor")
        for row in own.effects.to_dict("records"):
            assert cells.loc[row["factor"], "size"] == row["size"]
            assert cells.loc[row["factor"], "verdict"] == verdict(
                row["ci_low"], row["ci_high"], own.matters
            )


def test_a_measure_that_cannot_be_answered_is_said_and_the_others_are():
    trial = bigger_but_coarser()
    card = replace(trial.card, measures={**trial.card.measures, "crumb_taste": Measure()})
    g = measures_grid(replace(trial, card=card))
    assert "no measure 'crumb_taste'" in g.not_answered["crumb_taste"]
    assert set(g.grid["measure"]) == {"specific_volume", "crumb_fineness", "height_mm"}


def test_one_mix_of_each_formula_cannot_be_judged():
    trial = bigger_but_coarser()
    two = replace(trial, loaves=trial.loaves[trial.loaves["mix"].isin(["m0", "m6"])])
    text = grid_text(measures_grid(two, factors=["formula"]), style=ENGLISH)
    assert text.count("cannot be judged") == 4
    assert "Formula: cannot be judged for specific volume, crumb fineness or height." in text
    assert "shown" not in text


def test_nothing_at_all_to_answer_is_an_error_with_every_reason():
    with pytest.raises(TrialError, match=r"no measure 'softness'.*\n?.*no measure 'gloss'"):
        measures_grid(bigger_but_coarser(), ["softness", "gloss"])


@pytest.mark.parametrize("name", ["small_bakery", "class_bake", "open_and_lidded"])
def test_the_example_trials_answer_for_every_measure_on_the_card(name):
    trial = example(name)
    g = measures_grid(trial)
    assert g.not_answered == {}
    assert set(trial.card.measures) <= set(g.grid["measure"])
    assert json.loads(json.dumps(g.to_dict(), allow_nan=False))["factors"] == list(g.factors)


# --- scores ------------------------------------------------------------------------------------


def test_a_complete_panels_scores_are_plain_means():
    trial = example("small_bakery")
    scores = trial.scores[trial.scores["attribute"] == "softness"]
    per_assessor = scores.groupby("loaf")["assessor"].nunique()
    complete = per_assessor[per_assessor == scores["assessor"].nunique()].index
    assert len(complete) == len(per_assessor)
    table = loaf_scores(measure_rows(trial, "crumb_softness")).rename(trial.loaves["loaf"])
    assert table.to_dict() == pytest.approx(scores.groupby("loaf")["score"].mean().to_dict())


def test_a_loaf_gains_nothing_by_meeting_the_milder_assessors():
    """Loaf a is 2 points above b; the harsh assessor saw a and c, the mild one b and c."""
    loaves = pd.DataFrame({"loaf": ["a", "b", "c"]})
    scores = pd.DataFrame(
        [
            ("a", "harsh", "taste", 5),
            ("c", "harsh", "taste", 4),
            ("b", "mild", "taste", 6),
            ("c", "mild", "taste", 7),
        ],
        columns=["loaf", "assessor", "attribute", "score"],
    )
    trial = replace(trial_from(loaves.assign(y=1.0), "y", []), scores=scores)
    found = loaf_scores(measure_rows(trial, "crumb_taste"))
    assert found[0] - found[1] == pytest.approx(2, abs=1e-6)


# --- desirability ------------------------------------------------------------------------------

# Derringer and Suich 1980, tyre tread compound, from memory: the four responses at the best setting
# and what was wanted of each; d 0.189, 1.000, 0.656 and 0.932, overall 0.583.
TYRE = [
    (129.5, Measure(better="higher", too_low=120, best=170), 0.189),
    (1300.0, Measure(better="higher", too_low=1000, best=1300), 1.0),
    (465.7, Measure(too_low=400, best=500, too_high=600), 0.656),
    (68.0, Measure(too_low=60, best=67.5, too_high=75), 0.932),
]


def test_desirability_as_published():
    shares = [float(desirability(np.array([value]), wanted)[0]) for value, wanted, _ in TYRE]
    assert shares == pytest.approx([d for *_, d in TYRE], abs=2e-3)
    assert overall(np.array([shares]))[0] == pytest.approx(0.583, abs=2e-3)


def test_lower_wanted_is_higher_wanted_turned_round():
    value = np.linspace(0, 10, 21)
    lower = desirability(value, Measure(better="lower", best=3, too_high=8))
    assert lower == pytest.approx(
        desirability(-value, Measure(better="higher", too_low=-8, best=-3))
    )
    assert (lower[0], lower[-1]) == (1, 0)


def test_one_measure_beyond_what_is_acceptable_makes_the_whole_nothing():
    assert overall(np.array([[0.0, 1.0, 1.0]]))[0] == 0


@pytest.mark.parametrize(
    ("wanted", "enough"),
    [
        (Measure(best=4), False),
        (Measure(too_low=3, best=4), False),
        (Measure(too_low=3, best=4, too_high=5), True),
        (Measure(better="higher", too_low=3), False),
        (Measure(better="higher", too_low=3, best=4), True),
        (Measure(better="lower", best=4), False),
        (Measure(better="lower", best=4, too_high=5), True),
    ],
)
def test_a_target_needs_the_end_where_a_loaf_is_not_acceptable(wanted, enough):
    assert says_enough(wanted) is enough


def test_no_targets_no_desirability():
    assert measures_grid(bigger_but_coarser()).desirability is None


def test_the_combination_that_meets_the_card_best_comes_first():
    g = measures_grid(
        bigger_but_coarser(
            specific_volume={"too_low": 3.5, "best": 4.5},
            crumb_fineness={"too_low": 4.5, "best": 7.0},
        )
    )
    best = g.desirability.iloc[0]
    assert list(g.desirability.columns) == [
        "formula",
        "tin",
        "d specific_volume",
        "d crumb_fineness",
        "overall",
    ]
    # half as big as wanted, but as fine; malted is hardly fine at all
    assert best["formula"] == "house"
    assert best["overall"] == pytest.approx(
        np.sqrt(best["d specific_volume"] * best["d crumb_fineness"])
    )
    assert any(
        words.startswith("Nearest to all that the card wants: house") for words in g.sentences
    )
