"""From a grid of text to a raw table: where its header is, what its cells say, line by line."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pandas as pd

from ..findings import Finding, TrialError
from ..frozen import frozen
from ..words.lists import on_lines
from .grid import Grid
from .two_lines import TwoLines, two_lines, unclear
from .units import find_unit

# of a table, and of a cell that stands alone in its row, to be a remark
FEWEST_HEADERS, FEWEST_WORDS = 3, 3
HEADER_WITHIN = 50  # rows: more lines of titles than that are no clipboard's


@frozen(kw_only=True)
class RawTable:
    """A table as text, before anyone has asked what its columns mean.

    Attributes
    ----------
    file, sheet : where it stood; ``sheet`` is empty for a CSV, and part of ``file`` if a workbook
        has more tables
    headers : the text of each column's header, trimmed; "" for a column without one
    header_line : the line of the header in its file
    units : the units row under the header, "" where it is silent; empty when there is no such row
    cells : one column per header, named 0, 1, 2 …, of type object holding str, trimmed
    lines : (rows,) the line of the file that each row starts on
    all_lines : every line of the file with anything on it
    all_cells, cells_left_out : how many cells were filled, and how many of them stand in the
        header, the units row
        and the lines left out
    dates : (row, column) of cells that a workbook holds as dates
    merged : (row, column) of cells that a workbook holds as one over several rows
    spread : several rows were made of a line, by the rule on the card (``wide``), which keeps its
        own account
    left_out : (line, text) of the lines above the header, of header lines repeated further down,
        and of remarks
    """

    file: str
    sheet: str
    headers: tuple[str, ...]
    header_line: int
    units: tuple[str, ...]
    cells: pd.DataFrame
    lines: np.ndarray
    all_lines: np.ndarray
    all_cells: int
    cells_left_out: int
    dates: frozenset[tuple[int, int]] = frozenset()
    merged: frozenset[tuple[int, int]] = frozenset()
    left_out: tuple[tuple[int, str], ...] = ()
    assumptions: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    spread: bool = False


def header_row(grid: Grid, known: Callable[[str], bool]) -> tuple[int, int]:
    """Return the place of the header row and how many known headers it has; the widest row when
    none is known.
    """
    counts = []
    for row in grid.cells.iloc[:HEADER_WITHIN].to_numpy().tolist():
        texts = [text.strip() for text in row]
        counts.append((sum(map(known, texts)), sum(map(bool, texts))))
    best = max(range(len(counts)), key=lambda place: (counts[place], -place))
    return best, counts[best][0]


def headers_down(grid: Grid, known: Callable[[str], bool]) -> int:
    """Return how many different known headers the first column holds, one below the other."""
    first = grid.cells[0].iloc[:HEADER_WITHIN]
    return sum(known(text) for text in {text.strip() for text in first} if text)


def table_in(
    grid: Grid,
    file: str,
    known: Callable[[str], bool],
    any_header: bool = False,
    is_turned: bool = False,
) -> RawTable:
    """Return the raw table in a grid: header, units row and rows told apart.

    With ``any_header`` it may have none that is known; ``is_turned`` says that its columns were
    made rows.

    Raises
    ------
    TrialError: no header in it is known, they stand below one another, or nothing stands below the
    header.
    """
    top, recognised = header_row(grid, known)
    if (
        not is_turned
        and (down := headers_down(grid, known)) >= FEWEST_HEADERS
        and down > recognised
    ):
        raise TrialError.one(
            "sheet-turned",
            f"{file} seems to have its headers in the first column, and a loaf in each other one.",
            "Write on the card, under [wide],  turned = true;  fairloaf new FOLDER --from FILE "
            " does that.",
            file=file,
        )
    headers = [trimmed(text) for text in grid.cells.iloc[top]]
    both = two_lines(grid, top, known)
    if both and both.is_clear:
        top, headers = both.row, list(both.texts)
        recognised = max(recognised, 1)
    if not recognised and not any_header:
        found = ", ".join(repr(text[:40]) for text in headers[:12] if text)
        raise TrialError.one(
            "no-known-header",
            f"{file} has no header that is known here; it has: {found}.",
            "Call the columns loaf, mix, formula, tin, dough_g, loaf_g, loaf_ml …, or say in the"
            ' card under [columns] which is which, such as  loaf_g = "Weight 2"',
            file=file,
            rows=(int(grid.lines[top]),),
        )
    cells, lines = grid.cells.iloc[top + 1 :], grid.lines[top + 1 :]
    units = _units_row(cells, headers)
    skipped = top + 1 + len(units[:1])
    cells, lines = cells.iloc[len(units[:1]) :], lines[len(units[:1]) :]
    titles = tuple(
        (int(grid.lines[row]), " ".join(filter(None, map(trimmed, grid.cells.iloc[row]))))
        for row in range(top)
    )
    table = RawTable(
        file=file,
        sheet=grid.sheet,
        headers=tuple(headers),
        units=units,
        header_line=int(grid.lines[top]),
        cells=cells.reset_index(drop=True),
        lines=lines,
        left_out=titles,
        dates=frozenset((row - skipped, column) for row, column in grid.dates if row >= skipped),
        merged=frozenset((row - skipped, column) for row, column in grid.merged if row >= skipped),
        all_lines=grid.lines,
        all_cells=filled_cells(grid.cells),
        cells_left_out=filled_cells(grid.cells.iloc[:skipped]),
        assumptions=(*grid.assumptions, *_told_of_header(file, grid, top, units, both)),
        findings=(*grid.findings, *_unclear_lines(file, grid, both)),
    )
    table = _without_blank_columns(_without_remarks(_without_repeated_headers(table)))
    if table.cells.empty:
        raise TrialError.one(
            "empty-file",
            f"{file} has nothing below its header.",
            "Write one row per loaf below it, and save the file.",
            file=file,
            rows=(table.header_line,),
        )
    return _with_overhang(table)


def _told_of_header(
    file: str, grid: Grid, top: int, units: tuple[str, ...], both: TwoLines | None
) -> list[str]:
    line = int(grid.lines[top])
    told = []
    if both and both.is_clear:
        said = ", ".join(repr(text) for text in both.texts if text)
        told = [
            f"{file}: lines {int(grid.lines[top - 1])} and {line} are read as one header: {said}."
        ]
    above = top - 1 if told else top
    if above:
        told.append(f"{file}: the header is line {line}; what stands above it is left out.")
    return [*told, f"{file}: line {int(grid.lines[top + 1])} gives the units."] if units else told


def _unclear_lines(file: str, grid: Grid, both: TwoLines | None) -> list[Finding]:
    """Return the error for a header of two lines of which it is not clear what belongs together."""
    if both is None or both.is_clear:
        return []
    return [unclear(file, [int(line) for line in grid.lines[both.row - 1 : both.row + 1]])]


def units_line(table: RawTable) -> int:
    """Return the line below the header, where a row of units stands."""
    return int(table.all_lines[table.all_lines > table.header_line][0])


def filled_cells(cells: pd.DataFrame) -> int:
    """Return how many cells are not blank."""
    return sum(int(np.count_nonzero(column.to_numpy())) for _, column in cells.items())


def trimmed(text: str) -> str:
    """Return a text with single spaces and none around it."""
    return " ".join(text.split())


def _units_row(cells: pd.DataFrame, headers: list[str]) -> tuple[str, ...]:
    """Return the row under the header when it holds units and nothing else."""
    if cells.empty:
        return ()
    texts = [trimmed(text).strip("()[]") for text in cells.iloc[0]]
    repeated = [trimmed(text) for text in headers]  # of a cell merged over header and units
    stated = [
        text
        for text, above in zip(texts, repeated, strict=True)
        if text not in ("", "-", "–", above)
    ]
    is_units = bool(stated) and all(find_unit(text) for text in stated) and len(cells) > 1
    return tuple(text if text in stated else "" for text in texts) if is_units else ()


def _without_repeated_headers(table: RawTable) -> RawTable:
    """Leave out header lines that stand again further down, where blocks were pasted together."""
    first = next(place for place, text in enumerate(table.headers) if text)
    likely = np.flatnonzero(table.cells[first].to_numpy() == table.headers[first])
    again = [
        row
        for row in likely.tolist()
        if tuple(map(trimmed, table.cells.iloc[row])) == table.headers
    ]
    if not again:
        return table
    lines = [int(table.lines[row]) for row in again]
    return _without_rows(
        table, again, f"{table.file}: the header stands again on {on_lines(lines)}; left out."
    )


def _without_remarks(table: RawTable) -> RawTable:
    """Leave out lines of words below or between the loaves: one filled cell of a few words, and no
    other.
    """
    if len(table.headers) < FEWEST_HEADERS:
        return table
    rows, filled = np.arange(len(table.lines)), np.zeros(len(table.lines), dtype=int)
    for place in table.cells:
        filled[rows] += table.cells[place].to_numpy()[rows] != ""
        rows = rows[filled[rows] <= 1]
        if not len(rows):
            return table
    remarks = [row for row in rows.tolist() if len(_text_of(table, row).split()) >= FEWEST_WORDS]
    if not remarks:
        return table
    told = "; ".join(f"line {int(table.lines[row])}, {_text_of(table, row)!r}" for row in remarks)
    return _without_rows(
        table, remarks, f"{table.file}: taken for remarks and not for loaves: {told}."
    )


def _text_of(table: RawTable, row: int) -> str:
    return " ".join(filter(None, map(trimmed, table.cells.iloc[row])))


def _without_rows(table: RawTable, rows: list[int], told: str) -> RawTable:
    """Leave rows out, and say so."""
    keep = np.ones(len(table.lines), dtype=bool)
    keep[rows] = False
    new_place = np.cumsum(keep) - 1
    return replace(
        table,
        cells=table.cells[keep].reset_index(drop=True),
        lines=table.lines[keep],
        left_out=(
            *table.left_out,
            *((int(table.lines[row]), _text_of(table, row)) for row in rows),
        ),
        dates=frozenset((int(new_place[row]), column) for row, column in table.dates if keep[row]),
        merged=frozenset(
            (int(new_place[row]), column) for row, column in table.merged if keep[row]
        ),
        cells_left_out=table.cells_left_out + filled_cells(table.cells.iloc[rows]),
        assumptions=(*table.assumptions, told),
    )


def _without_blank_columns(table: RawTable) -> RawTable:
    """Leave out columns that have neither a header nor a filled cell."""
    keep = [place for place, text in enumerate(table.headers) if text or any(table.cells[place])]
    if len(keep) == len(table.headers):
        return table
    renumbered = {old: new for new, old in enumerate(keep)}
    return replace(
        table,
        headers=tuple(table.headers[place] for place in keep),
        cells=table.cells[keep].set_axis(range(len(keep)), axis=1),
        units=tuple(table.units[place] for place in keep) if table.units else (),
        dates=frozenset(
            (row, renumbered[column]) for row, column in table.dates if column in renumbered
        ),
        merged=frozenset(
            (row, renumbered[column]) for row, column in table.merged if column in renumbered
        ),
    )


def _with_overhang(table: RawTable) -> RawTable:
    """Add an error for rows that reach further right than the header does, as an unquoted comma
    makes them.
    """
    last = max(place for place, text in enumerate(table.headers) if text)
    over = list(range(last + 1, len(table.headers)))
    if not over:
        return table
    rows = np.flatnonzero((table.cells[over] != "").any(axis=1).to_numpy())
    lines = tuple(int(line) for line in table.lines[rows])
    finding = Finding(
        code="row-too-long",
        severity="error",
        rows=lines,
        file=table.file,
        message=f"There are more cells than headers on {on_lines(lines)} of {table.file}.",
        why="A comma inside a number or a note pushes every later cell into the wrong column.",
        fix=(
            "Put the note in double quotes, write decimals with a point, or give the last column a"
            " header."
        ),
    )
    return replace(table, findings=(*table.findings, finding))
