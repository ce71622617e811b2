"""What servings show, from files to fields: counts, verdicts, preferences, rankings, groups, words
for people.
"""

from __future__ import annotations

import json
import math

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis import (
    plan_servings,
    taste_counts,
    tasters_needed,
    tasting_answers,
    words_seen,
)
from fairloaf.analysis.methods.repeated_answers import Answers
from fairloaf.analysis.tasting.telling import counted, verdict
from fairloaf.trials import TrialError, load_trial
from hypothesis import given, settings
from hypothesis import strategies as some

from .tasting_trial import CARD, CODES, TASTING, written

HEAD = "assessor,test,served,answer,asked,group,repeat"


UNPLANNED = CARD.replace("assessors = 12", "")


def answers(folder, rows, card=UNPLANNED, may_tell=None):
    return tasting_answers(
        load_trial(written(folder, tasting=[HEAD, *rows], words=None, card=card)), may_tell=may_tell
    )


def triangles(right: int, of: int, first: int = 1, group: str = "", repeat: str = "") -> list[str]:
    """Triangle servings of loaves 1 and 3: odd cup 234, answered rightly by the first ``right``
    people.
    """
    orders = ["123 321 234", "123 234 321", "234 123 321"]
    return [
        f"p{n},triangle,{orders[n % 3]},{'234' if n - first < right else '123'},,{group},{repeat}"
        for n in range(first, first + of)
    ]


# 18 of 30 in a triangle test: limits computed twice elsewhere (tasting.json, repeated_limits)
def test_a_triangle_test_from_its_files(tmp_path):
    found = answers(tmp_path, triangles(18, 30))
    row = found.tests.iloc[0]
    assert (row["right"], row["n_servings"], row["n_assessors"], row["n_mixes"]) == (18, 30, 30, 1)
    assert (row["formula"], row["against"], row["test"]) == ("malted", "house", "triangle")
    assert (row["can_tell_low"], row["can_tell_high"]) == pytest.approx(
        (0.150918, 0.625711), abs=1e-6
    )
    assert row["can_tell"] == pytest.approx(0.4)
    assert row["verdict"] == "can tell, how many unsure"
    assert (
        found.sentence
        == "18 of 30 picked the odd slice; guessing would give about 10. Between 15 and 63 in 100"
        " can likely tell these two doughs apart (house and malted, triangle test). Some people"
        " can tell; whether they are fewer than the 30 in 100 who may is not sure."
    )
    counted = taste_counts("triangle", 18, 30, may_tell=0.3)
    for name in (
        "share_right_low",
        "d_prime",
        "d_prime_high",
        "p_different",
        "p_similar",
        "design_effect",
    ):
        assert getattr(counted, name) == pytest.approx(row[name])
    json.dumps(found.to_dict(), allow_nan=False)


@pytest.mark.parametrize(
    ("low", "high", "may_tell", "said"),
    [
        (0.3, 0.6, 0.3, "many can tell"),
        (0.1, 0.2, 0.3, "few can tell"),
        (0.1, 0.3, 0.3, "can tell, how many unsure"),
        (0.0, 0.2, 0.3, "similar enough"),
        (0.0, 0.3, 0.3, "not settled"),
        (0.0, 0.2, None, "not settled"),
        (0.1, 0.2, None, "can tell, how many unsure"),
    ],
)
def test_every_verdict_has_one_condition(low, high, may_tell, said):
    assert verdict(low, high, may_tell) == said


@settings(max_examples=60, deadline=None)
@given(
    test=some.sampled_from(["triangle", "duo-trio", "tetrad", "three-choice", "pair"]),
    of=some.integers(1, 60),
    share=some.floats(0, 1),
    may_tell=some.floats(0.05, 0.95),
    confidence=some.sampled_from([0.8, 0.9, 0.95, 0.99]),
)
def test_verdict_and_tests_never_disagree(test, of, share, may_tell, confidence):
    found = taste_counts(test, round(share * of), of, may_tell=may_tell, confidence=confidence)
    chance = 1 - confidence
    assert (found.verdict in ("similar enough", "few can tell")) == (
        found.p_similar < chance
    ) or abs(found.p_similar - chance) < 1e-7
    assert (found.verdict in ("many can tell", "few can tell", "can tell, how many unsure")) == (
        found.p_different <= chance
    ) or abs(found.p_different - chance) < 1e-9
    assert found.can_tell_low <= found.can_tell + 1e-9
    assert found.d_prime_low <= found.d_prime + 1e-6
    assert found.sentence.count("likely") == 1


