"""From files to a trial: measures, factors, assumptions, errors told at once."""

import hashlib

import numpy as np
import pytest
from fairloaf.trials import TrialError, load_trial, read_trial
from fairloaf.trials.loading import planned_factors
from fairloaf.trials.words.lists import on_lines

LOAVES = """loaf,mix,day,formula,tin,proof_min,dough_g,loaf_g,loaf_ml,void
1,M1,mon,house,open,45,450,402,1610,
2,M1,mon,house,lidded,60,450,401,1595,
3,M2,mon,malted,open,45,450,400,1655,
4,M2,mon,malted,lidded,60,450,401,1640,fell on the floor
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "loaves.csv").write_text(LOAVES, "utf-8")
    return tmp_path


def test_measures_are_worked_out_for_every_loaf(folder):
    loaves = read_trial(folder).loaves
    np.testing.assert_allclose(
        loaves["specific_volume"], [1610 / 402, 1595 / 401, 1655 / 400, 1640 / 401]
    )
    np.testing.assert_allclose(
        loaves["bake_loss_pct"], [100 * (450 - m) / 450 for m in (402, 401, 400, 401)]
    )
    assert "volume_per_100g_flour" not in loaves


def test_volume_per_flour_needs_the_formulas(folder):
    (folder / "trial.toml").write_text("[formulas.house]\nflour = 100\nwater = 60\n", "utf-8")
    per_flour = read_trial(folder).loaves["volume_per_100g_flour"]
    np.testing.assert_allclose(per_flour, [1610 / 450 * 160, 1595 / 450 * 160, np.nan, np.nan])


def test_void_loaves_keep_their_row_and_reason(folder):
    trial = read_trial(folder)
    assert trial.counted["loaf"].tolist() == ["1", "2", "3"]
    assert trial.void[["loaf", "void"]].values.tolist() == [["4", "fell on the floor"]]
    assert len(trial.loaves) == 4


def test_where_everything_came_from_is_kept(folder):
    (folder / "trial.toml").write_text('[columns]\ntin = "tin"\n', "utf-8")
    trial = read_trial(folder)
    assert trial.name == folder.name
    assert trial.files == {"loaves": "loaves.csv"}
    assert trial.sources == {
        name: hashlib.sha256((folder / name).read_bytes()).hexdigest()
        for name in ("trial.toml", "loaves.csv")
    }
    assert trial.headers == {name: name for name in LOAVES.splitlines()[0].split(",")}
    assert "specific_volume" not in trial.headers
    assert trial.loaves["line"].tolist() == [2, 3, 4, 5]


def test_nothing_that_was_written_is_changed(folder):
    before = {path: path.read_bytes() for path in folder.iterdir()}
    read_trial(folder)
    assert {path: path.read_bytes() for path in folder.iterdir()} == before


def test_factors_are_the_cards_or_what_varies(folder):
    trial = read_trial(folder)
    assert trial.factors == ("formula", "tin", "proof_min")
    assert (
        trial.assumptions[-1]
        == "The card names no factors; formula, tin, proof_min vary in the records and are taken"
        " for what was changed."
    )
    (folder / "trial.toml").write_text('[factors]\nformula = ["house", "malted"]\n', "utf-8")
    assert read_trial(folder).factors == ("formula",)


def test_proof_time_is_no_factor_when_loaves_were_proofed_to_a_height(folder):
    (folder / "trial.toml").write_text('proof_to = "height"\n', "utf-8")
    assert read_trial(folder).factors == ("formula", "tin")


def test_a_number_of_many_levels_is_no_factor(folder):
    trial = read_trial(folder)
    measured = trial.loaves.assign(proof_min=[45.0, 46.0, 47.0, 48.0])
    assert planned_factors(measured, trial.card) == ("formula", "tin")


def test_the_card_decides_whether_a_column_holds_numbers_or_names(tmp_path):
    (tmp_path / "loaves.csv").write_text(
        "loaf,water,salt,loaf_g\n1,60,2,400\n2,65,about 2,401\n", "utf-8"
    )
    (tmp_path / "trial.toml").write_text(
        '[factors]\nwater = ["60", "65"]\nsalt = [1.8, 2.0]\n', "utf-8"
    )
    trial = read_trial(tmp_path)
    assert trial.loaves["water"].tolist() == ["60", "65"]
    np.testing.assert_array_equal(trial.loaves["salt"], [2.0, np.nan])
    assert trial.unreadable.values.tolist() == [["loaves.csv", 3, "salt", "about 2"]]


def test_a_dough_of_its_own_for_every_loaf(folder):
    (folder / "loaves.csv").write_text("loaf,formula,loaf_g\nA,house,400\nB,house,401\n", "utf-8")
    (folder / "trial.toml").write_text('[columns]\nmix = "loaf"\n', "utf-8")
    loaves = read_trial(folder).loaves
    assert loaves["mix"].tolist() == loaves["loaf"].tolist() == ["A", "B"]


def test_loading_stops_at_errors_and_reading_does_not(folder):
    (folder / "loaves.csv").write_text(
        LOAVES.replace("1655", "big").replace("loaf_g", "loaf mass (ml)"), "utf-8"
    )
    trial = read_trial(folder)
    codes = [finding.code for finding in trial.errors]
    assert "header-unit" in codes
    assert "not-a-number" in codes
    with pytest.raises(TrialError, match=r"'ml' with the header 'loaf mass \(ml\)'") as stopped:
        load_trial(folder)
    assert stopped.value.findings == trial.errors
    assert [f.severity for f in trial.findings] == sorted(
        (f.severity for f in trial.findings), key=["error", "warning", "note"].index
    )


def test_a_sound_trial_is_loaded(folder):
    assert load_trial(str(folder)).loaves["loaf"].tolist() == ["1", "2", "3", "4"]


def test_the_current_folder_is_the_default(folder, monkeypatch):
    monkeypatch.chdir(folder)
    assert load_trial().name == folder.name


def test_files_are_found_whatever_their_capitals(tmp_path):
    (tmp_path / "Loaves.CSV").write_text(LOAVES, "utf-8")
    assert len(read_trial(tmp_path).loaves) == 4


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([4], "line 4"),
        ([4, 9], "lines 4 and 9"),
        (list(range(1, 9)), "lines 1, 2, 3, 4, 5, 6, 7 and 8"),
        (list(range(1, 30)), "lines 1, 2, 3, 4, 5, 6, 7, 8, 9, 10 and 19 more"),
    ],
)
def test_lines_as_a_sentence_names_them(lines, words):
    assert on_lines(lines) == words


def test_remarks_below_the_loaves_are_no_loaves(folder):
    with (folder / "loaves.csv").open("a", encoding="utf-8") as file:
        file.write("Loaf 5,,,,,,,,,\n,,,,,,,,,\nNote: the box was refilled,,,,,,,,,\n")
    trial = read_trial(folder)
    assert trial.loaves["loaf"].tolist() == ["1", "2", "3", "4", "Loaf 5"], (
        "a loaf that was only numbered stays"
    )
    (told,) = [said for said in trial.assumptions if "remarks" in said]
    assert (
        told
        == "loaves.csv: taken for remarks and not for loaves: line 8, 'Note: the box was refilled'."
    )


def test_a_row_of_means_is_told_once(folder):
    with (folder / "loaves.csv").open("a", encoding="utf-8") as file:
        file.write("Mean,,,,,,450,401,1625,\n")
    assert [finding.code for finding in read_trial(folder).errors] == ["row-of-totals"]


def test_a_header_that_is_not_known_is_told(folder):
    text = (folder / "loaves.csv").read_text("utf-8")
    (folder / "loaves.csv").write_text(text.replace("day", "Oven hour", 1), "utf-8")
    (told,) = [said for said in read_trial(folder).assumptions if "'Oven hour'" in said]
    assert told.startswith(
        "loaves.csv: kept as they are, under headers that are not known here: 'Oven hour'."
    )
    (folder / "trial.toml").write_text('[columns]\nday = "Oven hour"\n', "utf-8")
    assert not [said for said in read_trial(folder).assumptions if "not known here" in said]


@pytest.mark.parametrize("name", ["trial.toml", "scores.csv"])
def test_a_part_of_a_trial_is_told_from_a_trial(folder, name):
    (folder / name).write_text("loaf,score\n1,5\n", "utf-8")
    with pytest.raises(
        TrialError, match=rf"{name} is only a part of a trial, without its loaves. Give its folder:"
    ):
        read_trial(folder / name)


def test_a_table_without_loaves_is_told_with_what_to_do(folder):
    (folder / "loaves.csv").write_text(LOAVES.splitlines()[0] + "\n", "utf-8")
    with pytest.raises(
        TrialError,
        match=r"loaves.csv has nothing below its header\. Write one row per loaf below it",
    ):
        read_trial(folder)
