"""A model is shared by questions whose loaves are alike in what it is made of, and by no others."""

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.model import kept
from fairloaf.analysis.model.design import Term
from fairloaf.analysis.model.layout import find_layout
from fairloaf.analysis.model.mix_rule import trial_model
from fairloaf.analysis.model.trial_fit import fit_trial

FORMULA = (Term(("formula",)),)


def loaves():
    """Twelve invented loaves: three mixes of either formula, on two days."""
    mix = np.repeat(np.arange(6), 2)
    return pd.DataFrame(
        {
            "formula": pd.Categorical(np.where(mix % 2, "malted", "house")),
            "mix": [f"M{number}" for number in mix],
            "day": np.where(mix < 3, "Mon", "Tue"),
            "loaf_ml": 1600.0 + 7 * np.arange(12) % 50,
            "height_mm": 90.0 + 5 * np.arange(12) % 13,
        }
    )


def test_another_measure_of_the_same_loaves_takes_the_same_model():
    first, second = (fit_trial(loaves(), measure, FORMULA) for measure in ("loaf_ml", "height_mm"))
    assert first.model is second.model
    L = first.design.at({"formula": "malted"}) - first.design.at({"formula": "house"})
    assert first.contrast(L).estimate != second.contrast(L).estimate


@pytest.mark.parametrize(
    "change",
    [
        lambda table: table.assign(mix=["M9", *table["mix"][1:]]),
        lambda table: table.assign(day=["Tue", *table["day"][1:]]),
        lambda table: table.assign(day=[None, *table["day"][1:]]),
        lambda table: table.assign(
            formula=table["formula"].cat.reorder_categories(["malted", "house"])
        ),
        lambda table: table.drop(index=3),
        lambda table: table.set_index(table.index + 1),
        lambda table: table.drop(columns="mix"),
        lambda table: table.assign(baker=["Ann", "Bo"] * 6),
    ],
    ids=["mix", "day", "no day", "order of levels", "loaf", "index", "no mix", "baker"],
)
def test_loaves_that_differ_in_what_a_model_is_made_of_have_another(change):
    assert trial_model(change(loaves()), FORMULA) is not trial_model(loaves(), FORMULA)
    assert find_layout(change(loaves()), ["formula"]) is not find_layout(loaves(), ["formula"])


def test_a_layout_is_found_once_for_loaves_that_are_alike():
    assert find_layout(loaves(), ["formula"]) is find_layout(loaves(), ["formula"])
    assert find_layout(loaves(), ["formula"]) is not find_layout(loaves(), ["day", "formula"])


def test_a_trial_of_many_loaves_keeps_nothing(monkeypatch):
    monkeypatch.setattr("fairloaf.analysis.model.mix_rule.MOST_LOAVES", 11)
    assert trial_model(loaves(), FORMULA) is not trial_model(loaves(), FORMULA)
    monkeypatch.setattr("fairloaf.analysis.model.layout.MOST_LOAVES", 11)
    assert find_layout(loaves(), ["formula"]) is not find_layout(loaves(), ["formula"])
    assert kept.MOST_LOAVES > 1000
