"""Crumb scores: the published panels, what is said of invented ones with known differences, gaps,
and laws.
"""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas, crumb_scores, factor_effects
from fairloaf.analysis.asking.question import read_question
from fairloaf.analysis.comparison import steadiness
from fairloaf.analysis.crumb.profile import correlation
from fairloaf.analysis.mixed_model.fitting import fit_reml
from fairloaf.analysis.model.design import Term
from fairloaf.analysis.model.trial_fit import fit_trial
from fairloaf.analysis.wording.comparison import comparison_lines
from fairloaf.trials import Trial, TrialCard, TrialError
from fairloaf.trials.words.numbers import ENGLISH

from .report_examples import trial as example
from .score_trials import bread_panel, invented

REFERENCE = Path(__file__).parent / "reference"
EXAMPLES = REFERENCE.parents[1] / "example_trials"
PANELS = {
    entry["name"]: entry["expected"]
    for entry in json.loads((REFERENCE / "panels.json").read_text("utf-8"))
}
BY_ATTRIBUTE = PANELS["bread_panel"]["by_attribute"]
SALT = ["0.6", "0.9", "1.1", "1.6", "1.9"]


# --- the published panels ----------------------------------------------------------------------


def panel_rows(attribute: str) -> pd.DataFrame:
    """Return the bread panel's scores of one attribute with the groupings of the published
    models.
    """
    rows = pd.read_csv(REFERENCE / "bread_panel.csv").query("attribute == @attribute")
    return pd.DataFrame(
        {
            "score": rows.score.astype(float),
            "formula": rows.salt.astype(str),
            "mix": rows.bread,
            "assessor": rows.judge,
            "pair": rows.judge.astype(str) + rows.salt.astype(str),
        }
    )


@pytest.fixture(scope="module")
def bread():
    return crumb_scores(bread_panel())


@pytest.fixture(scope="module")
def plain():
    """An invented trial of one attribute, and what its scores say."""
    trial = invented({"openness": 1.0})
    return trial, crumb_scores(trial)


@pytest.mark.parametrize("attribute", BY_ATTRIBUTE)
@pytest.mark.parametrize("model", ["salt_judge_loaf", "salt_judge_loaf_judge_x_salt"])
def test_bread_panel_as_lme4_bounds_it(attribute, model):
    # lmer + Kenward-Roger (R 4.2.2). A variance at zero sits on its boundary there: loosely, as
    # panels.json says.
    expected = BY_ATTRIBUTE[attribute][model]
    rows = panel_rows(attribute)
    salt = pd.get_dummies(rows.formula, dtype=float).to_numpy()
    groups = {"judge": rows.assessor, "loaf": rows["mix"]} | (
        {"pair": rows.pair} if "x_salt" in model else {}
    )
    fit = fit_reml(rows.score, salt, groups, bounded=True)
    test, wanted = fit.f_test(np.eye(5)[1:] - np.eye(5)[0]), expected["tests"][0]
    close = 1e-3 if expected["zero_variances"] else 1e-4
    assert test.f_value == pytest.approx(wanted["f_value"], rel=close)
    assert test.p_value == pytest.approx(wanted["p_value"], rel=5 * close, abs=1e-6)
    assert fit.variances["residual"] == pytest.approx(expected["variances"]["residual"], rel=close)
    for mean in expected.get("means", []):
        L = np.eye(5)[SALT.index(mean["salt_level"])]
        assert fit.contrast(L).estimate == pytest.approx(mean["mean"], rel=1e-6)
        assert fit.contrast(L).standard_error == pytest.approx(mean["standard_error"], rel=close)


