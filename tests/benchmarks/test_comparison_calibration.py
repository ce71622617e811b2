"""How often a comparison is wrong: false alarms at 5 % and coverage of the 95 % interval, in
simulated trials.

    pytest -m benchmark -s tests/benchmarks/test_comparison_calibration.py

Each shape of trial is simulated with a mix-to-mix variance of 0, 0.25, 1 and 4 times the loaf's,
4,000 trials a cell (standard error 0.34 %): once without a formula difference for the false alarms,
once with a difference of one loaf standard deviation for the coverage. Beside `compare_formulas`
stands a t-test that takes every loaf as separate. The goal, and what is spared for the simulation's
error, are those of `test_calibration`, for intervals that miss too. All responses of a layout are
judged together; in every shape some are put through `compare_formulas` itself, which must give the
same numbers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas
from fairloaf.analysis.comparison.formula_fit import fit_formulas
from fairloaf.analysis.model.estimates import ManyEstimates
from fairloaf.analysis.model.mix_rule import TrialModel
from fairloaf.trials import Trial, TrialCard
from scipy.special import stdtr, stdtrit

from .test_calibration import LIMITS, RATIOS, SPARE, TRIALS

# patterns of lost loaves drawn for one cell, each for an equal share of its trials
LAYOUTS_A_CELL = 20
TRUE_DIFFERENCE = 1.0  # for the coverage, in standard deviations of loaves


@dataclass(frozen=True)
class Shape:
    """Mixes of each formula in all, over days (0: none recorded), loaves of each, tins, and what is
    lost.
    """

    name: str
    mixes: int
    loaves: int
    days: int = 0
    tins: int = 1
    lost: float = 0.0
    mixes_lost: int = 0


SHAPES = (
    Shape("2 mixes each × 4 loaves", 2, 4),
    Shape("3 mixes each × 4 loaves", 3, 4),
    Shape("4 mixes each × 4 loaves", 4, 4),
    Shape("6 mixes each × 3 loaves", 6, 3),
    Shape("2 days, one mix of each a day × 4", 2, 4, days=2),
    Shape("3 days, one mix of each a day × 4", 3, 4, days=3),
    Shape("4 days, one mix of each a day × 6 in 2 tins", 4, 6, days=4, tins=2),
    Shape("2 days, two mixes of each a day × 3", 4, 3, days=2),
    Shape("6 days, one mix of each a day × 2", 6, 2, days=6),
    Shape("2 mixes each × 4, 15 % of loaves lost", 2, 4, lost=0.15),
    Shape("3 days × 4, 15 % lost", 3, 4, days=3, lost=0.15),
    Shape("4 mixes each × 6 in 2 tins, 15 % lost", 4, 6, tins=2, lost=0.15),
    Shape("6 days × 4, a whole mix and 10 % of loaves lost", 6, 4, days=6, lost=0.10, mixes_lost=1),
)


def laid_out(shape: Shape) -> pd.DataFrame:
    """Return the planned loaves."""
    per_day = shape.mixes // max(shape.days, 1)
    rows = [
        (f"day {d}", formula, f"{d} {formula} {k}", ("open", "long")[loaf % shape.tins])
        for d in range(max(shape.days, 1))
        for formula in ("house", "malted")
        for k in range(per_day)
        for loaf in range(shape.loaves)
    ]
    loaves = pd.DataFrame(rows, columns=["day", "formula", "mix", "tin"])
    return loaves if shape.days else loaves.drop(columns="day")


def baked(shape: Shape, rng: np.random.Generator) -> pd.DataFrame:
    """Return the loaves that were not lost: two mixes of each formula at least, each formula in
    each tin.
    """
    whole = laid_out(shape)
    while True:
        gone = rng.choice(whole["mix"].unique(), shape.mixes_lost, replace=False)
        kept = whole[~whole["mix"].isin(gone) & (rng.random(len(whole)) >= shape.lost)].reset_index(
            drop=True
        )
        mixes, cells = (
            kept.groupby("formula")["mix"].nunique(),
            kept.groupby(["formula", "tin"]).ngroups,
        )
        if len(mixes) == 2 and mixes.min() >= 2 and cells == 2 * shape.tins:
            return kept


def simulated(
    loaves: pd.DataFrame, ratio: float, difference: float, m: int, rng: np.random.Generator
) -> np.ndarray:
    """Return (n, m) responses: loaves of variance 1, mixes of ``ratio``, days of 1, tins half a
    loaf's SD apart.
    """
    Y = rng.normal(size=(len(loaves), m))
    for name, variance in (("mix", ratio), ("day", 1.0)):
        if name in loaves:
            codes = pd.factorize(loaves[name])[0]
            Y += np.sqrt(variance) * rng.normal(size=(codes.max() + 1, m))[codes]
    Y += 0.5 * (loaves["tin"] == "long").to_numpy()[:, None]
    return Y + difference * (loaves["formula"] == "malted").to_numpy()[:, None]


def as_trial(loaves: pd.DataFrame, response: np.ndarray) -> Trial:
    """Return a trial of these loaves, as loading would make it."""
    names = [f"L{i}" for i in range(len(loaves))]
    table = loaves.assign(loaf=names, rise=response, line=np.arange(len(loaves)) + 2)
    factors = ("formula", "tin") if loaves["tin"].nunique() > 1 else ("formula",)
    return Trial(
        name="invented",
        card=TrialCard(measure="rise", control="house"),
        loaves=table,
        factors=factors,
    )


def judged(loaves: pd.DataFrame, Y: np.ndarray) -> ManyEstimates:
    """Return the difference in every response, by the terms and the rule that `compare_formulas`
    takes.
    """
    factors = ["formula", "tin"] if loaves["tin"].nunique() > 1 else ["formula"]
    fitted = fit_formulas(
        loaves.assign(rise=Y[:, 0]), "rise", factors, numbers={}, order=2, confidence=0.95
    )
    model = TrialModel.of(loaves, fitted.terms)
    return model.judge(Y, fitted.row("malted", "house"))


def agrees_with_the_command(
    loaves: pd.DataFrame, Y: np.ndarray, many: ManyEstimates, i: int
) -> bool:
    """Return whether `compare_formulas` gives the same difference, standard error, df and
    p-value.
    """
    c = compare_formulas(as_trial(loaves, Y[:, i]), "malted", against="house")
    one, batch = (
        (c.difference, c.standard_error, c.df, c.p_value),
        (many.estimate[i], many.standard_error[i], many.df[i], many.p_value[i]),
    )
    return bool(np.allclose(one, batch, rtol=1e-6, atol=1e-9))


def loaves_as_separate(
    loaves: pd.DataFrame, Y: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return estimate, standard error and df (m,) of a t-test that takes every loaf as separate."""
    malted = (loaves["formula"] == "malted").to_numpy()
    a, b = Y[malted], Y[~malted]
    df = len(Y) - 2
    pooled = (((a - a.mean(0)) ** 2).sum(0) + ((b - b.mean(0)) ** 2).sum(0)) / df
    return (
        a.mean(0) - b.mean(0),
        np.sqrt(pooled * (1 / len(a) + 1 / len(b))),
        np.full(Y.shape[1], float(df)),
    )


