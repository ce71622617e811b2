"""Agreement between assessors, against published examples and by laws that need no reference.

Values: tests/reference/panels.json (each entry names its source), made with R 4.2.2 and the
formulas' own papers.
"""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.methods.agreement import (
    cohen_kappa,
    fleiss_kappa,
    friedman,
    intraclass,
    page_trend,
    ranks,
)

REFERENCE = Path(__file__).parent / "reference"
PANELS = {
    entry["name"]: entry for entry in json.loads((REFERENCE / "panels.json").read_text("utf-8"))
}
BREAD = pd.read_csv(REFERENCE / "bread_panel.csv")
ATTRIBUTES = list(PANELS["bread_panel"]["expected"]["by_attribute"])
FORMS = ("icc_1_1", "icc_2_1", "icc_3_1", "icc_1_k", "icc_2_k", "icc_3_k")


def by_judge(attribute: str, sample: str) -> np.ndarray:
    """Return the bread panel's scores, one row a judge, one column a sample; mean of what shares a
    cell.
    """
    rows = BREAD[BREAD.attribute == attribute]
    return rows.pivot_table(
        index="judge", columns=sample, values="score", aggfunc="mean"
    ).to_numpy()


def assert_friedman(scores, expected):
    test = friedman(scores)
    assert test.chi2 == pytest.approx(expected["chi2"], rel=1e-9)
    assert test.p_value == pytest.approx(expected["p_value"], rel=1e-8)
    assert test.kendall_w == pytest.approx(expected["kendall_w"], rel=1e-9)
    assert test.rank_sums == pytest.approx(expected["rank_sums"])
    assert (test.df, test.n_assessors) == (expected["df"], expected["assessors"])


def assert_intraclass(scores, expected):
    found = intraclass(scores)
    for form in FORMS:
        assert getattr(found, form).value == pytest.approx(expected[form], rel=1e-8), form
        interval = (getattr(found, form).ci_low, getattr(found, form).ci_high)
        assert interval == pytest.approx(expected["ci_95"][form], rel=1e-7), form


@pytest.mark.parametrize("attribute", ATTRIBUTES)
def test_bread_panel(attribute):
    expected = PANELS["bread_panel"]["expected"]["by_attribute"][attribute]
    assert_friedman(by_judge(attribute, "bread"), expected["friedman_10_loaves"])
    assert_friedman(by_judge(attribute, "salt"), expected["friedman_5_salt_levels_mean_of_two"])
    assert_intraclass(by_judge(attribute, "bread").T, expected["icc_loaves_by_judges"])


def test_bread_liking():
    expected = PANELS["bread_liking"]["expected"]
    rows = pd.read_csv(REFERENCE / "bread_liking.csv")
    scores = rows.pivot(index="consumer", columns="bread", values="liking").to_numpy()
    assert_friedman(scores, expected["friedman"])
    assert_intraclass(scores.T, expected["icc"])


@pytest.mark.parametrize("name", ["shrout_fleiss_icc", "wine_icc"])
def test_published_intraclass_correlations(name):
    expected = PANELS[name]["expected"]
    assert_intraclass(expected["data_targets_by_judges"], expected["icc"])


def test_shrout_and_fleiss_table_4():
    # Shrout and Fleiss 1979, table 4, two printed digits (from memory).
    found = intraclass(PANELS["shrout_fleiss_icc"]["expected"]["data_targets_by_judges"])
    printed = [round(getattr(found, form).value, 2) for form in FORMS]
    assert printed == [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]


def test_friedman_of_hollander_and_wolfe():
    # Hollander and Wolfe, example 7.1: χ² 11.143, p 0.003805.
    expected = PANELS["friedman_rounding_first_base"]["expected"]
    assert_friedman(expected["data_assessors_by_samples"], expected["friedman"])


@pytest.mark.parametrize("example", ["a", "b"])
def test_page_trend(example):
    # (a) Hollander and Wolfe, example 7.2; (b) Neuhäuser 2012: L 257, p 0.0023 exact.
    expected = PANELS["page_trend"]["expected"][example]
    test = page_trend(expected["data_blocks_by_treatments"])
    assert (test.L, test.exact) == (expected["L"], True)
    assert test.z == pytest.approx(expected["z"], rel=1e-9)
    assert test.p_value == pytest.approx(expected["p_exact"], rel=1e-8)


def test_page_trend_of_many_samples_is_the_normal_limit():
    rising = np.tile(np.arange(9.0), (4, 1))
    test = page_trend(rising)
    # L = 4 × Σj² = 1140; mean mk(k+1)²/4 = 900, variance mk²(k+1)²(k−1)/144 = 1800 (Page 1963).
    assert (test.L, test.exact) == (1140, False)
    assert test.z == pytest.approx(240 / np.sqrt(1800))


def test_page_trend_with_ties_is_a_chance_over_shuffles():
    # One assessor, ranks 1, 2.5, 2.5: three distinct orders, the observed one the best of them.
    assert page_trend([[1, 4, 4]]).p_value == pytest.approx(1 / 3)


def test_kappas():
    expected, published = PANELS["kappa"]["expected"], PANELS["kappa"]["published"]
    plain = cohen_kappa(expected["a"]["table"])
    weighted = cohen_kappa(expected["a"]["table"], weighted=True)
    assert plain.value == pytest.approx(expected["a"]["kappa"], rel=1e-9)
    assert weighted.value == pytest.approx(expected["a"]["weighted_linear"], rel=1e-9)
    assert (plain.ci_low, plain.ci_high) == pytest.approx(published["kappa_ci"], abs=5e-5)
    assert (weighted.ci_low, weighted.ci_high) == pytest.approx(published["weighted_ci"], abs=5e-5)
    assert fleiss_kappa(expected["b"]["counts"]) == pytest.approx(expected["b"]["kappa"], rel=1e-9)


def test_a_rater_with_one_word_for_everything_agrees_by_chance():
    assert cohen_kappa([[3, 0], [5, 0]]).value == pytest.approx(0)
    assert cohen_kappa([[0, 0, 0], [0, 0, 2], [0, 0, 0]]).value == pytest.approx(0)
    assert np.isnan(fleiss_kappa([[4, 0], [4, 0]]))


def test_ranks_share_places_between_ties():
    assert ranks([[7, 7, 3, 9]]).tolist() == [[2.5, 2.5, 1, 4]]


def test_everyone_alike_agrees_fully():
    alike = np.tile([3.0, 5, 8, 9], (5, 1))
    assert friedman(alike).kendall_w == pytest.approx(1)
    found = intraclass(alike.T)
    assert [getattr(found, form).value for form in FORMS] == pytest.approx([1] * 6)


def test_one_score_throughout_has_no_agreement_to_speak_of():
    flat = np.full((4, 3), 5.0)
    assert np.isnan(friedman(flat).chi2)
    assert np.isnan(intraclass(flat).icc_2_1.value)
    assert np.isnan(cohen_kappa([[6, 0], [0, 0]]).value)


@pytest.mark.parametrize(
    "change", [lambda x: x * 10, lambda x: x - 3], ids=["other scale", "shifted zero"]
)
def test_agreement_ignores_unit_and_zero_point(change):
    scores = by_judge("salt taste", "bread")
    assert friedman(change(scores)).chi2 == pytest.approx(friedman(scores).chi2)
    assert intraclass(change(scores).T).icc_2_1.ci_low == pytest.approx(
        intraclass(scores.T).icc_2_1.ci_low
    )
