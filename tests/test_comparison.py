"""The comparison: published examples, laws that need no reference, and what is refused."""

import json
import math

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas, factor_effects
from fairloaf.analysis.wording.comparison import left_out_line
from fairloaf.trials import TrialError
from fairloaf.trials.card import Tin
from scipy import stats

from .bakes import as_trial, bake
from .published import expected
from .trials_from_tables import reference_table, trial_from

# --- published examples -------------------------------------------------------------------------


def one_loaf_each(groups: dict[str, list[float]], **card):
    """A trial in which every value is a mix of one loaf."""
    rows = [(name, value) for name, values in groups.items() for value in values]
    table = pd.DataFrame(rows, columns=["formula", "value"])
    return trial_from(
        table.assign(mix=[f"m{i}" for i in range(len(table))]), "value", ["formula"], **card
    )


def shoes_trial():
    """Boys as days, materials as formulas."""
    wide = reference_table("shoes.csv")
    rows = [
        (boy, material, wear)
        for boy, a, b in zip(wide["boy"], wide["wear_a"], wide["wear_b"], strict=True)
        for material, wear in (("a", a), ("b", b))
    ]
    table = pd.DataFrame(rows, columns=["day", "formula", "wear"])
    return trial_from(
        table.assign(mix=[f"m{i}" for i in range(20)]), "wear", ["formula"], control="a"
    )


def test_a_paired_comparison():
    """Box, Hunter & Hunter, boys' shoes; pbkrtest's vignette prints F 11.215 on 1 and 9 df, p
    0.008539.
    """
    c = compare_formulas(shoes_trial(), "b", against="a")
    paired, randomised = expected("shoes_paired")["paired_t"], expected("shoes_randomisation")
    assert c.difference == pytest.approx(-paired["estimate"], rel=1e-9)
    assert (c.df, c.p_value) == pytest.approx((9, paired["p_value"]), rel=1e-6)
    assert (c.ci_low, c.ci_high) == pytest.approx((-paired["ci_high"], -paired["ci_low"]), rel=1e-6)
    assert c.standard_error == pytest.approx(
        expected("shoes_paired")["pair"][0]["standard_error"], rel=1e-6
    )
    assert c.second_opinion.p_value == pytest.approx(randomised["p_two_sided"], rel=1e-12)
    assert c.second_opinion.smallest_p == pytest.approx(
        randomised["smallest_possible_p_two_sided"], rel=1e-12
    )
    assert c.second_opinion.agrees is True


def test_all_against_a_control():
    """Dunnett 1955: blood counts of a control group and two drugs, 6, 4 and 5 animals."""
    counts = reference_table("dunnett_1955.csv")
    groups = {str(name): list(some["count"]) for name, some in counts.groupby("group")}
    c = compare_formulas(one_loaf_each(groups, control="control"))
    published = expected("dunnett_1955")
    assert (c.adjustment, c.choice) == ("Dunnett", "control")
    assert list(c.pairs["formula"]) == ["drug_a", "drug_b"]
    for column in ("p_value", "ci_low", "ci_high"):
        assert list(c.pairs[column]) == pytest.approx(published[column], rel=1e-6)
    assert list(c.pairs["difference"]) == pytest.approx(published["differences"])
    assert (c.formula, c.against, c.df) == ("drug_b", "control", pytest.approx(12))


@pytest.mark.parametrize(
    ("sizes", "case"), [("same", "equal_sizes"), ("different", "unequal_sizes_tukey_kramer")]
)
def test_all_pairs(sizes, case):
    """Three groups of scipy's tests of Tukey's test, with values from two general statistics
    packages.
    """
    data = expected("tukey_three_groups")
    groups = dict(zip(["g1", "g2", "g3"], data["data"][sizes], strict=True))
    c = compare_formulas(one_loaf_each(groups))
    assert (c.adjustment, c.choice) == ("Tukey", "all pairs")
    for published in data[case]:
        formula, against = published["contrast"].split(" - ")
        row = c.pairs[(c.pairs["formula"] == formula) & (c.pairs["against"] == against)].iloc[0]
        assert row["difference"] == pytest.approx(published["estimate"])
        ends = [published["ci_low"], published["ci_high"]]
        assert [row["ci_low"], row["ci_high"]] == pytest.approx(ends, abs=1e-6)
        assert row["p_value"] == pytest.approx(published["p_value"], rel=1e-5)