@pytest.mark.parametrize(
    "attribute",
    [a for a, e in BY_ATTRIBUTE.items() if not e["salt_judge_loaf_judge_x_salt"]["zero_variances"]],
)
def test_bread_panel_by_the_rule(attribute):
    # Every variance is above zero here, so fixed judges and free variances give what lmer gives.
    expected = BY_ATTRIBUTE[attribute]["salt_judge_loaf_judge_x_salt"]
    fit = fit_trial(
        panel_rows(attribute), "score", [Term(("formula",))], groupings=["mix", "assessor", "pair"]
    )
    test = fit.f_test(fit.design.term_hypothesis(Term(("formula",))))
    assert test.f_value == pytest.approx(expected["tests"][0]["f_value"], rel=1e-4)
    assert test.den_df == pytest.approx(expected["tests"][0]["den_df"], rel=1e-4)
    assert fit.variances["pair"] == pytest.approx(
        expected["variances"]["judge x salt_level"], rel=1e-4
    )


@pytest.mark.parametrize("attribute", BY_ATTRIBUTE)
def test_bread_panel_ten_loaves_as_samples(attribute):
    expected = BY_ATTRIBUTE[attribute]["ten_loaves_fixed"]
    rows = panel_rows(attribute)
    fit = fit_reml(
        rows.score, pd.get_dummies(rows["mix"], dtype=float).to_numpy(), {"judge": rows.assessor}
    )
    test = fit.f_test(np.eye(10)[1:] - np.eye(10)[0])
    assert test.f_value == pytest.approx(expected["tests"][0]["f_value"], rel=1e-5)
    assert fit.variances == pytest.approx(expected["variances"], rel=1e-4)


@pytest.mark.parametrize("attribute", BY_ATTRIBUTE)
def test_bread_panel_means_and_agreement(bread, attribute):
    expected = BY_ATTRIBUTE[attribute]
    means = bread.means[bread.means.attribute == attribute].set_index("formula")["mean"]
    assert means[SALT].tolist() == pytest.approx(list(expected["mean_by_salt"].values()))
    agreement = bread.agreement.set_index("attribute").loc[attribute]
    assert agreement.kendall_w == pytest.approx(expected["friedman_10_loaves"]["kendall_w"])
    assert agreement.icc_2_1 == pytest.approx(expected["icc_loaves_by_judges"]["icc_2_1"])
    assert [agreement.icc_2_k_low, agreement.icc_2_k_high] == pytest.approx(
        expected["icc_loaves_by_judges"]["ci_95"]["icc_2_k"]
    )


def test_bread_panel_compares_every_pair_and_tastes_the_salt(bread):
    assert (bread.adjustment, bread.against, len(bread.attributes)) == ("all pairs", None, 11 * 10)
    pairs = bread.attributes.set_index(["attribute", "formula", "against"])
    saltiest = pairs.loc[("salt taste", "1.9", "0.6")]
    assert saltiest.difference == pytest.approx(3.0)  # 3.5 − 0.5 on average
    assert saltiest.verdict == "real, size unsure"  # nobody said what matters
    assert (bread.n_assessors, bread.n_loaves, bread.n_scores, bread.complete) == (8, 10, 880, True)


def test_bread_panel_points_above_are_each_judges_distance_from_the_others(bread):
    means = np.mean([entry["mean_by_judge"] for entry in BY_ATTRIBUTE.values()], axis=0)
    others = (means.sum() - means) / 7
    assert bread.assessors.above_others.to_numpy() == pytest.approx(means - others)
    assert not bread.standing_apart.attribute.eq("all").any()


def test_bread_liking_of_161_consumers():
    # lmer, Kenward-Roger and Tukey (R 4.2.2) on Meyners, Castura and Carr 2013.
    expected = PANELS["bread_liking"]
    rows = pd.read_csv(REFERENCE / "bread_liking.csv")
    rows = pd.DataFrame(
        {
            "score": rows.liking.astype(float),
            "formula": rows.bread.astype(str),
            "assessor": rows.consumer,
        }
    )
    fit = fit_trial(rows, "score", [Term(("formula",))], groupings=["assessor"])
    test = fit.f_test(fit.design.term_hypothesis(Term(("formula",))))
    wanted = expected["mixed"]["tests"][0]
    assert (test.f_value, test.den_df) == pytest.approx(
        (wanted["f_value"], wanted["den_df"]), rel=1e-6
    )
    assert test.p_value == pytest.approx(wanted["p_value"], rel=1e-4)
    for mean in expected["mixed"]["means"]:
        found = fit.contrast(fit.design.at({"formula": mean["bread"]}))
        assert found.estimate == pytest.approx(mean["mean"], rel=1e-6)
    pair = expected["mixed"]["pairs_tukey"][0]
    found = fit.contrast(fit.design.at({"formula": "2"}) - fit.design.at({"formula": "1"}))
    assert (found.estimate, found.standard_error) == pytest.approx(
        (pair["estimate"], pair["standard_error"]), rel=1e-6
    )


