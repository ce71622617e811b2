"""The rule for contrasts between mixes, against published split plots, classical strata, and
t-tests on means.
"""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.model.coding import DesignError
from fairloaf.analysis.model.design import Term, interactions
from fairloaf.analysis.model.judging import Fitted
from fairloaf.analysis.model.mix_rule import TrialModel
from fairloaf.analysis.model.trial_fit import fit_trial
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from .dense_reml import fit_dense

REFERENCE = Path(__file__).parent / "reference"
EXPECTED = {
    entry["name"]: entry["expected"]
    for entry in json.loads((REFERENCE / "expected.json").read_text())
}
FORMULA, TIN = Term(("formula",)), Term(("tin",))


def read(name, **renamed):
    return pd.read_csv(REFERENCE / f"{name}.csv").rename(
        columns={old: new for new, old in renamed.items()}
    )


def difference(fit, second, first):
    return fit.design.at({"formula": second}) - fit.design.at({"formula": first})


def f_tests_of(fit):
    return [fit.f_test(fit.design.term_hypothesis(term)) for term in fit.design.terms]


def assert_equal_tests(found, expected, rel=1e-6):
    for test, row in zip(found, expected, strict=True):
        for key in ("f_value", "num_df", "den_df", "p_value"):
            assert getattr(test, key) == pytest.approx(row[key], rel=rel), (row["term"], key)


# --- published split plots: values and sources in tests/reference/expected.json
# -------------------------------


def test_cake_in_replicates():
    cake = read("cake", formula="recipe", day="replicate").assign(mix=lambda d: d["formula"])
    fit = fit_trial(cake, "angle", interactions(["formula", "temperature"], 2))
    expected = EXPECTED["cake_split_plot"]
    assert_equal_tests(f_tests_of(fit), expected["replicate_as_block"]["tests"])
    assert [test.unit for test in f_tests_of(fit)] == ["mix", "loaf", "loaf"]
    assert fit.variances["mix"] == pytest.approx(3.72191368, rel=1e-6)
    assert fit.all_variances["day"] == pytest.approx(38.1151226, rel=1e-6)
    row = expected["recipe_unadjusted"][0]
    found = fit.contrast(difference(fit, "B", "A"))
    for name, value in [
        ("estimate", row["estimate"]),
        ("standard_error", row["standard_error"]),
        ("df", 28),
        ("ci_low", row["ci_low"]),
        ("ci_high", row["ci_high"]),
    ]:
        assert getattr(found, name) == pytest.approx(value, rel=1e-6)


def test_cake_with_its_replicates_ignored():
    cake = read("cake", formula="recipe").assign(
        mix=lambda d: d["formula"] + d["replicate"].astype(str)
    )
    fit = fit_trial(cake, "angle", interactions(["formula", "temperature"], 2))
    assert_equal_tests(f_tests_of(fit), EXPECTED["cake_split_plot"]["replicate_ignored"]["tests"])


def test_cake_temperature_as_a_line():
    cake = read("cake", formula="recipe", day="replicate").assign(mix=lambda d: d["formula"])
    expected = EXPECTED["cake_split_plot"]["straight_line"]
    line = fit_trial(cake, "angle", [FORMULA, Term(("temperature",))], numbers={"temperature": 1})
    slope = line.contrast(line.design.powers("temperature")[0])
    assert (slope.estimate, slope.standard_error, slope.df) == pytest.approx(
        (expected["slope_per_degree"], expected["standard_error"], expected["df"]), rel=1e-6
    )
    means = fit_trial(cake, "angle", [FORMULA, Term(("temperature",))])
    lack = means.f_test(means.design.lack_of_fit("temperature", 1))
    assert_equal_tests([lack], [{"term": "lack of fit", **expected["lack_of_fit_kr"]}])