def test_equivalence():
    """Two groups of 15, margin 0.6 (Schuirmann 1987; data in statsmodels' tests): at 90 %, not at
    95 %.
    """
    data = expected("equivalence_two_groups")
    trial = one_loaf_each(
        {"two": data["data"]["group_2"], "one": data["data"]["group_1"]}, control="two"
    )
    at_90 = compare_formulas(trial, matters=data["margin"], confidence=0.90)
    assert [at_90.ci_low, at_90.ci_high] == pytest.approx(data["pooled"]["ci_90"], rel=1e-9)
    assert at_90.verdict == "no difference that matters"
    assert compare_formulas(trial, matters=data["margin"]).verdict == "not settled"


def test_a_split_plot_bake():
    """Cook 1938 in Cochran & Cox 1957, p. 300: cakes, recipe applied to the mix; R's emmeans on the
    same model.
    """
    cake = reference_table("cake.csv")
    trial = trial_from(
        cake.assign(mix=cake["replicate"].astype(str) + cake["recipe"]),
        "angle",
        ["formula", "temperature"],
        columns={"formula": "recipe", "day": "replicate"},
        numbers=["temperature"],
        control="A",
        matters=4.0,
    )
    c = compare_formulas(trial, "B")
    stratum = next(
        row
        for row in expected("cake_split_plot")["strata"]
        if row["stratum"] == "replicate:recipe" and row["term"] == "Residuals"
    )
    assert c.standard_error == pytest.approx(math.sqrt(stratum["mean_sq"] * 2 / (15 * 6)), rel=1e-6)
    assert c.df == pytest.approx(stratum["df"], rel=1e-6)
    assert c.n_mixes == {"A": 15, "B": 15, "C": 15}
    assert set(c.by_level["factor"]) == {"temperature"}
    assert not c.interacting
    assert c.verdict == "no difference that matters"


# --- laws --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def good():
    return compare_formulas(as_trial(bake()))


def test_the_difference_is_that_of_the_marginal_means(good):
    means = good.means.set_index("formula")["mean"]
    assert good.difference == pytest.approx(means["malted"] - means["house"], rel=1e-9)
    assert (good.formula, good.against, good.matters, good.unit) == ("malted", "house", 0.2, "mL/g")
    assert good.verdict == "matters"
    assert (good.unit_of_analysis, good.n_units, good.n_mixes) == (
        "mix",
        8,
        {"house": 4, "malted": 4},
    )


def test_the_comparison_and_the_factors_agree(good):
    row = factor_effects(as_trial(bake())).contrasts.query("term == 'formula'").iloc[0]
    sign = 1 if row["first"] == "malted" else -1
    assert sign * row["difference"] == pytest.approx(good.difference, rel=1e-9)
    assert row["standard_error"] == pytest.approx(good.standard_error, rel=1e-9)


def test_turned_round_it_is_the_opposite(good):
    turned = compare_formulas(as_trial(bake()), "house", against="malted")
    assert turned.difference == pytest.approx(-good.difference, rel=1e-9)
    assert (turned.ci_low, turned.ci_high) == pytest.approx((-good.ci_high, -good.ci_low), rel=1e-9)
    assert turned.verdict == good.verdict


@pytest.mark.parametrize("change", ["order", "names", "unit"])
def test_what_does_not_matter_changes_nothing(good, change):
    loaves, matters, scale = bake(), 0.2, 1.0
    if change == "order":
        loaves = loaves.sample(frac=1, random_state=3)
    if change == "names":
        loaves = loaves.assign(
            mix="x" + loaves["mix"],
            day=loaves["day"].map({"Mon": "d", "Tue": "c", "Wed": "b", "Thu": "a"}),
        )
    if change == "unit":
        scale, matters = 1000.0, 200.0
        loaves = loaves.assign(specific_volume=1000 * loaves["specific_volume"])
    c = compare_formulas(as_trial(loaves, matters=matters))
    assert (c.difference, c.ci_low, c.ci_high) == pytest.approx(
        (scale * good.difference, scale * good.ci_low, scale * good.ci_high), rel=1e-6
    )
    assert (c.verdict, c.p_value) == (good.verdict, pytest.approx(good.p_value, rel=1e-5))
    assert c.percent.ci_low == pytest.approx(good.percent.ci_low, rel=1e-5)


