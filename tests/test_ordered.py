"""Scores as ordered steps, against the published wine ratings and by laws."""

import json
import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.crumb.ordered import ordered_check
from fairloaf.analysis.methods import cumulative_link as link_module
from fairloaf.analysis.methods.agreement import friedman
from fairloaf.analysis.methods.cumulative_link import ConvergenceError, cumulative_link
from fairloaf.analysis.methods.cumulative_random import cumulative_link_random

REFERENCE = Path(__file__).parent / "reference"
PANELS = {
    entry["name"]: entry for entry in json.loads((REFERENCE / "panels.json").read_text("utf-8"))
}
WINE = pd.read_csv(REFERENCE / "wine_bitterness.csv")
CONDITIONS = pd.DataFrame(
    {"temp_warm": (WINE.temp == "warm") * 1.0, "contact_yes": (WINE.contact == "yes") * 1.0}
)


def test_wine_ratings_of_randall():
    # Randall 1989; clm of the R package ordinal and its vignette: 2.5031, 1.5278, thresholds
    # −1.3444 … 5.0064.
    expected = PANELS["wine_bitterness"]["expected"]["cumulative_logit"]
    fit = cumulative_link(WINE.rating, CONDITIONS)
    for name in CONDITIONS:
        assert fit.coefficients[name] == pytest.approx(expected[name], rel=1e-4)
        assert fit.standard_errors[name] == pytest.approx(
            expected["standard_errors"][name], rel=1e-4
        )
    assert fit.thresholds == pytest.approx(expected["thresholds"], rel=1e-4)
    assert fit.log_likelihood == pytest.approx(expected["log_likelihood"], rel=1e-8)


def test_wine_ratings_with_fixed_judges():
    expected = PANELS["wine_bitterness"]["expected"]["judge_fixed"]
    judges = pd.get_dummies(WINE.judge.astype(str), drop_first=True, dtype=float)
    fit = cumulative_link(WINE.rating, pd.concat([CONDITIONS, judges], axis=1))
    for name in CONDITIONS:
        assert fit.coefficients[name] == pytest.approx(expected[name], rel=1e-4)
    assert fit.log_likelihood == pytest.approx(expected["log_likelihood"], rel=1e-8)


def test_salt_taste_of_the_bread_panel():
    expected = PANELS["bread_panel"]["expected"]["salt_taste_ordered"]["judges_fixed"]
    rows = pd.read_csv(REFERENCE / "bread_panel.csv").query("attribute == 'salt taste'")
    judges = pd.get_dummies(rows.judge.astype(str), drop_first=True, dtype=float)
    salt = pd.get_dummies(rows.salt.astype(str), drop_first=True, dtype=float).add_prefix(
        "salt_level"
    )
    full = cumulative_link(rows.score, pd.concat([salt, judges], axis=1))
    for name, value in expected["coefficients_salt"].items():
        assert full.coefficients[name] == pytest.approx(value, rel=1e-4)
    assert full.log_likelihood == pytest.approx(expected["log_likelihood"], rel=1e-8)
    less = cumulative_link(rows.score, judges)
    assert 2 * (full.log_likelihood - less.log_likelihood) == pytest.approx(
        expected["lr_chi2"], rel=1e-6
    )


def test_any_scores_have_the_likelihood_that_a_library_finds():
    """OrderedModel of statsmodels stops a little below the top, most where groups do not overlap
    and a coefficient runs away.
    """
    from statsmodels.miscmodels.ordinal_model import OrderedModel

    rng = np.random.default_rng(1)
    for apart in (0.0, 0.5, 0.5, 3.0, 9.0):
        group = rng.permutation(np.repeat(range(3), 12))
        score = pd.Series(np.clip(np.rint(5 + rng.normal(0, 1.5, 36) + apart * group), 1, 30))
        columns = pd.get_dummies(pd.Series(group).astype(str), drop_first=True, dtype=float)
        fit = cumulative_link(score, columns)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            model = OrderedModel(score.to_numpy(), columns.to_numpy(), distr="logit")
            other = model.fit(method="bfgs", maxiter=250, disp=False)
        assert -1e-9 < fit.log_likelihood - other.llf < 1e-4
        if apart < 3:
            found = [*fit.coefficients.values()]
            assert found == pytest.approx(other.params[:2], abs=1e-3)
            assert [*fit.standard_errors.values()] == pytest.approx(other.bse[:2], rel=1e-2)