@settings(max_examples=100, deadline=None)
@given(
    test=some.sampled_from(["triangle", "duo-trio", "tetrad", "three-choice", "pair"]),
    right=some.lists(some.integers(0, 3), min_size=2, max_size=16),
    may_tell=some.floats(0.05, 0.95),
    confidence=some.sampled_from([0.8, 0.9, 0.95, 0.99]),
)
def test_of_repeated_servings_limit_and_test_never_disagree(test, right, may_tell, confidence):
    answers = Answers(right=np.array(right), of=np.full(len(right), 3))
    found = counted(test, answers, may_tell, confidence)
    chance = 1 - confidence
    assert (found["can_tell_low"] > 0) == (found["p_different"] <= chance) or (
        abs(found["p_different"] - chance) < 1e-9
    )
    assert (found["can_tell_high"] < may_tell) == (found["p_similar"] < chance) or (
        abs(found["can_tell_high"] - may_tell) < 1e-6
    )


def test_without_a_share_that_may_tell_nothing_is_similar():
    assert taste_counts("triangle", 10, 60, may_tell=0.3).verdict == "similar enough"
    found = taste_counts("triangle", 10, 60)
    assert found.verdict == "not settled"
    assert "not shown that they are alike" in found.sentence
    assert found.p_similar is None


def test_repeated_servings_are_judged_by_person(tmp_path):
    rows = [row for repeat in "1234" for row in triangles(6, 12, repeat=repeat)]
    found = answers(tmp_path, rows)
    row = found.tests.iloc[0]
    assert (row["right"], row["n_servings"], row["n_assessors"]) == (24, 48, 12)
    assert row["design_effect"] > 3
    assert row["p_people_differ"] < 0.001
    assert row["can_tell_high"] > taste_counts("triangle", 24, 48).can_tell_high
    assert any(
        "12 people had 48 servings; the range is judged by person" in line
        for line in found.sentences
    )


def test_a_pair_needs_the_bread_that_was_expected(tmp_path):
    rows = [f"p{n},pair,123 234,{'234' if n < 10 else '123'},sour,," for n in range(12)]
    card = CARD.replace('["house", "malted"]\nassessors = 12', '"malted"')
    row = answers(tmp_path, rows, card=card).tests.iloc[0]
    assert (row["right"], row["asked"]) == (10, "sour")
    # ISO 5495, one-sided: 10 of 12 is the first significant count at 5 %
    assert row["p_different"] == pytest.approx(79 / 4096)


def test_preferences_leave_none_out_and_count_it(tmp_path):
    rows = [
        f"p{n},preference,{'123 234' if n % 2 else '234 123'},"
        f"{'234' if n < 26 else '123' if n < 36 else 'none'},,,"
        for n in range(40)
    ]
    found = answers(tmp_path, rows)
    row = found.preferences.iloc[0]
    assert (row["chose"], row["chose_other"], row["no_preference"], row["verdict"]) == (
        26,
        10,
        4,
        "preferred",
    )
    assert row["p_value"] == pytest.approx(0.0113309841836)  # sign test, two-sided (ISO 5495)
    assert (
        found.sentence
        == "Of 36 who chose, 26 preferred malted and 10 house; 4 had no preference. More people "
        "prefer malted (p = 0.011)."
    )


LOAVES = ["loaf,formula,mix", "1,house,a", "2,malted,b", "3,rye,c"]
BEER = [
    [4, 5, 8],
    [3, 7, 6],
    [2, 8, 8],
    [5, 7, 9],
    [1, 3, 6],
    [4, 4, 6],
    [3, 6, 8],
    [2, 5, 5],
    [2, 7, 9],
    [6, 4, 5],
]


def ranked(scores: list[int]) -> str:
    """Write three scores as a ranking of the codes 123, 234, 345."""
    codes = dict(zip(("123", "234", "345"), scores, strict=True))
    return " < ".join(
        " = ".join(code for code in codes if codes[code] == value) for value in sorted(set(scores))
    )


