"""The fair-test checks: silent on a good bake, and each speaks alone once one thing is spoilt."""

import itertools

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas
from fairloaf.trials import load_trial
from fairloaf.trials.card import Tin
from fairloaf.trials.fairness.conditions import Pair, mix_codes
from fairloaf.trials.fairness.fairness import FAIRNESS, fairness_findings
from fairloaf.trials.fairness.order import order_test
from fairloaf.trials.fairness.rearrangement import rearrange
from fairloaf.trials.measuring.lids import capped_loaves
from scipy import stats

from .bakes import as_trial, bake


def pair_of(loaves, measure="specific_volume", **card) -> Pair:
    return Pair(trial=as_trial(loaves, **card), formula="malted", against="house", measure=measure)


def codes(loaves, measure="specific_volume", **card) -> list[str]:
    return [finding.code for finding in fairness_findings(pair_of(loaves, measure, **card))]


def malted(table: pd.DataFrame) -> pd.Series:
    return table["formula"] == "malted"


def test_a_good_bake_has_nothing_against_it():
    assert codes(bake()) == []


SPOILT = {
    "formula-tied-to-table": lambda t: t.assign(table=np.where(malted(t), "1", "2")),
    "formula-tied-to-baker": lambda t: t.assign(baker=np.where(malted(t), "Ann", "Ben")),
    "formula-tied-to-oven-place": lambda t: t.assign(
        oven_place=np.where(malted(t), "top", "bottom")
    ),
    "formula-tied-to-tin": lambda t: t.assign(tin=np.where(malted(t), "long", "open")),
    "formula-tied-to-oven-load": lambda t: t.assign(oven_load=np.where(malted(t), "1", "2")),
    "formula-tied-to-flour-lot": lambda t: t.assign(
        **{"lot of flour": np.where(malted(t), "A7", "A8")}
    ),
    "formulas-apart-in-table": lambda t: t.assign(table=t["formula"] + t["tin"]),
    "formulas-apart-in-baker": lambda t: t.assign(baker=t["formula"] + t["tin"]),
    "one-mix-of-a-formula": lambda t: t[~malted(t) | (t["day"] == "Mon")],
    "mixes-not-recorded": lambda t: t.drop(columns="mix"),
    "unequal-mixes": lambda t: t[~malted(t) | (t["day"] != "Mon")],
    "baking-order-follows-formula": lambda t: t.assign(bake_order=np.where(malted(t), 2.0, 1.0)),
    "measuring-order-follows-formula": lambda t: t.assign(
        measure_order=np.where(malted(t), 1.0, 2.0)
    ),
    "formulas-differ-in-dough-temp-c": lambda t: t.assign(dough_temp_c=26.0 + 1.5 * malted(t)),
    "formulas-differ-in-dough-g": lambda t: t.assign(dough_g=460.0 + 8 * malted(t)),
    "formulas-differ-in-cool-min": lambda t: t.assign(cool_min=150.0 + 20 * malted(t)),
    "formulas-differ-in-proof-min": lambda t: t.assign(
        proof_min=60.0 + 8 * malted(t) * (t["tin"] == "open")
    ),
}


@pytest.mark.parametrize("code", SPOILT)
def test_one_thing_spoilt_is_noticed_alone(code):
    spoilt = SPOILT[code](bake())
    beside = {"unequal-mixes"} if code == "one-mix-of-a-formula" else set()
    assert set(codes(spoilt)) - beside == {code}


def test_mixes_that_were_assumed_are_told(tmp_path):
    file = tmp_path / "loaves.csv"
    bake()[["loaf", "day", "formula", "tin", "specific_volume"]].to_csv(file, index=False)
    pair = Pair(
        trial=load_trial(file), formula="malted", against="house", measure="specific_volume"
    )
    (found,) = [f for f in fairness_findings(pair) if f.code == "mixes-assumed"]
    assert found.message.endswith("as there must have been at least: 4 of malted and 4 of house.")


