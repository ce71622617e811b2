"""What a class reads: the answer first, in plain words, with numbers; and the picture of pairs."""

from dataclasses import replace
from typing import get_args

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas
from fairloaf.analysis.figures.pairs import pairing_unit, pairs_by_unit
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.analysis.verdict import Verdict
from fairloaf.analysis.wording import classroom
from fairloaf.trials import load_trial
from fairloaf.trials.words.numbers import ENGLISH

from .bakes import as_trial, bake
from .report_examples import summary

# words of the trade and of statistics that a child of ten does not know
HARD = (
    "interval",
    "standard",
    "p =",
    "chance to show",
    "mixes",
    "formula",
    "verdict",
    "REML",
    "df",
)


def tables(recipes=("plain", "honey", "lecithin"), tables=6, folder=None, seed=3):
    """Return the trial of a class: one dough of each recipe at every table, two loaves of each."""
    rng = np.random.default_rng(seed)
    rows = [
        (table, recipe, 400, round(400 * (4 + 0.4 * (recipe == "honey") + rng.normal(0, 0.05))))
        for table in range(1, tables + 1)
        for recipe in recipes
        for _ in range(2)
    ]
    file = folder / "loaves.csv"
    head = ["Table", "Recipe", "Loaf weight (g)", "Volume (ml)"]
    pd.DataFrame(rows, columns=head).to_csv(file, index=False)
    (folder / "trial.toml").write_text(
        'question = "Does honey give a bigger loaf, and lecithin?"\nmatters = 0.2\n'
        'measure = "specific_volume"\ncontrol = "plain"\n',
        "utf-8",
    )
    return load_trial(folder)


@pytest.mark.parametrize(
    ("verdict", "matters"),
    [
        *((verdict, 0.2) for verdict in get_args(Verdict)),
        ("real, size unsure", None),
        ("not settled", None),
    ],
)
def test_every_verdict_has_an_ending_without_hard_words(verdict, matters):
    c = replace(summary("class_bake").comparison, verdict=verdict, matters=matters)
    said = classroom.class_answer(c, ENGLISH)
    assert said.startswith("Oat loaves were smaller than white loaves by 0.13 mL/g. ")
    assert not [word for word in HARD if word in said]
    assert "{" not in said
    names_it = verdict not in ("matters", "not settled") and matters is not None
    assert ("0.20 mL/g that would matter to us" in said) == names_it


def test_the_second_half_of_a_question_stands_with_the_first(tmp_path):
    summed = summarise(tables(folder=tmp_path))
    for audience in ("class", "wall", "bakery"):
        sections = report_for(summed, audience).sections
        told = next(b for b in sections[0].blocks if b.kind == "answer")
        assert told.sentence.startswith("Honey loaves were bigger than plain loaves")
        assert len(told.others) == 1
        assert told.others[0].startswith("Lecithin loaves were")


def test_the_class_s_page_begins_with_the_answer_and_each_bread_s_mean(tmp_path):
    summed = summarise(tables(folder=tmp_path))
    first = report_for(summed, "class").sections[0]
    told = first.blocks[1]
    means = summed.comparison.means.set_index("formula")["mean"]
    for name, number in told.numbers:
        assert number == f"{means[name]:.2f} mL/g"
    assert [name for name, _ in told.numbers] == ["plain", "honey", "lecithin"]
    assert first.blocks[2].caption == classroom.PAIRS_NOTE.format("table")


def test_each_table_s_breads_stand_on_one_row_and_are_joined(tmp_path):
    trial = tables(("plain", "honey"), folder=tmp_path)
    c = compare_formulas(trial)
    assert pairing_unit(c, trial.counted) == "table"
    picture = pairs_by_unit(c, trial.counted, "table", ENGLISH)
    axes = picture.figure.axes[0]
    names = [text.get_text() for text in axes.get_yticklabels()]
    assert names == [*(f"table {n}" for n in range(1, 7)), "all together"]
    means = trial.counted.groupby(["table", "formula"])["specific_volume"].mean().unstack()
    for i, (_, row) in enumerate(means.iterrows()):
        marks = sorted(
            x
            for line in axes.lines
            if line.get_marker() != "None" and list(line.get_ydata()) == [i]
            for x in line.get_xdata()
        )
        assert marks == pytest.approx(sorted(row))
        joined = [line for line in axes.lines if list(line.get_ydata()) == [i, i]]
        assert [sorted(line.get_xdata()) for line in joined] == [pytest.approx(sorted(row))]
    assert "in 6 of 6 the honey bread has the higher value" in picture.alt


def test_without_pairs_every_loaf_is_drawn():
    s = summary("class_bake")
    alone = s.trial.counted.drop(columns=["table", "oven_load"])
    assert pairing_unit(s.comparison, alone) is None


def test_a_class_s_table_is_a_table(tmp_path):
    trial = tables(folder=tmp_path)
    assert "table" in trial.loaves
    assert "baker" not in trial.loaves
    assert set(trial.loaves["mix"]) >= {"honey (table 1)", "plain (table 6)"}
    text = str(report_for(summarise(trial), "class"))
    assert "baker" not in text.replace("bakery", "")


def test_no_more_doughs_are_asked_for_where_only_what_matters_is_not_said():
    trial = as_trial(bake(difference=0.4), matters=None)
    c = compare_formulas(trial)
    assert c.verdict == "real, size unsure"
    assert c.settle is not None
    assert classroom.class_settle(c, ENGLISH) == ""
    assert classroom.class_next(c, asked=False, style=ENGLISH) == (
        "Agree what difference would matter, write it on the card, and look at the answer again."
    )
