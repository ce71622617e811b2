"""The tails of χ² and t, against published points and the library that the analysis has."""

import numpy as np
import pytest
from fairloaf.trials.checks.chance import chi_square_tail, t_tails
from scipy.special import chdtrc, stdtr

# Abramowitz & Stegun, Handbook of Mathematical Functions (1964), table 26.8: χ² that is passed with
# probability 0.05 and 0.001.
POINTS = [(1, 3.84146, 0.05), (2, 5.99146, 0.05), (10, 18.3070, 0.05), (5, 20.515, 0.001)]


@pytest.mark.parametrize(("df", "x", "chance"), POINTS)
def test_published_points(df, x, chance):
    assert chi_square_tail(df, x) == pytest.approx(chance, rel=1e-4)


@pytest.mark.parametrize("df", [1, 2, 3, 7, 8, 40])
@pytest.mark.parametrize("x", [0.0, 1e-9, 0.3, 5.0, 90.0, 2000.0])
def test_as_scipy_has_it(df, x):
    assert chi_square_tail(df, x) == pytest.approx(chdtrc(df, x), rel=1e-12, abs=1e-300)


def test_no_degrees_of_freedom_are_refused():
    with pytest.raises(ValueError, match="df is 0"):
        chi_square_tail(0, 1.0)


# Abramowitz & Stegun, table 26.10: t that is passed on either side with probability 0.05 and 0.001.
@pytest.mark.parametrize(
    ("df", "t", "chance"),
    [(1, 12.706, 0.05), (2, 4.303, 0.05), (7, 2.365, 0.05), (30, 3.646, 0.001)],
)
def test_published_points_of_t(df, t, chance):
    assert t_tails(np.array([df]), np.array([t]))[0] == pytest.approx(chance, rel=1e-3)


def test_t_as_scipy_has_it():
    df, t = (grid.ravel() for grid in np.meshgrid([1, 2, 3, 8, 61, 400], [0.0, 0.2, 1.5, 9.0, 1e4]))
    assert t_tails(df, t) == pytest.approx(2 * stdtr(df, -t), abs=2e-14)