# Korosteleva's ten tasters and three beers (tasting.json, ranking_beer): χ² 11.405 with ties
# corrected, 2 df
def test_rankings_are_friedmans_test(tmp_path):
    rows = [f"p{n},ranking,123 234 345,{ranked(scores)},,," for n, scores in enumerate(BEER)]
    folder = written(
        tmp_path,
        loaves=LOAVES,
        codes=["code,loaf", "123,1", "234,2", "345,3"],
        tasting=[HEAD, *rows],
        words=None,
        card=(
            'control = "house"\n[factors]\nformula = ["house", "malted", "rye"]\n[tasting]\n'
            'expected = ["house", "malted", "rye"]\nallergens = []\n'
        ),
    )
    found = tasting_answers(load_trial(folder))
    row = found.rankings.iloc[0]
    assert (row["chi2"], row["df"]) == (pytest.approx(11.4054054054), 2)
    assert row["p_chi2"] == pytest.approx(0.00333693451706)
    assert [row[f"rank_sum_{bread}"] for bread in ("house", "malted", "rye")] == [12.5, 20.5, 27.0]
    assert row["kendall_w"] == pytest.approx(11.4054054054 / 20)
    assert row["p_expected"] < 0.001
    pairs = found.ranking_pairs
    assert pairs[["formula", "against"]].to_numpy().tolist() == [
        ["malted", "house"],
        ["rye", "house"],
        ["rye", "malted"],
    ]
    assert pairs["difference"].tolist() == [8.0, 14.5, 6.5]
    assert (pairs["p_holm"] >= pairs["p_value"]).all()
    assert found.sentence.startswith(
        "Ranked from the least to the most by 10 people, the rank sums are house (12.5), "
        "malted (20.5) and rye (27.0). They are further apart than chance"
    )


def test_groups_keep_their_own_lines(tmp_path):
    rows = triangles(12, 14, group="class A") + triangles(5, 15, first=20, group="class B")
    found = answers(tmp_path, rows)
    assert found.groups[["group", "right", "n_servings"]].to_numpy().tolist() == [
        ["class A", 12, 14],
        ["class B", 5, 15],
    ]
    assert 0 < found.groups["p_value"].iloc[0] < 0.01


def test_voids_and_missing_answers_are_left_out_and_counted(tmp_path):
    rows = [*triangles(9, 12), "p30,triangle,123 321 234,,,,"]
    found = answers(tmp_path, rows)
    assert found.tests["n_servings"].tolist() == [12]
    assert found.left_out.to_numpy().tolist() == [["triangle", "no answer", 1]]
    assert "Left out: 1 of triangle (no answer)." in found.sentences


def test_the_order_of_rows_and_the_names_of_people_change_nothing(tmp_path):
    rows = triangles(9, 12) + [
        f"p{n},ranking,357 468,{'357 < 468' if n % 3 else '468 < 357'},,," for n in range(1, 10)
    ]
    found = answers(tmp_path, rows).to_dict()
    turned = answers(tmp_path, [row.replace("p", "q", 1) for row in rows[::-1]]).to_dict()
    assert turned == found


def test_one_dough_never_speaks_for_its_formula(tmp_path):
    assert any(
        "only one dough of a formula" in line
        for line in answers(tmp_path, triangles(9, 12)).sentences
    )
    rows = [
        f"p{n},triangle,{'123 321 234' if n % 2 else '357 468 432'},{'234' if n % 2 else '357'},,,"
        for n in range(12)
    ]
    codes = [line if line != "432,3" else "432,4" for line in CODES]
    folder = written(tmp_path, codes=codes, tasting=[HEAD, *rows], words=None)
    found = tasting_answers(load_trial(folder))
    assert found.tests["n_mixes"].tolist() == [2]
    assert not any("only one dough" in line for line in found.sentences)
    assert "can likely tell these breads apart" in found.sentence


@pytest.mark.parametrize(
    ("call", "code"),
    [
        (lambda: taste_counts("sniffing", 3, 4), "test-unknown"),
        (lambda: taste_counts("ranking", 3, 4), "test-unknown"),
        (lambda: taste_counts("triangle", 5, 4), "counts-impossible"),
        (lambda: taste_counts("triangle", 3, 4, may_tell=30), "share-impossible"),
        (lambda: tasters_needed("triangle"), "share-impossible"),
        (lambda: tasters_needed("triangle", can_tell=0.4, may_tell=0.3), "share-impossible"),
        (lambda: tasters_needed("triangle", can_tell=0.4, d_prime=1), "two-truths"),
        (lambda: tasters_needed("triangle", can_tell=0.4, power=80), "power-impossible"),
    ],
)
def test_questions_that_make_no_sense_are_refused_with_the_fix(call, code):
    with pytest.raises(TrialError) as stopped:
        call()
    assert [f.code for f in stopped.value.findings] == [code]
    assert stopped.value.findings[0].fix