def test_proof_time_to_a_height_is_noticed_and_no_condition():
    table = bake().assign(proof_min=60.0 + 5 * malted(bake()))
    trial = as_trial(table, changed=("formula", "tin", "proof_min"), proof_to="height")
    pair = Pair(trial=trial, formula="malted", against="house", measure="specific_volume")
    assert [finding.code for finding in fairness_findings(pair)] == ["proof-time-is-an-outcome"]
    assert "proof_min" not in {condition.name for condition in pair.conditions}


def test_every_check_has_its_own_code_a_question_and_a_reason():
    assert len({check.code for check in FAIRNESS}) == len(FAIRNESS)
    assert all(check.title.endswith("?") and check.why.endswith(".") for check in FAIRNESS)


def test_worst_comes_first():
    spoilt = SPOILT["formula-tied-to-baker"](
        SPOILT["unequal-mixes"](SPOILT["formulas-differ-in-dough-g"](bake()))
    )
    severities = [finding.severity for finding in fairness_findings(pair_of(spoilt))]
    assert severities == ["error", "warning", "note"]


def test_a_third_formula_that_met_both_joins_them():
    table = bake()
    seeded = table[malted(table)].assign(formula="seeded", mix="S" + table["mix"])
    apart = pd.concat([table, seeded]).reset_index(drop=True)
    apart["baker"] = np.where(
        apart["formula"] == "malted",
        "Ann",
        np.where(
            apart["formula"] == "house", "Ben", np.where(apart["tin"] == "open", "Ann", "Ben")
        ),
    )
    assert "formula-tied-to-baker" not in codes(apart)


# --- the conditions, as a class reads them -----------------------------------------------------


def test_conditions_are_changed_kept_or_drifted():
    drifted = bake().assign(
        dough_temp_c=lambda t: 26.0 + 0.4 * malted(t) + 0.1 * (t["tin"] == "open")
    )
    found = {condition.name: condition for condition in pair_of(drifted).conditions}
    assert found["tin"].status == "changed on purpose"
    assert found["baker"].status == found["dough_g"].status == "kept the same"
    assert (found["baker"].formula_value, found["dough_g"].formula_value) == ("R", 460.0)
    warmer = found["dough_temp_c"]
    assert (warmer.status, warmer.unit, warmer.kind) == ("drifted", "°C", "number")
    assert warmer.difference == pytest.approx(0.4)
    # pooled over two groups of 16
    assert warmer.in_sd == pytest.approx(0.4 / (0.05 * np.sqrt(32 / 30)))
    assert next(iter(found)) == "tin"


def test_a_drifted_category_tells_how_many_loaves_would_have_to_change():
    table = bake().assign(baker="Ann")
    table.loc[table["mix"].isin(["M1", "M2"]), "baker"] = "Ben"
    baker = next(c for c in pair_of(table).conditions if c.name == "baker")
    assert (baker.formula_value, baker.against_value) == ("Ann × 8, Ben × 8", "Ann")
    assert baker.difference == pytest.approx(0.5)


def test_outcomes_and_names_are_no_conditions():
    table = bake().assign(
        crumb_openness=5.0,
        note=[f"n{i}" for i in range(32)],
        code=[f"c{i}" for i in range(32)],
        ph=np.arange(32.0),
        room_c=lambda t: t["mix"].map(hash).astype(float),
    )
    names = {condition.name for condition in pair_of(table).conditions}
    assert {
        "crumb_openness",
        "note",
        "code",
        "ph",
        "specific_volume",
        "loaf_ml",
        "mix",
        "loaf",
    }.isdisjoint(names)
    # the same all through a mix: it was set, not measured on the loaf
    assert "room_c" in names


