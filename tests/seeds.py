"""Seeds of random trials: the first of them in every run, the others with the benchmarks."""

import pytest


def seeds(several, in_every_run):
    """Return seeds as parameters of a test; all but the first are left to ``-m benchmark``."""
    return [
        pytest.param(seed, marks=[] if place < in_every_run else [pytest.mark.benchmark])
        for place, seed in enumerate(several)
    ]