def test_a_trial_without_a_tasting_says_so(tmp_path):
    with pytest.raises(TrialError, match=r"no tasting\.csv"):
        tasting_answers(load_trial(written(tmp_path, tasting=None)))


# ISO 4120 as remembered: 40 is the first number at 30 in 100, power 0.8; from 42 on it stays
def test_tasters_needed_are_those_from_which_the_power_stays():
    found = tasters_needed("triangle", can_tell=0.3)
    assert (found.first, found.needed, found.aim) == (40, 42, "different")
    powers = found.table.set_index("n_assessors")["power"]
    assert powers[40] >= 0.8 > powers[41]
    assert powers.loc[42:].min() >= 0.8
    assert tasters_needed("triangle", may_tell=0.3).needed == 46
    by_distance = {
        test: tasters_needed(test, d_prime=1).needed
        for test in ("three-choice", "pair", "tetrad", "triangle", "duo-trio")
    }
    assert by_distance == {
        "three-choice": 22,
        "pair": 26,
        "tetrad": 65,
        "triangle": 220,
        "duo-trio": 241,
    }
    assert tasters_needed("triangle", can_tell=0.001).needed is None


def test_results_are_plain_data(tmp_path):
    found = tasting_answers(load_trial(written(tmp_path)))
    assert isinstance(found.tests, pd.DataFrame)
    text = json.dumps(found.to_dict(), allow_nan=False)
    assert json.loads(text)["tests"][0]["test"] == "triangle"
    assert np.isfinite(found.tests["can_tell"]).all()
    assert len(TASTING) == 28


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        (lambda: taste_counts(None, 5, 10), "test-unknown"),
        (lambda: taste_counts("ranking", 5, 10), "test-unknown"),
        (lambda: taste_counts("triangle", 11, 10), "counts-impossible"),
        (lambda: taste_counts("triangle", -1, 10), "counts-impossible"),
        (lambda: taste_counts("triangle", 5.5, 10), "counts-impossible"),
        (lambda: taste_counts("triangle", math.nan, 10), "counts-impossible"),
        (lambda: taste_counts("triangle", "5", 10), "counts-impossible"),
        (lambda: taste_counts("triangle", 0, 0), "counts-impossible"),
        (lambda: taste_counts("triangle", 10**9, 10**10), "counts-impossible"),
        (lambda: taste_counts("triangle", 5, 10, may_tell=30), "share-impossible"),
        (lambda: taste_counts("triangle", 5, 10, may_tell="0.3"), "share-impossible"),
        (lambda: taste_counts("triangle", 5, 10, confidence=95), "confidence"),
        (lambda: taste_counts("triangle", 5, 10, confidence=math.nan), "confidence"),
        (lambda: tasters_needed("triangle"), "share-impossible"),
        (lambda: tasters_needed("triangle", 30), "share-impossible"),
        (lambda: tasters_needed("triangle", "0.3"), "share-impossible"),
        (lambda: tasters_needed("triangle", d_prime=math.inf), "distance-impossible"),
        (lambda: tasters_needed("triangle", 0.3, power=80), "power-impossible"),
        (lambda: tasters_needed("triangle", 0.3, may_tell="a few"), "share-impossible"),
        (lambda: plan_servings("triangle", "house", 6), "breads-number"),
        (lambda: plan_servings("triangle", ["house", None], 6), "breads-number"),
        (lambda: plan_servings("triangle", ["house", "rye"], 5.5), "people-number"),
        (lambda: plan_servings("triangle", ["house", "rye"], 10**9), "people-number"),
        (lambda: plan_servings("triangle", ["house", "rye"], 6, seed=-1), "people-number"),
        (lambda: plan_servings(None, ["house", "rye"], 6), "test-unknown"),
    ],
)
def test_what_makes_no_sense_is_told_with_what_would(asked, code):
    with pytest.raises(TrialError) as stopped:
        asked()
    (found,) = stopped.value.findings
    assert found.code == code
    assert found.fix.startswith(("Give ", "Name "))


@pytest.mark.parametrize("ask", [tasting_answers, words_seen])
def test_a_folders_name_is_no_trial(ask):
    with pytest.raises(TypeError, match=r"write  load_trial\('my_trial'\)  first"):
        ask("my_trial")


def test_words_are_judged_by_loaf_or_by_formula(tmp_path):
    trial = load_trial(written(tmp_path))
    with pytest.raises(TrialError, match="Words are not judged by dough"):
        words_seen(trial, by="dough")
