"""How often the analysis of a panel's scores sees a difference between formulas where there is
none.

Run with -m benchmark -s; it prints false alarms in % at a nominal 5, for the rule of `score_fit`
(with which compare, factors and crumb all judge a score) and for what it was chosen over: never,
which is also what the loaves' mean scores give, and always an assessor × formula term. Two
formulas; loaf and residual variances 0.1 and 1; the mix's variance and that of assessor × formula
(people see a difference differently) as printed. All trials of a layout are fitted together; the
first few once more by the analysis itself, which must agree.
"""

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.asking.score_fit import PanelScores
from fairloaf.analysis.asking.score_rows import loaf_scores
from fairloaf.analysis.comparison.formula_fit import FORMULA
from fairloaf.analysis.model.design import Term
from fairloaf.analysis.model.judging import Fitted
from fairloaf.analysis.model.mix_rule import TrialModel
from scipy.special import stdtr

TRIALS, CHECKED = 1000, 4
PAIR = "assessor × formula"
LAYOUTS = {
    "3 mixes × 2 loaves, 8 assessors": (3, 2, 8),
    "4 × 3, 4 assessors": (4, 3, 4),
    "2 × 4, 6 assessors": (2, 4, 6),
}
VARIANCES = [(0.0, 0.0), (0.0, 0.5), (0.25, 0.0), (0.25, 0.25)]
GAPS = [0.0, 0.3]


def layout_rows(mixes, loaves, assessors, missing, rng):
    """Return one row a score, without the scores."""
    formula, mix, loaf, who = np.indices((2, mixes, loaves, assessors)).reshape(4, -1)
    unit = formula * mixes + mix
    table = pd.DataFrame(
        {
            "row": unit * loaves + loaf,
            "assessor": who.astype(str),
            "mix": unit,
            FORMULA: np.array(["house", "malted"])[formula],
            PAIR: 2 * who + formula,
        }
    )
    return table[rng.random(len(table)) >= missing].reset_index(drop=True)


def simulate(table, mix_variance, pair_variance, rng):
    """Return the scores of all trials (n, trials), without a difference between the formulas."""

    def effects(codes, variance):
        return rng.normal(0, np.sqrt(variance), (int(codes.max()) + 1, TRIALS))[codes]

    return (
        effects(table["mix"].to_numpy(), mix_variance)
        + effects(table["row"].to_numpy(), 0.1)
        + effects(table["assessor"].astype(int).to_numpy(), 1)
        + effects(table[PAIR].to_numpy(), pair_variance)
        + rng.normal(size=(len(table), TRIALS))
    )


def judge(table, scores, groupings):
    """Return t, df and the variance of assessor × formula (NaN without it) of every trial."""
    rows = table.rename(columns={"row": "loaf"})
    model = TrialModel(rows, [Term((FORMULA,))], groupings=groupings)
    L = model.design.term_hypothesis(Term((FORMULA,)))
    found = model.judge(scores, L)
    variance = np.full(TRIALS, np.nan)
    if PAIR in groupings:
        fits = Fitted(model.arrangement_for(L), scores).fits
        variance = fits.variances[:, list(fits.names).index(PAIR)]
    return found.estimate / found.standard_error, found.df, variance


def p_values(table, scores):
    """Return the p-values of the rule, of never and of always a term for assessor × formula."""
    t, df, _ = judge(table, scores, ["mix", "loaf", "assessor"])
    t_pair, df_pair, variance = judge(table, scores, ["mix", "loaf", "assessor", PAIR])
    least = np.minimum(df, table["assessor"].nunique() - 1)
    never, always = 2 * stdtr(df, -np.abs(t)), 2 * stdtr(df_pair, -np.abs(t_pair))
    rule = np.where(variance > 0, 2 * stdtr(np.maximum(df_pair, least), -np.abs(t_pair)), never)
    return rule, never, always


def as_analysed(table, score):
    """Return the p-value that the analysis itself gives one trial."""
    scores = table[["row", "assessor"]].assign(score=score)
    loaves = (
        table.drop_duplicates("row")
        .set_index("row")[["mix", FORMULA]]
        .assign(crumb=loaf_scores(scores))
    )
    fit = PanelScores(scores).fit(loaves, "crumb", [Term((FORMULA,))])
    return fit.contrast(
        fit.design.at({FORMULA: "malted"}) - fit.design.at({FORMULA: "house"})
    ).p_value


@pytest.mark.benchmark
@pytest.mark.parametrize("missing", GAPS, ids=["complete", "gaps"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_false_alarms(layout, missing):
    print(f"\n{layout}, {100 * missing:.0f} % of the scores missing")
    table = layout_rows(*LAYOUTS[layout], missing, np.random.default_rng(3))
    for mix, pair in VARIANCES:
        scores = simulate(table, mix, pair, np.random.default_rng(11))
        found = p_values(table, scores)
        rule, never, always = (100 * np.mean(p < 0.05) for p in found)
        print(
            f"  mix {mix:g}, assessor × formula {pair:g}: {rule:.1f} (never {never:.1f}, always"
            f" {always:.1f})"
        )
        again = [as_analysed(table, scores[:, i]) for i in range(CHECKED)]
        assert found[0][:CHECKED] == pytest.approx(again, rel=1e-4)
        assert rule <= 7
