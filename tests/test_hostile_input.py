"""Hostile or broken files: a clear refusal or safe reading, never another exception, a hang or a
crash.
"""

import functools
import io
import os
import re
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest
import xlsxwriter
from fairloaf.trials import Trial, TrialError, read_trial
from fairloaf.trials.reading.files import LARGEST_CARD
from fairloaf.trials.reading.grid import LARGEST_FILE, MOST_COLUMNS
from fairloaf.trials.reading.sheet_reader import CPU_SECONDS
from fairloaf.trials.reading.workbook import LARGEST_UNPACKED
from hypothesis import given
from hypothesis import strategies as st

CORPUS = Path(__file__).parent / "corpus"
SECONDS, MEGABYTES = 5, 500
GOOD = b"loaf,formula,loaf_g,loaf_ml\n1,house,401,1610\n2,malted,400,1650\n"
GOOD_BOOK = (CORPUS / "workbook.xlsx").read_bytes()


def outcome(path):
    """Return the trial or the TrialError that a path gives; anything else that is raised fails the
    test.
    """
    began = time.process_time()
    result: Trial | TrialError
    try:
        result = read_trial(path)
    except TrialError as error:
        result = error
    assert time.process_time() - began < SECONDS
    findings = [f for f in result.findings if isinstance(result, Trial) or f.severity == "error"]
    assert len(findings) == len(result.findings)
    assert all(f.code and f.message and f.fix for f in findings)
    assert findings or isinstance(result, Trial)
    return result


def refusal(path, code, words):
    """Assert that a path is refused with a code and words of the message."""
    refused = outcome(path)
    assert isinstance(refused, TrialError)
    assert re.search(words, str(refused))
    assert [f.code for f in refused.findings] == [code]


# --- Any bytes at all --------------------------------------------------------------------------

NEARLY_CSV = st.lists(
    st.sampled_from(
        [
            b"loaf",
            b"formula",
            b"loaf_g",
            b"mix",
            b"void",
            b"loaf_ml (L)",
            b"proof (h)",
            b",",
            b";",
            b"\t",
            b"\n",
            b"\r\n",
            b"_",
            b"()",
            b'"',
            b"1",
            b"402,5",
            b"1.650",
            b"nan",
            b"inf",
            b"1e999",
            b"-",
            b"\xff",
            b"\x00",
            b"\xef\xbb\xbf",
            b"\xff\xfe",
            b"=1+1",
            b"'=1",
            b"<b>",
            b"1:15",
            b"12 kg",
            b" ",
            b"\xc3\xa4",
            b"9" * 400,
            b"sep=;\n",
            b"line",
        ]
    ),
    max_size=60,
).map(b"".join)
CSV_BYTES = st.one_of(
    st.binary(max_size=2000), NEARLY_CSV, NEARLY_CSV.map(lambda more: GOOD + more)
)


@given(raw=CSV_BYTES)
def test_any_bytes_as_csv_give_a_trial_or_a_trial_error(tmp_path, raw):
    path = tmp_path / "loaves.csv"
    path.write_bytes(raw)
    assert isinstance(outcome(path), Trial | TrialError)


@given(raw=CSV_BYTES)
def test_any_bytes_as_scores_and_readings_give_a_trial_or_a_trial_error(tmp_path, raw):
    (tmp_path / "loaves.csv").write_bytes(GOOD)
    (tmp_path / "scores.csv").write_bytes(raw)
    (tmp_path / "readings.csv").write_bytes(raw.replace(b"loaf_g", b"reading"))
    assert isinstance(outcome(tmp_path), Trial | TrialError)


NEARLY_TOML = st.lists(
    st.sampled_from(
        [
            b"measure",
            b"matters",
            b"[factors]",
            b"[columns]",
            b"formula",
            b"[scores]",
            b"scale",
            b"[tins.open]",
            b"=",
            b"[",
            b"]",
            b"{",
            b"}",
            b'"x"',
            b"1",
            b"-1",
            b"nan",
            b"inf",
            b"true",
            b"\n",
            b"'''",
            b".",
            b'"loaf"',
            b"0x1F",
            b"[measures.loaf_ml]",
            b"[formulas.house]",
            b"loaf_g",
            b"2026-11-25",
            b"\xff",
            b"attributes",
            b"words",
            b"weights",
        ]
    ),
    max_size=40,
).map(b"".join)


