"""The tables of a file: one in a CSV; in a workbook a sheet of each kind, or several sheets of one
shape as one.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from ..columns import KINDS
from ..findings import Finding, TrialError
from ..frozen import frozen
from ..words.lists import listed
from .csv_text import csv_grid
from .grid import LARGEST_FILE, Grid, is_workbook
from .headers import Vocabulary, header_in, index_of, loose, read_header
from .raw_table import RawTable, header_row, table_in, trimmed
from .stacked import stacked

LOAVES = ("loaves", "loaf", "breads", "bakes", "records", "data")
SHEET_NAMES = {"loaves": LOAVES} | {name: (name, *kind.sheets) for name, kind in KINDS.items()}
FEWEST_KNOWN = 3  # headers of a sheet that may hold loaves
MOST_UNLIKE = 2  # headers that one of two sheets of one shape has and the other has not
MEASURED = frozenset({"loaf_g", "loaf_ml", "seed_ml", "height_mm", "specific_volume"})

Known = Callable[[str], bool]


def read_tables(
    raw: bytes,
    file: str,
    vocabularies: dict[str, Vocabulary],
    mapped: Sequence[str] = (),
    sheet: str | None = None,
    turn: Callable[[Grid], Grid] | None = None,
    any_header: bool = False,
) -> dict[str, RawTable]:
    """Return the tables found in a file, by kind ("loaves", "scores", "readings").

    A CSV holds one table, of the first kind in ``vocabularies``. A workbook may hold one sheet of
    each kind, or several of the first kind that have one shape; ``sheet`` names that of the first.
    ``mapped`` are further headers to be recognised, from the card. ``turn`` is done to the grids of
    the first; with ``any_header`` its table is one even if no header in it is known.

    Raises
    ------
    TrialError: the file cannot be read, or no header in it is known; says what was found and what
    to do.
    """
    if len(raw) > LARGEST_FILE:
        raise TrialError.one(
            "file-too-large",
            f"{file} has more than {LARGEST_FILE:,} bytes.",
            "Split it: a million loaves take about 60,000,000.",
            file=file,
        )
    first = next(iter(vocabularies))
    if not is_workbook(raw):
        recognised = _recogniser(vocabularies[first], mapped)
        grid = csv_grid(raw, file, recognised)
        return {
            first: table_in(
                turn(grid) if turn else grid, file, recognised, any_header, turn is not None
            )
        }
    known = {kind: _recogniser(vocabulary, mapped) for kind, vocabulary in vocabularies.items()}
    from .workbook import workbook_grids

    grids = workbook_grids(raw, file)
    choice = _Choice(grids, first, file, known[first], vocabularies[first])
    chosen = {first: choice.named(sheet) if sheet is not None else choice.found()}
    for kind in list(vocabularies)[1:]:
        named = [
            g
            for g in grids
            if g.sheet.strip().casefold() in SHEET_NAMES[kind]
            and not any(g is one for one in chosen[first])
        ]
        if named:
            chosen[kind] = named[:1]
    used = [grid for own in chosen.values() for grid in own]
    if turn:
        chosen[first] = [turn(grid) for grid in chosen[first]]
    tables = {
        kind: _one_table(
            own,
            f"{file} [{own[0].sheet}]" if len(chosen) > 1 and len(own) == 1 else file,
            known[kind],
            any_header and kind == first,
            turn is not None,
        )
        for kind, own in chosen.items()
    }
    told, findings = choice.told(
        chosen[first], [grid for grid in grids if not any(grid is one for one in used)]
    )
    table = tables[first]
    return tables | {
        first: replace(
            table, assumptions=(*told, *table.assumptions), findings=(*table.findings, *findings)
        )
    }


def _recogniser(vocabulary: Vocabulary, mapped: Sequence[str]) -> Known:
    also, index = set(map(loose, mapped)), index_of(vocabulary, "")
    seen: dict[str, bool] = {}

    def known(text: str) -> bool:
        if text not in seen:
            seen[text] = loose(text) in also or (
                0 < len(text) < 80 and header_in(index, text) is not None
            )
        return seen[text]

    return known


@frozen
class _Choice:
    """Which sheets of a workbook hold the table that is looked for."""

    grids: list[Grid]
    kind: str
    file: str
    known: Known
    vocabulary: Vocabulary

    def named(self, sheet: str) -> list[Grid]:
        """Return the sheet of a name."""
        named = [
            grid for grid in self.grids if grid.sheet.strip().casefold() == sheet.strip().casefold()
        ]
        if not named:
            raise TrialError.one(
                "no-sheet",
                f"{self.file} has no sheet {sheet!r} with anything in it.",
                f"It has: {', '.join(repr(grid.sheet) for grid in self.grids)}.",
                file=self.file,
            )
        return named[:1]

    def found(self) -> list[Grid]:
        """Return the sheet that has the name of its kind, or the one that may hold the table, or
        all of one shape.
        """
        likely = self.likely()
        named = [
            grid
            for grid in likely
            if grid.sheet.strip().casefold() in SHEET_NAMES.get(self.kind, ())
        ]
        if len(named) == 1 or len(likely) == 1:
            return named or likely
        if self.are_of_one_shape(likely) and not self.hold_a_row_twice(likely):
            return likely
        raise TrialError.one(
            "which-sheet",
            f"{self.file} has several sheets that may hold the {self.kind}: "
            f"{', '.join(repr(grid.sheet) for grid in likely)}.",
            f"Say which:  --sheet {likely[0].sheet!r}; or call it {self.kind!r}. Sheets with the"
            " same headers are read as one table; a copy of another sheet is not.",
            file=self.file,
        )

    def likely(self) -> list[Grid]:
        """Return the sheets that may hold the table: shown, with enough known headers and rows
        below them.
        """
        counts = [header_row(grid, self.known) for grid in self.grids]
        shown = [known for grid, (_, known) in zip(self.grids, counts, strict=True) if grid.visible]
        best = max(shown, default=0) or max(known for _, known in counts)
        found = [
            grid
            for grid, (row, known) in zip(self.grids, counts, strict=True)
            if 2 * known >= best
            and (known >= FEWEST_KNOWN or known == best)
            and (grid.visible or not any(shown))
            and row + 1 < len(grid.cells)
        ]
        measured = [grid for grid in found if self.shape(grid) & MEASURED]
        return (
            measured
            or found
            or [grid for grid, (_, known) in zip(self.grids, counts, strict=True) if known == best][
                :1
            ]
        )

    def shape(self, grid: Grid) -> frozenset[str]:
        """Return the names of a sheet's columns."""
        texts = [trimmed(text) for text in grid.cells.iloc[header_row(grid, self.known)[0]]]
        read = {text: read_header(text, self.vocabulary) for text in texts if 0 < len(text) < 80}
        return frozenset(header.name if header else loose(text) for text, header in read.items())

    def are_of_one_shape(self, grids: list[Grid]) -> bool:
        """Return whether sheets have the same columns, but for one that may be called otherwise or
        be missing.
        """
        first, *others = map(self.shape, grids)
        return all(
            len(first ^ other) <= MOST_UNLIKE and len(first & other) >= FEWEST_KNOWN
            for other in others
        )

    def hold_a_row_twice(self, grids: list[Grid]) -> bool:
        """Return whether a row stands on two sheets, so that one is a copy of another."""
        rows = [
            {
                tuple(row)
                for row in (
                    grid.cells.iloc[header_row(grid, self.known)[0] + 1 :].to_numpy().tolist()
                )
                if sum(map(bool, row)) >= FEWEST_KNOWN
            }
            for grid in grids
        ]
        return sum(map(len, rows)) > len(set().union(*rows))

    def told(self, taken: list[Grid], others: list[Grid]) -> tuple[list[str], list[Finding]]:
        """Return what is said of the sheets that were taken, and of those that were not."""
        names = listed([repr(grid.sheet) for grid in taken])
        what = f"sheet {names}" if len(taken) == 1 else f"the sheets {names} as one table"
        told = (
            [f"{self.file}: the {self.kind} are read from {what}."] if len(self.grids) > 1 else []
        )
        tables = [grid for grid in others if header_row(grid, self.known)[1] >= FEWEST_KNOWN]
        rest = [repr(grid.sheet) for grid in others if not any(grid is table for table in tables)]
        if rest:
            told.append(f"{self.file}: not read, as no table of {self.kind}: {listed(rest)}.")
        if not tables:
            return told, []
        said = listed([f"{grid.sheet!r}{'' if grid.visible else ' (hidden)'}" for grid in tables])
        return told, [
            Finding(
                code="sheet-not-read",
                severity="warning",
                file=self.file,
                why="Loaves on it do not count.",
                message=(
                    f"{'Sheet' if len(tables) == 1 else 'Sheets'} {said} of {self.file} may hold"
                    f" {self.kind} too, and {'was' if len(tables) == 1 else 'were'} not read."
                ),
                fix=(
                    "Give the sheets that belong together the same headers, or say which to read: "
                    f" --sheet {tables[0].sheet!r}"
                ),
            )
        ]


def _one_table(
    grids: list[Grid], file: str, known: Known, any_header: bool, is_turned: bool
) -> RawTable:
    """Return the table of a sheet, or of several: one below the other, with a column that names the
    sheet.
    """
    if len(grids) == 1:
        return table_in(grids[0], file, known, any_header, is_turned)
    return stacked(
        [table_in(grid, f"{file} [{grid.sheet}]", known, any_header, is_turned) for grid in grids],
        file,
    )
