"""The fast engine against the plain n × n formulas of dense_reml.py, on random layouts.

Estimates are compared in units of their standard errors; 1e-5 throughout, as far as the plain one
converges. A few layouts of each kind are tried here, fifty in benchmarks/test_engine_layouts.py.
"""

import numpy as np
import pytest
from fairloaf.analysis.mixed_model.fitting import NotIdentifiable, fit_reml

from .dense_reml import fit_dense

KINDS = ("one grouping", "nested", "crossed", "three groupings")
FEW = 6


def random_layout(
    kind: str, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """An unbalanced trial with a factor on mixes, a factor and a covariate on loaves, true
    variances 0, 1 or 4.
    """
    days, mixes, loaves = rng.integers(4, 6), rng.integers(2, 4), rng.integers(2, 5)
    mix = np.repeat(np.arange(days * mixes), loaves)
    mix = mix[np.sort(rng.permutation(len(mix))[: int(rng.uniform(0.75, 1) * len(mix))])]
    labels = {"day": mix // mixes, "mix": mix, "assessor": rng.integers(0, 4, len(mix))}
    names = {
        "one grouping": ("mix",),
        "nested": ("day", "mix"),
        "crossed": ("mix", "assessor"),
        "three groupings": ("assessor", "day", "mix"),
    }[kind]
    formula, tin = rng.permutation(np.arange(days * mixes) % 3)[mix], rng.integers(0, 2, len(mix))
    X = np.column_stack(
        [np.ones(len(mix)), formula == 1, formula == 2, tin, rng.normal(size=len(mix))]
    )
    y = 50 + rng.normal(size=len(mix))
    for name in names:
        y += rng.choice([0, 1, 2]) * rng.normal(size=labels[name].max() + 1)[labels[name]]
    return y, X, {name: labels[name] for name in names}


@pytest.mark.parametrize("kind", KINDS)
def test_layouts_agree_with_the_dense_formulas(kind):
    compared, negative = compare_layouts(kind, FEW)
    assert compared >= FEW // 2
    assert negative >= 1


def compare_layouts(kind: str, number: int) -> tuple[int, int]:
    """Compare so many layouts of a kind; how many had an inner optimum, and a negative variance
    there.
    """
    rng = np.random.default_rng(KINDS.index(kind))
    compared = negative = 0
    for _ in range(number):
        y, X, groups = random_layout(kind, rng)
        fast, dense = fit_reml(y, X, groups), fit_dense(y, X, groups)
        assert fast.at_edge == dense.at_edge
        if fast.at_edge:
            continue
        compared += 1
        negative += bool(fast.negative)
        assert fast.variances == pytest.approx(dense.variances, rel=1e-5, abs=1e-6)
        errors = np.sqrt(np.diag(dense.covariance))
        assert fast.coefficients / errors == pytest.approx(
            dense.coefficients / errors, rel=1e-5, abs=1e-5
        )
        assert fast.covariance / np.outer(errors, errors) == pytest.approx(
            dense.covariance / np.outer(errors, errors), rel=1e-5, abs=1e-5
        )
        check_tests(fast, dense)
    return compared, negative


def check_tests(fast, dense):
    """Every coefficient's t test, and the F tests of both factors."""
    for L in np.eye(5):
        ours, plain = fast.contrast(L), dense.contrast(L)
        assert (ours.standard_error, ours.df) == pytest.approx(
            (plain["standard_error"], plain["df"]), rel=1e-5
        )
        assert (ours.t_value, ours.p_value) == pytest.approx(
            (plain["t_value"], plain["p_value"]), rel=1e-5, abs=1e-5
        )
    for L in (np.eye(5)[1:3], np.eye(5)[1:]):
        ours, plain = fast.f_test(L), dense.f_test(L)
        if not ours.scale_refused:
            assert (ours.f_value, ours.den_df, ours.p_value) == pytest.approx(
                (plain["f_value"], plain["den_df"], plain["p_value"]), rel=1e-5, abs=1e-5
            )


@pytest.mark.parametrize("kind", KINDS)
def test_bounded_fits_agree_with_the_dense_formulas(kind):
    assert compare_bounded(kind, FEW) >= 1


def compare_bounded(kind: str, number: int) -> int:
    """Compare so many bounded fits of a kind; how many held a variance at zero."""
    rng = np.random.default_rng(10 + KINDS.index(kind))
    held = 0
    for _ in range(number):
        y, X, groups = random_layout(kind, rng)
        fast, dense = fit_reml(y, X, groups, bounded=True), fit_dense(y, X, groups, bounded=True)
        held += 0 in fast.variances.values()
        assert fast.variances == pytest.approx(dense.variances, rel=1e-3, abs=1e-3)
        assert fast.coefficients == pytest.approx(dense.coefficients, rel=1e-4, abs=1e-4)
    return held


def test_identifiability_is_the_rank_of_the_projected_groupings():
    assert 3 <= compare_identifiable(30) <= 27


def compare_identifiable(number: int) -> int:
    """Compare so many layouts; how many were refused, as those whose projected groupings QGᵢQ are
    not independent must be (Searle, Casella & McCulloch 1992, ch. 11).
    """
    rng = np.random.default_rng(99)
    refused = 0
    for _ in range(number):
        n = rng.integers(7, 12)
        mix = rng.integers(0, 4, n)
        groups = {"mix": mix, "day": mix // 2 if rng.random() < 0.7 else mix % 3}
        X = np.column_stack([np.ones(n), rng.normal(size=n)])
        G = [np.equal.outer(g, g).astype(float) for g in groups.values()] + [np.eye(n)]
        project = np.eye(n) - X @ np.linalg.pinv(X)
        seen = np.column_stack([(project @ g @ project).ravel() for g in G])
        separable = np.linalg.matrix_rank(seen, tol=1e-8) == 3
        try:
            fit_reml(rng.normal(size=n), X, groups)
            assert separable
        except NotIdentifiable:
            refused += 1
            assert not separable
    return refused
