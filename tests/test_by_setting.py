"""Columns held once for every setting are the columns themselves, whatever is asked of them."""

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.mixed_model.by_setting import PART, BySetting, Centred
from fairloaf.analysis.model.bearing import error_df
from fairloaf.analysis.model.unit_means import Averaging, LeastSquares

N = PART + 500  # more than is looked at together


@pytest.fixture(params=["by setting", "row by row"])
def columns(request: pytest.FixtureRequest) -> BySetting:
    rng = np.random.default_rng(1)
    values, which = rng.normal(size=(7, 3)), rng.integers(0, 7, N)
    return (
        BySetting(values, which) if request.param == "by setting" else BySetting.of(values[which])
    )


def test_sums_and_combinations_are_those_of_all_rows(columns):
    X, rng = np.asarray(columns), np.random.default_rng(2)
    assert columns.shape == X.shape
    assert len(columns) == N
    for m in (1, 8):  # fewer responses than columns, and more
        Y = rng.normal(size=(N, m))
        assert columns.products(Y) == pytest.approx(X.T @ Y)
    weights = rng.normal(size=(3, 2))
    assert columns @ weights == pytest.approx(X @ weights)
    assert np.asarray(columns.turned(weights)) == pytest.approx(X @ weights)
    assert columns.gram() == pytest.approx(X.T @ X)
    assert columns.root().T @ columns.root() == pytest.approx(X.T @ X)
    assert columns.column(1) == pytest.approx(X[:, 1])


def test_what_lies_inside_groups_is_that_of_all_rows(columns):
    X, groups = np.asarray(columns), Averaging(np.random.default_rng(3).integers(0, 900, N))
    means = np.array([X[groups.codes == code].mean(axis=0) for code in range(groups.n_groups)])
    inside, dense = groups.inside(columns), X - means[groups.codes]
    assert np.vstack(list(inside.parts())) == pytest.approx(dense)
    assert inside.root().T @ inside.root() == pytest.approx(dense.T @ dense)
    weights = np.random.default_rng(4).normal(size=(3, 2))
    assert inside @ weights == pytest.approx(dense @ weights)
    centred = groups.centre(np.random.default_rng(5).normal(size=(N, 1)))
    assert inside.products(centred) == pytest.approx(dense.T @ centred)


def test_least_squares_is_exact_where_columns_are_nearly_one():
    # Two columns that differ by one part in a million: coefficients as numpy's own, by the
    # singular values of all rows, and residuals that no column explains.
    rng = np.random.default_rng(6)
    X = rng.normal(size=(60, 3))
    X[:, 2] = X[:, 1] + 1e-6 * X[:, 2]
    y = X @ [[1.0], [2.0], [3.0]] + rng.normal(size=(60, 1))
    fit = LeastSquares.of(Centred(BySetting.of(X)))
    coefficients, left = fit.fit(y)
    expected = np.linalg.lstsq(X, y, rcond=None)[0]
    assert fit.seen @ coefficients == pytest.approx(expected, rel=1e-8)
    assert np.abs(X.T @ left).max() < 1e-12


def test_degrees_of_freedom_are_ranks_of_all_rows():
    rng = np.random.default_rng(7)
    mix = rng.integers(0, 60, 400)
    labels = pd.DataFrame({"day": mix // 8, "mix": mix})
    columns = BySetting(rng.normal(size=(7, 3)), rng.integers(0, 7, 400))
    X = np.asarray(columns)

    def rank(name):
        codes = np.unique(labels[name], return_inverse=True)[1]
        return np.linalg.matrix_rank(np.column_stack([np.eye(codes.max() + 1)[codes], X]))

    day, mixes = rank("day"), rank("mix")
    assert error_df(columns, labels) == {
        "day": day - np.linalg.matrix_rank(X),
        "mix": mixes - day,
        "loaf": 400 - mixes,
    }