def test_liking_of_one_loaf_a_bread_settles_nothing_but_keeps_the_means():
    rows = pd.read_csv(REFERENCE / "bread_liking.csv").astype({"bread": str, "consumer": str})
    formulas = [f"bread {i}" for i in "123456"]
    loaves = pd.DataFrame({"loaf": list("123456"), "formula": formulas, "line": range(2, 8)})
    scores = pd.DataFrame(
        {
            "line": range(2, len(rows) + 2),
            "loaf": rows.bread,
            "assessor": rows.consumer,
            "attribute": "liking",
            "score": rows.liking.astype(float),
        }
    )
    result = crumb_scores(
        Trial(name="liking", card=TrialCard(), loaves=loaves, scores=scores, factors=("formula",))
    )
    means = dict(zip(loaves.formula, PANELS["bread_liking"]["means"], strict=True))
    assert result.means.set_index("formula")["mean"].to_dict() == pytest.approx(means)
    for row in result.attributes.itertuples():
        assert row.difference == pytest.approx(means[row.formula] - means[row.against])
    assert set(result.attributes.verdict) == {"not settled"}


# --- one question, one answer ------------------------------------------------------------------


def seen_differently(trial: Trial, by: float, seed: int) -> Trial:
    """Return the trial with each assessor's own addition to every formula's scores (standard
    deviation `by`).
    """
    formula = trial.scores.loaf.map(trial.loaves.set_index("loaf").formula)
    rng = np.random.default_rng(seed)
    own = {
        key: rng.normal(0, by)
        for key in sorted(set(zip(trial.scores.assessor, formula, strict=True)))
    }
    added = [own[key] for key in zip(trial.scores.assessor, formula, strict=True)]
    return replace(trial, scores=trial.scores.assign(score=trial.scores.score + np.array(added)))


def with_gaps(trial: Trial) -> Trial:
    return replace(trial, scores=trial.scores.sample(frac=2 / 3, random_state=4))


def of_attributes(trial: Trial, names: list[str]) -> Trial:
    return replace(trial, scores=trial.scores[trial.scores.attribute.isin(names)])


PANELS_TO_ASK = {
    "example": lambda: of_attributes(example("small_bakery"), ["softness"]),
    "class": lambda: example("class_bake"),
    "published": lambda: of_attributes(bread_panel(), ["salt taste"]),
    "alike": lambda: invented({"openness": 1.0}),
    "apart": lambda: seen_differently(invented({"openness": 1.0}), 1.5, 1),
    "apart, gaps": lambda: with_gaps(
        seen_differently(invented({"openness": 1.0, "softness": 0.0}), 1.5, 2)
    ),
    "apart, three": lambda: seen_differently(
        invented({"openness": 1.0}, formulas=("house", "malted", "rye")), 1, 3
    ),
    "one loaf a formula": lambda: invented({"openness": 1.0}, mixes=1, loaves=1),
    "one mix a formula": lambda: invented({"openness": 1.0}, mixes=1, loaves=6),
    "total": lambda: seen_differently(
        invented({"openness": 2.0, "softness": 1.0}, weights={"openness": 70, "softness": 30}), 1, 4
    ),
}