@pytest.mark.parametrize(
    ("name", "measure", "factors", "labels", "entry"),
    [
        (
            "oats",
            "yield",
            ["variety", "nitrogen"],
            {"day": ["block"], "mix": ["block", "variety"]},
            "oats_split_plot",
        ),
        (
            "corrosion",
            "resistance",
            ["temperature", "coating"],
            {"mix": ["heat"]},
            "corrosion_split_plot",
        ),
        (
            "paper_pulp",
            "strength",
            ["preparation", "temperature"],
            {"day": ["replicate"], "mix": ["replicate", "preparation"]},
            "paper_pulp_split_plot",
        ),
    ],
    ids=["oats", "corrosion", "paper pulp"],
)
def test_balanced_split_plots(name, measure, factors, labels, entry):
    data = read(name)
    for grouping, columns in labels.items():
        data[grouping] = data[columns].astype(str).agg("|".join, axis=1)
    fit = fit_trial(data, measure, interactions(factors, 2))
    assert_equal_tests(f_tests_of(fit), EXPECTED[entry]["tests"])


def test_machines():
    data = read("machines", day="worker", formula="machine").assign(mix=lambda d: d["formula"])
    fit = fit_trial(data, "score", [FORMULA])
    assert_equal_tests(f_tests_of(fit), EXPECTED["machines"]["tests"])


def test_beets():
    data = read("beets", day="block").assign(mix=lambda d: d["harvest"] + d["day"])
    fit = fit_trial(data, "sugpct", [Term(("harvest",)), Term(("sow",))])
    expected = EXPECTED["beets_split_plot"]
    assert_equal_tests(
        f_tests_of(fit), [{"term": name, **expected[name]} for name in ("harvest", "sow")]
    )


def test_incomplete_blocks_are_fixed():
    """Scheffé 1959, ten blocks of three of five detergents; differences as in Westfall et al.
    1999.
    """
    data = read("detergent", formula="detergent", day="block").dropna()
    fit = fit_trial(data, "plates", [FORMULA])
    expected = EXPECTED["detergent_incomplete_blocks"]
    found = fit.f_test(fit.design.term_hypothesis(FORMULA))
    assert (found.f_value, found.den_df) == pytest.approx(
        (expected["anova_type_3"][1]["f_value"], 16)
    )
    row, pair = expected["pairs_unadjusted"][0], fit.contrast(difference(fit, "B", "A"))
    for name in ("estimate", "standard_error", "df", "t_value", "p_value", "ci_low", "ci_high"):
        assert getattr(pair, name) == pytest.approx(row[name]), name


def test_paired_shoes():
    """Box, Hunter and Hunter 1978, boys' shoes: the paired t-test, boys as blocks."""
    shoes = pd.read_csv(REFERENCE / "shoes.csv")
    pairs = pd.DataFrame(
        {
            "formula": ["a"] * 10 + ["b"] * 10,
            "day": [*range(10)] * 2,
            "wear": [*shoes["wear_a"], *shoes["wear_b"]],
        }
    )
    fit = fit_trial(pairs, "wear", [FORMULA])
    found, expected = fit.contrast(difference(fit, "a", "b")), EXPECTED["shoes_paired"]["paired_t"]
    for name in ("estimate", "t_value", "df", "p_value", "ci_low", "ci_high"):
        assert getattr(found, name) == pytest.approx(expected[name]), name


def test_tv_panel_has_crossed_groupings():
    """Assessors × sets and assessors × pictures are crossed; assessors scored everything and are
    blocks.
    """
    data = read("tv_panel", formula="TVset")
    data["by_set"] = data["Assessor"].astype(str) + data["formula"]
    data["by_picture"] = data["Assessor"].astype(str) + "|" + data["Picture"].astype(str)
    fit = fit_trial(
        data,
        "Noise",
        interactions(["formula", "Picture"], 2),
        groupings=("Assessor", "by_set", "by_picture"),
    )
    assert_equal_tests(f_tests_of(fit), EXPECTED["tv_panel"]["Noise"]["tests"])
    assert [test.unit for test in f_tests_of(fit)] == ["by_set", "by_picture", "loaf"]


