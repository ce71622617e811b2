"""What is said of crumb scores: whole sentences, kind words about people, cautions where bread is
tasted.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import crumb_scores
from fairloaf.analysis.crumb.standing_apart import Smallest
from fairloaf.analysis.wording.crumb import (
    TASTING,
    answer,
    crumb_sentences,
    crumb_text,
    holm_lines,
    ordered_lines,
    other_lines,
    tasting_lines,
    total_lines,
    volume_lines,
)
from fairloaf.analysis.wording.crumb_people import agreement_lines, assessor_lines, without_lines
from fairloaf.trials.words.numbers import ENGLISH, NumberStyle

from .score_trials import invented


@pytest.fixture(scope="module")
def result():
    words = {"openness": {"1": "closed", "10": "very open"}}
    return crumb_scores(invented({"openness": 3.0, "evenness": 0.0}, words=words))


def with_row(result, **values):
    """Return the result with numbers of its first attribute replaced."""
    table = result.attributes.copy()
    for name, value in values.items():
        table[name] = table[name].astype(object)
        table.loc[0, name] = value
    return replace(result, attributes=table)


REAL = {"difference": 1.42, "ci_low": 0.61, "ci_high": 2.23, "matters": 1.0}


@pytest.mark.parametrize(
    ("values", "said"),
    [
        (
            REAL | {"ci_low": 1.1, "verdict": "matters"},
            (
                "Malted loaves scored higher for openness than house loaves, by 1.42 points (likely"
                " between 1.10 and 2.23; 4 mixes each, 6 assessors). On this scale 1 is closed, 10"
                " very open. All of that is at least the 1.00 points that you said matters."
            ),
        ),
        (
            REAL | {"verdict": "real, size unsure"},
            (
                "Malted loaves scored higher for openness than house loaves, by 1.42 points (likely"
                " between 0.61 and 2.23; 4 mixes each, 6 assessors). On this scale 1 is closed, 10"
                " very open. The difference is real; whether it reaches the 1.00 points that you"
                " said matters is not sure."
            ),
        ),
        (
            REAL | {"difference": -0.2, "ci_low": -1.2, "ci_high": 0.8, "verdict": "not settled"},
            (
                "Malted loaves scored lower for openness than house loaves, by 0.2 points (anything"
                " from 1.2 lower to 0.8 higher is likely; 4 mixes each, 6 assessors). On this scale"
                " 1 is closed, 10 very open. So it is not settled: these scores could have come"
                " out like this if there were no difference at all, and also if there were one of"
                " 1.0 points or more."
            ),
        ),
        (
            REAL | {"matters": np.nan, "verdict": "real, size unsure"},
            (
                "Malted loaves scored higher for openness than house loaves, by 1.42 points (likely"
                " between 0.61 and 2.23; 4 mixes each, 6 assessors). On this scale 1 is closed, 10"
                " very open. The difference is real; whether it matters depends on what"
                " nobody has said yet. Say on the"
                " card, as  matters  under [measures.crumb_openness], what difference is worth"
                " acting on."
            ),
        ),
    ],
    ids=["matters", "size unsure", "not settled", "nobody said"],
)
def test_the_answer(result, values, said):
    assert answer(with_row(result, **values), style=ENGLISH) == said


def test_the_answer_of_a_single_mix_says_why_it_is_not_settled():
    one = crumb_scores(invented({"openness": 4.0}, mixes=1, loaves=6))
    assert answer(one, style=ENGLISH).endswith(
        "(1 mix each, 6 assessors). It is not settled. There is only one mix of malted and house,"
        " so that nothing shows how another mix would have turned out."
    )


def test_where_none_can_be_judged_the_largest_difference_is_told_first():
    three = invented(
        {"openness": 1.0, "softness": -3.0}, mixes=1, formulas=("house", "malted", "rye")
    )
    told = crumb_scores(three).attributes
    assert told["p_value"].isna().all()
    assert told["difference"].abs().is_monotonic_decreasing
    assert tuple(told.loc[0, ["attribute", "formula", "against"]]) == ("softness", "rye", "house")


def test_other_attributes_are_gathered_by_verdict(result):
    (line,) = other_lines(result, style=ENGLISH)
    assert line.startswith(("Not settled: evenness, ", "No difference that matters: evenness, "))


def test_pairs_are_named_where_there_are_several():
    several = crumb_scores(invented({"openness": 3.0}, formulas=("house", "malted", "rye")))
    assert " against house in openness, " in other_lines(several, style=ENGLISH)[0]


def test_holm_is_said_only_where_something_is_real(result):
    (line,) = holm_lines(result)
    assert line.endswith("Allowing for that (Holm), all that were called real stay so.")
    table = result.attributes.assign(p_value=[0.04, 0.3], p_holm=[0.08, 0.3])
    (line,) = holm_lines(replace(result, attributes=table))
    assert line.endswith("Allowing for that (Holm), of those called real none would stay so.")
    table = result.attributes.assign(p_value=[0.2, 0.3], p_holm=[0.4, 0.4])
    assert holm_lines(replace(result, attributes=table)) == []


@pytest.mark.parametrize(
    ("p_value", "ordered_p", "said"),
    [
        (0.01, 0.02, "A check that takes the scores as ordered steps, no more, says the same."),
        (
            0.01,
            0.2,
            (
                "Taken as ordered steps, no more, the scores do not show the difference in openness"
                " (p = 0.20): lean on it lightly."
            ),
        ),
        (
            0.2,
            0.01,
            (
                "Taken as ordered steps, these scores differ in openness (p = 0.010). That check"
                " knows nothing of mixes: it speaks of these loaves, not of the next bake."
            ),
        ),
    ],
    ids=["agree", "only the model", "only the steps"],
)
def test_disagreement_of_the_ordered_check_is_said(result, p_value, ordered_p, said):
    table = result.attributes.iloc[:1].assign(
        together_p=p_value, ordered_p=ordered_p, agrees=(p_value < 0.05) == (ordered_p < 0.05)
    )
    assert ordered_lines(replace(result, attributes=table), style=ENGLISH) == [said]


def test_an_ordered_check_that_could_not_be_worked_out_is_said(result):
    table = result.attributes.iloc[:1].assign(
        ordered_p=np.nan, ordered_way="none", ordered_why="no convergence", agrees=None
    )
    assert ordered_lines(replace(result, attributes=table), style=ENGLISH) == [
        "A check that takes the scores as ordered steps could not be worked out for openness: too"
        " few scores, or too much alike, to fit it to."
    ]


def apart(*rows):
    return pd.DataFrame(
        rows, columns=["assessor", "trait", "direction", "attribute", "amount", "p_panel"]
    )


def test_those_who_stand_apart_are_spoken_of_kindly(result):
    odd = replace(
        result,
        standing_apart=apart(
            ("A2", "above_others", "harsher", "all", -2.13, 0.001),
            ("A2", "above_others", "harsher", "evenness", -2.6, 0.01),
            ("A4", "use_of_scale", "narrower", "openness", 0.31, 0.01),
            ("A5", "scatter", "own way", "all", 2.4, 0.001),
        ),
    )
    lines = assessor_lines(odd, style=ENGLISH)
    assert lines[:3] == [
        "A2 scored harsher than the others, by 2.1 points.",
        (
            "A4 used a narrower part of the scale than the others (0.3 times their spread) in"
            " openness."
        ),
        "A5 saw the loaves otherwise than the others did (2.4 times the usual scatter).",
    ]
    assert lines[3].startswith("The scale, the light or the order of the loaves may be the reason")


def test_a_panel_in_accord_and_a_panel_too_small_are_told_apart(result):
    assert "No assessor stands apart from the others." in assessor_lines(result, style=ENGLISH)
    few = crumb_scores(invented({"openness": 3.0}, assessors=3))
    assert assessor_lines(few, style=ENGLISH) == [
        "With fewer than four assessors nobody can be said to stand apart."
    ]


SHOWN = Smallest(above_others=1.93, narrower=0.41, wider=2.35, scatter=2.04)


@pytest.mark.parametrize(
    ("smallest", "said"),
    [
        (
            SHOWN,
            (
                "These scores are enough to show, 19 times in 20, an assessor who is 1.9 points"
                " harsher or milder than the others, or whose scores spread 0.4 or 2.4 times as far"
                " as theirs, or who scatters 2.0 times as much about the common picture of the"
                " loaves. Smaller habits may go unseen, and show only where more loaves are scored,"
                " or by more people."
            ),
        ),
        (
            replace(SHOWN, wider=np.nan, scatter=np.nan),
            (
                "These scores are enough to show, 19 times in 20, an assessor who is 1.9 points"
                " harsher or milder than the others, or whose scores spread 0.4 times as far as"
                " theirs. Smaller habits may go unseen, and show only where more loaves are scored,"
                " or by more people."
            ),
        ),
    ],
    ids=["all", "some"],
)
def test_what_the_scores_could_have_shown_is_said(result, smallest, said):
    nobody, line = assessor_lines(replace(result, smallest_shown=smallest), style=ENGLISH)
    assert nobody == "No assessor stands apart from the others."
    assert line == said


def test_nobody_is_said_to_fit_in_where_nothing_could_have_shown(result):
    assert assessor_lines(replace(result, smallest_shown=Smallest()), style=ENGLISH) == [
        "These scores are too few to tell anybody apart from the others: score more loaves"
        " together, and the panel can be looked at fairly."
    ]


def test_what_becomes_of_the_answer_without_them(result):
    odd = replace(
        result, standing_apart=apart(("A2", "above_others", "harsher", "all", -2.1, 0.001))
    )
    assert without_lines(odd) == ["Without A2 too few scores are left for an answer."]
    same = result.attributes.assign(verdict_with=result.attributes["verdict"])
    assert without_lines(replace(odd, without=same)) == ["Without A2 every verdict stays the same."]
    changed = same.iloc[:1].assign(verdict_with="not settled", verdict="matters")
    assert without_lines(replace(odd, without=changed)) == [
        "Without A2 the verdict changes in openness, from not settled to matters."
    ]


def test_agreement_names_the_best_and_the_worst(result):
    table = result.agreement.assign(kendall_w=[0.78, 0.21])
    assert agreement_lines(replace(result, agreement=table), style=ENGLISH) == [
        "How alike the assessors rank the loaves, from 0 for not at all to 1 for fully: closely in"
        " openness (Kendall's W 0.78) and loosely in evenness (Kendall's W 0.21)."
    ]


def test_two_assessors_agree_by_weighted_kappa():
    two = crumb_scores(invented({"openness": 3.0}, assessors=2))
    (line,) = agreement_lines(two, style=ENGLISH)
    assert "(weighted kappa " in line


def test_volume_is_told_without_a_cause(result):
    rows = pd.DataFrame(
        {
            "attribute": ["openness", "evenness"],
            "measure": "specific_volume",
            "r": [0.85, 0.2],
            "ci_low": [0.36, -0.6],
            "ci_high": [0.97, 0.8],
            "n_mixes": 8,
        }
    )
    assert volume_lines(replace(result, volume_correlation=rows), style=ENGLISH) == [
        "From mix to mix (8 mixes), as specific volume rises, openness rises (r 0.85, likely"
        " between 0.36 and 0.97). That they go together does not say which brings the other about."
    ]


def test_the_total_is_taken_apart():
    weighted = crumb_scores(
        invented({"openness": 3.0, "softness": 1.0}, weights={"openness": 60, "softness": 40})
    )
    (line,) = total_lines(weighted, style=ENGLISH)
    assert line.startswith(
        "With the card's weights, malted loaves scored higher for total than house loaves, by "
    )
    assert "Of that difference: openness " in line


@pytest.mark.parametrize(
    ("attribute", "cautioned"),
    [
        ("salt taste", True),
        ("sour aroma", True),
        ("Malt Flavour", True),
        ("openness", False),
        ("evenness", False),
    ],
)
def test_tasting_carries_its_caution(result, attribute, cautioned):
    table = result.attributes.assign(attribute=attribute)
    assert (TASTING in tasting_lines(replace(result, attributes=table))) == cautioned


def test_numbers_follow_the_readers_style(result):
    german = NumberStyle(decimal_mark=",")
    shown = with_row(result, **(REAL | {"verdict": "real, size unsure"}))
    assert "by 1,42 points (likely between 0,61 and 2,23;" in crumb_sentences(shown, german)[0]


def test_the_text_ends_with_what_stands_in_the_way():
    trial = invented({"openness": 3.0})
    gappy = crumb_scores(replace(trial, scores=trial.scores.iloc[3:]))
    assert (
        crumb_text(gappy, style=ENGLISH)
        .splitlines()[-1]
        .startswith(f"Note: 3 of {len(trial.scores)} scores are missing: A")
    )


def test_no_sentence_is_empty_or_left_unfilled(result):
    for sentence in crumb_sentences(result, style=ENGLISH):
        assert sentence.strip().endswith((".", "!"))
        assert "nan" not in sentence.lower()
        assert "{" not in sentence


def test_no_difference_at_all_is_said_plainly():
    trial = invented({"openness": 3.0, "evenness": 0.0})
    flat = crumb_scores(replace(trial, scores=trial.scores.assign(score=5.0)))
    assert answer(flat, style=ENGLISH).startswith(
        "Malted loaves scored the same for openness as house loaves (4 mixes each, "
    )
    assert answer(flat, style=ENGLISH).endswith(
        "It is not settled. The scores do not vary at all, so that nothing shows how sure this is."
    )
    assert other_lines(flat, style=ENGLISH) == ["Not settled: evenness, the same."]
