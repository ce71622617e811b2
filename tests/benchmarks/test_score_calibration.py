"""How often the analysis of a panel's scores sees a difference between formulas where there is none.

Run with -m benchmark -s; it prints false alarms in % at a nominal 5. Two formulas; loaf and residual variances 0.1
and 1; the mix's variance and that of assessor × formula (people see a difference differently) as printed.
"""

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.formula_fit import FORMULA, fit_formulas
from fairloaf.analysis.score_fit import PAIR, _crossed

TRIALS = 300
LAYOUTS = {"3 mixes × 2 loaves, 8 assessors": (3, 2, 8), "4 × 3, 4 assessors": (4, 3, 4)}
VARIANCES = [(0.0, 0.0), (0.0, 0.5), (0.25, 0.0), (0.25, 0.25)]


def rows(rng, mixes, loaves, assessors, mix_variance, pair_variance, missing=0.0):
    """Return the scores of one trial, as `score_fit` takes them."""
    places = np.indices((2, mixes, loaves, assessors)).reshape(4, -1)
    formula, mix, loaf, who = places
    unit = formula * mixes + mix
    single = unit * loaves + loaf
    score = (rng.normal(0, np.sqrt(mix_variance), 2 * mixes)[unit] + rng.normal(0, np.sqrt(0.1), 99)[single]
             + rng.normal(0, 1, assessors)[who] + rng.normal(size=len(who))
             + rng.normal(0, np.sqrt(pair_variance), (assessors, 2))[who, formula])
    table = pd.DataFrame({"row": single, "assessor": who.astype(str), "score": score, "mix unit": unit,
                          FORMULA: np.array(["house", "malted"])[formula], PAIR: 2 * who + formula})
    return table[rng.random(len(table)) >= missing].reset_index(drop=True)


def false_alarms(layout, variances, missing=0.0):
    """Return in % how often the interval leaves out zero, the true difference."""
    alarms = 0
    for i in range(TRIALS):
        table = rows(np.random.default_rng([i, 11]), *layout, *variances, missing=missing)
        means = table.rename(columns={"mix unit": "mix"}).groupby(["row", "mix", FORMULA])["score"].mean()
        by_loaf = fit_formulas(means.reset_index(), "score", [FORMULA], numbers={}, order=2, confidence=0.95)
        difference = _crossed(table, by_loaf).difference("malted", "house")
        alarms += difference.ci_low > 0 or difference.ci_high < 0
    return 100 * alarms / TRIALS


@pytest.mark.benchmark
@pytest.mark.parametrize("missing", [0.0, 0.3], ids=["complete", "three tenths missing"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_false_alarms(layout, missing):
    for variances in VARIANCES:
        rate = false_alarms(LAYOUTS[layout], variances, missing)
        print(f"\n{layout}, {100 * missing:.0f} % missing, mix {variances[0]:g}, assessor × formula "
              f"{variances[1]:g}: {rate:.1f} %", end="")
        assert rate <= 9          # 5 % nominal and about three standard errors of 300 trials