def test_wine_ratings_with_random_judges():
    # clmm of the R package ordinal, 10 nodes, and its vignette: 3.0619, 1.8334, judge variance
    # 1.2877.
    expected = PANELS["wine_bitterness"]["expected"]["judge_random"]
    fit = cumulative_link_random(WINE.rating, CONDITIONS, WINE.judge)
    for name in CONDITIONS:
        assert fit.link.coefficients[name] == pytest.approx(expected[name], rel=1e-4)
    assert fit.link.thresholds == pytest.approx(expected["thresholds"], rel=1e-4)
    assert fit.assessor_variance == pytest.approx(expected["judge_variance"], rel=1e-4)
    assert fit.link.log_likelihood == pytest.approx(expected["log_likelihood"], rel=1e-8)


def test_salt_taste_with_random_judges():
    expected = PANELS["bread_panel"]["expected"]["salt_taste_ordered"]["judges_random"]
    rows = pd.read_csv(REFERENCE / "bread_panel.csv").query("attribute == 'salt taste'")
    salt = pd.get_dummies(rows.salt.astype(str), drop_first=True, dtype=float).add_prefix(
        "salt_level"
    )
    fit = cumulative_link_random(rows.score, salt, rows.judge)
    for name, value in expected["coefficients_salt"].items():
        assert fit.link.coefficients[name] == pytest.approx(value, rel=1e-4)
    assert fit.assessor_variance == pytest.approx(expected["judge_variance"], rel=1e-4)
    assert fit.link.log_likelihood == pytest.approx(expected["log_likelihood"], rel=1e-8)


def test_assessors_who_do_not_differ_have_no_variance():
    score = pd.Series(np.tile([1.0, 2, 2, 3, 4, 5], 20))  # everybody gave the same scores
    nothing = pd.DataFrame(index=score.index)
    fit = cumulative_link_random(score, nothing, pd.Series(np.repeat(np.arange(20), 6)))
    assert fit.assessor_variance == pytest.approx(0, abs=1e-3)
    assert fit.link.log_likelihood == pytest.approx(
        cumulative_link(score, nothing).log_likelihood, abs=1e-3
    )


def panel(scores: dict[str, list[float]], loaves: list[str]) -> pd.DataFrame:
    """Return rows of assessor → one score a loaf, loaves named by their formula."""
    return pd.DataFrame(
        [
            (who, i, formula, score)
            for who, given in scores.items()
            for i, (formula, score) in enumerate(zip(loaves, given, strict=True))
        ],
        columns=["assessor", "row", "formula", "score"],
    )


FOUR = {"A": [3, 4, 6, 7], "B": [2, 2, 5, 6], "C": [5, 6, 6, 8], "D": [1, 3, 3, 4]}
LOAVES = ["house", "house", "malted", "malted"]


def test_a_complete_panel_is_ranked_by_friedman():
    found = ordered_check(panel(FOUR, LOAVES), ["house", "malted"])
    # All four prefer malted: χ² = 12/(4·2·3)·(4² + 8²) − 3·4·3 = 4 on 1 df.
    assert (found.way, found.why) == ("friedman", "")
    assert found.p_value == pytest.approx(0.0455, abs=1e-4)


def test_formulas_are_tested_together_as_the_published_panel_is():
    rows = pd.read_csv(REFERENCE / "bread_panel.csv").query("attribute == 'salt taste'")
    rows = pd.DataFrame(
        {
            "score": rows.score,
            "assessor": rows.judge.astype(str),
            "row": rows.bread,
            "formula": rows.salt.astype(str),
        }
    )
    expected = PANELS["bread_panel"]["expected"]["by_attribute"]["salt taste"][
        "friedman_5_salt_levels_mean_of_two"
    ]
    found = ordered_check(rows, sorted(set(rows.formula)))
    assert (found.way, found.p_value) == ("friedman", pytest.approx(expected["p_value"], rel=1e-4))


