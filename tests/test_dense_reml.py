"""The dense check itself, checked: R's Kenward-Roger values where every variance is positive,
classical error strata where one is negative. Values and sources: tests/reference/expected.json and
README.md there."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from .dense_reml import fit_dense

REFERENCE = Path(__file__).parent / "reference"
EXPECTED = {
    entry["name"]: entry["expected"]
    for entry in json.loads((REFERENCE / "expected.json").read_text())
}


def columns(values):
    """Sum-to-zero columns of a category."""
    levels, codes = np.unique(np.asarray(values).astype(str), return_inverse=True)
    k = len(levels)
    return np.vstack([np.eye(k - 1), -np.ones(k - 1)])[codes]


def product(first, second):
    """Columns of an interaction."""
    return (first[:, :, None] * second[:, None, :]).reshape(len(first), -1)


def rows_of(parts, i):
    """L that picks the columns of part i."""
    ends = np.cumsum([part.shape[1] for part in parts])
    start = ends[i] - parts[i].shape[1]
    return np.eye(ends[-1])[start : ends[i]]


def split_plot(name, response, whole, sub, groups, interaction=True):
    """Fit a published split plot: parts are mean, whole-plot factor, sub-plot factor,
    interaction.
    """
    data = pd.read_csv(REFERENCE / f"{name}.csv")
    a, b = columns(data[whole]), columns(data[sub])
    parts = [np.ones((len(data), 1)), a, b] + ([product(a, b)] if interaction else [])
    labels = {
        "×".join(g): data[list(g)].astype(str).agg("|".join, axis=1).to_numpy() for g in groups
    }
    return fit_dense(data[response].to_numpy(float), np.hstack(parts), labels), parts


SPLIT_PLOTS = [
    (
        "cake",
        "angle",
        "recipe",
        "temperature",
        [("replicate",), ("replicate", "recipe")],
        True,
        EXPECTED["cake_split_plot"]["replicate_as_block"]["tests"],
    ),
    (
        "cake",
        "angle",
        "recipe",
        "temperature",
        [("replicate", "recipe")],
        True,
        EXPECTED["cake_split_plot"]["replicate_ignored"]["tests"],
    ),
    (
        "oats",
        "yield",
        "variety",
        "nitrogen",
        [("block",), ("block", "variety")],
        True,
        EXPECTED["oats_split_plot"]["tests"],
    ),
    (
        "oats_unbalanced",
        "yield",
        "variety",
        "nitrogen",
        [("block",), ("block", "variety")],
        False,
        EXPECTED["oats_split_plot_unbalanced"]["tests"],
    ),
    (
        "oats_unbalanced",
        "yield",
        "variety",
        "nitrogen",
        [("block",), ("block", "variety")],
        True,
        EXPECTED["oats_split_plot_unbalanced"]["with_interaction"]["tests"],
    ),
    (
        "tv_panel",
        "Noise",
        "TVset",
        "Picture",
        [("Assessor",), ("Assessor", "TVset"), ("Assessor", "Picture")],
        True,
        EXPECTED["tv_panel"]["Noise"]["tests"],
    ),
]


IDS = ["cake in blocks", "cake", "oats", "oats unbalanced", "with interaction", "tv panel"]
HEAVY = {"cake in blocks", "cake", "tv panel"}  # hundreds of rows: a minute together, on demand


@pytest.mark.parametrize(
    ("name", "response", "whole", "sub", "groups", "interaction", "tests"),
    [
        pytest.param(*case, id=of, marks=[pytest.mark.benchmark] if of in HEAVY else [])
        for of, case in zip(IDS, SPLIT_PLOTS, strict=True)
    ],
)
def test_f_tests_equal_r(name, response, whole, sub, groups, interaction, tests):
    fit, parts = split_plot(name, response, whole, sub, groups, interaction)
    for i, expected in enumerate(tests, start=1):
        found = fit.f_test(rows_of(parts, i))
        for key in ("f_value", "num_df", "den_df", "p_value"):
            assert found[key] == pytest.approx(expected[key], rel=2e-5), (expected["term"], key)


def test_machines_equal_r():
    expected = EXPECTED["machines"]
    data = pd.read_csv(REFERENCE / "machines.csv")
    parts = [np.ones((len(data), 1)), columns(data.machine)]
    groups = {
        "worker": data.worker.to_numpy(),
        "cell": (data.worker.astype(str) + data.machine).to_numpy(),
    }
    fit = fit_dense(data.score.to_numpy(), np.hstack(parts), groups)
    assert fit.f_test(rows_of(parts, 1))["f_value"] == pytest.approx(
        expected["tests"][0]["f_value"], rel=1e-6
    )
    assert fit.variances["worker"] == pytest.approx(expected["variances"]["worker"], rel=1e-6)
    mean_a = fit.contrast(np.array([1.0, 1.0, 0.0]))
    for key, name in [("estimate", "mean"), ("standard_error", "standard_error"), ("df", "df")]:
        assert mean_a[key] == pytest.approx(expected["means_machine"][0][name], rel=1e-6)


@pytest.mark.parametrize("factor", ["harvest", "sow"])
def test_beets_equal_the_paper(factor):
    data = pd.read_csv(REFERENCE / "beets.csv")
    parts = [np.ones((len(data), 1)), columns(data.block), columns(data.harvest), columns(data.sow)]
    fit = fit_dense(
        data.sugpct.to_numpy(), np.hstack(parts), {"plot": (data.block + data.harvest).to_numpy()}
    )
    found = fit.f_test(rows_of(parts, ["mean", "block", "harvest", "sow"].index(factor)))
    for key, value in EXPECTED["beets_split_plot"][factor].items():
        # scipy's minimiser of 1.12 stops at 3e-6
        assert found[key] == pytest.approx(value, rel=1e-5)


def test_negative_variance_gives_the_classical_analysis():
    """Balanced split plot whose whole plots differ less than chance: the unbounded fit is the
    strata analysis.
    """
    rng = np.random.default_rng(5)
    mixes, loaves = 6, 4
    y = rng.normal(size=(mixes, loaves))
    y += 0.9 * (y.mean() - y.mean(axis=1, keepdims=True))
    formula = np.repeat([-1.0, 1.0], 3)
    X = np.column_stack([np.ones(24), np.repeat(formula, loaves)])
    fit = fit_dense(y.ravel(), X, {"mix": np.repeat(np.arange(mixes), loaves)})
    means = y.mean(axis=1)
    rest = means - np.where(formula > 0, means[3:].mean(), means[:3].mean())
    error = np.sqrt(rest @ rest / 4 / 6)
    assert fit.variances["mix"] < 0
    found = fit.contrast(np.array([0.0, 1.0]))
    assert found["standard_error"] == pytest.approx(error, rel=1e-6)
    assert found["df"] == pytest.approx(4, rel=1e-6)


def test_bounded_fit_stays_at_zero():
    rng = np.random.default_rng(5)
    y = rng.normal(size=(6, 4))
    y += 0.9 * (y.mean() - y.mean(axis=1, keepdims=True))
    fit = fit_dense(y.ravel(), np.ones((24, 1)), {"mix": np.repeat(np.arange(6), 4)}, bounded=True)
    assert fit.variances["mix"] == pytest.approx(0, abs=1e-9)
    assert fit.variances["residual"] == pytest.approx(np.var(y, ddof=1), rel=1e-6)
