"""`start_trial`: a folder that reads back, made whole or not at all, and never over anything."""

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


def test_the_examples_are_the_four_that_come_with_the_package():
    assert example_names() == ("class_bake", "everyday_mess", "open_and_lidded", "small_bakery")


def test_nothing_is_overwritten(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "loaves.csv").write_text("precious")
    with pytest.raises(TrialError, match=r"is there already. Choose another name; nothing was written."):
        start_trial(tmp_path / "mine", like="class_bake")
    assert [p.name for p in tmp_path.iterdir()] == ["mine"]
    assert (tmp_path / "mine" / "loaves.csv").read_text() == "precious"


def test_an_unknown_example_is_told_with_the_known_ones(tmp_path):
    with pytest.raises(TrialError, match=r"There is no example 'cake'. Choose one of: class_bake, everyday_mess"):
        start_trial(tmp_path / "new", like="cake")
    assert list(tmp_path.iterdir()) == []


def test_a_missing_parent_is_told(tmp_path):
    with pytest.raises(TrialError, match=r"There is no folder .*nowhere. Make it first."):
        start_trial(tmp_path / "nowhere" / "new")