def test_percent_has_fiellers_interval(good):
    """Fieller 1954: the ratios r at which malted − (1 + r)·house lies just the interval's reach
    from zero.

    Here both means are judged by the same stratum: the variance of each mean is half that of the
    difference.
    """
    house = good.means.set_index("formula").loc["house", "mean"]
    reach, variance = (
        (good.ci_high - good.difference) / good.standard_error,
        good.standard_error**2 / 2,
    )
    ratios = np.linspace(0, 0.3, 300_001)
    inside = np.abs(good.difference - ratios * house) <= reach * np.sqrt(
        variance * (1 + (1 + ratios) ** 2)
    )
    assert (good.percent.ci_low, good.percent.ci_high) == pytest.approx(
        (100 * ratios[inside].min(), 100 * ratios[inside].max()), abs=0.001
    )
    assert good.percent.difference == pytest.approx(100 * good.difference / house, rel=1e-9)


def test_loaves_of_one_mix_do_not_make_it_surer():
    """Twenty-five copies of every loaf: the mixes stay eight, and so do the degrees of freedom."""
    few = bake(loaves=2)
    many = pd.concat([few] * 25, ignore_index=True).assign(
        loaf=[f"L{i}" for i in range(25 * len(few))]
    )
    once, often = (compare_formulas(as_trial(table)) for table in (few, many))
    assert often.df == pytest.approx(3)
    assert often.standard_error == pytest.approx(once.standard_error, rel=1e-6)


def test_an_effect_that_differs_by_tin_is_told_first():
    loaves = bake()
    bigger = (loaves["formula"] == "malted") & (loaves["tin"] == "long")
    c = compare_formulas(
        as_trial(loaves.assign(specific_volume=loaves["specific_volume"] + 0.5 * bigger))
    )
    assert c.interacting == ("tin",)
    by_tin = c.by_level.set_index("level")
    assert by_tin.loc["long", "difference"] - by_tin.loc["open", "difference"] == pytest.approx(
        0.5, abs=0.15
    )
    assert by_tin["difference"].mean() == pytest.approx(c.difference, rel=1e-9)
    assert c.sentence.startswith(
        "The difference depends on tin. Over all levels alike, malted loaves "
    )


# --- what is not settled, refused or left out --------------------------------------------------


def test_without_what_matters_it_asks():
    c = compare_formulas(as_trial(bake(), matters=None))
    assert c.matters is None
    assert c.verdict == "real, size unsure"
    assert "--matters" in c.sentence


@pytest.mark.parametrize("loaves", [4, 40])
def test_one_mix_of_a_formula_is_never_settled(loaves):
    table = bake(difference=5.0, loaves=loaves)
    c = compare_formulas(as_trial(table[(table["formula"] == "house") | (table["day"] == "Mon")]))
    assert c.verdict == "not settled"
    assert math.isnan(c.ci_low)
    assert math.isnan(c.p_value)
    assert c.difference == pytest.approx(5.0, abs=0.5)
    assert "only one mix of malted" in c.sentence
    assert c.second_opinion is c.settle is None
    assert c.steadiness.reason == "no interval"
    assert json.loads(json.dumps(c.to_dict(), allow_nan=False))["ci_low"] is None


def monday_and_tuesday():
    table = bake()
    return table.assign(day=table["formula"].map({"house": "Monday", "malted": "Tuesday"}))


def test_monday_all_house_and_tuesday_all_malted_is_refused():
    with pytest.raises(
        TrialError,
        match=(
            "Formula and bake day cannot be told apart: malted only with bake day "
            "Tuesday, house only with bake day Monday"
        ),
    ) as stop:
        compare_formulas(as_trial(monday_and_tuesday()))
    assert stop.value.findings[0].code == "formula-tied-to-day"


def test_both_formulas_on_monday_and_tuesday_are_answered():
    table = bake().replace(
        {"day": {"Mon": "Monday", "Wed": "Monday", "Tue": "Tuesday", "Thu": "Tuesday"}}
    )
    c = compare_formulas(as_trial(table))
    assert c.verdict == "matters"
    assert c.df == pytest.approx(5)  # 8 mixes less 2 formulas less 1 day


