"""From a raw table to typed columns under canonical names, in canonical units, with nothing lost on
the way.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from ..findings import Finding
from ..frozen import frozen
from ..trial import no_unreadable_cells
from ..words.lists import on_lines
from .answers import is_yes, says_it_counts
from .cells import (
    Decimal,
    Distinct,
    Expected,
    Numbers,
    decimal_mark,
    distinct,
    plain_numbers,
    read_number,
    read_numbers,
    read_texts,
)
from .days import without_time
from .headers import Header, Naming, Vocabulary, name_columns
from .raw_table import RawTable
from .spreadsheet_damage import spreadsheet_damage
from .units import Unit, quantity_of

SAMPLE = 1000  # different texts that are looked at to tell a column of words from one of numbers
# may be one for several loaves
SHARED = frozenset({"proof_min", "dough_temp_c", "box_ml", "cool_min"})


@frozen(kw_only=True)
class TypedTable:
    """A table with canonical names and units.

    Attributes
    ----------
    frame : number columns float64, the others text with missing values, and ``line``
    headers : the headers in the order of the frame's columns
    units : column → the unit that its values were converted from
    stated_units : columns whose unit is said by the header, the line of units, the cells or the
        card
    unreadable : ``file, line, column, text`` of cells in number columns that hold no number
    settled : column → texts that stand for a missing value, or for a loaf that counts
    decimal : the decimal mark of the table's numbers, None where it shows both or neither
    """

    frame: pd.DataFrame
    headers: tuple[Header, ...]
    units: Mapping[str, Unit]
    unreadable: pd.DataFrame
    settled: Mapping[str, frozenset[str]]
    decimal: Decimal | None
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]
    stated_units: frozenset[str] = frozenset()


def typed_table(
    raw: RawTable,
    vocabulary: Vocabulary,
    mapped: Mapping[str, str],
    numbers: Collection[str] = (),
    texts: Collection[str] = (),
    wide: bool = False,
    shared: Collection[str] = (),
    out_of: float | None = None,
) -> TypedTable:
    """Return the table with typed columns.

    ``numbers`` and ``texts`` name the columns outside the vocabulary whose kind the card says.
    Another column holds numbers when all its cells do; in a table that may be ``wide`` (scores: a
    column an assessor), when most do. ``shared`` are the card's factors, whose number may stand in
    one cell for several loaves; ``out_of`` is the end of the scale where scores are written "7/10".
    """
    naming = name_columns(
        raw.headers, raw.units, vocabulary, mapped, file=raw.file, line=raw.header_line
    )
    return _Typing(
        raw, naming, frozenset(numbers), frozenset(texts), wide, frozenset(shared), out_of
    ).table()


@dataclass(slots=True)
class _Typing:
    """Works through the columns of one table and remembers what there is to say."""

    raw: RawTable
    naming: Naming
    numbers: frozenset[str]
    texts: frozenset[str]
    wide: bool
    shared: frozenset[str]
    out_of: float | None
    units: dict[str, Unit] = field(default_factory=dict)
    stated: set[str] = field(default_factory=set)
    unreadable: list[pd.DataFrame] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    settled: dict[str, frozenset[str]] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def table(self) -> TypedTable:
        """Return the typed table."""
        headers = self.naming.headers
        cells = {h.name: distinct(self.raw.cells[h.place]) for h in headers}
        numbers = [h.name for h in headers if self.holds_numbers(h, cells[h.name])]
        decimal = self.decimal([cells[name] for name in numbers])
        columns = {
            h.name: (
                self.number_column(h, cells[h.name], decimal)
                if h.name in numbers
                else self.text_column(h, cells[h.name])
            )
            for h in headers
        }
        self.tell_units()
        unreadable = (
            pd.concat(self.unreadable, ignore_index=True)
            if self.unreadable
            else no_unreadable_cells()
        )
        frame = pd.DataFrame({**columns, "line": self.raw.lines.astype(int)}, copy=False)
        signs = ", ".join(repr(sign) for sign in dict.fromkeys(self.missing))
        return TypedTable(
            frame=frame,
            headers=self.naming.headers,
            units=self.units,
            decimal=decimal,
            unreadable=unreadable,
            settled=self.settled,
            assumptions=(
                *self.raw.assumptions,
                *self.naming.assumptions,
                *self.told,
                *([f"{self.raw.file}: cells with {signs} count as missing."] if signs else []),
            ),
            findings=(
                *self.raw.findings,
                *self.naming.findings,
                *self.findings,
                *spreadsheet_damage(self.raw, headers, cells, unreadable),
            ),
            stated_units=frozenset(
                h.name
                for h in headers
                if h.column and quantity_of(h.column.unit) and not self.unit_is_granted(h)
            ),
        )

    def holds_numbers(self, header: Header, cells: Distinct) -> bool:
        """Return whether a column holds numbers: as the vocabulary or the card says, or as all its
        cells do.
        """
        if header.column:
            return header.column.kind == "number"
        if header.name in self.numbers or header.name in self.texts:
            return header.name in self.numbers
        first = cells.texts[:SAMPLE]
        if any(re.match(r"0\d", text) and not (self.wide and len(text) == 2) for text in first):
            return False  # codes such as 007, which would lose their zeros
        if not self.wide and any(
            read_number(text, Expected(), None) is None and "," not in text for text in first
        ):
            return False
        read = read_numbers(cells, Expected(out_of=self.out_of), decimal_mark(cells.texts))
        numbers, others = int(np.isfinite(read.values).sum()), int(read.unreadable.sum())
        return numbers > 0 and others <= (numbers if self.wide else 0)

    def decimal(self, columns: list[Distinct]) -> Decimal | None:
        """Return the decimal mark of the table's number columns."""
        odd = [column.texts for column in columns if plain_numbers(column.texts) is None]
        if not any("," in text for texts in odd for text in texts):
            return "."
        mark = decimal_mark(text for column in columns for text in column.texts)
        words = {
            ",": "commas are decimal commas",
            ".": "commas separate thousands",
            None: "commas are read by the place where they stand",
        }
        self.told.append(f"{self.raw.file}: in numbers, {words[mark]}.")
        return mark

    def number_column(self, header: Header, cells: Distinct, decimal: Decimal | None) -> np.ndarray:
        """Return a column of numbers in the canonical unit; texts that are no number go to
        ``unreadable``.
        """
        column = header.column
        unit = header.unit
        quantity = quantity_of(column.unit) if column and column.unit else None
        expected = Expected(
            unit=unit,
            quantity=quantity,
            low=column.low if column else None,
            high=column.high if column else None,
            out_of=None if unit else self.out_of,
        )
        read = read_numbers(cells, expected, decimal)
        if unit and not unit.is_canonical:
            self.units[header.name] = unit
        self.remember(header, read)
        self.tell_merged(header)
        return read.values

    def remember(self, header: Header, read: Numbers) -> None:
        """Keep what a column of numbers could not hold, and say what had to be assumed."""
        if read.unreadable.any():
            self.unreadable.append(
                pd.DataFrame(
                    {
                        "file": self.raw.file,
                        "line": self.raw.lines[read.unreadable],
                        "column": header.name,
                        "text": self.raw.cells[header.place][read.unreadable].to_numpy(),
                    },
                    dtype=object,
                )
            )
        self.missing += read.remarks.get("missing", ())
        self.settled[header.name] = frozenset(read.remarks.get("missing", ()))
        told = {
            "unit": "state their own unit and are converted",
            "clock": "are read as hours:minutes",
            "ambiguous": "are read in the one way that is plausible for the column",
        }
        for remark, words in told.items():
            if texts := read.remarks.get(remark):  # type: ignore[call-overload]
                self.stated.add(header.name)
                self.told.append(
                    f"{self.raw.file}, {header.text!r}: cells such as {texts[0]!r} {words}."
                )

    def text_column(self, header: Header, cells: Distinct) -> pd.Series:
        """Return a column of text, missing where blank."""
        texts, signs = read_texts(self.raw.cells[header.place], cells)
        self.missing += signs
        self.settled[header.name] = frozenset(signs)
        if header.name == "void":
            return self.without_approval(header, texts)
        return self.without_times(header, texts) if header.name == "day" else texts

    def without_approval(self, header: Header, texts: pd.Series) -> pd.Series:
        """Return the reasons under void without the words that say that a loaf counts."""
        given = pd.unique(texts.dropna())
        count = [text for text in given if says_it_counts(text)]
        if count:
            said = ", ".join(map(repr, count))
            self.told.append(
                f"{self.raw.file}: {said} under {header.text!r} means that a loaf counts."
            )
            self.settled[header.name] |= frozenset(count)
        if out := [text for text in given if is_yes(text) or text.casefold() == "x"]:
            said = ", ".join(map(repr, out))
            self.told.append(
                f"{self.raw.file}: {said} under {header.text!r} leaves a loaf out without a reason."
            )
        return texts.mask(texts.isin(count), np.nan) if count else texts

    def without_times(self, header: Header, texts: pd.Series) -> pd.Series:
        """Return days without the time of day that stands with a date."""
        days = {text: without_time(text) for text in pd.unique(texts.dropna())}
        if odd := next((text for text, day in days.items() if text != day), None):
            self.told.append(
                f"{self.raw.file}: a time of day under {header.text!r} is no part of the day, as in"
                f" {odd!r}."
            )
            return texts.map(days).astype(object)
        return texts

    def tell_merged(self, header: Header) -> None:
        """Say that a number of one loaf stands in a cell that spans several."""
        rows = sorted(row for row, column in self.raw.merged if column == header.place)
        if rows and header.name not in SHARED | self.shared:
            lines = tuple(int(self.raw.lines[row]) for row in rows)
            self.findings.append(
                Finding(
                    code="value-merged",
                    severity="error",
                    rows=lines,
                    file=self.raw.file,
                    column=header.name,
                    message=f"One cell under {header.text!r} spans {on_lines(lines)}.",
                    why=(
                        "What was measured once is no measurement of every loaf that the cell"
                        " stands beside."
                    ),
                    fix=(
                        "Separate the cell, and write the value beside the loaf that it was"
                        " measured on."
                    ),
                )
            )

    def tell_units(self) -> None:
        """Say which units were converted, and which were taken for granted."""
        for name, unit in self.units.items():
            header = next(h for h in self.naming.headers if h.name == name)
            canonical = header.column.unit if header.column else ""
            self.told.append(
                f"{self.raw.file}: {header.text!r} is converted from {unit.symbol} to {canonical}."
            )
        granted = [h for h in self.naming.headers if self.unit_is_granted(h)]
        if granted:
            said = ", ".join(f"{h.text!r} in {h.column.unit}" for h in granted if h.column)
            self.told.append(
                f"{self.raw.file}: no unit is given for {said}; these are taken for granted."
            )

    def unit_is_granted(self, header: Header) -> bool:
        """Return whether nothing in the file says which unit a column is in."""
        column = header.column
        said = header.unit or header.name in self.stated or header.text.casefold() == header.name
        return bool(column and quantity_of(column.unit) and not said)