@given(raw=st.one_of(st.binary(max_size=500), NEARLY_TOML))
def test_any_bytes_as_card_give_a_trial_or_a_trial_error(tmp_path, raw):
    (tmp_path / "loaves.csv").write_bytes(GOOD)
    (tmp_path / "trial.toml").write_bytes(raw)
    assert isinstance(outcome(tmp_path), Trial | TrialError)


@given(
    raw=st.one_of(
        st.binary(max_size=500).map(lambda more: b"PK\x03\x04" + more),
        st.binary(max_size=500).map(lambda more: b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + more),
        st.tuples(st.integers(0, len(GOOD_BOOK)), st.binary(max_size=8)).map(
            lambda cut: GOOD_BOOK[: cut[0]] + cut[1] + GOOD_BOOK[cut[0] + len(cut[1]) :]
        ),
        st.integers(0, len(GOOD_BOOK)).map(lambda end: GOOD_BOOK[:end]),
    )
)
def test_any_bytes_as_workbook_give_a_trial_or_a_trial_error(tmp_path, raw):
    path = tmp_path / "loaves.xlsx"
    path.write_bytes(raw)
    assert isinstance(outcome(path), Trial | TrialError)


# --- Too much ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "content",
    [
        b"loaf,loaf_g\n" + b"," * 1_000_000 + b"\n",
        b",".join(b"h%d" % n for n in range(1_000_000)) + b"\n1\n",
        b'"loaf",loaf_g\n' + b"," * 1_000_000 + b"\n",
    ],
    ids=["in a row", "in the header", "with quotes"],
)
def test_a_million_columns_are_refused(tmp_path, content):
    (tmp_path / "loaves.csv").write_bytes(content)
    refusal(
        tmp_path,
        "too-many-columns",
        rf"loaves\.csv has 1,000,00\d columns, more than {MOST_COLUMNS:,}\.",
    )


def test_200_megabytes_are_refused_without_being_read(tmp_path):
    with (tmp_path / "loaves.csv").open("wb") as file:
        file.write(GOOD)
        file.truncate(200_000_000)
    refusal(tmp_path, "file-too-large", rf"loaves\.csv has more than {LARGEST_FILE:,} bytes\.")


def test_a_cell_without_an_end_is_refused(tmp_path):
    (tmp_path / "loaves.csv").write_bytes(GOOD + b'3,"' + b"x\n" * 3_000_000)
    refusal(
        tmp_path,
        "quote-open",
        r"line 4: a cell has more than 32,767 characters; a double quote is probably",
    )


def test_lines_without_end_cost_little(tmp_path):
    (tmp_path / "loaves.csv").write_bytes(GOOD + b"\n" * 5_000_000)
    assert len(outcome(tmp_path).loaves) == 2


def test_a_card_nested_without_end_is_refused(tmp_path):
    (tmp_path / "loaves.csv").write_bytes(GOOD)
    (tmp_path / "trial.toml").write_bytes(b"x = " + b"[" * 40_000 + b"]" * 40_000)
    refusal(tmp_path, "card-not-toml", r"trial\.toml is not a TOML file")


@pytest.mark.parametrize("part", [b"a", b'"a"', b"'a'"])
def test_a_key_without_end_is_refused(tmp_path, part):
    (tmp_path / "loaves.csv").write_bytes(GOOD)
    (tmp_path / "trial.toml").write_bytes(b".".join([part] * 20_000) + b" = 1\n")
    refusal(tmp_path, "card-not-toml", r"trial\.toml has a key of more than 20 parts\.")


def test_a_number_without_end_is_refused(tmp_path):
    (tmp_path / "loaves.csv").write_bytes(GOOD)
    (tmp_path / "trial.toml").write_bytes(b"matters = " + b"9" * 50_000)
    refusal(tmp_path, "card-not-toml", r"trial\.toml is not a TOML file")


def test_a_card_that_is_too_large_is_refused(tmp_path):
    (tmp_path / "loaves.csv").write_bytes(GOOD)
    (tmp_path / "trial.toml").write_bytes(b"#" * (LARGEST_CARD + 1))
    refusal(tmp_path, "file-too-large", rf"trial\.toml has more than {LARGEST_CARD:,} bytes\.")


# --- Workbooks that blow up --------------------------------------------------------------------

SHEET = "xl/worksheets/sheet1.xml"


