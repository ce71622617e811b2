"""Tukey, Dunnett and Holm against published examples, and laws that need no reference."""

import itertools
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.methods.multiplicity import (
    correlation_of,
    dunnett_critical,
    dunnett_p_value,
    holm,
    tukey_critical,
    tukey_p_value,
)
from scipy import special

REFERENCE = Path(__file__).parent / "reference"
EXPECTED = {
    entry["name"]: entry for entry in json.loads((REFERENCE / "expected.json").read_text("utf-8"))
}


def correlation_with_control(control: int, others: list[int]) -> np.ndarray:
    """Return the correlation of differences from one control, from the sizes of the groups."""
    errors = np.sqrt(1 / control + 1 / np.array(others))
    shared = (1 / control) / np.outer(errors, errors)
    np.fill_diagonal(shared, 1.0)
    return shared


# Dunnett 1955, J. Amer. Statist. Assoc. 50: 1096-1121: blood counts, a control group of 6, drugs 4
# and 5.
def test_dunnett_matches_his_blood_counts():
    expected = EXPECTED["dunnett_1955"]["expected"]
    R = correlation_with_control(6, [4, 5])
    p = [dunnett_p_value(t, 12, R) for t in expected["t_value"]]
    assert p == pytest.approx(expected["p_value"], rel=1e-6)
    assert dunnett_critical(0.95, 12, R) == pytest.approx(expected["critical_95"], rel=1e-8)


# The same paper's cloth example: three processes against a standard, 3 specimens each (data in
# scipy's tests).
def test_dunnett_matches_his_equal_groups():
    expected = EXPECTED["dunnett_equal_groups"]["expected"]
    R = correlation_with_control(3, [3, 3, 3])
    p = [dunnett_p_value(t, 8, R) for t in expected["t_value"]]
    assert p == pytest.approx(expected["p_value"], rel=1e-6)
    # his table, 3 treatments, 8 df
    assert dunnett_critical(0.95, 8, R) == pytest.approx(2.88, abs=0.005)


# Westfall et al. 1999, Multiple Comparisons and Multiple Tests, p. 66-80: recovery minutes, groups
# of 20, 3, 3, 15.
def test_dunnett_and_tukey_match_the_recovery_times():
    expected = EXPECTED["recovery_dunnett"]["expected"]
    counts = pd.read_csv(REFERENCE / "recovery.csv")["blanket"].value_counts()
    R = correlation_with_control(counts["b0"], [counts[b] for b in ("b1", "b2", "b3")])
    two_sided = expected["two_sided"]
    p = [dunnett_p_value(t, 37, R) for t in two_sided["t_value"]]
    assert p == pytest.approx(two_sided["p_value"], rel=1e-6)
    assert dunnett_critical(0.95, 37, R) == pytest.approx(two_sided["critical"], rel=1e-8)
    pairs = expected["pairs_tukey_kramer"]
    assert [tukey_p_value(pair["t_value"], 37, 4) for pair in pairs] == pytest.approx(
        [pair["p_value"] for pair in pairs], rel=1e-6
    )


# scipy's tests of its Tukey test, with values from two general statistics packages; unequal sizes
# by Tukey-Kramer.
@pytest.mark.parametrize("case", ["equal_sizes", "unequal_sizes_tukey_kramer"])
def test_tukey_matches_three_groups(case):
    for pair in EXPECTED["tukey_three_groups"]["expected"][case]:
        half = tukey_critical(0.95, pair["df"], 3) * pair["standard_error"]
        assert pair["estimate"] - half == pytest.approx(pair["ci_low"], abs=1e-6)
        assert tukey_p_value(pair["t_value"], pair["df"], 3) == pytest.approx(
            pair["p_value"], rel=1e-6
        )


# R's help page of TukeyHSD: breaks of yarn by tension, 18 looms each.
def test_tukey_matches_the_yarn():
    expected = EXPECTED["warpbreaks_tukey"]["expected"]
    groups = list(expected["groups"].values())
    error = np.sqrt(np.mean([np.var(g, ddof=1) for g in groups]) * 2 / 18)
    for pair in expected["pairs"]:
        assert tukey_p_value(pair["difference"] / error, 51, 3) == pytest.approx(
            pair["p_value"], rel=1e-6
        )


