"""Numbers as numbers: line, curve, lack of fit, and the best setting with Fieller's interval."""

import json

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import factor_effects
from fairloaf.analysis.factors.curves import fieller_turning_point
from scipy import stats

from .trials_from_tables import REFERENCE, reference_table, trial_from

ENTRIES = json.loads((REFERENCE / "expected.json").read_text("utf-8"))
EXPECTED = {entry["name"]: entry["expected"] for entry in ENTRIES}
FOUR_FIGURES = 5e-5


def cake():
    table = reference_table("cake.csv").assign(
        mix=lambda d: d["replicate"].astype(str) + d["recipe"]
    )
    return trial_from(
        table,
        "angle",
        ["formula", "temperature"],
        {"formula": "recipe", "day": "replicate"},
        numbers=["temperature"],
    )


def bromate():
    return trial_from(
        reference_table("bromate_bread.csv"),
        "loaf_ml",
        ["formula", "bromate_mg"],
        {"formula": "variety"},
        numbers=["bromate_mg"],
    )


def etch_rate():
    return trial_from(
        reference_table("etch_rate.csv"), "etch_rate", ["power_w"], numbers=["power_w"]
    )


@pytest.mark.parametrize(
    ("trial", "expected", "df"),
    [
        (cake, EXPECTED["cake_split_plot"]["polynomial_contrasts_temperature"], 210),
        (bromate, EXPECTED["bromate_bread_volumes"]["polynomial_contrasts_bromate"], 64),
        (etch_rate, EXPECTED["etch_rate_one_way"]["polynomial_contrasts"], 16),
    ],
)
def test_line_and_curve_are_the_polynomial_contrasts_of_the_means(trial, expected, df):
    """R 4.2.2, emmeans: contrast(means, "poly")."""
    tests = factor_effects(trial()).curves[0].tests.set_index("term")
    for term, reference in zip(("line", "curve"), expected[:2], strict=True):
        assert tests.loc[term, "f_value"] == pytest.approx(
            reference["t_value"] ** 2, rel=FOUR_FIGURES
        )
        assert tests.loc[term, "p_value"] == pytest.approx(reference["p_value"], rel=FOUR_FIGURES)
        assert tests.loc[term, "den_df"] == pytest.approx(df)


def test_lack_of_fit_is_what_the_higher_powers_hold():
    """Two orthogonal contrasts are left beside line and curve: F is the mean of their squared t."""
    cubic, quartic = EXPECTED["bromate_bread_volumes"]["polynomial_contrasts_bromate"][2:]
    test = factor_effects(bromate()).curves[0].tests.set_index("term").loc["lack of fit"]
    assert test["num_df"] == 2
    assert test["f_value"] == pytest.approx(
        (cubic["t_value"] ** 2 + quartic["t_value"] ** 2) / 2, rel=FOUR_FIGURES
    )


def test_the_best_bromate_level_with_fiellers_interval():
    """Larmour's loaf volumes; R 4.2.2, lm and Fieller's formula (expected.json,
    bromate_bread_volumes).
    """
    curve = factor_effects(bromate()).curves[0]
    expected = EXPECTED["bromate_bread_volumes"]["quadratic"]
    assert curve.degree == 2
    assert curve.coefficients[1:] == pytest.approx(
        (expected["linear"], expected["quadratic"]), rel=FOUR_FIGURES
    )
    assert (curve.best.kind, curve.best.where, curve.best.interval) == (
        "highest",
        "inside",
        "fieller",
    )
    assert curve.best.estimate == pytest.approx(expected["best_bromate_mg"], rel=FOUR_FIGURES)
    assert (curve.best.ci_low, curve.best.ci_high) == pytest.approx(
        expected["fieller_95"], rel=FOUR_FIGURES
    )


def test_a_straight_line_has_a_slope_and_no_best_setting():
    """R 4.2.2, lmer (expected.json, cake_split_plot, straight_line)."""
    curve = factor_effects(cake()).curves[0]
    assert curve.degree == 1
    assert curve.best is None
    expected = EXPECTED["cake_split_plot"]["straight_line"]
    assert curve.slope == pytest.approx(expected["slope_per_degree"], rel=FOUR_FIGURES)


