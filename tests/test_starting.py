"""`start_trial`: a folder that reads back, made whole or not at all, and never over anything."""

import re

import pytest
from fairloaf.trials import TrialError
from fairloaf.trials.reading.card_file import read_card
from fairloaf.trials.writing.starting import example_names, start_trial


def test_an_empty_trial_has_a_card_that_reads(tmp_path):
    folder = start_trial(tmp_path / 'my "first" trial')
    card = read_card((folder / "trial.toml").read_text("utf-8"))
    assert card.title == 'my "first" trial'
    assert card.factors == {"formula": ("A", "B")}
    assert card.matters is None, "what matters is the baker's to say"
    assert (folder / "loaves.csv").read_text("utf-8").startswith("loaf,day,mix,formula")


@pytest.mark.parametrize("name", example_names())
def test_an_example_is_copied_to_the_byte(tmp_path, name):
    from importlib.resources import files

    folder = start_trial(tmp_path / "copy", like=name)
    original = files("fairloaf.example_trials").joinpath(name)
    for entry in original.iterdir():
        assert (folder / entry.name).read_bytes() == entry.read_bytes()


def test_the_examples_are_the_five_that_come_with_the_package():
    assert example_names() == (
        "class_bake",
        "class_tasting",
        "everyday_mess",
        "open_and_lidded",
        "small_bakery",
    )


def test_nothing_is_overwritten(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "loaves.csv").write_text("precious")
    with pytest.raises(
        TrialError, match=r"is there already. Choose another name; nothing was written."
    ):
        start_trial(tmp_path / "mine", like="class_bake")
    assert [p.name for p in tmp_path.iterdir()] == ["mine"]
    assert (tmp_path / "mine" / "loaves.csv").read_text() == "precious"


def test_an_unknown_example_is_told_with_the_known_ones(tmp_path):
    with pytest.raises(
        TrialError, match=r"There is no example 'cake'. Choose one of: class_bake, class_tasting, "
    ):
        start_trial(tmp_path / "new", like="cake")
    assert list(tmp_path.iterdir()) == []


def test_a_missing_parent_is_told(tmp_path):
    with pytest.raises(TrialError, match=r"There is no folder .*nowhere. Make it first."):
        start_trial(tmp_path / "nowhere" / "new")


def test_a_new_card_shows_every_section_and_a_page_explains_every_column(tmp_path):
    from fairloaf.trials.columns import RECORDED

    made = start_trial(tmp_path / "new")
    card = (made / "trial.toml").read_text("utf-8")
    assert all(f"[{section}" in card for section in ("columns", "measures", "scores"))
    page = (made / "columns.md").read_text("utf-8")
    assert all(f"| {column.name} " in page for column in RECORDED)
    assert all(column.unit in page for column in RECORDED if column.unit)


def test_what_a_new_card_shows_of_tasting_and_words_reads_once_its_signs_are_taken_away(tmp_path):
    card = (start_trial(tmp_path / "new") / "trial.toml").read_text("utf-8")
    shown = card.partition("# [tasting]")[2].partition("# For  fairloaf plan")[0]
    filled = re.sub("(?m)^# ", "", f"# [tasting]{shown}")
    read = read_card(f'title = "x"\n{filled}')
    assert (read.tasting.test, read.tasting.may_tell, read.tasting.assessors) == (
        "triangle",
        0.3,
        24,
    )
    assert (read.tasting.asked, read.tasting.expected) == ("sourness", ("A", "B"))
    assert read.tasting.allergens == {"": ("gluten",)}
    assert read.words["taste"] == ("sweet", "sour", "malty")


def test_columns_on_the_card_reach_scores_and_readings(tmp_path):
    from fairloaf.trials.loading import read_trial

    (tmp_path / "loaves.csv").write_text(
        "loaf,formula,loaf_g,loaf_ml\n1,a,400,1600\n2,b,402,1700\n", "utf-8"
    )
    (tmp_path / "scores.csv").write_text(
        "Which,Who was it,What,How much\n1,x,soft,4\n2,x,soft,6\n", "utf-8"
    )
    (tmp_path / "trial.toml").write_text(
        '[columns]\nassessor = "Who was it"\nattribute = "What"\nscore = "How much"\n', "utf-8"
    )
    scores = tmp_path / "scores.csv"
    scores.write_text(scores.read_text("utf-8").replace("Which", "loaf"), "utf-8")
    trial = read_trial(tmp_path)
    assert trial.scores[["loaf", "assessor", "attribute", "score"]].values.tolist() == [
        ["1", "x", "soft", 4.0],
        ["2", "x", "soft", 6.0],
    ]
    assert "card-column" not in {f.code for f in trial.findings}


def test_an_empty_file_of_loaves_beside_a_filled_one_says_that(tmp_path):
    from fairloaf.trials.loading import read_trial

    start_trial(tmp_path / "new")
    (tmp_path / "new" / "results.csv").write_text("loaf,loaf_g\n1,400\n", "utf-8")
    with pytest.raises(TrialError, match=r"Beside it stands results.csv.*take loaves.csv away"):
        read_trial(tmp_path / "new")


def test_a_folder_with_records_keeps_them_and_gets_the_card_alone(tmp_path):
    from fairloaf.trials.writing.starting_from import start_from

    file = tmp_path / "results.csv"
    file.write_text("Nr;Rezept;Gewicht nachher;Volumen\n1;a;400;1600\n2;b;402;1700\n", "utf-8")
    before = file.read_bytes()
    start_from(tmp_path, file)
    assert sorted(entry.name for entry in tmp_path.iterdir()) == [
        "columns.md",
        "results.csv",
        "trial.toml",
    ]
    assert file.read_bytes() == before
    with pytest.raises(TrialError, match="has a card already"):
        start_from(tmp_path, file)
    (tmp_path / "other").mkdir()
    with pytest.raises(TrialError, match="is there already"):
        start_from(tmp_path / "other", file)


def test_what_a_person_answers_is_written_on_the_card(tmp_path):
    from fairloaf.trials.writing.starting_from import proposal_for, start_from

    file = tmp_path / "x.csv"
    file.write_text(
        "Nr;Sort of flour;Gewicht nachher;Volumen\n1;a;400;1600\n2;b;402;1700\n", "utf-8"
    )
    assert list(proposal_for(file).unplaced) == ["Sort of flour"]
    begun = start_from(tmp_path / "t", file, {"Sort of flour": "formula"})
    assert begun.trial.loaves["formula"].tolist() == ["a", "b"]


def test_a_new_card_reads_with_all_its_signs_taken_away(tmp_path):
    """Nothing that the card shows stands twice or is unknown to the reader of cards."""
    folder = start_trial(tmp_path / "mine")
    card = (folder / "trial.toml").read_text("utf-8")
    filled = re.sub(r"(?m)^# (?=\[|[\w.]+ *= )", "", card)
    (folder / "trial.toml").write_text(filled, "utf-8")
    assert "# For  fairloaf plan" in filled  # a note stays a note
    read = read_card(filled)
    assert (read.kitchen.days, read.scores.attributes, read.tins["lidded"].lid) == (
        4,
        ("openness", "softness"),
        True,
    )


def test_the_example_kitchen_of_a_new_card_gives_a_day_that_fits(tmp_path):
    from fairloaf.trials import bench_timetable, plan_trial

    folder = start_trial(tmp_path / "mine")
    card = (folder / "trial.toml").read_text("utf-8")
    (folder / "trial.toml").write_text(re.sub(r"(?m)^# (?=\[|[\w.]+ *= )", "", card), "utf-8")
    assert bench_timetable(plan_trial(folder, seed=3), day=1).fits
