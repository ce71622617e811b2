"""Names in sentences: nobody can take them for the sentence's own words."""

import functools
import re
from collections import Counter
from dataclasses import replace

import pytest
from fairloaf.analysis.answers import compare_formulas, factor_effects
from fairloaf.analysis.wording.comparison import comparison_lines, fairness_lines, settle_lines
from fairloaf.trials import TrialCard
from fairloaf.trials.columns import inside, label, label_inside
from fairloaf.trials.words.naming import SENTENCE_WORDS, set_apart
from fairloaf.trials.words.numbers import ENGLISH, levels_inside
from hypothesis import given
from hypothesis import strategies as st

from .good_trial import good_records

PLAIN = ("malted", "rye mix", "House white", "Grüne Saat", "M1", "St. Gallen", "long-proofed rye")
NASTY = (
    "70",
    "2 % malt",
    "65 loaves",
    "with honey",
    "Yes",
    "no",
    "A",
    "loaves",
    "white and rye",
    "bigger",
    "more than house",
    "house (new)",
    "malt, fresh",
    "white + lecithin",
    "by 0.30",
    "rye; not settled.",
    "a very long name indeed",
    "the “old” one",
    "house, by",
    "",
)


@pytest.mark.parametrize("name", PLAIN)
def test_a_plain_name_stands_as_it_is(name):
    assert set_apart(name) == name


@pytest.mark.parametrize("name", NASTY)
def test_a_name_that_could_be_misread_stands_in_quotation_marks(name):
    assert set_apart(name) == f"“{name.replace('“', '’').replace('”', '’')}”"


@given(st.text(min_size=0, max_size=30))
def test_what_stands_bare_is_a_few_words_that_no_sentence_has(name):
    said = set_apart(name)
    if said.startswith("“"):
        assert said.endswith("”")
        assert said[1:-1].count("“") == said[1:-1].count("”") == 0
        assert len(said) == len(name) + 2
    else:
        assert said == name
        words = name.casefold().split(" ")
        assert 1 <= len(words) <= 3
        assert all(word[0].isalpha() for word in words)
        assert not SENTENCE_WORDS & set(words)


SPOKEN = [name for name in NASTY if name]
PAIRS = list(zip(SPOKEN[::2], [*SPOKEN[1::2], SPOKEN[0]], strict=True))  # each as one of the two


@pytest.mark.parametrize(("name", "control"), PAIRS)
def test_no_sentence_of_an_answer_has_a_nasty_name_bare(name, control):
    """A formula, its control and a tin of each of those names: but for what stands in quotation
    marks, the answers have the words of a trial with other names, however they are listed.
    """
    assert words_beside(name, control) == words_beside("“x”", "“y”")


@functools.cache
def words_beside(name, control):
    """Return how often every word stands in the answers, with a sign for formulas and tins."""
    tin, lidded = f"{name} tin", f"{control} tin"
    records = good_records()
    card = records.card
    records.on_card(
        control=control,
        factors={"formula": (control, name), "tin": (tin, lidded)},
        tins={tin: card.tins["open"], lidded: card.tins["lidded"]},
    )
    records.loaves = records.loaves.drop(columns="oven_load").replace(
        {"malted": name, "house": control, "open": tin, "lidded": lidded}
    )
    text = " ".join(all_sentences(records.trial(), name, control))
    for own, sign in ((tin, "♥"), (lidded, "♥"), (name, "♦"), (control, "♦")):
        text = text.replace(set_apart(own), f" {sign} ")
    return Counter(re.findall(r"[^\s,;:.()]+", text.lower()))


def all_sentences(trial, formula, control):
    c = compare_formulas(trial, formula, control)
    f = factor_effects(trial)
    return [
        c.sentence,
        *comparison_lines(c, style=ENGLISH),
        *settle_lines(c, style=ENGLISH),
        *fairness_lines(c, style=ENGLISH),
        *(f"{finding.message}" for finding in c.findings),
        *f.sentences,
    ]


def test_of_two_names_side_by_side_both_are_quoted_or_neither():
    assert levels_inside([("c", ""), ("tall", "")], ENGLISH) == "“c” × “tall”"
    assert levels_inside([("malted", ""), ("tall", "")], ENGLISH) == "malted × tall"
    assert levels_inside([("with “c”", ""), (60.0, "min")], ENGLISH) == "“with ’c’” × 60 min"
    assert levels_inside([("malted", ""), (60.0, "")], ENGLISH) == "malted × 60"


def test_the_trials_own_words_keep_their_capitals():
    assert inside("specific_volume", "Specific volume") == "specific volume"
    assert inside("crust", "Krustenfarbe") == "Krustenfarbe"
    assert inside("malt_flour", label("malt_flour")) == "malt flour"
    assert inside("A", label("A")) == "A"
    assert inside("crumb_softness", label("crumb_softness")) == "crumb softness"
    card = replace(TrialCard(), called={"kneter": "Kneter"})
    assert label("kneter", card) == label_inside("kneter", card) == "Kneter"
