"""The clean copy: what is read from it is what was read before, and every difference is in its
log.
"""

import functools
from pathlib import Path

import pandas as pd
import pytest
from fairloaf.trials import TrialError
from fairloaf.trials.loading import assembled
from fairloaf.trials.reading.records import read_records
from fairloaf.trials.writing.tidy import changes_path, tidy_copy, write_tidy

from .test_reading import CORPUS, EXPECTED, read, records_of

READABLE = [name for name, wanted in EXPECTED.items() if "." in name and "refused" not in wanted]


@pytest.fixture(scope="module")
def copied(tmp_path_factory):
    """Return a function that makes a clean copy of a file of the corpus, each once."""

    @functools.cache
    def copy(name):
        out = tmp_path_factory.mktemp("copy") / "tidy.csv"
        write_tidy(CORPUS / name, out)
        return out

    return copy


@pytest.mark.parametrize("name", READABLE)
def test_the_copy_reads_as_the_original_did(name, copied):
    before, after = read(name), assembled(read_records(copied(name)))
    shared = [column for column in before.loaves.columns if column != "line"]
    pd.testing.assert_frame_equal(after.loaves[shared], before.loaves[shared], rtol=1e-11)
    assert after.unreadable["text"].tolist() == before.unreadable["text"].tolist()


@pytest.mark.parametrize("name", READABLE)
def test_a_copy_of_the_copy_changes_nothing(name, copied, tmp_path):
    again = write_tidy(copied(name), tmp_path / "twice.csv")
    kept = again.changes[again.changes["why"] != "kept from being run as a formula"]
    assert kept.empty
    assert (tmp_path / "twice.csv").read_bytes() == copied(name).read_bytes()


@pytest.mark.parametrize("name", READABLE)
def test_every_difference_between_file_and_copy_is_in_the_log(name):
    records = records_of(name)
    copy, raw, typed = tidy_copy(records), records.raw["loaves"], records.typed["loaves"]
    logged = {
        (change.line, change.column): (change.was, change.now)
        for change in copy.changes.itertuples()
    }
    for header in typed.headers:
        if header.text != header.name:
            assert logged[raw.header_line, header.name] == (header.text, header.name)
        for line, was, now in zip(
            raw.lines, raw.cells[header.place], copy.table[header.name], strict=True
        ):
            assert logged.get((line, header.name), (was, was)) == (was, now)
    assert {line for line, _ in raw.left_out} <= {line for line, _ in logged}


def test_the_log_says_what_was_done_and_why(tmp_path):
    path = tmp_path / "june.csv"
    path.write_text(
        "June;;;;\nLoaf;Recipe;Baked weight (kg);proof;Left out\n1;house;0,402;1:15;no\n"
        "2;=malt;-;90 min;burnt\n3;house;400 g;soon;\n",
        "utf-8",
    )
    copy = write_tidy(path, tmp_path / "tidy.csv")
    assert [tuple(change) for change in copy.changes.itertuples(index=False)] == [
        (1, "", "June", "", "line left out"),
        (2, "loaf", "Loaf", "loaf", "header"),
        (2, "formula", "Recipe", "formula", "header"),
        (2, "loaf_g", "Baked weight (kg)", "loaf_g", "header"),
        (2, "proof_min", "proof", "proof_min", "header"),
        (2, "void", "Left out", "void", "header"),
        (3, "loaf_g", "0,402", "402", "from kg to g"),
        (3, "proof_min", "1:15", "75", "number written plainly"),
        (3, "void", "no", "", "the loaf counts"),
        (4, "formula", "=malt", "'=malt", "kept from being run as a formula"),
        (4, "loaf_g", "-", "", "counts as missing"),
        (4, "proof_min", "90 min", "90", "the cell states its own unit"),
        (5, "loaf_g", "400 g", "400", "the cell states its own unit"),
    ]
    assert (
        (tmp_path / "tidy.csv").read_text("utf-8")
        == "loaf,formula,loaf_g,proof_min,void\n1,house,402,75,\n2,'=malt,,90,burnt\n"
        "3,house,400,soon,\n"
    )
    log = pd.read_csv(tmp_path / "tidy_changes.csv", dtype=str, keep_default_na=False)
    assert list(log.columns) == ["line", "column", "was", "now", "why"]
    assert len(log) == len(copy.changes)
    assert not log["was"].str.startswith(("=", "+", "-", "@")).any()


def test_a_sound_file_is_copied_as_it_is(tmp_path):
    copy = write_tidy(CORPUS / "plain.csv", tmp_path / "tidy.csv")
    assert copy.changes.empty
    assert (tmp_path / "tidy.csv").read_bytes() == (CORPUS / "plain.csv").read_bytes()


def test_digits_stay_as_they_were_written(tmp_path):
    (tmp_path / "june.csv").write_text("loaf,loaf_g\n1,402.50\n2,0400\n3,4.0e2\n", "utf-8")
    copy = write_tidy(tmp_path / "june.csv", tmp_path / "tidy.csv")
    assert copy.table["loaf_g"].tolist() == ["402.50", "0400", "4.0e2"]


@pytest.mark.parametrize("there", ["tidy.csv", "tidy_changes.csv"])
def test_no_file_is_overwritten(tmp_path, there):
    (tmp_path / there).write_text("mine", "utf-8")
    with pytest.raises(TrialError, match=rf"{there} would be overwritten\. Give another name"):
        write_tidy(CORPUS / "plain.csv", tmp_path / "tidy.csv")
    assert (tmp_path / there).read_text("utf-8") == "mine"
    assert [path.name for path in tmp_path.iterdir()] == [there]


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(
        TrialError, match=r"There is no folder .*nowhere\. Make it first; nothing was written\."
    ):
        write_tidy(CORPUS / "plain.csv", tmp_path / "nowhere" / "tidy.csv")


def test_the_log_stands_beside_the_copy():
    assert changes_path(Path("a/tidy.csv")) == Path("a/tidy_changes.csv")
