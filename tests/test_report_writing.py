"""Files are written whole or not at all, and nothing but a report of ours is replaced."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from fairloaf.analysis import write_report
from fairloaf.trials import TrialError, load_trial, read_trial
from fairloaf.trials.writing import whole_files as writing
from fairloaf.trials.writing.whole_files import is_ours, write_whole

EXAMPLE = Path(__file__).parents[1] / "example_trials" / "class_bake"
OURS = b'<meta name="generator" content="fairloaf report, version 0">'


def test_files_are_written_and_a_report_of_ours_is_replaced(tmp_path):
    page = tmp_path / "deep" / "folder" / "page.html"
    write_whole({page: OURS + b"first"})
    write_whole({page: OURS + b"second"})
    assert page.read_bytes() == OURS + b"second"
    assert os.listdir(page.parent) == ["page.html"]


def test_a_file_that_is_not_ours_stops_all_and_stays(tmp_path):
    mine, page = tmp_path / "mine.html", tmp_path / "page.html"
    mine.write_text("my own notes")
    with pytest.raises(
        TrialError, match=r"mine\.html is there and is no report made here\. It was left as it is"
    ):
        write_whole({page: OURS, mine: OURS})
    assert mine.read_text() == "my own notes"
    assert os.listdir(tmp_path) == ["mine.html"]


def test_a_folder_in_the_way_stops_all(tmp_path):
    (tmp_path / "page.html").mkdir()
    with pytest.raises(TrialError, match=r"page\.html is there and is no report"):
        write_whole({tmp_path / "page.html": OURS})


def test_a_file_where_the_folder_should_be_is_told(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(TrialError, match=r"cannot be written: .*Nothing was written"):
        write_whole({tmp_path / "out" / "page.html": OURS})
    assert (tmp_path / "out").read_text() == "a file"


def test_a_disk_that_fails_half_way_leaves_nothing(tmp_path, monkeypatch):
    """The second file fails while it is written beside: the first is not put in place either."""
    written = []

    def fails_at_the_second(path, content):
        if written:
            raise OSError(28, "No space left on device", str(path))
        written.append(path)
        return real(path, content)

    real = writing._beside
    monkeypatch.setattr(writing, "_beside", fails_at_the_second)
    with pytest.raises(TrialError, match="cannot be written: No space left on device"):
        write_whole({tmp_path / "a.html": OURS, tmp_path / "b.html": OURS})
    assert len(written) == 1
    assert os.listdir(tmp_path) == []


def test_files_get_the_rights_that_the_user_gives_new_files(tmp_path):
    usual = tmp_path / "usual.txt"
    usual.write_text("x")
    write_whole({tmp_path / "page.html": OURS})
    assert (tmp_path / "page.html").stat().st_mode == usual.stat().st_mode


@pytest.mark.parametrize("content", [b"", b"PK not a zip", b"<html>fairloaf</html>"])
@pytest.mark.parametrize("name", ["a.xlsx", "a.html"])
def test_files_without_the_mark_are_not_ours(tmp_path, name, content):
    (tmp_path / name).write_bytes(content)
    assert not is_ours(tmp_path / name)


@pytest.mark.parametrize("name", ["a.html", "a.json", "a.pdf", "a.txt"])
def test_words_about_a_report_do_not_make_a_file_ours(tmp_path, name):
    """A user's own notes may hold the very words; the mark counts in its own place only."""
    (tmp_path / name).write_text("<p>my fairloaf report, version 0, is in the other folder</p>")
    assert not is_ours(tmp_path / name)


def test_a_full_disk_leaves_no_part_behind(tmp_path):
    """Under a limit of 4 kB a file: nothing is written, and nothing lies about."""
    script = (
        "import resource, signal, sys; from pathlib import Path\nfrom fairloaf.trials import"
        " TrialError\nfrom fairloaf.trials.writing.whole_files import"
        " write_whole\nsignal.signal(signal.SIGXFSZ, signal.SIG_IGN);"
        " resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))\ntry:"
        " write_whole({Path(sys.argv[1]) / 'a.html': b'x' * 9000})\nexcept TrialError as stop:"
        " print(stop)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(tmp_path)], capture_output=True, text=True, check=True
    )
    assert "cannot be written: File too large." in done.stdout
    assert os.listdir(tmp_path) == []


def test_folders_that_differ_after_a_dot_make_reports_of_their_own_name(tmp_path):
    names = []
    for name in ("Bake 12.11", "Bake 12.12"):
        shutil.copytree(EXAMPLE, tmp_path / name)
        names.append(read_trial(tmp_path / name).name)
    assert names == ["Bake 12.11", "Bake 12.12"]


def test_a_report_of_other_records_is_not_replaced_without_a_word(tmp_path):
    first = write_report(load_trial(EXAMPLE), tmp_path, "class", ["json"])
    again = write_report(load_trial(EXAMPLE), tmp_path, "class", ["json"])
    shutil.copytree(EXAMPLE, tmp_path / "class_bake")
    loaves = tmp_path / "class_bake" / "loaves.csv"
    loaves.write_text(loaves.read_text("utf-8").rstrip() + "\n\n", "utf-8")
    other = write_report(load_trial(tmp_path / "class_bake"), tmp_path, "class", ["json"])
    assert (first.replaced, again.replaced) == ((), ())
    assert other.replaced == other.files
    assert "A report of other records stood there and was replaced" in other.text