def test_unbalanced_split_plot_equals_r_where_the_blocks_are_random():
    """R's model has random blocks; the rule's is fixed. Fixed blocks: the dense fit of the same
    model.
    """
    data = read("oats_unbalanced", day="block", formula="variety").assign(
        mix=lambda d: d["formula"]
    )
    fit = fit_trial(data, "yield", [FORMULA, Term(("nitrogen",))])
    X = fit.model.arranged(("day",)).design.matrix
    dense = fit_dense(
        data["yield"].to_numpy(float), X, {"mix": fit.layout.labels["mix"].to_numpy()}
    )
    L = fit.model.arranged(("day",)).design.reduced(fit.design.term_hypothesis(FORMULA))
    expected = dense.f_test(L)
    found = fit.f_test(fit.design.term_hypothesis(FORMULA))
    assert (found.f_value, found.den_df) == pytest.approx(
        (expected["f_value"], expected["den_df"]), rel=1e-6
    )
    assert found.why == "positive"


# --- small invented trials ---------------------------------------------------------------------


def bake(mixes=3, loaves=4, formulas="AB", days=1, seed=0, mix_sd=1.0):
    """Invented loaves: `mixes` of each formula a day."""
    rng = np.random.default_rng(seed)
    rows = [
        (f"day {d}", formula, f"{formula}{d}{k}", ["open", "lidded"][i % 2])
        for d in range(days)
        for formula in formulas
        for k in range(mixes)
        for i in range(loaves)
    ]
    table = pd.DataFrame(rows, columns=["day", "formula", "mix", "tin"])
    shift = pd.factorize(table["mix"])[0]
    table["volume"] = rng.normal(size=len(table)) + mix_sd * rng.normal(size=shift.max() + 1)[shift]
    return table


def level_mixes(loaves):
    """Mixes made more alike than chance allows, so that their variance is estimated below zero."""
    means = loaves.groupby("mix")["volume"].transform("mean")
    return loaves.assign(volume=loaves["volume"] - 0.95 * (means - loaves["volume"].mean()))


def t_test_on_means(loaves):
    means = loaves.groupby(["formula", "mix"])["volume"].mean()
    return stats.ttest_ind(means["B"], means["A"])


def test_negative_and_balanced_is_the_classical_t_test_on_mix_means():
    loaves = level_mixes(bake())
    fit = fit_trial(loaves, "volume", [FORMULA])
    found, classical = fit.contrast(difference(fit, "B", "A")), t_test_on_means(loaves)
    assert fit.variances["mix"] < 0
    assert (found.way, found.why, found.unit, found.n_units) == ("reml", "balanced", "mix", 6)
    assert (found.t_value, found.p_value, found.df) == pytest.approx(
        (classical.statistic, classical.pvalue, 4)
    )


def test_negative_and_unbalanced_is_the_t_test_on_unweighted_mix_means():
    loaves = level_mixes(bake().drop(index=[0, 1, 9, 20]))
    fit = fit_trial(loaves, "volume", [FORMULA])
    found, classical = fit.contrast(difference(fit, "B", "A")), t_test_on_means(loaves)
    assert (found.way, found.why) == ("means", "unbalanced")
    assert (found.t_value, found.p_value, found.df) == pytest.approx(
        (classical.statistic, classical.pvalue, 4)
    )
    interval = classical.confidence_interval(0.95)
    assert (found.ci_low, found.ci_high) == pytest.approx((interval.low, interval.high))


def test_negative_and_unbalanced_in_days_is_the_paired_t_test():
    loaves = level_mixes(bake(mixes=1, days=4).drop(index=[0, 13, 14]))
    fit = fit_trial(loaves, "volume", [FORMULA])
    found = fit.contrast(difference(fit, "B", "A"))
    means = loaves.groupby(["formula", "day"])["volume"].mean()
    paired = stats.ttest_rel(means["B"], means["A"])
    assert found.way == "means"
    assert (found.t_value, found.df) == pytest.approx((paired.statistic, 3))