def test_days_with_one_formula_each_are_judged_day_against_day():
    table = bake(days=8)
    table = table[(table["mix"].str[1:].astype(int) % 2 == 0) == (table["formula"] == "malted")]
    two_mixes_a_day = table.assign(mix=table["mix"] + (np.arange(len(table)) // 2 % 2).astype(str))
    c = compare_formulas(as_trial(two_mixes_a_day))
    assert (c.unit_of_analysis, c.second_opinion.unit) == ("day", "day")
    assert c.df == pytest.approx(6, rel=0.05)
    assert "formulas-apart-in-day" in {finding.code for finding in c.findings}


def test_conditions_that_together_hide_the_formula_are_named():
    """House was baked lean in open tins only; malted lean in long tins and rich in open ones."""
    table = bake().assign(dough="lean")
    table.loc[(table["formula"] == "malted") & (table["tin"] == "open"), "dough"] = "rich"
    table = table[(table["formula"] == "malted") | (table["tin"] == "open")]
    with pytest.raises(
        TrialError, match="malted and house cannot be told apart from dough and tin"
    ) as stop:
        compare_formulas(as_trial(table, changed=("formula", "tin", "dough")))
    assert stop.value.findings[0].code == "formula-not-told-apart"


def test_filled_lidded_tins_are_left_out_of_volumes_and_listed():
    table = bake().replace({"tin": {"long": "lidded"}})
    table["loaf_ml"] = np.where(table["tin"] == "lidded", 1580.0, 1500.0)
    tins = {"open": Tin(volume_ml=1600), "lidded": Tin(volume_ml=1600, lid=True)}
    trial = as_trial(table, tins=tins)
    c = compare_formulas(trial)
    assert c.n_loaves == 16
    assert list(c.left_out["reason"]) == ["lid"] * 16
    assert left_out_line(c).startswith(
        "Left out: 16 loaves from lidded tins (a filled tin's specific volume says noth"
    )
    whole = compare_formulas(
        as_trial(table.assign(bake_loss_pct=100 * table["specific_volume"]), tins=tins),
        measure="bake_loss_pct",
    )
    assert whole.n_loaves == 32


def test_when_every_loaf_was_stopped_by_a_lid_nothing_is_compared():
    table = bake().assign(tin="lidded", loaf_ml=1590.0)
    trial = as_trial(table, changed=("formula",), tins={"lidded": Tin(volume_ml=1600, lid=True)})
    with pytest.raises(
        TrialError, match="No loaf of house and malted has 'specific_volume' that was not stopped"
    ):
        compare_formulas(trial)


def test_proof_time_to_a_height_is_no_factor():
    table = bake().assign(proof_min=lambda t: 50 + 10 * (t["formula"] == "malted").astype(float))
    c = compare_formulas(
        as_trial(table, changed=("formula", "tin", "proof_min"), proof_to="height")
    )
    assert c.verdict == "matters"
    assert "proof-time-is-an-outcome" in {finding.code for finding in c.findings}
    with pytest.raises(TrialError, match="Formula and proof time cannot be told apart"):
        compare_formulas(as_trial(table, changed=("formula", "tin", "proof_min"), proof_to="time"))


def test_void_loaves_are_out_and_listed(good):
    table = bake().assign(void=None)
    table.loc[[3, 9], "void"] = "tin stuck"
    c = compare_formulas(as_trial(table))
    assert list(c.left_out["loaf"]) == ["L04", "L10"]
    assert c.n_loaves == good.n_loaves - 2


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        ({"formula": "malt"}, "'malt'. Did you mean 'malted'"),
        ({"measure": "specific_volum"}, "Did you mean 'specific_volume'"),
        ({"formula": "house"}, ""),
        ({"formula": "malted", "against": "malted"}, "malted cannot be compared with itself"),
    ],
)
def test_questions_that_cannot_be_asked(ask, words):
    if not words:
        assert compare_formulas(as_trial(bake()), **ask).against == "malted"
        return
    with pytest.raises(TrialError, match=words.replace(".", r"\.").replace("?", r"\?")):
        compare_formulas(as_trial(bake()), **ask)


def test_every_fault_of_a_question_is_told_at_once():
    with pytest.raises(TrialError, match=r"(?s)'rye'.*'heigth'"):
        compare_formulas(as_trial(bake()), "rye", measure="heigth")


def test_the_first_formula_is_the_control_where_nobody_named_one():
    c = compare_formulas(as_trial(bake(), control=None, factors={"formula": ("malted", "house")}))
    assert (c.formula, c.against, c.choice) == ("house", "malted", "first as control")


def test_a_mix_that_carries_the_answer_is_named():
    table = bake(difference=0.0, days=6)
    odd = table["mix"] == "M2"
    c = compare_formulas(
        as_trial(table.assign(specific_volume=table["specific_volume"] + 3 * odd), matters=0.4)
    )
    assert c.verdict == "not settled"
    assert ("mix", "M2") in c.steadiness.hangs_on
    assert ("day", "Tue") in c.steadiness.hangs_on
    assert ("mix", "M1") not in c.steadiness.hangs_on


