"""Where a function passes zero and where it is lowest, against values that are known exactly."""

from math import cos, exp, log, pi, sqrt, tanh

import pytest
from fairloaf.analysis.methods.root import lowest, root


@pytest.mark.parametrize(
    ("f", "low", "high", "x"),
    [
        (lambda x: x**3 - 2, 0, 5, 2 ** (1 / 3)),
        (lambda x: exp(-x) - 1e-8, 0, 50, 8 * log(10)),
        (lambda x: tanh(50 * (x - 0.3)), 0, 4, 0.3),
        (lambda x: cos(x), 1, 2, pi / 2),
        (lambda x: 0.7 - x, 0, 1, 0.7),
        (lambda x: x - 3, 3, 8, 3),
        (lambda x: 1e-200 * (x - 2), 0, 7, 2),
    ],
)
def test_roots_that_are_known(f, low, high, x):
    assert root(f, low, high) == pytest.approx(x, rel=1e-11)


def test_one_sign_at_both_ends_is_refused():
    with pytest.raises(ValueError, match="one sign"):
        root(lambda x: x * x + 1, -1, 1)


@pytest.mark.parametrize(
    ("f", "low", "high", "x"),
    [
        (lambda x: (x - 0.4) ** 2, -3, 3, 0.4),
        (lambda x: x - log(x), 0.1, 9, 1),
        (lambda x: x, -3, 3, -3),
        (lambda x: x**4 - 2 * x * x, 0, 3, 1),
        (lambda x: abs(x - sqrt(2)), 0, 3, sqrt(2)),
    ],
)
def test_lowest_points_that_are_known(f, low, high, x):
    assert lowest(f, low, high) == pytest.approx(x, abs=3e-8)