def test_means_of_three_formulas_are_the_one_way_analysis():
    loaves = level_mixes(bake(formulas="ABC").drop(index=[0, 1, 9, 20]))
    fit = fit_trial(loaves, "volume", [FORMULA])
    found = fit.f_test(fit.design.term_hypothesis(FORMULA))
    means = loaves.groupby(["formula", "mix"])["volume"].mean()
    classical = stats.f_oneway(*(means[formula] for formula in "ABC"))
    assert (found.way, found.num_df, found.den_df) == ("means", 2, 6)
    assert (found.f_value, found.p_value) == pytest.approx((classical.statistic, classical.pvalue))


def test_a_mix_that_lost_its_lidded_loaves_is_adjusted_for_it():
    """A lidded loaf is 10 smaller, exactly; the mix left without any must not look bigger for
    it.
    """
    loaves = level_mixes(bake(seed=4))
    loaves["volume"] -= 10 * (loaves["tin"] == "lidded")
    whole = loaves.drop(index=[1, 3])
    fit = fit_trial(whole, "volume", [FORMULA, TIN])
    found = fit.contrast(difference(fit, "B", "A"))
    assert found.way == "means"
    assert abs(found.estimate) < 1.5
    assert 4 <= found.df <= 4 + 18 - 6 - 1


def test_positive_variance_equals_the_dense_fit():
    loaves = bake(mix_sd=3.0).drop(index=[0, 1, 9, 20])
    fit = fit_trial(loaves, "volume", [FORMULA, TIN])
    dense = fit_dense(
        loaves["volume"].to_numpy(), fit.design.matrix, {"mix": loaves["mix"].to_numpy()}
    )
    L = difference(fit, "B", "A")
    expected, found = dense.contrast(L), fit.contrast(L)
    assert (found.way, found.why) == ("reml", "positive")
    for key, value in expected.items():
        assert getattr(found, key) == pytest.approx(value, rel=1e-6)


def test_tin_is_judged_inside_the_mix():
    loaves = bake(mix_sd=3.0)
    fit = fit_trial(loaves, "volume", interactions(["formula", "tin"], 2))
    found = fit.contrast(fit.design.at({"tin": "open"}) - fit.design.at({"tin": "lidded"}))
    assert (found.unit, found.why, found.n_units) == ("loaf", "within", 24)
    assert found.df == pytest.approx(24 - 6 - 2)


# --- one mix, one day, nothing shared ----------------------------------------------------------


def test_one_mix_of_each_formula_gives_a_difference_and_no_interval():
    loaves = bake(mixes=1, loaves=8)
    fit = fit_trial(loaves, "volume", [FORMULA, TIN])
    found = fit.contrast(difference(fit, "B", "A"))
    means = loaves.groupby("formula")["volume"].mean()
    assert found.estimate == pytest.approx(means["B"] - means["A"])
    assert (found.way, found.why, found.unit, found.n_units) == ("none", "one unit", "mix", 2)
    assert np.isnan([found.standard_error, found.df, found.p_value, found.ci_low]).all()
    assert np.isnan(fit.f_test(fit.design.term_hypothesis(FORMULA)).p_value)
    assert (
        fit.contrast(fit.design.at({"tin": "open"}) - fit.design.at({"tin": "lidded"})).why
        == "within"
    )


def test_with_nothing_left_inside_the_mixes_there_is_no_interval():
    """Five places for two loaves of four mixes: every comparison inside a mix is used up by the
    places.
    """
    loaves = bake(mixes=2, loaves=2).assign(place=list("abbccdde"))
    fit = fit_trial(loaves, "volume", [FORMULA, Term(("place",))])
    found = fit.f_test(fit.design.term_hypothesis(FORMULA))
    assert (found.way, found.why) == ("none", "too few")
    assert np.isnan(found.p_value)


def test_one_mix_against_three_gives_no_interval_either():
    loaves = bake().query("formula == 'B' or mix == 'A00'")
    fit = fit_trial(loaves, "volume", [FORMULA])
    assert fit.contrast(difference(fit, "B", "A")).why == "one unit"


def test_without_mixes_a_single_loaf_of_a_formula_gives_no_interval():
    loaves = bake(loaves=1).drop(columns="mix").drop(index=[0, 1])
    fit = fit_trial(loaves, "volume", [FORMULA])
    assert fit.contrast(difference(fit, "B", "A")).why == "one unit"