@pytest.mark.parametrize(
    "ask",
    [
        pytest.param(ask, id=name, marks=[pytest.mark.benchmark] if name == "example" else [])
        for name, ask in PANELS_TO_ASK.items()
    ],
)
def test_comparison_factors_and_crumb_give_one_answer(ask, monkeypatch):
    # which is no part of that answer, and slow
    monkeypatch.setattr(steadiness, "MOST_UNITS", 0)
    trial = ask()
    crumb = crumb_scores(trial)
    total = crumb.total[crumb.total.part == "total"].assign(attribute="total")
    rows = pd.concat([table for table in (crumb.attributes, total) if len(table)])
    names = ["difference", "ci_low", "ci_high", "p_value"]
    for attribute, own in rows.groupby("attribute"):
        compared = compare_formulas(trial, measure=f"crumb_{attribute}").pairs.set_index(
            ["formula", "against"]
        )
        factors = factor_effects(trial, f"crumb_{attribute}").contrasts
        factors = factors[factors.term == "formula"].set_index(["first", "second"])
        for row in own.itertuples():
            pair, wanted = (row.formula, row.against), [getattr(row, name) for name in names]
            assert compared.loc[pair, names].tolist() == pytest.approx(wanted, nan_ok=True)
            assert compared.loc[pair, "verdict"] == row.verdict
            if attribute != "total":
                assert compared.loc[pair, "df"] == pytest.approx(row.df, nan_ok=True)
            if row.n_mixes != 1:
                assert factors.loc[pair, names].tolist() == pytest.approx(
                    wanted, rel=1e-4, nan_ok=True
                )


def test_a_comparison_says_that_people_saw_the_difference_differently():
    c = compare_formulas(
        seen_differently(invented({"openness": 1.0}), 1.5, 1), measure="crumb_openness"
    )
    assert (c.why, c.second_opinion, c.settle, c.unit_of_analysis, c.n_units) == (
        "people",
        None,
        None,
        "mix",
        8,
    )
    assert (
        "The assessors saw the difference differently, and the range allows for that"
        in " ".join(comparison_lines(c, style=ENGLISH))
    )


def test_people_who_see_a_tin_differently_widen_its_interval():
    """The same holds for whatever is asked about; the formula, seen alike, keeps its interval."""
    trial = invented({"openness": 1.0}, loaves=4, mix_sd=0.0)
    tin = np.where(np.arange(len(trial.loaves)) % 2, "open", "lidded")
    trial = replace(trial, loaves=trial.loaves.assign(tin=tin), factors=("formula", "tin"))
    see = trial.scores.assessor.map({"A1": -3, "A2": 3, "A3": -2, "A4": 2, "A5": -1, "A6": 1})
    is_open = trial.scores.loaf.map(dict(zip(trial.loaves.loaf, tin == "open", strict=True)))
    split = replace(trial, scores=trial.scores.assign(score=trial.scores.score + see * is_open))
    alike, apart = (
        factor_effects(t, "crumb_openness").effects.set_index("factor") for t in (trial, split)
    )
    assert apart.loc["tin", "standard_error"] > 5 * alike.loc["tin", "standard_error"]
    assert apart.loc["tin", "df"] == pytest.approx(5, abs=1)  # six people
    assert apart.loc["formula", "standard_error"] < 3 * alike.loc["formula", "standard_error"]


def test_scores_of_a_panel_go_before_a_column_of_the_loaves(plain):
    trial, result = plain
    both = replace(trial, loaves=trial.loaves.assign(crumb_openness=9.0))
    assert crumb_scores(both).attributes.difference[0] == result.attributes.difference[0]
    assert compare_formulas(both, measure="crumb_openness").difference == pytest.approx(
        result.attributes.difference[0]
    )


def test_formulas_tied_to_another_condition_are_refused_as_in_a_comparison():
    trial = invented({"openness": 1.0})
    tied = replace(
        trial,
        loaves=trial.loaves.assign(baker=trial.loaves.formula.map({"house": "A", "malted": "B"})),
    )
    for ask in (crumb_scores, lambda t: compare_formulas(t, measure="crumb_openness")):
        with pytest.raises(TrialError, match="baker"):
            ask(tied)


# --- known differences -------------------------------------------------------------------------