def test_with_two_mixes_each_nothing_can_be_left_out():
    c = compare_formulas(as_trial(bake(days=2).drop(columns="day")))
    assert c.steadiness.reason == "too few mixes"
    assert c.df == pytest.approx(2)


def test_json_has_every_number_under_its_name(good):
    data = json.loads(json.dumps(good.to_dict(), allow_nan=False))
    assert {
        "difference",
        "standard_error",
        "df",
        "ci_low",
        "ci_high",
        "p_value",
        "verdict",
        "sentence",
        "means",
        "percent",
        "by_level",
        "pairs",
        "adjustment",
        "second_opinion",
        "settle",
        "steadiness",
        "fairness",
        "findings",
        "left_out",
        "n_mixes",
        "n_loaves",
        "variances",
        "way",
        "why",
    } <= set(data)
    assert data["ci_low"] == pytest.approx(good.ci_low, rel=1e-9)
    assert data["second_opinion"]["smallest_p"] == 0.125
    assert data["steadiness"]["table"][0]["left_out"] == "H1"
    assert data["fairness"]["table"][0]["condition"] == "tin"


@pytest.mark.parametrize("mixes", [1, 2, 3])
def test_loaves_that_do_not_vary_are_not_settled(mixes):
    table = bake(days=mixes).assign(specific_volume=4.0)
    c = compare_formulas(as_trial(table))
    assert c.verdict == "not settled"
    assert c.difference == pytest.approx(0.0, abs=1e-12)
    json.dumps(c.to_dict(), allow_nan=False)


def test_a_number_of_many_values_enters_as_a_curve_and_is_shown_at_three_of_them():
    table = bake(days=4, loaves=6)
    proof = np.tile(np.linspace(45, 75, 12), 4)
    table = table.assign(
        proof_min=proof, specific_volume=table["specific_volume"] + 0.01 * (proof - 60)
    )
    c = compare_formulas(as_trial(table, changed=("formula", "tin", "proof_min")))
    shown = c.by_level[c.by_level["factor"] == "proof_min"]
    assert list(shown["level"].astype(float).round(1)) == [45.0, 61.4, 75.0]
    assert c.difference == pytest.approx(0.4, abs=0.15)


def test_a_measure_that_one_formula_lacks_cannot_be_compared():
    table = bake()
    table.loc[table["formula"] == "malted", "specific_volume"] = np.nan
    with pytest.raises(TrialError, match="No loaf of malted has 'specific_volume'"):
        compare_formulas(as_trial(table))


@pytest.mark.parametrize("matters", [0.0, -0.2, math.nan, math.inf])
def test_what_matters_is_a_number_above_zero(matters):
    with pytest.raises(
        TrialError, match=r"cannot matter\. Give a number above zero in the measure's unit"
    ):
        compare_formulas(as_trial(bake()), matters=matters)


def test_a_measure_that_cannot_be_worked_out_is_told_with_what_it_needs():
    table = bake().drop(columns="specific_volume")
    with pytest.raises(
        TrialError, match="worked out as loaf volume / baked mass: look whether both are there"
    ):
        compare_formulas(as_trial(table))


def test_tables_that_each_baked_both_formulas_are_pairs():
    """Eight tables of a class, one loaf of each formula at each: Student's paired t-test, as scipy
    gives it.
    """
    rng = np.random.default_rng(8)
    table = rng.normal(4.0, 0.5, 8)
    volumes = {
        name: table + shift + rng.normal(0, 0.1, 8)
        for name, shift in (("house", 0.0), ("rye", -0.2))
    }
    loaves = pd.concat(
        [
            pd.DataFrame(
                {
                    "formula": name,
                    "baker": [f"table {i}" for i in range(8)],
                    "mix": [f"{name} {i}" for i in range(8)],
                    "specific_volume": values,
                }
            )
            for name, values in volumes.items()
        ],
        ignore_index=True,
    )
    found = compare_formulas(as_trial(loaves, changed=("formula",)))
    paired = stats.ttest_rel(volumes["rye"], volumes["house"])
    assert (found.df, found.p_value) == (pytest.approx(7), pytest.approx(paired.pvalue, rel=1e-6))
    assert stats.ttest_ind(volumes["rye"], volumes["house"]).pvalue > 0.05 > found.p_value
