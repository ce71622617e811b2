"""How often the slips that the checks find least could be found at all, by a test that looks for
one kind alone and spends every allowed false warning on it. Run with  -m benchmark -s

Each test knows which measure to look at and looks at nothing else. "Unknown scatter" takes the
largest externally studentised residual, the best test of one outlier that is not told how much
mixes scatter (Ferguson, Proceedings of the Fourth Berkeley Symposium 1 (1961), 253-287: from
memory); "known scatter" is told that too, as no kitchen is. The critical value is the 95th
percentile of sound trials, or the 99th: checks share one false warning in twenty trials between
all kinds of slip and all measures.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from ..mix_slips import KINDS, LAYOUTS, LOAF_SCATTER, baked

SOUND, SLIPS = 300, 150
MIX_LOSS, LOAF_LOSS = 0.5 / 88, 0.6 / 88  # of the invented bakes, relative to the baked mass
MIX = DAY = 0.03
SHAPE = 0.018  # volume beside height
Statistic = Callable[[pd.DataFrame], float]


def without(values: NDArray, *codes: pd.Series) -> NDArray:
    """Return residuals (n, k) after an additive fit of labels."""
    design = np.hstack([pd.get_dummies(code).to_numpy(float) for code in codes])
    return np.asarray(values - design @ np.linalg.lstsq(design, values, rcond=None)[0])


def mix_apart(known: bool) -> Statistic:
    """Return the largest residual of a mix's baked mass beside its dough."""

    def statistic(loaves: pd.DataFrame) -> float:
        values = np.log(loaves["loaf_g"] / loaves["dough_g"])
        means = values.groupby(loaves["mix"]).mean()
        first = loaves.drop_duplicates("mix").set_index("mix").loc[means.index]
        rest = without(means.to_numpy()[:, None], first["formula"])[:, 0]
        left = 1 - first["formula"].nunique() / len(first)
        if known:
            scatter = np.hypot(MIX_LOSS, LOAF_LOSS / np.sqrt(len(loaves) / len(first)))
            return float(np.max(np.abs(rest))) / float(scatter * np.sqrt(left))
        free = len(first) - first["formula"].nunique() - 1
        apart = rest**2 / left
        return float(np.sqrt(np.max(apart / (((rest**2).sum() - apart) / free))))

    return statistic


def day_drifts(known: bool) -> Statistic:
    """Return the largest change through a day of the volume beside the height, inside mixes."""

    def statistic(loaves: pd.DataFrame) -> float:
        values = np.log(loaves["loaf_ml"] / loaves["height_mm"]).to_numpy()[:, None]
        place = loaves.groupby("day").cumcount() / (loaves.groupby("day")["mix"].transform("size"))
        days = [np.where(loaves["day"] == day, place, 0.0) for day in loaves["day"].unique()]
        labels = (loaves["mix"], loaves["tin"], loaves["proof_min"])
        rest = without(np.hstack([values, np.column_stack(days)]), *labels)
        own, columns = rest[:, 0], rest[:, 1:]
        sizes = (columns**2).sum(axis=0)
        squares = (columns.T @ own) ** 2 / sizes
        free = len(loaves) - loaves["mix"].nunique() - 1
        scale = SHAPE**2 if known else ((own**2).sum() - squares) / free
        return float(np.sqrt(np.max(squares / scale)))

    return statistic


def formulas_exchanged(known: bool) -> Statistic:
    """Return the largest logarithm of a likelihood ratio of exchanging two mixes' formulas."""
    return lambda loaves: best_exchange(loaves, known)


def best_exchange(loaves: pd.DataFrame, known: bool) -> float:
    """Return the largest logarithm of a likelihood ratio of exchanging two mixes' formulas; how
    days, mixes and loaves scatter beside one another is known, and how much, where it is so said.
    """
    values = np.log(loaves["loaf_ml"])
    means = values.groupby(loaves["mix"]).mean()
    first = loaves.drop_duplicates("mix").set_index("mix").loc[means.index]
    day = first["day"].to_numpy()
    own = LOAF_SCATTER**2 / (len(loaves) / len(first))
    together = np.eye(len(first)) * (MIX**2 + own) + DAY**2 * (day[:, None] == day)
    whiten = np.linalg.inv(np.linalg.cholesky(together))

    def squares(formula: NDArray) -> float:
        design = whiten @ pd.get_dummies(formula).to_numpy(float)
        white = whiten @ means.to_numpy()
        return float(((white - design @ np.linalg.lstsq(design, white, rcond=None)[0]) ** 2).sum())

    formula = first["formula"].to_numpy()
    best = 0.0
    for one, other in combinations(range(len(formula)), 2):
        if formula[one] != formula[other]:
            again = formula.copy()
            again[[one, other]] = formula[[other, one]]
            was, now = squares(formula), squares(again)
            free = len(formula) - len(set(formula))
            best = max(best, (was - now) / 2 if known else free / 2 * np.log(was / now))
    return best


CASES = {
    "mix weighed hot, 12 g more": {
        "unknown scatter": mix_apart(False),
        "known scatter": mix_apart(True),
    },
    "mix weighed hot, 16 g more": {
        "unknown scatter": mix_apart(False),
        "known scatter": mix_apart(True),
    },
    "seed packs 12 % in a day": {
        "unknown scatter": day_drifts(False),
        "known scatter": day_drifts(True),
    },
    "formulas of two mixes exchanged": {
        "unknown scatter": formulas_exchanged(False),
        "known scatter": formulas_exchanged(True),
    },
}


@pytest.mark.benchmark
@pytest.mark.parametrize("kind", CASES)
def test_what_the_best_test_of_one_kind_would_find(kind):
    for name, statistic in CASES[kind].items():
        said = []
        for n, layouts in LAYOUTS.items():
            rng = np.random.default_rng(n)
            cuts = [
                np.percentile([statistic(baked(rng, layout)) for _ in range(SOUND)], [95, 99])
                for layout in layouts
            ]
            over = []
            for i in range(SLIPS):
                loaves = baked(rng, layouts[i % len(layouts)])
                size = KINDS[kind](loaves, rng)
                if size is not None and ("exchanged" not in kind or size > 4 * LOAF_SCATTER):
                    over.append(statistic(loaves) > cuts[i % len(layouts)])
            all_of_it, a_fifth = 100 * np.mean(over, axis=0)
            said.append(f"{n}: {all_of_it:.0f} ({a_fifth:.0f})")
        print(
            f"\n{kind}, {name}: found with 5 % false warnings (with 1 %), in % of trials:"
            f"  {'  '.join(said)}"
        )
