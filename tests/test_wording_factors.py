"""What a baker reads about the factors."""

import re
from itertools import product

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import factor_effects
from fairloaf.analysis.wording.factors import factor_sentences, factors_text
from fairloaf.trials.words.numbers import ENGLISH, NumberStyle, typed_places

from .report_examples import factors_of
from .trials_from_tables import REFERENCE, reference_table, trial_from

EXAMPLES = REFERENCE.parents[1] / "example_trials"


def bake(step=0.3, noise=0.03, **card):
    """Two formulas × three proof times, six mixes of three loaves; proof time adds `step` a level;
    invented.
    """
    rng = np.random.default_rng(4)
    rows = [
        (f"{formula}{k}", formula, proof, 4 + step * i + rng.normal(0, noise))
        for formula, k in product(["house", "malted"], range(3))
        for i, proof in enumerate([45.0, 60.0, 75.0])
    ]
    table = pd.DataFrame(rows, columns=["mix", "formula", "proof_min", "specific_volume"])
    return trial_from(
        table, "specific_volume", ["formula", "proof_min"], numbers=["proof_min"], **card
    )


def test_the_answer_comes_first_with_its_size_and_how_sure_it_is():
    f = factor_effects(bake(matters=0.2))
    pattern = (
        r"Proof time moved specific volume most: 75 min above 45 min by 0\.\d+ mL/g \(likely"
        r" between 0\.\d+ "
        r"and 0\.\d+\)\. All of that is at least the 0\.2 mL/g that you said matters\."
    )
    assert re.fullmatch(pattern, f.sentence)
    assert f.sentences[0] == f.sentence


@pytest.mark.parametrize(
    ("step", "matters", "said"),
    [
        (0.3, 0.2, "All of that is at least the 0.2 mL/g that you said matters."),
        (0.3, 0.6, "The difference is real; whether it reaches the 0.6 mL/g that you said matters"),
        (0.3, 3, "The difference is real, but smaller than the 3 mL/g that you said matters."),
        (
            0.0,
            1,
            "A difference, if there is one, is smaller than the 1 mL/g that you said matters.",
        ),
    ],
)
def test_the_effect_is_held_against_what_matters(step, matters, said):
    assert said in factor_effects(bake(step=step, matters=matters)).sentence


def test_nobody_said_what_matters():
    assert "matters" not in factor_effects(bake()).sentence


def test_nothing_shown_is_said_as_that():
    words = factor_effects(bake(step=0.0)).sentence
    assert words.startswith(
        "No factor is shown to have moved specific volume. The largest effect, "
    )
    assert "may be none at all" in words


def test_a_straight_line_is_told_a_step_at_a_time():
    curve = next(
        words
        for words in factor_effects(bake()).sentences
        if words.startswith("Proof time, 45 min to 75")
    )
    assert re.search(
        r"rises in a straight line by 0\.(29|3)\d* mL/g for each 15 min more \(likely between",
        curve,
    )


def test_a_falling_line_falls_by_a_positive_amount():
    curve = next(
        words
        for words in factor_effects(bake(step=-0.3)).sentences
        if words.startswith("Proof time, 45 min to 75")
    )
    assert re.search(
        r"falls in a straight line by 0\.\d+ mL/g for each 15 min more \(likely between 0\.", curve
    )


def test_numbers_are_written_as_the_reader_writes_them():
    for words in factor_sentences(factor_effects(bake(matters=0.2)), NumberStyle(decimal_mark=",")):
        assert not re.search(r"\d\.\d", words), words


def test_no_sentence_leads_with_a_p_value_or_holds_a_missing_number():
    for found in (
        factor_effects(bake()),
        factors_of("small_bakery"),
        factors_of("open_and_lidded"),
        factor_effects(trial_from(reference_table("filtration.csv"), "filtration", list("ABCD"))),
    ):
        for words in found.sentences:
            assert not words.lower().startswith("p ")
            assert not re.search(r"\b(nan|inf|None|unknown)\b", words), words
            assert "_" not in words, words


def test_working_together_is_said_with_the_combinations():
    sentences = factors_of("small_bakery").sentences
    together = next(
        words for words in sentences if words.startswith("Formula and tin work together")
    )
    assert re.search(
        r"Highest: malted × open, 4\.\d+ mL/g; lowest: house × lidded, 3\.\d+ mL/g\.", together
    )
    assert "the lid itself" in together


def test_one_factor_has_no_most():
    f = factors_of("open_and_lidded")
    assert f.sentence.startswith("Tin moved height: open above lidded by ")


def test_loaves_of_one_mix_speak_for_that_dough_alone():
    said = (
        "All 12 loaves came from one mix: this is how that dough behaved, and nothing shows that"
        " another would do"
    )
    assert any(words.startswith(said) for words in factors_of("open_and_lidded").sentences)
    assert not any("one mix:" in words for words in factor_effects(bake()).sentences)


def test_the_terminal_gets_the_layout_as_a_small_table():
    text = factors_text(factor_effects(bake()), style=ENGLISH)
    table = text.rsplit("\n\n", 1)[1].splitlines()
    assert [line.split() for line in table[1:]] == [
        ["formula", "house,", "malted", "mix", "(6)"],
        ["proof", "time", "45,", "60,", "75", "loaf", "(18)"],
    ]


def test_loaves_without_a_mix_are_said_to_stand_alone():
    table = pd.DataFrame({"formula": ["a", "b"] * 6, "y": np.arange(12.0) % 5})
    assert any(
        words.startswith("No mixes were recorded")
        for words in factor_effects(trial_from(table, "y", ["formula"])).sentences
    )


@pytest.mark.parametrize(
    ("value", "places"), [(0.2, 1), (0.25, 2), (60.0, 0), (5.0, 0), (0.001, 3)]
)
def test_a_number_keeps_the_decimals_it_was_typed_with(value, places):
    assert typed_places(value) == places