def test_without_mixes_it_is_the_two_sample_t_test():
    loaves = bake().drop(columns="mix")
    fit = fit_trial(loaves, "volume", [FORMULA])
    found = fit.contrast(difference(fit, "B", "A"))
    by = loaves.groupby("formula")["volume"]
    classical = stats.ttest_ind(by.get_group("B"), by.get_group("A"))
    assert (found.why, found.unit, found.n_units) == ("loaves", "loaf", 24)
    assert (found.t_value, found.df) == pytest.approx((classical.statistic, 22))


def test_formula_tied_to_the_day_makes_the_day_the_unit():
    loaves = bake(mixes=2, formulas="AB", days=6, seed=3)
    loaves = loaves[(loaves["formula"] == "A") == loaves["day"].isin(["day 0", "day 2", "day 4"])]
    fit = fit_trial(loaves, "volume", [FORMULA, TIN])
    found = fit.contrast(difference(fit, "B", "A"))
    means = loaves.groupby(["formula", "day"])["volume"].mean()
    classical = stats.ttest_ind(means["B"], means["A"])
    assert (found.unit, found.n_units) == ("day", 6)
    assert (found.t_value, found.df) == pytest.approx((classical.statistic, 4))


def test_monday_all_a_and_tuesday_all_b_gives_no_interval():
    loaves = bake(mixes=2, days=2)
    loaves = loaves[(loaves["formula"] == "A") == (loaves["day"] == "day 0")]
    fit = fit_trial(loaves, "volume", [FORMULA])
    found = fit.contrast(difference(fit, "B", "A"))
    assert (found.way, found.why, found.unit, found.n_units) == ("none", "one unit", "day", 2)


def test_a_day_with_one_formula_only_says_nothing_about_the_difference():
    loaves = bake(mixes=1, days=4, mix_sd=2.0)
    alone = (loaves["day"] == "day 3") & (loaves["formula"] == "B")
    fit = fit_trial(loaves[~alone], "volume", [FORMULA])
    without = fit_trial(loaves[loaves["day"] != "day 3"], "volume", [FORMULA])
    one, other = (f.contrast(difference(f, "B", "A")) for f in (fit, without))
    assert (one.estimate, one.df) == pytest.approx((other.estimate, 2))


def test_oven_loads_across_mixes_are_compared_within():
    loaves = bake(mix_sd=2.0).assign(oven_load=[1, 2, 3, 4] * 6)
    loaves["volume"] += 20 * loaves["oven_load"]
    fit = fit_trial(loaves.drop(index=[0, 5]), "volume", [FORMULA])
    found = fit.contrast(difference(fit, "B", "A"))
    assert abs(found.estimate) < 5
    assert found.standard_error < 5
    assert fit.residuals()["residual"].abs().max() < 5


def test_formula_tied_to_the_oven_load_makes_the_load_the_unit():
    loaves = bake(mixes=4, loaves=2)
    loaves["oven_load"] = loaves["mix"].map(
        {f"{f}0{k}": f"{f}{k // 2}" for f in "AB" for k in range(4)}
    )
    fit = fit_trial(loaves, "volume", [FORMULA])
    found = fit.contrast(difference(fit, "B", "A"))
    assert (found.unit, found.n_units) == ("oven_load", 4)
    assert found.df == pytest.approx(2)


def test_a_tin_changed_by_oven_load_is_compared_within_the_mixes():
    """The loads cross the mixes: each load has its own push, and a tin is judged load against load
    inside days.
    """
    loaves = bake(mixes=1, days=4, seed=2).assign(oven_load=lambda d: d["tin"])
    push = np.random.default_rng(9).normal(size=8)
    loaves["volume"] += push[loaves.groupby(["day", "tin"]).ngroup()]
    fit = fit_trial(loaves, "volume", [FORMULA, TIN])
    found = fit.contrast(fit.design.at({"tin": "open"}) - fit.design.at({"tin": "lidded"}))
    means = loaves.groupby(["tin", "day"])["volume"].mean()
    paired = stats.ttest_rel(means["open"], means["lidded"])
    assert (found.unit, found.n_units) == ("oven_load", 8)
    assert (found.t_value, found.df) == pytest.approx((paired.statistic, 3))