def test_two_formulas_get_one_row_an_attribute_the_surest_first():
    result = crumb_scores(invented({"evenness": 0.0, "openness": 3.0}))
    assert result.attributes.attribute.tolist() == ["openness", "evenness"]
    first = result.attributes.iloc[0]
    assert (first.formula, first.against, first.verdict) == ("malted", "house", "matters")
    assert first.ci_low < 3.0 < first.ci_high
    assert result.profile.index.tolist() == ["openness", "evenness"]


def test_holm_runs_over_all_attributes():
    result = crumb_scores(invented({"a": 0.2, "b": 0.6, "c": 0.0}))
    p = result.attributes.p_value.to_numpy()
    assert result.attributes.p_holm.to_numpy() == pytest.approx(
        np.minimum(np.maximum.accumulate(p * [3, 2, 1]), 1)
    )


def test_several_formulas_are_held_against_the_control_in_every_attribute():
    result = crumb_scores(invented({"openness": 1.0}, formulas=("house", "malted", "rye")))
    assert (result.adjustment, result.against) == ("all against one", "house")
    pairs = set(zip(result.attributes.formula, result.attributes.against, strict=True))
    assert pairs == {("malted", "house"), ("rye", "house")}
    assert result.formulas == ("house", "malted", "rye")


def test_complete_panel_without_differences_between_people_is_the_comparison_of_loaf_means():
    trial = invented({"openness": 1.0}, seed=3)
    rows = crumb_scores(trial).attributes.iloc[0]
    means = trial.scores.groupby("loaf")["score"].mean()
    own = trial.loaves.assign(crumb=trial.loaves.loaf.map(means))
    fit = fit_trial(own, "crumb", [Term(("formula",))])
    L = fit.design.at({"formula": "malted"}) - fit.design.at({"formula": "house"})
    assert rows.difference == pytest.approx(fit.contrast(L).estimate)


def test_people_who_see_the_difference_differently_widen_the_interval():
    trial = invented({"openness": 1.0}, mix_sd=0.0)
    malted = trial.scores.loaf.str.startswith("m")
    see = trial.scores.assessor.map({"A1": -3, "A2": 3, "A3": -2, "A4": 2, "A5": -1, "A6": 1})
    split = replace(trial, scores=trial.scores.assign(score=trial.scores.score + see * malted))
    alike, apart = (crumb_scores(t).attributes.iloc[0] for t in (trial, split))
    assert apart.difference == pytest.approx(alike.difference)
    assert apart.ci_high - apart.ci_low > 3 * (alike.ci_high - alike.ci_low)
    assert apart.df >= 3  # four days of two mixes each


def test_columns_of_the_loaves_need_no_assessor():
    trial = invented({"openness": 2.0})
    score = trial.scores.groupby("loaf")["score"].mean()
    bare = replace(
        trial, scores=None, loaves=trial.loaves.assign(crumb_openness=trial.loaves.loaf.map(score))
    )
    result = crumb_scores(bare)
    assert (result.n_assessors, len(result.assessors), len(result.agreement)) == (0, 0, 0)
    assert 0 < result.attributes.ci_low.iloc[0] < 2 < result.attributes.ci_high.iloc[0]
    assert result.attributes.ordered_way.iloc[0] == "cumulative link"


