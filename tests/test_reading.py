"""What is read from the files of tests/corpus, and from tables written in every dialect."""

import csv
import functools
import io
import tomllib
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials import TrialError
from fairloaf.trials.columns import RECORDED
from fairloaf.trials.loading import assembled
from fairloaf.trials.reading.records import read_records
from fairloaf.trials.reading.sheets import read_tables
from hypothesis import given
from hypothesis import strategies as st

CORPUS = Path(__file__).parent / "corpus"
EXPECTED = tomllib.loads((CORPUS / "expected.toml").read_text("utf-8"))
READ = [name for name, wanted in EXPECTED.items() if "refused" not in wanted]
REFUSED = [name for name, wanted in EXPECTED.items() if "refused" in wanted]


@functools.cache
def records_of(name):
    """Return the records of a file of the corpus, read once for all tests."""
    return read_records(CORPUS / name)


@functools.cache
def read(name):
    """Return the trial in a file of the corpus, checked once for all tests."""
    return assembled(records_of(name))


def plain_values(table):
    """Return a table's rows as plain values, missing ones as ""."""
    return [
        ["" if pd.isna(value) else value for value in row] for row in table.itertuples(index=False)
    ]


def test_every_file_of_the_corpus_has_an_expectation():
    files = {entry.name for entry in CORPUS.iterdir() if entry.suffix not in (".py", ".toml")} - {
        "__pycache__"
    }
    assert files == set(EXPECTED)
    assert len(files) >= 40


@pytest.mark.parametrize("name", READ)
def test_what_the_corpus_holds_is_read(name):
    wanted, trial = EXPECTED[name], read(name)
    if wanted.get("like_plain"):
        plain = read("plain.csv").loaves.drop(
            columns=["line"] + ["note"] * (not wanted.get("notes", True))
        )
        here = trial.loaves[plain.columns]
        pd.testing.assert_frame_equal(here, plain, rtol=1e-12)
    for column, values in wanted.get("loaves", {}).items():
        got = ["" if pd.isna(value) else value for value in trial.loaves[column]]
        assert got == [pytest.approx(v) if not isinstance(v, str) else v for v in values]
    if "lines" in wanted:
        assert trial.loaves["line"].tolist() == wanted["lines"]
    columns_of = {
        "scores": ["loaf", "assessor", "attribute", "score"],
        "readings": ["loaf", "loaf_ml"],
    }
    for table, columns in columns_of.items():
        if table in wanted:
            assert plain_values(getattr(trial, table)[columns]) == wanted[table]


@pytest.mark.parametrize("name", READ)
def test_what_is_wrong_in_the_corpus_is_found(name):
    wanted, trial = EXPECTED[name], read(name)
    found = {}
    for finding in trial.findings:
        found[finding.code] = found.get(finding.code, []) + list(finding.rows)
        assert finding.message
        assert finding.fix
    assert found == wanted.get("found", {})
    assert plain_values(trial.unreadable[["line", "column", "text"]]) == wanted.get(
        "unreadable", []
    )
    for words in wanted.get("assumed", []):
        assert any(words in told for told in trial.assumptions), (words, trial.assumptions)


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_read_is_refused(name):
    with pytest.raises(TrialError, match=r"\S+ .*\.") as refused:
        read_records(CORPUS / name)
    assert [finding.code for finding in refused.value.findings] == EXPECTED[name]["refused"]
    assert all(finding.severity == "error" and finding.fix for finding in refused.value.findings)


def test_a_named_sheet_is_read():
    trial = assembled(read_records(CORPUS / "two_sheets_alike.xlsx", sheet="july"))
    assert trial.loaves["loaf"].tolist() == list("12345678")


def test_a_sheet_that_is_not_there_is_told_with_those_that_are():
    with pytest.raises(
        TrialError, match=r"no sheet 'May' with anything in it\. It has: 'June', 'July'\."
    ):
        read_records(CORPUS / "two_sheets_alike.xlsx", sheet="May")


# --- Any table, written in any dialect, reads back equal ---------------------------------------

