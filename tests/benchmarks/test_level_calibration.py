"""How often a range at one tin misses: the weighted t of `at_level.py` beside Kenward and Roger's
single df.

    pytest -m benchmark -s tests/benchmarks/test_level_calibration.py

Two formulas without a difference in two tins that lie inside each mix; mix-to-mix variance 0, 0.25,
1 and 4 times the loaf's; 4,000 trials a cell (standard error 0.34 %). The last column is what
Kenward and Roger's ranges miss where they are told only when formula and tin seem to work together,
which they never do here.
"""

import os

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.model.at_level import weighted_t
from fairloaf.analysis.model.design import Term
from fairloaf.analysis.model.mix_rule import TrialModel
from scipy.special import stdtrit

TRIALS = int(os.environ.get("FAIRLOAF_CALIBRATION_TRIALS", "4000"))
RATIOS = (0.0, 0.25, 1.0, 4.0)
SHAPES = {
    "2 mixes × 4": (2, 4, False, 0.0),
    "4 mixes × 4": (4, 4, False, 0.0),
    "3 days × 6": (3, 6, True, 0.0),
    "3 days × 6, 15 % lost": (3, 6, True, 0.15),
    "4 days × 6": (4, 6, True, 0.0),
}
TERMS = [Term(("formula",)), Term(("tin",)), Term(("formula", "tin"))]
MOST = 6.2  # misses in %, with the simulation's error


def laid_out(
    mixes: int, loaves: int, days: bool, lost: float, rng: np.random.Generator
) -> pd.DataFrame:
    """Return loaves; every formula keeps its mixes and both tins."""
    rows = [
        (f"day {k}", f, f"{f} {k}", ("open", "long")[i % 2])
        for k in range(mixes)
        for f in ("house", "malted")
        for i in range(loaves)
    ]
    whole = pd.DataFrame(rows, columns=["day", "formula", "mix", "tin"]).drop(
        columns=[] if days else ["day"]
    )
    while True:
        kept = whole[rng.random(len(whole)) >= lost]
        if kept.groupby(["formula", "tin"]).ngroups == 4 and kept["mix"].nunique() == 2 * mixes:
            return kept.reset_index(drop=True)


def simulated(loaves: pd.DataFrame, ratio: float, m: int, rng: np.random.Generator) -> np.ndarray:
    """Return (n, m) responses without any difference."""
    Y = rng.normal(size=(len(loaves), m))
    for name, variance in (("mix", ratio), ("day", 1.0)):
        if name in loaves:
            codes = pd.factorize(loaves[name])[0]
            Y += np.sqrt(variance) * rng.normal(size=(codes.max() + 1, m))[codes]
    return Y


def missed(
    loaves: pd.DataFrame, Y: np.ndarray
) -> tuple[list[np.ndarray], list[np.ndarray], list[np.ndarray]]:
    """Return which ranges miss, a tin each: by one df, by the weighted t, and by one df where told
    for its test.
    """
    model = TrialModel.of(loaves, TERMS)
    at = model.design.at
    whole = at({"formula": "malted"}) - at({"formula": "house"})
    over, together = (
        model.judge(Y, whole),
        model.judge(Y, model.design.term_hypothesis(TERMS[2])).p_value < 0.05,
    )
    own, weighted = [], []
    for tin in ("open", "long"):
        here = at({"formula": "malted", "tin": tin}) - at({"formula": "house", "tin": tin})
        found, departs = model.judge(Y, here), model.judge(Y, here - whole)
        t = weighted_t([over.standard_error, departs.standard_error], [over.df, departs.df], 0.95)
        own.append(np.abs(found.estimate) > stdtrit(found.df, 0.975) * found.standard_error)
        weighted.append(np.abs(found.estimate) > t * found.standard_error)
    return own, weighted, [each[together] for each in own]


@pytest.mark.benchmark
@pytest.mark.parametrize("name", SHAPES)
def test_ranges_at_each_tin(name, capsys):
    rng = np.random.default_rng(list(SHAPES).index(name))
    rates = []
    for ratio in RATIOS:
        columns: tuple[list, list, list] = ([], [], [])
        layouts = 10 if SHAPES[name][3] else 1
        for _ in range(layouts):
            loaves = laid_out(*SHAPES[name], rng)
            for column, found in zip(
                columns,
                missed(loaves, simulated(loaves, ratio, TRIALS // layouts, rng)),
                strict=True,
            ):
                column += found
        rates.append([100 * float(np.mean(np.concatenate(column))) for column in columns])
    own, weighted, chosen = zip(*rates, strict=True)
    with capsys.disabled():
        print(
            f"\n{name:<24} one df {_row(own)}   weighted t {_row(weighted)}   told for its test"
            f" {_row(chosen)}"
        )
    assert max(weighted) <= MOST, weighted


def _row(values) -> str:
    return " / ".join(f"{value:4.1f}" for value in values)
