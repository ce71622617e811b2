"""Words of yes and no in six languages: whether a loaf counts."""

import pytest
from fairloaf.trials import read_trial

HEADER = "loaf,formula,loaf_g,loaf_ml,{}\n"
COUNTS = ["no", "Nein", "non", "NEE", "ok!", "O.K.", "used", "gültig", "utilisé", "i.O.", "keine"]


def trial(tmp_path, header, words):
    rows = [
        f"{n},{'house' if n % 2 else 'malted'},40{n % 10},16{10 + n},{word}\n"
        for n, word in enumerate(words, 1)
    ]
    (tmp_path / "loaves.csv").write_text(HEADER.format(header) + "".join(rows), "utf-8")
    return read_trial(tmp_path)


@pytest.mark.parametrize("word", COUNTS)
def test_a_word_that_says_a_loaf_counts_is_no_reason(tmp_path, word):
    read = trial(tmp_path, "void", ["", word, "fell", ""])
    assert read.counted["loaf"].tolist() == ["1", "2", "4"]
    assert any(repr(word) in told for told in read.assumptions)


@pytest.mark.parametrize("word", ["✓", "✗", "☑"])
def test_a_tick_under_void_is_asked_about(tmp_path, word):
    (finding,) = (
        f
        for f in trial(tmp_path, "void", ["", word, "", ""]).findings
        if f.code == "void-not-a-reason"
    )
    assert finding.rows == (3,)


@pytest.mark.parametrize("word", ["yes", "ja", "oui", "sí", "x", "1"])
def test_a_yes_under_void_leaves_the_loaf_out_and_is_told(tmp_path, word):
    read = trial(tmp_path, "void", ["", word, "", ""])
    assert read.void["loaf"].tolist() == ["2"]
    assert any(
        f"{word!r} under 'void' leaves a loaf out without a reason" in told
        for told in read.assumptions
    )


@pytest.mark.parametrize(
    ("header", "no", "yes"),
    [
        ("Used", "no", "yes"),
        ("Include", "nein", "ja"),
        ("valid", "0", "1"),
        ("Zählt", "nein", "ja"),
        ("keep", "no", "yes"),
    ],
)
def test_a_column_of_use_leaves_out_those_that_are_not_used(tmp_path, header, no, yes):
    read = trial(tmp_path, header, [yes, no, yes, yes])
    assert read.void[["loaf", "void"]].to_numpy().tolist() == [["2", f"{header}: {no}"]]


def test_a_column_of_use_that_says_neither_is_asked_about(tmp_path):
    (finding,) = (
        f
        for f in trial(tmp_path, "Used", ["yes", "perhaps", "", "no"]).findings
        if f.code == "counts-unclear"
    )
    assert finding.rows == (3, 4)


def test_used_may_be_another_thing(tmp_path):
    read = trial(tmp_path, "used", ["tin 1", "tin 2", "tin 1", "tin 2"])
    assert len(read.counted) == 4


@pytest.mark.parametrize(
    "header",
    [
        "Use this loaf",
        "Include in analysis",
        "Use it",
        "Verwenden",
        "Utiliser",
        "Usar",
        "Meetellen",
    ],
)
def test_a_header_that_asks_whether_a_loaf_counts(tmp_path, header):
    rows = [f"{n},house,400,{1600 + n},{'no' if n == 3 else 'yes'}" for n in range(1, 7)]
    text = "\n".join([f"loaf,formula,loaf_g,loaf_ml,{header}", *rows])
    (tmp_path / "loaves.csv").write_text(text, "utf-8")
    trial = read_trial(tmp_path / "loaves.csv")
    assert trial.void["loaf"].tolist() == ["3"]
    assert trial.void["void"].tolist() == [f"{header}: no"]