def test_repeats_count_once_and_tell_the_same_loaf_twice(plain):
    trial, once = plain
    again = trial.scores[trial.scores.assessor == "A1"]
    again = again.assign(score=again.score + np.tile([1.0, -1.0], len(again) // 2))
    twice = replace(trial, scores=pd.concat([trial.scores, again], ignore_index=True))
    result = crumb_scores(twice)
    assert result.attributes.difference.iloc[0] == pytest.approx(once.attributes.difference.iloc[0])
    # A pair that differs by 1 has a variance of 1/2.
    assert result.assessors.set_index("assessor").same_loaf_twice["A1"] == pytest.approx(
        np.sqrt(0.5)
    )
    assert result.assessors.set_index("assessor").same_loaf_twice.isna().sum() == 5


def test_who_stands_apart_is_named_and_left_out_once():
    trial = invented({"openness": 1.0, "softness": 0.5, "evenness": 0.0}, assessors=8)
    odd = trial.scores.assessor == "A3"
    harsh = replace(
        trial, scores=trial.scores.assign(score=(trial.scores.score - 3 * odd).clip(1, 10))
    )
    result = crumb_scores(harsh)
    assert set(result.standing_apart.assessor) == {"A3"}
    assert set(result.standing_apart.direction) == {"harsher"}
    without = crumb_scores(replace(trial, scores=trial.scores[~odd])).attributes.set_index(
        "attribute"
    )
    found = result.without.set_index("attribute").loc[without.index]
    assert found.difference.to_numpy() == pytest.approx(without.difference.to_numpy())
    assert found.p_value.to_numpy() == pytest.approx(without.p_value.to_numpy())


def test_the_weighted_total_is_the_sum_of_its_parts():
    trial = invented({"openness": 2.0, "softness": -1.0}, weights={"openness": 70, "softness": 30})
    total = crumb_scores(trial).total.set_index("part")
    assert total.loc["total", "difference"] == pytest.approx(
        total.loc[["openness", "softness"], "contribution"].sum()
    )
    assert total.loc["softness", "contribution"] == pytest.approx(
        0.3 * total.loc["softness", "difference"]
    )
    assert total.loc["total", "verdict"] in ("matters", "real, size unsure")


def test_total_and_attributes_are_measures_like_any_other():
    weights = {"openness": 70, "softness": 30}
    trial = invented({"openness": 2.0, "softness": -1.0}, weights=weights)
    openness, whole = (
        read_question(trial, f"crumb_{name}", ["formula"], 0.95).table
        for name in ("openness", "total")
    )
    mean = trial.scores.pivot_table(index="loaf", columns="attribute", values="score").loc[
        trial.loaves.loaf
    ]
    assert openness.crumb_openness.to_numpy() == pytest.approx(mean.openness.to_numpy())
    assert whole.crumb_total.to_numpy() == pytest.approx(
        (0.7 * mean.openness + 0.3 * mean.softness).to_numpy()
    )
    compared = compare_formulas(trial, "malted", "house", measure="crumb_total")
    total = crumb_scores(trial).total.set_index("part").loc["total"]
    assert compared.difference == pytest.approx(total.difference)
    assert compared.matters == total.matters == 1.0


def test_a_loaf_without_every_part_has_no_total():
    trial = invented({"openness": 2.0, "softness": -1.0}, weights={"openness": 70, "softness": 30})
    first = (trial.scores.loaf == trial.loaves.loaf[0]) & (trial.scores.attribute == "softness")
    asked = read_question(
        replace(trial, scores=trial.scores[~first]), "crumb_total", ["formula"], 0.95
    )
    assert asked.table.loaf.tolist() == trial.loaves.loaf[1:].tolist()
    assert asked.left_out.reason.tolist() == ["no crumb_total"]


def test_a_part_that_nobody_scored_leaves_no_total():
    trial = invented({"openness": 2.0}, weights={"openness": 70, "softness": 30})
    assert crumb_scores(trial).total.empty


def test_raw_counts_add_up_to_every_score():
    result = crumb_scores(invented({"openness": 1.0, "softness": 0.0}))
    assert result.raw_counts.n.sum() == result.n_scores
    shares = result.raw_counts.groupby(["attribute", "formula"]).share.sum()
    assert shares.to_numpy() == pytest.approx(np.ones(4))


def test_volume_goes_with_an_attribute_mix_by_mix():
    trial = invented({"openness": 0.0}, mix_sd=1.5, seed=5)
    openness = trial.scores.groupby("loaf")["score"].mean()
    tied = replace(
        trial, loaves=trial.loaves.assign(specific_volume=trial.loaves.loaf.map(openness) / 2 + 1)
    )
    row = crumb_scores(tied).volume_correlation.iloc[0]
    assert (row.r, row.n_mixes) == (pytest.approx(1), 8)


def test_correlation_by_fishers_z():
    # r = 0.5 from 28 pairs: atanh 0.5 = 0.5493, ± 1.95996/5 → 0.1575 … 0.7352 (by the formula).
    x = np.r_[np.ones(14), -np.ones(14)]
    noise = np.tile([1.0, -1.0], 14) * np.sqrt(3)
    found = correlation(pd.Series(x), pd.Series(x + noise), 0.95)
    assert found == pytest.approx((0.5, 0.15598, 0.73554), abs=2e-3)


def test_two_points_are_no_correlation():
    two = pd.Series([1.0, 1, 1, 2, 2, 2])
    assert np.isnan(correlation(two, two * 3, 0.95)).all()
    assert correlation(two, pd.Series([1.0, 2, 1, 2, 1, 2]), 0.95)[0] == pytest.approx(1 / 3)


# --- gaps --------------------------------------------------------------------------------------


def test_a_third_of_the_scores_missing_still_answers():
    trial = invented({"openness": 2.0, "softness": 0.0}, mixes=5)
    kept = trial.scores.sample(frac=2 / 3, random_state=4)
    result = crumb_scores(replace(trial, scores=kept))
    row = result.attributes.set_index("attribute").loc["openness"]
    assert row.ci_low < 2.0 < row.ci_high
    assert row.ci_low > 0
    assert row.ordered_way == "cumulative link"
    assert not result.complete
    assert [f.code for f in result.findings] == ["scores-missing"]
    assert (
        f"{len(trial.scores) - len(kept)} of {len(trial.scores)} scores"
        in result.findings[0].message
    )


def test_an_assessor_of_one_day_is_judged_on_shared_loaves():
    trial = invented({"openness": 2.0, "softness": 0.0})
    day = trial.scores.loaf.map(trial.loaves.set_index("loaf").day)
    kept = trial.scores[(trial.scores.assessor != "A2") | (day == "day 0")]
    result = crumb_scores(replace(trial, scores=kept))
    assert np.isfinite(result.assessors.above_others).all()
    assert result.attributes.set_index("attribute").loc["openness", "ci_low"] > 0


def test_assessors_without_a_common_loaf_are_told():
    trial = invented({"openness": 2.0}, assessors=5)
    first = trial.loaves.loaf.iloc[::2]
    shared = trial.scores.loaf.isin(first)
    kept = trial.scores[shared != (trial.scores.assessor == "A5")]
    result = crumb_scores(replace(trial, scores=kept))
    assert np.isnan(result.assessors.set_index("assessor").above_others["A5"])
    assert [f.code for f in result.findings] == ["scores-missing", "assessor-not-linked"]
    assert "A5 scored no loaf that the others scored" in result.findings[1].message


def test_people_who_scored_one_formula_each_are_what_a_difference_is_judged_by():
    """Where their variances nearly cancel, with next to no degrees of freedom, its size is told and
    nothing else.
    """
    trial = invented({"openness": 1.5, "softness": 0.0})
    first = trial.scores.assessor.isin(["A1", "A2", "A3"])
    apart = replace(trial, scores=trial.scores[trial.scores.loaf.str.startswith("m") == first])
    c = compare_formulas(apart, measure="crumb_openness")
    assert (c.unit_of_analysis, c.n_units, c.second_opinion, c.settle) == (
        "assessor",
        6,
        None,
        None,
    )
    soft = crumb_scores(apart).attributes.set_index("attribute").loc["softness"]
    assert (soft.verdict, soft.why, np.isnan(soft.df), np.isfinite(soft.difference)) == (
        "not settled",
        "too few",
        True,
        True,
    )


def test_formulas_that_were_not_both_scored_are_told_beside_the_other_attributes():
    trial = invented({"openness": 1.0, "softness": 0.0}, formulas=("house", "malted", "rye"))
    missing = trial.scores.loaf.str.startswith("m") & (trial.scores.attribute == "softness")
    result = crumb_scores(replace(trial, scores=trial.scores[~missing]), "malted", "house")
    assert set(result.attributes.attribute) == {"openness"}
    assert "softness cannot be compared: the formulas that are compared were not both scored." in [
        f.message for f in result.findings
    ]


def test_one_mix_of_a_formula_settles_nothing():
    result = crumb_scores(invented({"openness": 4.0}, mixes=1, loaves=6))
    row = result.attributes.iloc[0]
    assert row.verdict == "not settled"
    assert np.isnan(row.ci_low)
    assert row.difference == pytest.approx(4, abs=1)


def test_an_attribute_with_one_score_throughout_is_told_beside_the_others():
    trial = invented({"openness": 2.0, "softness": 0.0})
    flat = trial.scores.assign(
        score=trial.scores.score.where(trial.scores.attribute == "openness", 5.0)
    )
    result = crumb_scores(replace(trial, scores=flat))
    said = {f.code: f.message for f in result.findings}
    soft = result.attributes[result.attributes.attribute == "softness"]
    assert "softness" in said.get("attribute-not-compared", "") or soft.verdict.tolist() == [
        "not settled"
    ]
    assert result.attributes.attribute.iloc[0] == "openness"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda t: replace(t, scores=None), "No loaf that counts has a score"),
        (lambda t: replace(t, loaves=t.loaves.assign(formula="house")), "there is only house"),
        (lambda t: replace(t, loaves=t.loaves.assign(void="burnt")), "there is none"),
    ],
    ids=["no scores", "one formula", "all void"],
)
def test_what_cannot_be_answered_is_refused_with_a_reason(change, words):
    with pytest.raises(TrialError, match=words):
        crumb_scores(change(invented({"openness": 1.0})))


