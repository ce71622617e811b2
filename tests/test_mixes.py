"""Loaves that may share a dough are never counted as trials of their own."""

import pandas as pd
import pytest
from fairloaf.trials import load_trial
from fairloaf.trials.measuring.mixes import with_mixes


def test_a_recorded_mix_is_left_alone():
    loaves = pd.DataFrame({"mix": ["a", None], "formula": ["house", "malted"]})
    noted = with_mixes(loaves, "loaves.csv")
    assert noted.frame is loaves
    assert noted.assumptions == ()


@pytest.mark.parametrize(
    ("columns", "mixes", "said"),
    [
        (
            {"formula": ["A", "B", "A"], "day": ["1", "1", "2"]},
            ["A on 1", "B on 1", "A on 2"],
            "one mix of each formula each day",
        ),
        ({"formula": ["A", "B", "A"]}, ["A", "B", "A"], "one mix of each formula is assumed"),
        (
            {"formula": ["A", "A"], "baker": ["x", None]},
            ["A (baker 1)", "A (baker ?)"],
            "one mix of each formula by each baker is",
        ),
        ({"tin": ["open", "lidded"]}, ["one dough", "one dough"], "so that one mix is assumed"),
    ],
)
def test_one_mix_of_each_formula_each_day_is_assumed_and_said(columns, mixes, said):
    noted = with_mixes(pd.DataFrame(columns), "loaves.csv")
    assert list(noted.frame["mix"]) == mixes
    assert said in noted.assumptions[0]


def test_the_card_can_say_that_every_loaf_had_its_own_dough(tmp_path):
    (tmp_path / "loaves.csv").write_text(
        "loaf,formula,loaf_ml\n1,A,1500\n2,A,1520\n3,B,1600\n4,B,1610\n"
    )
    (tmp_path / "trial.toml").write_text('[columns]\nmix = "loaf"\n')
    trial = load_trial(tmp_path)
    assert trial.loaves["mix"].nunique() == 4
    assert not [sentence for sentence in trial.assumptions if "share a mix" in sentence]


@pytest.mark.parametrize("header", ["loaf", "Loaf no."])
def test_that_every_loaf_had_its_own_dough_is_said_in_one_way_whatever_the_header(tmp_path, header):
    (tmp_path / "loaves.csv").write_text(
        f"{header},formula,loaf_ml\n1,A,1500\n2,A,1520\n3,B,1600\n4,B,1610\n"
    )
    (tmp_path / "trial.toml").write_text('[columns]\nmix = "loaf"\n')
    assert load_trial(tmp_path).loaves["mix"].nunique() == 4


def test_every_loaf_can_have_its_own_dough_where_nobody_numbered_the_loaves(tmp_path):
    """As the sentence about assumed mixes says: write  mix = "loaf"  on the card."""
    (tmp_path / "loaves.csv").write_text("formula,loaf_ml\nA,1500\nA,1520\nB,1600\nB,1610\n")
    (tmp_path / "trial.toml").write_text('[columns]\nmix = "loaf"\n')
    assert load_trial(tmp_path).loaves["mix"].nunique() == 4


def test_names_of_pupils_are_not_in_the_names_of_assumed_mixes():
    """Mixes stand in the pictures of a report that is pinned up."""
    loaves = pd.DataFrame(
        {"formula": ["A", "B", "A"], "day": ["Mon"] * 3, "baker": ["Chloe", "Chloe", "Kofi"]}
    )
    assert list(with_mixes(loaves, "loaves.csv").frame["mix"]) == [
        "A on Mon (baker 1)",
        "B on Mon (baker 1)",
        "A on Mon (baker 2)",
    ]
