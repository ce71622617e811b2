"""Quotes that enclose no cell swallow no row; quotes that do are read as they stand."""

import sys

import pytest
from fairloaf.trials import TrialError
from fairloaf.trials.reading.csv_text import SPACES, csv_grid

HEADER = "loaf,formula,tin,loaf_ml,note"
ROWS = [f"{n},house,open,{1600 + n}," for n in range(1, 13)]


def grid(rows, delimiter=","):
    return csv_grid(
        "\n".join([HEADER, *rows, ""]).replace(",", delimiter).encode(), "loaves.csv", str.islower
    )


def with_cells(changes):
    """Return the rows with cells (row, column) replaced."""
    rows = [row.split(",") for row in ROWS]
    for (row, column), text in changes.items():
        rows[row][column] = text
    return [",".join(row) for row in rows]


STRAY = {
    "never closed in a note": {(3, 4): '"sticky'},
    "never closed in the first cell": {(3, 0): '"4'},
    "never closed in the last row": {(11, 2): '"open'},
    "ditto marks below one another": {(row, 1): '"' for row in (3, 4, 5)},
    "two ditto marks in a row": {(3, 1): '"', (3, 2): '"'},
    "ditto marks in two columns": {(3, 3): '"', (6, 1): '"'},
    "inches before the number": {(3, 2): '"9 tin', (8, 2): '"9 tin'},
    "a measured value": {(3, 3): '"1600', (7, 3): '1600"'},
}


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("name", STRAY)
def test_a_quote_that_encloses_no_cell_is_a_sign_and_is_told(name, delimiter):
    read = grid(with_cells(STRAY[name]), delimiter)
    assert read.lines.tolist() == list(range(1, 14))
    assert read.cells.shape == (13, 5)
    assert [finding.code for finding in read.findings] == ["quote-stray"]
    assert set(read.findings[0].rows) == {row + 2 for row, _ in STRAY[name]}


@pytest.mark.parametrize(
    "text", ['"one\ntwo, or three\nfour"', '"a, b, c"', '"10"" tin"', '"x"', '10" tin', '""']
)
def test_a_quoted_cell_is_read_whole(text):
    read = grid(with_cells({(3, 4): text}))
    assert read.cells.shape == (13, 5)
    assert read.findings == ()
    assert (
        read.cells.iloc[4, 4] == text.strip('"').replace('""', '"') if text != '10" tin' else text
    )


def test_a_cell_that_holds_rows_is_an_error_where_the_lines_are_no_rows():
    """The row in between is short, so that nobody can say what was meant."""
    rows = with_cells({(3, 4): '"sticky', (8, 4): 'soft"'})
    rows[5] = "6,house"
    (finding,) = grid(rows).findings
    assert (finding.code, finding.severity, finding.rows[0]) == ("quote-open", "error", 5)
    assert "opens on line 5 is closed on line 10 or never" in finding.message


def test_a_note_in_a_short_row_is_no_stray_quote():
    rows = with_cells({})
    rows[3] = '4,"house, old",open'
    assert grid(rows).cells.iloc[4].tolist() == ["4", "house, old", "open", "", ""]


def test_a_million_quotes_are_read_in_one_go():
    """A regular expression that goes back over what it has read would never end."""
    row = "1," + '""' * 500_000 + 'x,"'
    with pytest.raises(
        TrialError, match=r"loaves\.csv, line 2: a cell has more than 32,767 characters"
    ):
        grid([row, *ROWS])


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("inner", [False, True])
def test_quotes_around_every_whole_line_are_taken_off_and_told(delimiter, inner):
    def line(row):
        cells = [f'""{cell}""' if inner else cell for cell in row.split(",")]
        return f'"{delimiter.join(cells)}"'

    text = "\n".join(map(line, [HEADER, *ROWS]))
    read = csv_grid(text.encode(), "loaves.csv", str.islower)
    plain = grid(ROWS, delimiter)
    assert read.cells.equals(plain.cells)
    assert read.lines.tolist() == plain.lines.tolist()
    assert "loaves.csv: the quotes around each whole line are taken off." in read.assumptions


def test_a_column_of_quoted_texts_is_no_quoted_line():
    text = '"formula"\n"house, white"\n"malted"\n'
    assert csv_grid(text.encode(), "loaves.csv", str.islower).cells[0].tolist() == [
        "formula",
        "house, white",
        "malted",
    ]


def test_every_space_of_unicode_is_known_but_the_end_of_a_line():
    signs = map(chr, range(sys.maxunicode + 1))
    assert set(SPACES) == {sign for sign in signs if sign.isspace() and sign != "\n"}