def test_an_unknown_attribute_is_refused_with_the_nearest():
    with pytest.raises(
        TrialError, match=r"Nobody scored an attribute 'opennes'\. Did you mean 'openness'\?"
    ):
        crumb_scores(invented({"openness": 1.0}), attributes=["opennes"])


def test_void_loaves_are_not_scored():
    trial = invented({"openness": 1.0})
    void = trial.loaves.assign(void=["dropped"] + [None] * (len(trial.loaves) - 1))
    assert crumb_scores(replace(trial, loaves=void)).n_loaves == len(trial.loaves) - 1


# --- laws --------------------------------------------------------------------------------------


def test_order_of_rows_and_names_of_people_change_nothing():
    trial = invented({"openness": 1.0, "softness": 0.4})
    shuffled = trial.scores.sample(frac=1, random_state=1)
    renamed = shuffled.assign(
        assessor=shuffled.assessor.map(lambda name: f"person {9 - int(name[1:])}")
    )
    one, other = (
        crumb_scores(trial).attributes,
        crumb_scores(replace(trial, scores=renamed)).attributes,
    )
    columns = ["difference", "standard_error", "df", "p_value", "ordered_p"]
    assert other[columns].to_numpy() == pytest.approx(one[columns].to_numpy(), rel=1e-6)


