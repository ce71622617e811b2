"""How often the slips that the checks find least could be found at all, by a test that looks for
one kind alone and spends every allowed false warning on it. Run with  -m benchmark -s

Each test knows which measure to look at and looks at nothing else. "Unknown scatter" takes the
largest externally studentised residual, the best test of one outlier that is not told how much
mixes scatter (Ferguson, Proceedings of the Fourth Berkeley Symposium 1 (1961), 253-287: from
memory), or, of exchanges, the largest likelihood ratio; "known scatter" is told that too, as no
kitchen is. The critical value is the 95th percentile of sound trials, the 99th or the 99.5th:
checks share one false warning in twenty trials between all kinds of slip and all measures.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from ..mix_slips import KINDS, LAYOUTS, LOAF_SCATTER, baked

SOUND, SLIPS = 400, 150
FALSE = (5, 1, 0.5)  # % of sound trials
UNDER_LID = np.hypot(0.008, 0.01) / LOAF_SCATTER  # how much lidded loaves scatter beside open ones
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


def labels_exchanged(known: bool) -> Statistic:
    """Return the largest logarithm of a likelihood ratio of exchanging the mixes of two loaves,
    by their specific volume inside mixes; how much less loaves scatter under a lid is known.
    """

    def statistic(loaves: pd.DataFrame) -> float:
        weights = np.where(loaves["tin"] == "lidded", 1 / UNDER_LID, 1.0)
        values = weights * np.log(loaves["loaf_ml"] / loaves["loaf_g"]).to_numpy()
        mix, tin, proof = (
            pd.get_dummies(loaves[name]).to_numpy(float) for name in ("mix", "tin", "proof_min")
        )
        design = np.hstack([mix, tin[:, 1:], proof[:, 1:]])
        one, other = np.triu_indices(len(loaves), 1)
        apart = (mix[one] != mix[other]).any(axis=1)
        one, other = one[apart], other[apart]
        every = np.repeat(design[None], len(one) + 1, axis=0)  # as written, then each exchanged
        pairs, mixes = np.arange(1, len(one) + 1), mix.shape[1]
        every[pairs, one, :mixes], every[pairs, other, :mixes] = mix[other], mix[one]
        every *= weights[:, None]
        turned = np.swapaxes(every, 1, 2)
        moments = turned @ values
        fitted = np.linalg.solve(turned @ every, moments[..., None])[..., 0]
        squares = float(values @ values) - (moments * fitted).sum(axis=1)
        was, now = squares[0], squares[1:].min()
        free = len(loaves) - design.shape[1]
        return float((was - now) / (2 * LOAF_SCATTER**2) if known else free / 2 * np.log(was / now))

    return statistic


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
    "labels of two loaves exchanged": {
        "unknown scatter": labels_exchanged(False),
        "known scatter": labels_exchanged(True),
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
                np.percentile(
                    [statistic(baked(rng, layout)) for _ in range(SOUND)], 100 - np.array(FALSE)
                )
                for layout in layouts
            ]
            over = []
            for i in range(SLIPS * (4 if "exchanged" in kind else 1)):  # many are too small
                loaves = baked(rng, layouts[i % len(layouts)])
                size = KINDS[kind](loaves, rng)
                if size is not None and ("exchanged" not in kind or size > 4 * LOAF_SCATTER):
                    over.append(statistic(loaves) > cuts[i % len(layouts)])
            shares = ", ".join(f"{share:.0f}" for share in 100 * np.mean(over, axis=0))
            said.append(f"{n}: {shares} of {len(over)}")
        print(
            f"\n{kind}, {name}: found with 5, 1 and 0.5 % false warnings, in % of trials:"
            f"  {'  '.join(said)}"
        )
