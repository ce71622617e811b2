"""A condition that goes with what is compared and undoes the verdict: the factors say so as the
comparison does, and no page marks the verdict.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis import compare_formulas, factor_effects
from fairloaf.analysis.report.comparison_tables import measures_table, pairs_table
from fairloaf.analysis.report.sections import answer, found, next_for_factors, sure_of_factors
from fairloaf.analysis.report.summary import summarise
from fairloaf.analysis.wording.classroom import class_next, class_sure
from fairloaf.analysis.wording.report import each_mark
from fairloaf.trials.printing.document import Answer

from .bakes import as_trial, bake, in_turn

NOTHING_CAN_TELL = "nothing here can tell what came from which"
BUT = "But the two stood apart in baking order too: adjusted for it, "


def answer_of(summary) -> Answer:
    (told,) = (part for part in answer(summary) if isinstance(part, Answer))
    return told


def test_the_factors_say_what_undoes_an_effect_by_the_numbers_of_the_comparison():
    trial = in_turn(0.15)
    c, f = compare_formulas(trial), factor_effects(trial)
    (undoes,), (own,) = f.undone.itertuples(), c.undone.itertuples()
    assert (undoes.factor, undoes.condition) == ("formula", "bake_order")
    assert undoes.adjusted_verdict == own.adjusted_verdict
    for name in ("adjusted_difference", "adjusted_ci_low", "adjusted_ci_high"):
        assert getattr(undoes, name) == pytest.approx(getattr(own, name))
    assert f.sentence.startswith("Formula moved specific volume most: malted above house by")
    assert f"{BUT}malted above house by 0.05 mL/g" in f.sentence
    assert f.sentence.endswith("which is “no difference that matters”.")
    assert not any(BUT in sentence for sentence in f.sentences[1:])


def test_an_effect_inside_the_mixes_that_turns_round_is_told_the_other_way():
    """Long tins rise by 0.2 mL/g more; baked first, they seemed to rise less."""
    f = factor_effects(in_turn(0.3, "tin"))
    assert list(f.undone["factor"]) == ["tin"]
    assert f.sentence.startswith("Tin moved specific volume: open above long by")
    assert f"{BUT}long above open by" in f.sentence


def test_what_leaves_an_effect_as_it_is_is_not_held_against_it():
    f = factor_effects(in_turn(0.0))
    assert set(f.stood_apart["condition"]) <= {"bake_order"}
    assert f.undone.empty
    assert not any(BUT in sentence for sentence in f.sentences)


def test_an_effect_that_is_not_settled_has_nothing_to_undo():
    """The drift hides what the tin does, and nobody said what matters."""
    trial = in_turn(0.1, "tin")
    f = factor_effects(replace(trial, card=replace(trial.card, matters=None)))
    assert f.effects["ci_low"].iloc[0] < 0
    assert f.stood_apart.empty
    assert f.undone.empty


@pytest.mark.parametrize("slope", [0.15, 0.0], ids=["undone", "as it is"])
def test_no_verdict_is_marked_where_one_is_undone(slope):
    s = summarise(in_turn(slope))
    told = answer_of(s)
    assert len(told.ladder) == 5
    if slope:
        assert told.verdict == "matters, undone by baking order"
        assert told.verdict not in told.ladder
        assert told.meaning.startswith("None of these is marked: adjusted for baking order")
        assert "Verdict: matters, undone by baking order." in s.text
    else:
        assert told.verdict == s.comparison.verdict
        assert told.verdict in told.ladder
        assert "undone" not in s.text + told.meaning
    for table in (pairs_table(s.comparison, exact=True), measures_table((s.comparison,))):
        assert table.rows[0][-1] == told.verdict


def test_nor_where_a_factor_alone_was_changed():
    s = summarise(in_turn(0.3, "tin"))
    assert s.comparison is None
    assert answer_of(s).verdict.endswith(", undone by baking order")
    assert sure_of_factors(s).startswith("No: the two were not alike in baking order either")
    assert next_for_factors(s) == ["Bake again with baking order alike for both, or drawn by lot."]


def always_first(difference: float, factor: str = "formula"):
    """Return a trial in which one level of a factor had the first place on every day."""
    loaves = bake(difference=difference, seed=5)
    if factor == "tin":
        loaves = loaves[loaves["formula"] == "house"].reset_index(drop=True)
    place = loaves[factor].rank(method="dense")
    changed = ("formula", "tin") if factor == "formula" else ("tin",)
    return as_trial(loaves.assign(bake_order=place), changed)


def test_what_cannot_be_told_from_the_formula_is_said_with_the_answer():
    trial = always_first(0.4)
    c, f = compare_formulas(trial), factor_effects(trial)
    assert list(c.fairness.inseparable["condition"]) == ["bake_order"]
    assert c.verdict == "matters"
    said = "stood apart in baking order too, and nothing here can tell what came from which."
    assert c.sentence.endswith(f"But they {said}")
    assert any(s.endswith(f"But the two {said}") for s in f.sentences)
    s = summarise(trial)
    assert class_sure(c, s.asked, s.style) == (
        "Only if nothing came from baking order: the two breads stood apart in that too, and"
        " nothing here can tell what came from which."
    )
    assert class_next(c, s.asked, s.style) == (
        "Bake again with baking order alike for both breads, or drawn by lot."
    )


def test_and_is_not_where_nothing_is_settled():
    trial = always_first(0.0)
    trial = replace(trial, card=replace(trial.card, matters=None))
    c, f = compare_formulas(trial), factor_effects(trial)
    assert c.verdict == "not settled"
    assert len(c.fairness.inseparable) == 1
    assert NOTHING_CAN_TELL not in c.sentence
    assert f.inseparable[f.inseparable["factor"] == "formula"].empty


def test_nor_of_a_factor_alone():
    s = summarise(always_first(0.0, "tin"))
    assert s.comparison is None
    assert NOTHING_CAN_TELL in s.factors.sentence
    assert sure_of_factors(s).startswith("Only if nothing came from baking order: the two stood")
    assert next_for_factors(s) == ["Bake again with baking order alike for both, or drawn by lot."]


def test_a_class_is_told_why_nobody_can_be_sure_of_what_always_changed_together():
    loaves = bake(difference=0.4, seed=5)
    proof = loaves["formula"].map({"house": 50.0, "malted": 60.0})
    s = summarise(as_trial(loaves.assign(proof_min=proof), ("formula", "proof_min")))
    assert s.comparison is None
    assert sure_of_factors(s) == (
        "No. Formula and proof time always changed together, so they cannot be told apart."
    )
    assert next_for_factors(s) == [
        "Bake again so that formula and proof time do not always change together."
    ]


def test_what_is_sure_of_one_factor_is_not_said_of_one_that_cannot_be_judged():
    """Malted in long tins only, house in open and round ones, which do not differ: of the formula
    and of the long tin nothing is known.
    """
    loaves = bake(difference=0.0, seed=5)
    inside = loaves.groupby("mix").cumcount()
    tin = np.where(
        loaves["formula"] == "malted", "long", np.where(inside // 2 % 2, "open", "round")
    )
    s = summarise(as_trial(loaves.assign(tin=tin), ("formula", "tin"), matters=2.0))
    assert s.comparison is None
    f = s.factors
    assert f.sentence.startswith("No factor that can be judged is shown to have moved specific")
    assert "How surely tin long differs from the others cannot be judged." in f.sentences
    told = next(part for part in found(s) if isinstance(part, Answer))
    assert told.others[0] == "How surely tin long differs from the others cannot be judged."
    assert told.others[-1].startswith("The breads could not be compared with each other: ")
    assert (
        "too small to matter to us. That is said of tin alone. Of formula nothing can be sure. What"
        " formula did cannot be told apart from tin."
    ) in sure_of_factors(s)
    assert next_for_factors(s)[0] == (
        "Bake again so that formula and tin do not always change together."
    )


def test_no_picture_speaks_of_a_mean_that_it_does_not_draw():
    means = pd.DataFrame({"mean": [4.0, np.nan], "ci_low": [3.9, np.nan]})
    assert each_mark(means).endswith("the large mark is the mean with its likely range.")
    assert each_mark(means.assign(ci_low=np.nan)).endswith("the large mark is the mean.")
    assert each_mark(means.assign(mean=np.nan, ci_low=np.nan)) == "Every mark is a loaf."


def test_a_class_page_names_every_factor_that_was_changed():
    loaves = bake(difference=0.0, seed=5)
    loaves = loaves[loaves["formula"] == "house"].reset_index(drop=True)
    inside = loaves.groupby("mix").cumcount()
    more = loaves.assign(
        tin=np.where(inside % 2, "open", "long"), proof_min=45.0 + 15 * (inside // 2)
    )
    s = summarise(as_trial(more, ("tin", "proof_min")))
    told = next(part for part in found(s) if isinstance(part, Answer))
    assert len(told.others) == 1
    assert {"Tin", "Proof time"} == {
        name
        for name in ("Tin", "Proof time")
        if any(name.lower() in line.lower() for line in (told.sentence, *told.others))
    }
    assert " alone." in sure_of_factors(s)


def test_a_class_is_told_of_the_two_breads_that_are_told_and_not_of_a_third():
    """A third bread of one mix does not make the answer rest on one."""
    loaves = bake(difference=0.4, seed=5)
    third = loaves[loaves["mix"] == loaves["mix"].iloc[0]].assign(formula="rye", mix="r1")
    third["loaf"] = [f"r{i}" for i in range(len(third))]
    trial = as_trial(pd.concat([loaves, third], ignore_index=True), ("formula",))
    c = compare_formulas(trial)
    assert {c.formula, c.against} == {"house", "malted"}
    assert not class_sure(c, True, summarise(trial).style).startswith("No")