def test_tied_factors_are_not_judged():
    loaves = bake().assign(place=lambda d: d["tin"].map({"open": "top", "lidded": "bottom"}))
    fit = fit_trial(loaves, "volume", [FORMULA, TIN, Term(("place",))])
    found = fit.contrast(fit.design.at({"tin": "open"}) - fit.design.at({"tin": "lidded"}))
    assert (found.way, found.why) == ("none", "tied")
    assert np.isnan(found.estimate)
    assert fit.f_test(fit.design.term_hypothesis(TIN)).why == "tied"
    assert fit.contrast(difference(fit, "B", "A")).way == "reml"


def test_loaves_that_are_all_the_same_give_no_variation():
    loaves = bake().assign(volume=4.0)
    fit = fit_trial(loaves, "volume", [FORMULA])
    found = fit.contrast(difference(fit, "B", "A"))
    assert (found.why, found.estimate) == ("no variation", pytest.approx(0))


# --- what is left out, joint covariance, residuals, many at once -------------------------------


def test_loaves_without_the_measure_are_left_out_and_listed():
    loaves = bake()
    loaves.loc[2, "volume"] = np.nan
    loaves.loc[[7, 8], "tin"] = None
    fit = fit_trial(loaves, "volume", [FORMULA, TIN])
    assert fit.left_out.to_dict("list") == {
        "row": [2, 7, 8],
        "reason": ["no volume", "no tin", "no tin"],
    }
    assert (fit.n_loaves, fit.n_mixes) == (21, 6)
    assert fit_trial(loaves, "volume", [FORMULA]).n_loaves == 23


@pytest.mark.parametrize(
    ("measure", "message"),
    [("height", "there is no column 'height'"), ("empty", "no loaf has empty and every factor")],
)
def test_a_measure_that_is_not_there_is_refused(measure, message):
    with pytest.raises(DesignError, match=message):
        fit_trial(bake().assign(empty=np.nan), measure, [FORMULA])


@pytest.mark.parametrize("lost", [[], [0, 1, 9, 20]], ids=["reml", "means"])
def test_joint_covariance_agrees_with_each_standard_error(lost):
    loaves = level_mixes(bake(formulas="ABC").drop(index=lost))
    fit = fit_trial(loaves, "volume", [FORMULA])
    L = np.array([difference(fit, *pair) for pair in ("BA", "CA", "CB")])
    errors = [fit.contrast(row).standard_error for row in L]
    assert np.sqrt(np.diag(fit.covariance_of(L))) == pytest.approx(errors)


def test_residuals_of_mixes_are_those_of_their_means():
    loaves = bake()
    fit = fit_trial(loaves, "volume", [FORMULA])
    means = loaves.groupby(["formula", "mix"])["volume"].mean()
    expected = means - means.groupby("formula").transform("mean")
    assert fit.unit_residuals()["residual"].to_numpy() == pytest.approx(expected.to_numpy())
    inside = loaves["volume"] - loaves.groupby("mix")["volume"].transform("mean")
    assert fit.residuals()["residual"].to_numpy() == pytest.approx(inside.to_numpy())
    studentised = expected / np.sqrt(np.sum(expected**2) / 4 * (1 - 1 / 3))
    assert fit.unit_residuals()["standardised"].to_numpy() == pytest.approx(studentised.to_numpy())


def test_many_responses_are_judged_as_one_is():
    loaves = bake().drop(index=[0, 1, 9, 20]).reset_index(drop=True)
    Y = np.random.default_rng(1).normal(size=(20, 30))
    model = TrialModel.of(loaves, [FORMULA, TIN])
    L = model.design.at({"formula": "B"}) - model.design.at({"formula": "A"})
    many = model.judge(Y, L)
    assert set(many.way) == {"reml", "means"}
    for j in range(30):
        fit = fit_trial(loaves.assign(volume=Y[:, j]), "volume", [FORMULA, TIN])
        one = fit.contrast(L)
        assert (one.estimate, one.standard_error, one.p_value) == pytest.approx(
            (many.estimate[j], many.standard_error[j], many.p_value[j]), rel=1e-6
        )


