"""How often the analysis of a panel's scores sees a difference between formulas where there is
none.

Run with -m benchmark -s; it prints false alarms in % at a nominal 5, for the rule of `score_fit`
(with which compare, factors and crumb all judge a score) and for what it was chosen over: never,
which is also what the loaves' mean scores give, and always an assessor × formula term. Two
formulas; loaf and residual variances 0.1 and 1; the mix's variance and that of assessor × formula
(people see a difference differently) as printed. All trials of a layout are fitted together; the
first few once more by the analysis itself, which must agree.

A complete panel is judged by three mean squares: the rule's variance of a difference is that of the
mixes, M, and beside it that of assessor × formula, P, less that of single scores, E, where P > E;
the df are Satterthwaite's of M + P - E. So 250 cells are drawn from chi squared, 40,000 trials
each. The goal of 3.5 to 6.2 % is not kept in all: `REACHED` is what was found (42 cells below, to
2.2; 15 above, to 7.3: most with two mixes of each, six people or more, both far apart).
No published rule that was tried keeps it either, least to most and power at three true standard
errors: ours 2.2 to 7.3, 57 %; always M + P - E 0.2 to 7.3, 52 %; the df of M + (P - E), each
positive, 3.7 to 7.6, 60 %; the t weighted by the two parts (Cochran and Cox) 2.0 to 5.8, 53 %;
M + P as the variance (min F', Clark 1973) 1.4 to 7.3, 59 %; both sides synthesised (Cochran 1951)
2.8 to 7.7, 60 %; P taken in where an F test at 25 % sees it (Bozivich, Bancroft and Hartley 1956)
2.5 to 7.3, 58 %. Sources from memory.
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

from .test_calibration import LIMITS

TRIALS, CHECKED = 1000, 4
SPARE = 2 * 100 * np.sqrt(0.05 * 0.95 / TRIALS)  # the simulation's error: two standard errors
PAIR = "assessor × formula"
LAYOUTS = {
    "3 mixes × 2 loaves, 8 assessors": (3, 2, 8),
    "4 × 3, 4 assessors": (4, 3, 4),
    "2 × 4, 6 assessors": (2, 4, 6),
}
VARIANCES = [(0.0, 0.0), (0.0, 0.5), (0.25, 0.0), (0.25, 0.25)]
GAPS = [0.0, 0.3]
# complete panels: mixes of each formula, loaves of each mix, assessors
PANELS = [(2, 2, 3), (2, 2, 8), (2, 4, 6), (2, 4, 10), (2, 6, 12)]
PANELS += [(3, 2, 8), (3, 2, 12), (3, 3, 4), (4, 3, 4), (6, 2, 5)]
DRAWS = 40_000
REACHED = (2.0, 7.6)  # not a goal: what was found, and the simulation's error


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
    model = TrialModel.of(rows, [Term((FORMULA,))], groupings=groupings)
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
        assert rule <= LIMITS[1] + SPARE


def drawn_p_values(panel, mix_variance, pair_variance, rng):
    """Return p-values of the rule for a complete panel, from its mean squares."""
    mixes, loaves, assessors = panel
    dfs = 2 * (mixes - 1), assessors - 1, (assessors - 1) * 2 * (mixes * loaves - 1)
    expected = 1 + assessors * (0.1 + loaves * mix_variance), 1 + mixes * loaves * pair_variance, 1
    M, P, E = (e * rng.chisquare(df, DRAWS) / df for e, df in zip(expected, dfs, strict=True))
    difference = np.sqrt(expected[0] + expected[1] - 1) * rng.standard_normal(DRAWS)
    return by_mean_squares(difference, M, P, E, dfs)


def by_mean_squares(difference, M, P, E, dfs):
    """Return the p-values of the rule from a scaled difference and the mean squares of mixes, of
    assessor × formula and of single scores.
    """
    differently = P > E
    variance = np.where(differently, M + P - E, M)
    satterthwaite = variance**2 / (M**2 / dfs[0] + P**2 / dfs[1] + E**2 / dfs[2])
    df = np.where(differently, np.maximum(satterthwaite, min(dfs[:2])), dfs[0])
    return 2 * stdtr(df, -np.abs(difference) / np.sqrt(variance))


def mean_squares(scores, mixes, loaves, assessors):
    """Return the scaled difference, the three mean squares and their df of complete scores (n,
    trials).
    """
    Y = scores.reshape(2, mixes, loaves, assessors, -1)
    formula, mix, people = Y.mean((1, 2, 3)), Y.mean((2, 3)), Y.mean((1, 2))
    each, n = Y.mean((0, 1, 2)), mixes * loaves
    seen = people - formula[:, None] - each + formula.mean(0)
    left = Y - Y.mean(3, keepdims=True) - (people - formula[:, None])[:, None, None]
    dfs = 2 * (mixes - 1), assessors - 1, (assessors - 1) * 2 * (n - 1)
    M = loaves * assessors * ((mix - formula[:, None]) ** 2).sum((0, 1)) / dfs[0]
    P = n * (seen**2).sum((0, 1)) / dfs[1]
    E = (left**2).sum((0, 1, 2, 3)) / dfs[2]
    return (formula[1] - formula[0]) * np.sqrt(n * assessors / 2), M, P, E, dfs


@pytest.mark.benchmark
@pytest.mark.parametrize("layout", LAYOUTS)
def test_complete_scores_are_judged_by_three_mean_squares(layout):
    rng = np.random.default_rng(12)
    table = layout_rows(*LAYOUTS[layout], 0.0, rng)
    scores = simulate(table, 0.25, 0.25, rng)
    by_hand = by_mean_squares(*mean_squares(scores, *LAYOUTS[layout]))
    assert p_values(table, scores)[0] == pytest.approx(by_hand, rel=1e-6)


@pytest.mark.benchmark
def test_false_alarms_of_complete_panels():
    rng, rates = np.random.default_rng(7), []
    print("\nmixes × loaves, assessors: false alarms in % (mix / assessor × formula variances)")
    for panel in PANELS:
        print("  {} × {}, {}".format(*panel))
        for mix in (0, 0.1, 0.25, 1, 4):
            row = [
                100 * np.mean(drawn_p_values(panel, mix, pair, rng) < 0.05)
                for pair in (0, 0.1, 0.25, 0.5, 2)
            ]
            print(f"    mix {mix:<4} pair 0 to 2: " + " / ".join(f"{rate:.1f}" for rate in row))
            rates += row
    low, high = sum(rate < LIMITS[0] for rate in rates), sum(rate > LIMITS[1] for rate in rates)
    print(f"  of {len(rates)} cells {low} below {LIMITS[0]}, {high} above {LIMITS[1]} %")
    assert min(rates) >= REACHED[0]
    assert max(rates) <= REACHED[1]