# scipy's own integrals of the same chance (Copenhaver and Holland 1988, J. Statist. Comput. Simul.
# 30: 1-15), which it gives to about twelve digits
@pytest.mark.parametrize("n_means", [3, 12, 50])
def test_tukey_matches_the_studentized_range_of_few_means_and_of_many(n_means):
    from scipy.stats import studentized_range

    for df, t in itertools.product((3, 30), (1.9, 4.5)):
        expected = studentized_range.sf(np.sqrt(2) * t, n_means, df)
        assert tukey_p_value(t, df, n_means) == pytest.approx(expected, abs=2e-12)
    assert tukey_p_value(0, 30, n_means) == 1
    assert tukey_p_value(100, 30, n_means) == 1e-12


@pytest.mark.parametrize("df", [0.7, 1.0, 1.3, 2.0, 5.7, 40.0, np.inf])
def test_a_single_comparison_is_the_t_test(df):
    t = special.stdtrit(df, 0.975) if np.isfinite(df) else special.ndtri(0.975)
    assert tukey_critical(0.95, df, 2) == pytest.approx(t, rel=1e-6)
    assert dunnett_critical(0.95, df, np.eye(1)) == pytest.approx(t, rel=1e-6)
    t = min(t, 100)  # of many standard errors on less than one df, fewer digits are right
    p = special.stdtr(df, -t) * 2 if np.isfinite(df) else special.ndtr(-t) * 2
    assert tukey_p_value(t, df, 2) == pytest.approx(p, rel=1e-8)
    assert dunnett_p_value(t, df, np.eye(1)) == pytest.approx(p, rel=1e-8)


def test_the_more_alike_the_contrasts_the_less_there_is_to_adjust():
    critical = [
        dunnett_critical(0.95, 8, np.array([[1.0, r], [r, 1.0]])) for r in (0.0, 0.5, 0.9, 0.99)
    ]
    assert critical == sorted(critical, reverse=True)
    assert special.stdtrit(8, 0.975) < critical[-1] < 2.4


@pytest.mark.parametrize(("df", "apart"), [(0.05, 0.5), (1e7, 1e-9), (np.inf, 0.0)])
def test_where_the_integrals_are_inexact_limit_and_p_value_still_agree(df, apart):
    R = np.full((6, 6), 1 - apart) + apart * np.eye(6)
    assert dunnett_p_value(dunnett_critical(0.95, df, R), df, R) == pytest.approx(0.05, rel=1e-6)
    assert tukey_p_value(tukey_critical(0.95, df, 7), df, 7) == pytest.approx(0.05, rel=1e-6)


def test_the_sign_of_a_contrast_does_not_matter():
    R = correlation_with_control(4, [3, 5, 6])
    turned = R * np.outer([1, -1, 1], [1, -1, 1])
    assert dunnett_p_value(2.2, 9.5, turned) == pytest.approx(
        dunnett_p_value(2.2, 9.5, R), rel=1e-6
    )


def test_correlations_without_a_shared_deviate_come_close():
    """Four contrasts whose correlations no one deviate explains: the approximation against 400,000
    draws.
    """
    rng = np.random.default_rng(20261125)
    R = np.array([[1, 0.6, 0.3, 0.4], [0.6, 1, 0.5, 0.2], [0.3, 0.5, 1, 0.6], [0.4, 0.2, 0.6, 1]])
    z = rng.multivariate_normal(np.zeros(4), R, size=400_000)
    t = np.abs(z).max(axis=1) / np.sqrt(rng.chisquare(7, size=400_000) / 7)
    assert dunnett_p_value(2.5, 7, R) == pytest.approx((t > 2.5).mean(), abs=0.003)


# Holm 1979: the smallest of four p-values times 4, the next times 3 …, never falling.
def test_holm_steps_down():
    adjusted = holm(np.array([0.03, 0.01, np.nan, 0.04, 0.02]))
    assert adjusted == pytest.approx([0.06, 0.04, np.nan, 0.06, 0.06], nan_ok=True)
    assert holm(np.array([0.7, 0.8])).max() == 1.0


@pytest.mark.parametrize("unknown", [np.nan, 0.0])
def test_contrasts_without_a_joint_covariance_have_the_widest_limit(unknown):
    known = correlation_of(np.array([[4.0, 3.0], [3.0, 9.0]]))
    assert known == pytest.approx(np.array([[1, 0.5], [0.5, 1]]))
    alone = correlation_of(np.array([[4.0, unknown], [unknown, unknown]]))
    assert (alone == np.eye(2)).all()
    # Šidák's t for two: each at 1 - sqrt(0.95), with no df to spare
    assert dunnett_critical(0.95, np.inf, alone) == pytest.approx(2.2365, abs=1e-4)
    assert dunnett_critical(0.95, np.inf, alone) > dunnett_critical(0.95, np.inf, known)
