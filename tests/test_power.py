"""Power against published tables and values that R and Python computed
(reference/planning_checks.json has sources).
"""

import itertools
import json
import math
from pathlib import Path

import numpy as np
import pytest
from fairloaf.analysis.methods.multiplicity import dunnett_critical, tukey_critical
from fairloaf.analysis.methods.power import (
    assurance,
    best_repeats,
    lenth_shown_with,
    mean_of_possible_sd,
    own_critical,
    power_of_t,
    shown_with,
    upper_sd,
)
from scipy.special import fdtri, ncfdtr

from .published import mean_of_estimated_sd

CHECKS = {
    entry["name"]: entry["expected"]
    for entry in json.loads(
        (Path(__file__).parent / "reference" / "planning_checks.json").read_text("utf-8")
    )
}


def power_of_f(
    noncentrality: float, num_df: float, den_df: float, confidence: float = 0.95
) -> float:
    """Return the chance that F lies beyond its limit; noncentrality λ: the sum of squared
    standardised effects.
    """
    limit = fdtri(num_df, den_df, confidence)
    return float(1 - ncfdtr(num_df, den_df, noncentrality, limit))


def test_power_of_t():
    for row in CHECKS["power_of_t"]:
        critical = own_critical(row["df"])
        assert float(power_of_t(row["nc"], row["df"], critical)) == pytest.approx(
            row["power"], abs=1e-8
        )


def test_differences_in_standard_errors_that_are_shown():
    for row in CHECKS["difference_in_standard_errors"]:
        found = shown_with(row["power"], row["df"], own_critical(row["df"]))
        assert found == pytest.approx(row["delta"], rel=1e-7)


def test_no_holes_in_the_lower_tail():
    """The library's noncentral t is missing at scattered points far out; the power never is, and
    never falls.
    """
    at = np.linspace(0, 40, 401)
    for df in (1, 2, 3, 5, 10):
        power = power_of_t(at, df, own_critical(df))
        assert np.isfinite(power).all()
        assert (np.diff(power) > -1e-7).all()


def test_no_holes_far_out():
    """Further out it is missing within the limits, too; beside so large a noncentrality the normal
    deviate counts for nothing.
    """
    at = np.linspace(20, 200, 721)
    for df, critical in itertools.product((1, 2, 5, 30, 200), (2.0, 4.3, 12.7, 30.0, 60.0)):
        power = power_of_t(at, df, critical)
        assert np.isfinite(power).all()
        assert (np.diff(power) > -1e-7).all()
        assert power[-1] > 0.75


def test_estimated_standard_deviations():
    for row in CHECKS["mean_of_estimated_sd"]:
        assert mean_of_estimated_sd(row["df"]) == pytest.approx(row["c4"], rel=1e-9)
    for row in CHECKS["upper_limit_of_sd_80"]:
        assert upper_sd(row["nu"]) == pytest.approx(row["factor"], rel=1e-9)


def test_what_a_standard_deviation_may_be():
    """The mean of √(ν/χ²) is √π at ν = 2 (Γ(½)/Γ(1)) and without bound towards 1, where the upper
    limit holds it.
    """
    assert mean_of_possible_sd(2) == pytest.approx(np.sqrt(np.pi), rel=1e-12)
    assert mean_of_possible_sd(1) == upper_sd(1)
    rough = np.array([mean_of_possible_sd(df) for df in np.linspace(0.8, 30, 200)])
    assert (np.diff(rough) < 0).all()
    assert rough[-1] == pytest.approx(1, abs=0.03)


def test_power_of_f_of_the_split_plot():
    for row in CHECKS["split_plot_f"]:
        assert power_of_f(row["lambda_a"], row["num_a"], row["den_a"]) == pytest.approx(
            row["power_a"], abs=1e-7
        )
        assert power_of_f(row["lambda_b"], row["num_b"], row["den_b"]) == pytest.approx(
            row["power_b"], abs=1e-7
        )


def test_several_formulas_at_the_limit_that_will_be_used():
    for row in CHECKS["several_formulas"]:
        k, df = row["k"], row["df"]
        tukey = tukey_critical(0.95, df, k)
        dunnett = dunnett_critical(0.95, df, np.full((k - 1, k - 1), 0.5) + np.eye(k - 1) / 2)
        assert (tukey, dunnett) == pytest.approx((row["tukey"], row["dunnett"]), rel=1e-6)
        assert shown_with(0.8, df, tukey) == pytest.approx(row["delta_tukey"], rel=1e-6)
        assert shown_with(0.8, df, dunnett) == pytest.approx(row["delta_dunnett"], rel=1e-6)


def test_assurance_averages_over_an_unsure_variance():
    for row in CHECKS["assurance"]:
        found = assurance(row["delta_over_se"], row["df"], own_critical(row["df"]), row["nu"])
        assert found == pytest.approx(row["assurance"], abs=2e-3)


def test_loaves_of_a_mix_that_cost_least():
    for row in CHECKS["loaves_per_mix"]:
        assert (
            best_repeats(row["cost_mix"], row["cost_loaf"], row["var_mix"], row["var_loaf"])
            == row["whole"]
        )
    with pytest.raises(ValueError, match="above zero"):
        best_repeats(10, 5, 0.0, 1.0)


@pytest.mark.parametrize("effects", [6, 15])
def test_lenth(effects):
    row = next(row for row in CHECKS["lenth"] if row["effects"] == effects)
    assert lenth_shown_with(0.8, effects) == pytest.approx(
        row["difference_in_standard_errors_for_80"], abs=0.05
    )


def test_nothing_is_shown_without_degrees_of_freedom():
    assert math.isnan(shown_with(0.8, 0, math.nan))
