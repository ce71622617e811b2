"""NIST's certified analyses of variance: how many digits of F are right, and not one fewer than
scipy gives.

NIST Statistical Reference Datasets, one-way analysis of variance, certified to 15 digits:
https://www.itl.nist.gov/div898/strd/anova/anova.html. SmLs04–06 have values near 10⁶ and SmLs07–09
near 10¹², all varying in the first decimal: as a computer stores them they hold about 10 and 4
digits of F, and no program can do better.
"""

import numpy as np
import pytest
from fairloaf.analysis.mixed_model.fitting import fit_reml
from scipy import stats

from .published import nist, sum_to_zero, table

AT_LEAST = {
    "AtmWtAg": 9,
    "SiRstv": 12,
    "SmLs01": 9,
    "SmLs02": 9,
    "SmLs03": 9,
    "SmLs04": 9,
    "SmLs05": 9,
    "SmLs06": 9,
    "SmLs07": 4,
    "SmLs08": 4,
    "SmLs09": 4,
}


def digits(value, certified):
    """Right digits, by the relative error; never more than the 14 that a 15-digit certificate can
    tell.
    """
    return min(14.0, -np.log10(max(abs(value / certified - 1), 1e-16)))


def treatment(labels):
    """Columns of a category, the first level in none."""
    return np.equal.outer(labels, np.unique(labels)[1:]).astype(float)


@pytest.mark.parametrize("coding", [sum_to_zero, treatment])
@pytest.mark.parametrize("entry", nist(), ids=lambda entry: entry["name"])
def test_digits_of_f(entry, coding):
    data, certified = table(entry["data_file"]), entry["expected"]
    y, group = data["y"].astype(float), data["group"]
    columns = coding(group)
    k = columns.shape[1] + 1
    ours = fit_reml(y, np.column_stack([np.ones(len(y)), columns]), {}).f_test(np.eye(k)[1:])
    theirs = stats.f_oneway(*(y[group == level] for level in np.unique(group))).statistic
    f = certified["between"]["f_value"]
    assert ours.num_df == certified["between"]["df"]
    assert ours.den_df == pytest.approx(certified["within"]["df"], rel=1e-9)
    assert digits(ours.f_value, f) >= AT_LEAST[entry["name"]]
    assert digits(ours.f_value, f) >= digits(theirs, f) - 0.01


def test_residual_variance_and_digits_of_a_group_that_is_random():
    # The same certified mean squares give the variances of the balanced one-way random model:
    # residual = MS within, group = (MS between − MS within) / n (Searle, Casella & McCulloch 1992,
    # ch. 3).
    entry = next(e for e in nist() if e["name"] == "SmLs03")
    data, certified = table(entry["data_file"]), entry["expected"]
    y, group = data["y"].astype(float), data["group"]
    m = fit_reml(y, np.ones((len(y), 1)), {"group": group})
    within = certified["within"]["mean_sq"]
    between = (certified["between"]["mean_sq"] - within) / (len(y) / certified["groups"])
    assert m.variances == pytest.approx({"group": between, "residual": within}, rel=1e-9)