def chunks(
    shape: Shape, ratio: float, difference: float, seed: int
) -> Iterator[tuple[pd.DataFrame, np.ndarray]]:
    """Yield loaves and their responses until a cell is full."""
    rng = np.random.default_rng(seed)
    layouts = LAYOUTS_A_CELL if shape.lost or shape.mixes_lost else 1
    for _ in range(layouts):
        loaves = baked(shape, rng)
        yield loaves, simulated(loaves, ratio, difference, TRIALS // layouts, rng)


def missed(estimate: np.ndarray, error: np.ndarray, df: np.ndarray, truth: float) -> np.ndarray:
    """Return whether each 95 % interval leaves the truth out."""
    return np.abs(estimate - truth) > stdtrit(df, 0.975) * error


def cell(shape: Shape, ratio: float, seed: int) -> tuple[float, float, float]:
    """Return false alarms and coverage of the comparison, and false alarms of the t-test on loaves,
    in percent.
    """
    alarms, misses, naive = [], [], []
    for loaves, Y in chunks(shape, ratio, 0.0, seed):
        many = judged(loaves, Y)
        alarms.append(many.p_value < 0.05)
        estimate, error, df = loaves_as_separate(loaves, Y)
        naive.append(2 * stdtr(df, -np.abs(estimate / error)) < 0.05)
        if not alarms[1:] and ratio == 1.0:
            assert all(agrees_with_the_command(loaves, Y, many, i) for i in range(2)), shape.name
    for loaves, Y in chunks(shape, ratio, TRUE_DIFFERENCE, seed + 500):
        many = judged(loaves, Y)
        misses.append(missed(many.estimate, many.standard_error, many.df, TRUE_DIFFERENCE))
    return tuple(100 * float(np.mean(np.concatenate(some))) for some in (alarms, misses, naive))  # type: ignore


@pytest.mark.benchmark
@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
def test_false_alarms_and_coverage(shape, capsys):
    cells = [
        cell(shape, ratio, seed=1000 * SHAPES.index(shape) + i) for i, ratio in enumerate(RATIOS)
    ]
    alarms, misses, naive = zip(*cells, strict=True)
    with capsys.disabled():
        print(
            f"\n{shape.name:<48} alarms {_row(alarms)}   coverage {_row(100 - m for m in misses)}"
            f"   t-test on loaves {_row(naive)}"
        )
    assert all(LIMITS[0] - SPARE <= rate <= LIMITS[1] + SPARE for rate in (*alarms, *misses)), (
        alarms,
        misses,
    )


def _row(values) -> str:
    return " / ".join(f"{value:4.1f}" for value in values)