def book_with_sheet(xml):
    """Return the plain workbook with another sheet."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(GOOD_BOOK)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for part in old.infolist():
            new.writestr(part.filename, xml if part.filename == SHEET else old.read(part))
    return out.getvalue()


@functools.cache
def blank_book():
    """Return the plain workbook with a sheet of more bytes than are unpacked."""
    return book_with_sheet(b" " * (LARGEST_UNPACKED + 1))


def blank_book_that_claims(size):
    """Return the blank workbook, whose archive says that the sheet has so many bytes."""
    real = (LARGEST_UNPACKED + 1).to_bytes(4, "little")
    assert blank_book().count(real) >= 2
    return blank_book().replace(real, size.to_bytes(4, "little"))


def sheet_of(cells):
    return (
        '<?xml version="1.0"?><worksheet'
        ' xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        f"<sheetData>{cells}</sheetData></worksheet>"
    ).encode()


def test_a_workbook_that_claims_to_be_huge_is_refused(tmp_path):
    (tmp_path / "loaves.xlsx").write_bytes(blank_book())
    refusal(
        tmp_path,
        "workbook-too-large",
        r"loaves\.xlsx is too large when unpacked: no trial's workbook",
    )


def test_a_workbook_that_hides_its_size_is_refused(tmp_path):
    (tmp_path / "loaves.xlsx").write_bytes(blank_book_that_claims(1000))
    refusal(tmp_path, "workbook-too-large", r"loaves\.xlsx is larger when unpacked than it claims")


@pytest.mark.parametrize(
    "cells",
    [
        (
            '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c'
            ' r="XFD1048576"><v>1</v></c></row>'
        ),
        (
            '<row r="1"><c r="A1"><v>1</v></c></row><row r="4000000000"><c'
            ' r="ZZZZZZ4000000000"><v>1</v></c></row>'
        ),
    ],
    ids=["the last cell there is", "a cell that there is not"],
)
def test_a_sheet_that_claims_billions_of_cells_is_refused(tmp_path, cells):
    (tmp_path / "loaves.xlsx").write_bytes(book_with_sheet(sheet_of(cells)))
    assert isinstance(outcome(tmp_path), TrialError)


def test_an_open_document_that_repeats_cells_is_refused(tmp_path):
    out = io.BytesIO()
    with zipfile.ZipFile(CORPUS / "open_document.ods") as old, zipfile.ZipFile(out, "w", 8) as new:
        for part in old.infolist():
            content = old.read(part)
            if part.filename == "content.xml":
                rows = b'<table:table-row table:number-rows-repeated="1000">'
                columns = b'<table:table-cell table:number-columns-repeated="16000" '
                content = content.replace(b"<table:table-row>", rows).replace(
                    b"<table:table-cell ", columns
                )
            new.writestr(part.filename, content, part.compress_type)
    (tmp_path / "loaves.ods").write_bytes(out.getvalue())
    refusal(
        tmp_path, "workbook-too-large", r"loaves\.ods needs more memory or time than any trial's"
    )


def test_an_archive_of_many_parts_is_refused(tmp_path):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as book:
        for number in range(5000):
            book.writestr(f"part{number}", b"")
    (tmp_path / "loaves.xlsx").write_bytes(out.getvalue())
    refusal(tmp_path, "workbook-too-large", r"loaves\.xlsx is too large when unpacked")


def test_entities_that_multiply_are_not_expanded(tmp_path):
    entities = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 12))
    cell = '<row r="1"><c r="A1" t="inlineStr"><is><t>&a11;</t></is></c></row>'
    kind = f'<!DOCTYPE worksheet [<!ENTITY a0 "aaaaaaaaaa">{entities}]>'.encode()
    bomb = sheet_of(cell).replace(b"?>", b"?>" + kind, 1)
    (tmp_path / "loaves.xlsx").write_bytes(book_with_sheet(bomb))
    assert isinstance(outcome(tmp_path), TrialError)


def test_a_workbook_of_twenty_thousand_loaves_is_read(tmp_path):
    with xlsxwriter.Workbook(tmp_path / "loaves.xlsx", {"constant_memory": True}) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, ["loaf", "formula", "loaf_g", "loaf_ml"])
        for row in range(1, 20_001):
            sheet.write_row(
                row, 0, [row, "house" if row % 2 else "malted", 400 + row % 7, 1600 + row % 11]
            )
    assert len(outcome(tmp_path).loaves) == 20_000
    assert CPU_SECONDS < SECONDS


# --- Outside the folder ------------------------------------------------------------------------


def test_a_link_that_leads_outside_is_not_followed(tmp_path):
    secret, folder = tmp_path / "secret.csv", tmp_path / "trial"
    secret.write_bytes(GOOD)
    folder.mkdir()
    (folder / "loaves.csv").symlink_to(secret)
    refusal(
        folder, "leads-outside", r"loaves\.csv is a link to a file outside the trial's folder\."
    )


def test_a_card_that_leads_outside_is_not_followed(tmp_path):
    folder = tmp_path / "trial"
    folder.mkdir()
    (folder / "loaves.csv").write_bytes(GOOD)
    (folder / "trial.toml").symlink_to("/etc/passwd")
    refusal(folder, "leads-outside", r"trial\.toml is a link to a file outside")


def test_a_link_inside_the_folder_is_followed(tmp_path):
    (tmp_path / "june.dat").write_bytes(GOOD)
    (tmp_path / "loaves.csv").symlink_to("june.dat")
    assert len(outcome(tmp_path).loaves) == 2


def test_links_in_a_circle_are_refused(tmp_path):
    (tmp_path / "loaves.csv").symlink_to("scores.csv")
    (tmp_path / "scores.csv").symlink_to("loaves.csv")
    assert isinstance(outcome(tmp_path), TrialError)


def test_a_pipe_that_nobody_writes_to_does_not_hang(tmp_path):
    os.mkfifo(tmp_path / "loaves.csv")
    refusal(tmp_path, "not-a-file", r"loaves\.csv is no ordinary file\.")
    refusal(tmp_path / "loaves.csv", "not-a-file", r"loaves\.csv is neither a file nor a folder\.")


def test_a_folder_called_like_a_file_is_refused(tmp_path):
    (tmp_path / "loaves.csv").mkdir()
    refusal(tmp_path, "not-a-file", r"loaves\.csv is no ordinary file\.")


@pytest.mark.parametrize(
    "path", ["nowhere", "nul\x00byte", "x" * 5000], ids=["absent", "zero byte", "too long"]
)
def test_a_path_that_cannot_be_is_refused(tmp_path, path):
    with pytest.raises(TrialError, match=r"There is no|cannot be opened"):
        read_trial(tmp_path / path)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read_is_refused(tmp_path):
    (tmp_path / "loaves.csv").write_bytes(GOOD)
    (tmp_path / "loaves.csv").chmod(0)
    refusal(tmp_path, "file-unreadable", r"loaves\.csv cannot be opened: Permission denied\.")


def test_control_signs_are_refused_with_their_line(tmp_path):
    (tmp_path / "loaves.csv").write_bytes(GOOD + b"3,\x1b[31mhouse,400,1600\n")
    refusal(tmp_path, "not-text", r"line 4 holds signs that no text has")


def test_all_faults_are_told_at_once(tmp_path):
    (tmp_path / "loaves.csv").write_bytes(b"")
    (tmp_path / "scores.csv").write_bytes(b"\x00")
    (tmp_path / "trial.toml").write_bytes(b"measure = 4\nmaters = 1\n")
    with pytest.raises(TrialError, match=r"measure is 4") as refused:
        read_trial(tmp_path)
    codes = [f.code for f in refused.value.findings]
    assert codes == ["card-unknown-key", "card-wrong-kind", "empty-file", "not-text"]


# --- Memory ------------------------------------------------------------------------------------

# VmHWM is the process's own peak; that of the reader of workbooks is the largest of the children's.
PEAK = """
import resource, sys
from pathlib import Path
from fairloaf.trials import TrialError, read_trial

def own():
    status = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in status if line.startswith("VmHWM"))

before = own()
try:
    read_trial(sys.argv[1])
except TrialError:
    pass
print(max(own() - before, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss) / 1000)
"""


@pytest.mark.parametrize(
    "make",
    [
        lambda folder: (folder / "loaves.csv").write_bytes(b"loaf,loaf_g\n" + b"," * 1_000_000),
        lambda folder: (folder / "loaves.xlsx").write_bytes(blank_book_that_claims(1000)),
        lambda folder: (folder / "loaves.xlsx").write_bytes(
            book_with_sheet(
                sheet_of(
                    '<row r="1"><c r="A1"><v>1</v></c></row><row r="900000"><c'
                    ' r="XFD900000"><v>1</v></c></row>'
                )
            )
        ),
        lambda folder: (folder / "loaves.csv").write_bytes(GOOD + b'3,"' + b"x\n" * 3_000_000),
    ],
    ids=["columns", "bomb", "cells", "quote"],
)
def test_hostile_files_stay_within_memory(tmp_path, make):
    make(tmp_path)
    done = subprocess.run(
        [sys.executable, "-c", PEAK, str(tmp_path)], capture_output=True, text=True, check=True
    )
    assert float(done.stdout) < MEGABYTES