MEANS_MISSING = {"-", "–", "—", "--", "---", "n/a", "na", "n.a.", "n.a", "nan", "#n/a", "null"}
SIGNS = st.characters(
    codec="utf-16", exclude_categories=("Cc", "Cs", "Zs", "Zl", "Zp", "Cf", "Co", "Cn")
)
# An apostrophe at the front is how spreadsheets mark a text; reading takes it away before signs
# such as =.
TEXT = st.text(SIGNS, min_size=1, max_size=8).filter(
    lambda text: text.casefold() not in MEANS_MISSING and not text.startswith("'")
)
QUOTED = st.lists(TEXT, min_size=1, max_size=3).flatmap(
    lambda parts: st.sampled_from([" ", ", ", "; ", "\n", "\t", ' "']).map(
        lambda sign: sign.join(parts)
    )
)
NUMBER = st.one_of(
    st.none(),
    st.decimals(0, 5000, places=2).map(float),
    st.integers(0, 9999).map(float),
    st.floats(1e-3, 1e5),
)
TABLES = st.integers(1, 12).flatmap(
    lambda rows: st.fixed_dictionaries(
        {
            "loaf": st.lists(TEXT, min_size=rows, max_size=rows),
            "formula": st.lists(TEXT, min_size=rows, max_size=rows),
            "loaf_g": st.lists(NUMBER, min_size=rows, max_size=rows),
            "loaf_ml": st.lists(NUMBER, min_size=rows, max_size=rows),
            "note": st.lists(st.one_of(st.none(), QUOTED), min_size=rows, max_size=rows),
        }
    )
)
DIALECTS = st.fixed_dictionaries(
    {
        "encoding": st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"]),
        "delimiter": st.sampled_from([",", ";", "\t"]),
        "decimal": st.sampled_from([".", ","]),
        "line_end": st.sampled_from(["\n", "\r\n"]),
        "quoting": st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
        "titles": st.integers(0, 3),
        "blank_rows": st.integers(0, 3),
        "blank_columns": st.integers(0, 3),
    }
)


def written(table, dialect):
    """Return a table as the bytes of a CSV file in a dialect."""

    def cell(value):
        if value is None:
            return ""
        return value if isinstance(value, str) else repr(value).replace(".", dialect["decimal"])

    out = io.StringIO()
    writer = csv.writer(
        out, delimiter=dialect["delimiter"], lineterminator="\n", quoting=dialect["quoting"]
    )
    blank = [""] * dialect["blank_columns"]
    for number in range(dialect["titles"]):
        writer.writerow([f"title {number}", *[""] * (len(table) - 1), *blank])
    writer.writerow([*table, *blank])
    for row in zip(*table.values(), strict=True):
        writer.writerow([*map(cell, row), *blank])
    for _ in range(dialect["blank_rows"]):
        writer.writerow([*[""] * len(table), *blank])
    text = out.getvalue()
    if dialect["line_end"] == "\r\n":
        text = text.replace("\n", "\r\n")
    mark = "\ufeff" if dialect["encoding"] in ("utf-16-le", "utf-16-be") else ""
    return (mark + text).encode(dialect["encoding"])


@given(table=TABLES, dialect=DIALECTS)
def test_any_table_in_any_dialect_reads_back_equal(tmp_path_factory, table, dialect):
    path = tmp_path_factory.mktemp("dialect") / "june.csv"
    path.write_bytes(written(table, dialect))
    trial = assembled(read_records(path))
    assert trial.unreadable.empty
    for name, values in table.items():
        got = [None if pd.isna(value) else value for value in trial.loaves[name]]
        assert got == values, name


def test_a_line_is_counted_as_an_editor_does():
    raw = b'loaf,note\n1,"a\nb"\n\n2,c\n3,"d\n\ne"\n4,f\n'
    table = read_tables(raw, "june.csv", {"loaves": RECORDED})["loaves"]
    assert table.lines.tolist() == [2, 5, 6, 9]


def test_with_and_without_quotes_the_same_is_read():
    bare = "loaf,formula,loaf_g\n" + "".join(f"{n},house,{400 + n / 10}\n" for n in range(50))
    quoted = "\n".join(
        ",".join(f'"{cell}"' for cell in line.split(",")) for line in bare.splitlines()
    )
    one, other = (
        read_tables(text.encode(), "june.csv", {"loaves": RECORDED})["loaves"]
        for text in (bare, quoted)
    )
    pd.testing.assert_frame_equal(one.cells, other.cells)
    np.testing.assert_array_equal(one.lines, other.lines)