def test_three_people_are_too_few_for_friedman():
    """Three who all prefer malted reach p = 0.083 at best (χ² = 3), so their single scores are
    asked instead.
    """
    three = panel(FOUR, LOAVES).query("assessor != 'D'")
    assert friedman([[0, 1]] * 3).p_value == pytest.approx(0.0833, abs=1e-4)
    found = ordered_check(three, ["house", "malted"])
    assert (found.way, found.p_value < 0.05) == ("cumulative link", True)
    assert ordered_check(three, ["house", "malted"], confidence=0.9).way == "friedman"


def test_a_panel_with_gaps_goes_to_the_cumulative_link():
    found = ordered_check(panel(FOUR, LOAVES).drop(index=[0, 7]), ["house", "malted"])
    assert found.way == "cumulative link"
    assert 0 < found.p_value < 0.05


def test_scores_of_the_loaves_alone_need_no_assessor():
    found = ordered_check(panel(FOUR, LOAVES).assign(assessor=None), ["house", "malted"])
    assert found.way == "cumulative link"
    assert 0 < found.p_value < 0.05


def test_many_assessors_with_gaps():
    rng = np.random.default_rng(2)
    many = {
        f"P{i}": list(np.rint(np.r_[5, 5, 7, 7] + rng.normal(0, 1, 4) + rng.normal()))
        for i in range(30)
    }
    found = ordered_check(panel(many, LOAVES).drop(index=range(0, 120, 7)), ["house", "malted"])
    assert found.way == "cumulative link"
    assert 0 < found.p_value < 1e-4


def test_order_is_all_that_counts():
    rows = panel(FOUR, LOAVES).drop(index=[0, 7])
    stretched = rows.assign(score=np.exp(rows.score))
    assert ordered_check(stretched, ["house", "malted"]).p_value == pytest.approx(
        ordered_check(rows, ["house", "malted"]).p_value, rel=1e-6
    )


def test_one_score_throughout_has_no_check():
    found = ordered_check(panel({who: [4.0] * 4 for who in "ABCD"}, LOAVES), ["house", "malted"])
    assert (found.way, found.why, np.isnan(found.p_value)) == ("none", "one score", True)


@pytest.mark.parametrize("assessors", [2, 1, 0])
def test_fully_separated_scores_still_have_a_likelihood(assessors):
    # Perfect separation: the likelihood with the formula is 1, without it (1/2)^8, χ² = 16 ln 2.
    rows = panel({"A": [1, 1, 5, 5], "B": [1, 1, 5, 5]}, LOAVES)
    rows = rows.assign(assessor={2: rows.assessor, 1: "A", 0: None}[assessors])
    found = ordered_check(rows, ["house", "malted"])
    assert found.way == "cumulative link"
    assert found.p_value == pytest.approx(0.00087, abs=2e-5)


def test_assessors_who_use_one_step_each_leave_nothing_to_judge_by():
    """A degenerate panel: each gave one score throughout, so that severity alone explains
    everything.
    """
    rows = panel(
        {who: [score] * 4 for who, score in zip("ABCDE", [1, 2, 3, 4, 5], strict=True)}, LOAVES
    )
    found = ordered_check(rows.drop(index=[0, 7]), ["house", "malted"])
    assert found.why == "no convergence" or found.p_value > 0.5


def test_a_fit_that_does_not_settle_is_said_and_gives_no_p_value(monkeypatch):
    monkeypatch.setattr(link_module, "MOST_STEPS", 2)
    rows = panel(FOUR, LOAVES).assign(assessor=None)
    with pytest.raises(ConvergenceError, match="no top that could be found"):
        cumulative_link(rows.score, pd.DataFrame({"malted": (rows.formula == "malted") * 1.0}))
    found = ordered_check(rows, ["house", "malted"])
    assert (found.way, found.why, np.isnan(found.p_value)) == ("none", "no convergence", True)


def test_formulas_that_no_assessor_scored_side_by_side_give_no_test():
    """Three people scored house only and three malted only: the people and the formulas cannot be
    told apart.
    """
    rng = np.random.default_rng(7)
    rows = pd.DataFrame(
        [
            (f"{formula[0]}{who}", formula, row + 10 * who, float(rng.integers(2, 9)))
            for formula in ("house", "malted")
            for who in range(3)
            for row in range(4)
        ],
        columns=["assessor", "formula", "row", "score"],
    )
    found = ordered_check(rows, ["house", "malted"])
    assert (found.way, found.why, np.isnan(found.p_value)) == ("none", "tied", True)