def test_the_difference_is_adjusted_for_what_drifted():
    """Malted doughs are 1 °C warmer on the whole, and each degree makes a loaf 0.3 mL/g bigger."""
    table = bake(difference=0.4, days=8, loaves=6)
    rng = np.random.default_rng(5)
    warmth = dict(zip(table["mix"].unique(), rng.normal(0, 1, 16), strict=True))
    warm = 26 + malted(table) + table["mix"].map(warmth)
    table = table.assign(
        dough_temp_c=warm, specific_volume=table["specific_volume"] + 0.3 * (warm - 26)
    )
    c = compare_formulas(as_trial(table))
    row = c.fairness.table.set_index("condition").loc["dough_temp_c"]
    assert row["handled"] == "adjusted"
    assert abs(row["adjusted_difference"] - 0.4) < 0.1
    assert c.difference - row["adjusted_difference"] == pytest.approx(
        0.3 * row["difference"], abs=0.05
    )
    table = c.fairness.table.set_index("condition")
    assert table.loc["day", "handled"] == table.loc["tin", "handled"] == "in the model"
    assert table.loc["baker", "handled"] == ""


def test_drift_over_the_baking_order_is_found():
    table = bake(difference=0.0)
    drifting = table.assign(specific_volume=table["specific_volume"] - 0.06 * table["bake_order"])
    found = [
        f
        for f in compare_formulas(as_trial(drifting)).findings
        if f.code == "drift-over-baking-order"
    ]
    assert len(found) == 1
    assert found[0].message.startswith("Specific volume fell while baking: by about 0.4")
    assert [
        f for f in compare_formulas(as_trial(table)).findings if f.code == "drift-over-baking-order"
    ] == []


# --- order, lids, mixes, rearrangements --------------------------------------------------------


def test_the_order_test_is_the_exact_rank_sum_test():
    places = [3, 1, 4, 10, 5, 9, 2, 6]
    table = pd.DataFrame(
        {"mix": list("abcdefgh"), "formula": ["house"] * 4 + ["malted"] * 4, "bake_order": places}
    )
    test = order_test(table, "bake_order", "malted")
    exact = stats.mannwhitneyu(places[4:], places[:4], method="exact")
    assert test.p_value == pytest.approx(exact.pvalue, rel=1e-12)
    assert (test.smallest_p, test.within_days) == (pytest.approx(2 / 70), False)


def test_lids_cap_volumes_only_where_a_loaf_filled_its_tin():
    lid = Tin(volume_ml=1600, lid=True)
    loaves = pd.DataFrame(
        {"tin": ["open", "lidded", "lidded", "lidded"], "loaf_ml": [1900.0, 1560, 1400, 1300]}
    )
    card = as_trial(bake(), tins={"open": Tin(volume_ml=1600), "lidded": lid}).card
    assert list(capped_loaves(loaves, card, "specific_volume")) == [False, True, True, True]
    assert not capped_loaves(loaves, card, "bake_loss_pct").any()
    assert not capped_loaves(
        loaves.assign(loaf_ml=[1900.0, 1500, 1400, 1300]), card, "loaf_ml"
    ).any()
    no_volume = as_trial(bake(), tins={"lidded": Tin(lid=True)}).card
    assert list(
        capped_loaves(loaves.assign(loaf_ml=[1900.0, 1500, 1504, 1497]), no_volume, "loaf_ml")
    ) == [False, True, True, True]


def test_a_mix_number_that_returns_on_another_day_is_another_mix():
    table = bake().assign(mix=bake()["formula"])
    assert len(np.unique(mix_codes(table))) == 8


def test_rearrangements_are_all_of_them_and_each_once():
    labelled, scores = np.array([1, 0, 0, 1, 1], bool), np.array([1.0, 2, 4, 8, 16])
    dealt = rearrange(labelled, scores, blocks=np.array([0, 0, 0, 1, 1]))
    every = [a + 8.0 + 16.0 for a in (1, 2, 4)]
    assert (dealt.count, dealt.exact) == (3, True)
    assert sorted(dealt.sums) == every
    unblocked = rearrange(labelled, scores, np.zeros(5, int))
    assert sorted(unblocked.sums) == sorted(
        sum(three) for three in itertools.combinations(scores, 3)
    )