def test_mixes_that_are_all_the_same_on_average_give_no_interval():
    loaves = bake(mixes=2).drop(index=[0, 1]).reset_index(drop=True)
    half = loaves.groupby("mix").cumcount() % 2
    loaves["volume"] = 4.0 + np.where(half == 0, 0.3, -0.3)
    fit = fit_trial(loaves, "volume", [FORMULA])
    found = fit.contrast(difference(fit, "B", "A"))
    assert (found.way, found.why) == ("none", "no variation")
    assert found.estimate == pytest.approx(0, abs=1e-12)
    assert np.isnan([found.standard_error, found.df, found.p_value]).all()


def test_a_fit_stuck_at_the_edge_is_judged_on_the_means():
    """Two mixes of each formula with loaves lost: a third of such fits have no inner optimum."""
    loaves = bake(mixes=2).drop(index=[0, 1, 9]).reset_index(drop=True)
    model = TrialModel.of(loaves, [FORMULA])
    L = model.design.at({"formula": "B"}) - model.design.at({"formula": "A"})
    fitted = Fitted(model.arrangement_for(L[None]), np.random.default_rng(3).normal(size=(13, 200)))
    judged = fitted.contrast(L[None])
    assert set(judged.why) == {"positive", "unbalanced", "edge"}
    assert set(judged.way[judged.why == "edge"]) == {"means"}
    assert np.isfinite(judged.p_value).all()


loaf_values = st.floats(-1e3, 1e3, allow_nan=False).map(lambda value: round(value, 2))


@given(
    values=st.lists(loaf_values, min_size=16, max_size=16),
    lost=st.sets(st.integers(0, 15), max_size=8),
    days=st.sampled_from([1, 2]),
)
def test_no_number_is_missing_without_a_reason(values, lost, days):
    loaves = bake(mixes=4 // days, loaves=2, days=days)
    loaves = loaves.assign(volume=values).drop(index=sorted(lost))
    assume(loaves["formula"].nunique() == 2)
    fit = fit_trial(loaves, "volume", [FORMULA])
    found = fit.contrast(difference(fit, "B", "A"))
    numbers = [found.standard_error, found.df, found.p_value, found.ci_low, found.ci_high]
    assert np.isnan(numbers).all() if found.way == "none" else np.isfinite(numbers).all()
    assert found.why in {
        "positive",
        "balanced",
        "unbalanced",
        "edge",
        "one unit",
        "no variation",
        "loaves",
        "tied",
    }


@pytest.mark.parametrize(
    "change", [lambda y: 1000 * y, lambda y: y + 1e6], ids=["other unit", "other zero"]
)
@pytest.mark.parametrize("lost", [[], [0, 1, 9, 20]], ids=["whole", "lost"])
def test_unit_and_zero_point_change_nothing(change, lost):
    loaves = level_mixes(bake().drop(index=lost))
    fits = [
        fit_trial(loaves.assign(volume=values), "volume", [FORMULA, TIN])
        for values in (loaves["volume"], change(loaves["volume"]))
    ]
    first, second = (fit.contrast(difference(fit, "B", "A")) for fit in fits)
    assert (second.t_value, second.df) == pytest.approx((first.t_value, first.df), rel=1e-5)


def test_row_order_changes_nothing():
    loaves = bake(seed=7).drop(index=[0, 1, 9, 20])
    first, second = (
        fit_trial(table, "volume", [FORMULA, TIN])
        for table in (loaves, loaves.sample(frac=1, random_state=2))
    )
    assert second.contrast(difference(second, "B", "A")).p_value == pytest.approx(
        first.contrast(difference(first, "B", "A")).p_value, rel=1e-6
    )