def test_the_etch_rates_curve():
    """Montgomery, 8th ed., p. 90, from memory: 1147.77 − 8.2555 x + 0.028375 x²."""
    curve = factor_effects(etch_rate()).curves[0]
    constant, slope, bend = curve.coefficients
    c = curve.centre
    in_powers_of_x = (constant - slope * c + bend * c**2, slope - 2 * bend * c, bend)
    assert in_powers_of_x == pytest.approx((1147.77, -8.2555, 0.028375), rel=1e-5)
    assert (curve.best.kind, curve.best.where) == ("lowest", "beyond")
    assert np.isnan(curve.best.estimate)


def test_fiellers_interval_holds_the_settings_whose_slope_may_be_zero():
    slope, bend = 0.4, -1.1
    covariance = np.array([[0.05, 0.01], [0.01, 0.04]])
    t = stats.t.ppf(0.975, 20)
    low, high = fieller_turning_point(slope, bend, covariance, t)
    for x in (low, high):
        tangent = slope + 2 * bend * x
        error = np.sqrt(covariance[0, 0] + 4 * x * covariance[0, 1] + 4 * x**2 * covariance[1, 1])
        assert abs(tangent) / error == pytest.approx(t, rel=1e-9)
    assert low < -slope / (2 * bend) < high


def test_fiellers_interval_is_unbounded_when_the_bend_is_unsure():
    assert fieller_turning_point(0.4, -0.2, np.diag([0.01, 0.04]), 2.0) == (-np.inf, np.inf)


def humped(best, seed=0, n=6, noise=0.02, bend=0.0004):
    """Loaves whose volume is highest at `best` minutes; proof times 45 to 75; invented."""
    rng = np.random.default_rng(seed)
    proof = np.repeat([45.0, 55, 65, 75], n)
    volume = 4.5 - bend * (proof - best) ** 2 + rng.normal(0, noise, len(proof))
    table = pd.DataFrame({"proof_min": proof, "specific_volume": volume})
    return trial_from(table, "specific_volume", ["proof_min"], numbers=["proof_min"])


@pytest.mark.parametrize("best", [52.0, 60.0, 68.0])
def test_a_hump_is_found_where_it_is(best):
    curve = factor_effects(humped(best)).curves[0]
    assert curve.best.kind == "highest"
    assert curve.best.ci_low <= curve.best.estimate <= curve.best.ci_high
    assert curve.best.estimate == pytest.approx(best, abs=3)


def test_nothing_is_said_beyond_what_was_baked():
    f = factor_effects(humped(95.0, bend=0.001))
    curve = f.curves[0]
    assert curve.best.where == "beyond"
    assert (curve.fitted["value"].min(), curve.fitted["value"].max()) == (45, 75)
    assert any("beyond what was baked, and is not guessed" in words for words in f.sentences)


def test_fiellers_interval_is_cut_at_what_was_baked():
    curve = factor_effects(humped(73.5, seed=2)).curves[0]
    assert curve.best.interval == "cut at the range"
    assert curve.best.ci_high == 75


def test_a_number_with_many_values_enters_as_a_curve():
    rng = np.random.default_rng(8)
    water = rng.uniform(55, 70, 40)
    table = pd.DataFrame(
        {
            "water_pct": water,
            "tin": ["a", "b"] * 20,
            "y": 3 + 0.05 * (water - 60) + rng.normal(0, 0.05, 40),
        }
    )
    f = factor_effects(trial_from(table, "y", ["water_pct", "tin"], numbers=["water_pct"]))
    curve = f.curves[0]
    assert f.tests.set_index("term").loc["water_pct", "num_df"] == 2
    assert "lack of fit" not in set(curve.tests["term"])
    assert curve.slope == pytest.approx(0.05, abs=0.01)
    assert curve.slope_ci_low < 0.05 < curve.slope_ci_high