def test_a_shifted_scale_moves_means_and_nothing_else(plain):
    trial, one = plain
    moved = replace(trial, scores=trial.scores.assign(score=trial.scores.score + 10))
    other = crumb_scores(moved)
    assert other.means["mean"].to_numpy() == pytest.approx(one.means["mean"].to_numpy() + 10)
    assert other.attributes.p_value.to_numpy() == pytest.approx(
        one.attributes.p_value.to_numpy(), rel=1e-6
    )


def test_the_result_is_plain_data():
    data = crumb_scores(invented({"openness": 1.0, "softness": 0.0})).to_dict()
    text = json.dumps(data, allow_nan=False)
    assert {row["attribute"] for row in json.loads(text)["profile"]} == {"openness", "softness"}
    assert data["sentences"][0] == data["sentence"]


def test_a_card_without_scores_takes_the_scale_from_the_scores():
    trial = invented({"openness": 1.0})
    result = crumb_scores(
        Trial(
            name="bare",
            card=TrialCard(),
            loaves=trial.loaves,
            scores=trial.scores,
            factors=("formula",),
        )
    )
    assert result.scale == (trial.scores.score.min(), trial.scores.score.max(), 1.0)
    assert np.isnan(result.attributes.matters.iloc[0])
    assert result.attributes.verdict.iloc[0] in ("real, size unsure", "not settled")
