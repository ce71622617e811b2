"""The whole path on published bakes: a file, a card that names its columns, an answer."""

import json
from pathlib import Path

import pytest
from fairloaf.analysis.answers import compare_formulas, factor_effects
from fairloaf.trials import TrialError, load_trial

REFERENCE = Path(__file__).parent / "reference"
EXPECTED = {
    entry["name"]: entry["expected"]
    for entry in json.loads((REFERENCE / "expected.json").read_text("utf-8"))
}

CAKE = """
title   = "Breaking angle of cakes"
measure = "angle"
matters = 4.0

[columns]
formula = "recipe"
day     = "replicate"

[factors]
formula     = ["A", "B", "C"]
temperature = [175, 185, 195, 205, 215, 225]

[measures.angle]
label = "Breaking angle"
unit  = "°"
"""

BROMATE = """
title   = "Bromate and loaf volume"
measure = "loaf_ml"
matters = 50.0
control = "0"

[columns]
formula = "bromate_mg"
day     = "variety"

[factors]
formula = ["0", "1", "2", "3", "4"]
"""


@pytest.fixture
def folder(tmp_path):
    """Return a function that lays a reference file and a card down as a trial."""

    def lay(csv: str, card: str) -> Path:
        (tmp_path / "loaves.csv").write_bytes((REFERENCE / csv).read_bytes())
        (tmp_path / "trial.toml").write_text(card, "utf-8")
        return tmp_path

    return lay


def test_a_published_split_plot_bake(folder):
    """Cook 1938 in Cochran & Cox 1957, p. 300; F tests as R's lmerTest gives them (expected.json,
    cake_split_plot).

    The file has no column of mixes: each replicate made one mix of each recipe, which is what the
    tool takes a day and a formula to mean when nobody says otherwise.
    """
    trial = load_trial(folder("cake.csv", CAKE))
    tests = factor_effects(trial).tests.set_index("term")
    for row in EXPECTED["cake_split_plot"]["replicate_as_block"]["tests"]:
        term = row["term"].replace("recipe", "formula").replace(" x ", " × ")
        got = tests.loc[term]
        assert got["num_df"] == row["num_df"]
        assert got["den_df"] == pytest.approx(row["den_df"], rel=1e-6)
        assert got["f_value"] == pytest.approx(row["f_value"], rel=1e-6)
        assert got["p_value"] == pytest.approx(row["p_value"], rel=1e-5)


def test_the_assumed_mixes_are_said(folder):
    trial = load_trial(folder("cake.csv", CAKE))
    assert any("mix" in sentence and "each day" in sentence for sentence in trial.assumptions)
    assert trial.loaves["mix"].nunique() == 45


def test_real_loaf_volumes(folder):
    """Larmour 1941, Cereal Chemistry 18: 778; 17 flours (blocks) at 5 bromate levels, one loaf
    each.
    """
    trial = load_trial(folder("bromate_bread.csv", BROMATE))
    tests = factor_effects(trial).tests.set_index("term")
    anova = {row["term"]: row for row in EXPECTED["bromate_bread_volumes"]["anova"]}
    assert tests.loc["formula", "f_value"] == pytest.approx(anova["bromate"]["f_value"], rel=1e-9)
    assert tests.loc["formula", "den_df"] == pytest.approx(64)
    answer = compare_formulas(trial, "1", against="0")
    means = {
        row["bromate"]: row["mean"] for row in EXPECTED["bromate_bread_volumes"]["means_bromate"]
    }
    assert answer.difference == pytest.approx(means["1"] - means["0"], rel=1e-9)
    assert answer.verdict in {"matters", "real, size unsure"}


@pytest.mark.parametrize("shift", [0.0, 0.5, 2.0])
def test_one_mix_against_one_is_never_settled(tmp_path, shift):
    """Eight loaves from one mix of each formula say nothing of the formula, whatever the loaves
    look like.
    """
    rows = [
        f"{mix}{i},{mix},{name},400,{1600 + 7 * (i % 3) + 400 * shift * (name == 'malted'):g}"
        for mix, name in (("H", "house"), ("M", "malted"))
        for i in range(8)
    ]
    file = tmp_path / "loaves.csv"
    file.write_text("\n".join(["loaf,mix,formula,loaf_g,loaf_ml", *rows]) + "\n", "utf-8")
    (tmp_path / "trial.toml").write_text(
        'measure = "loaf_ml"\nmatters = 50\ncontrol = "house"\n', "utf-8"
    )
    answer = compare_formulas(load_trial(tmp_path), "malted", against="house")
    assert answer.verdict == "not settled"
    assert "one mix" in answer.sentence


def test_a_formula_that_is_not_there_is_told_with_those_that_are(folder):
    trial = load_trial(folder("cake.csv", CAKE))
    with pytest.raises(TrialError, match=r"'D'.*A.*B.*C"):
        compare_formulas(trial, "D", against="A")
    with pytest.raises(TrialError, match=r"angel.*angle"):
        compare_formulas(trial, "B", against="A", measure="angel")
    with pytest.raises(TrialError, match=r"flavor"):
        factor_effects(trial, factors=("flavor",))
