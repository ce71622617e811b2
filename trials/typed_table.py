"""From a raw table to typed columns under canonical names, in canonical units, with nothing lost on the way."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from .cells import Decimal, Expected, Numbers, decimal_mark, read_numbers, read_texts
from .headers import Header, Naming, Vocabulary, name_columns
from .reading import RawTable
from .trial import Finding, no_unreadable_cells
from .units import Unit, find_unit, is_unclear, quantity_of

NOT_VOID = frozenset({"no", "n", "false", "0", "none", "ok", "valid", "counts"})
# A spreadsheet turns "3-1" into one of these when it opens a file; 4.02 becomes 4 February in many countries.
_MONTH = r"(?:jan|feb|mar|mär|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-zä]*"
_BECAME_DATE = re.compile(rf"\d{{1,2}}[-. ]+{_MONTH}\.?(?:[-. ]\d{{2,4}})?|{_MONTH}\.?[-. ]\d{{2,4}}", re.IGNORECASE)
_BECAME_NUMBER = re.compile(r"\d(?:[.,]\d+)?E[+-]\d{1,3}")
MAY_BE_DATES = frozenset({"day", "note", "void", "baker"})


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedTable:
    """A table with canonical names and units.

    Attributes
    ----------
    frame : number columns float64, the others text with missing values, and ``line``
    headers : the headers in the order of the frame's columns
    units : column → the unit that its values were converted from
    unreadable : ``file, line, column, text`` of cells in number columns that hold no number
    decimal : the decimal mark of the table's numbers, None where it shows both or neither
    """

    frame: pd.DataFrame
    headers: tuple[Header, ...]
    units: Mapping[str, Unit]
    unreadable: pd.DataFrame
    decimal: Decimal | None
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...]


def typed_table(
    raw: RawTable, vocabulary: Vocabulary, mapped: Mapping[str, str],
    numbers: Collection[str] = (), texts: Collection[str] = (),
) -> TypedTable:
    """Return the table with typed columns; ``numbers`` and ``texts`` say what columns outside the vocabulary hold."""
    naming = name_columns(raw.headers, vocabulary, mapped, file=raw.file, line=raw.header_line)
    return _Typing(raw, naming, frozenset(numbers), frozenset(texts)).table()


@dataclass(slots=True)
class _Typing:
    """Works through the columns of one table and remembers what there is to say."""

    raw: RawTable
    naming: Naming
    numbers: frozenset[str]
    texts: frozenset[str]
    units: dict[str, Unit] = field(default_factory=dict)
    unreadable: list[pd.DataFrame] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def table(self) -> TypedTable:
        """Return the typed table."""
        kinds = [self.kind(header, place) for place, header in enumerate(self.naming.headers)]
        decimal = self.decimal([place for place, kind in enumerate(kinds) if kind == "number"])
        columns = {}
        for place, (header, kind) in enumerate(zip(self.naming.headers, kinds, strict=True)):
            cells = self.raw.cells[place]
            read = self.number_column if kind == "number" else self.text_column
            columns[header.name] = read(header, cells, place, decimal)
        self.damage()
        self.tell_units()
        frame = pd.DataFrame({**columns, "line": self.raw.lines.astype(int)})
        signs = ", ".join(repr(sign) for sign in dict.fromkeys(self.missing))
        return TypedTable(
            frame=frame, headers=self.naming.headers, units=self.units, decimal=decimal,
            unreadable=pd.concat(self.unreadable, ignore_index=True) if self.unreadable else no_unreadable_cells(),
            assumptions=(*self.raw.assumptions, *self.naming.assumptions, *self.told,
                         *([f"{self.raw.file}: cells with {signs} count as missing."] if signs else [])),
            findings=(*self.raw.findings, *self.naming.findings, *self.findings),
        )

    def kind(self, header: Header, place: int) -> str:
        """Return "number" or "text": as the vocabulary or the card says, otherwise what all the cells are."""
        if header.column:
            return header.column.kind
        if header.name in self.numbers or header.name in self.texts:
            return "number" if header.name in self.numbers else "text"
        found = pd.unique(self.raw.cells[place])
        sample = [text for text in found[:50] if re.match(r"0\d", text)]
        if sample:
            return "text"
        read = read_numbers(pd.Series(found, dtype=object), Expected(), decimal_mark(found[:1000]))
        return "number" if not read.unreadable.any() and np.isfinite(read.values).any() else "text"

    def decimal(self, places: list[int]) -> Decimal | None:
        """Return the decimal mark of the table's number columns."""
        some_comma = any(self.raw.cells[place].str.contains(",", regex=False).any() for place in places)
        if not some_comma:
            return "."
        texts = pd.unique(pd.concat([self.raw.cells[place] for place in places]))
        mark = decimal_mark(texts)
        words = {",": "commas are decimal commas", ".": "commas separate thousands",
                 None: "commas are read by the place where they stand"}
        self.told.append(f"{self.raw.file}: in numbers, {words[mark]}.")
        return mark

    def number_column(self, header: Header, cells: pd.Series, place: int, decimal: Decimal | None) -> np.ndarray:
        """Return a column of numbers in the canonical unit; texts that are no number go to ``unreadable``."""
        column = header.column
        unit = header.unit or self.unit_from_row(header, place)
        quantity = quantity_of(column.unit) if column and column.unit else None
        expected = Expected(unit=unit, quantity=quantity, low=column.low if column else None,
                            high=column.high if column else None)
        read = read_numbers(cells, expected, decimal)
        if unit and not unit.is_canonical:
            self.units[header.name] = unit
        self.remember(header, cells, read)
        return read.values

    def remember(self, header: Header, cells: pd.Series, read: Numbers) -> None:
        """Keep what a column of numbers could not hold, and say what had to be assumed."""
        if read.unreadable.any():
            self.unreadable.append(pd.DataFrame({
                "file": self.raw.file, "line": self.raw.lines[read.unreadable], "column": header.name,
                "text": cells.to_numpy()[read.unreadable]}, dtype=object))
        self.missing += read.remarks.get("missing", ())
        told = {"unit": "state their own unit and are converted", "clock": "are read as hours:minutes",
                "ambiguous": "are read in the one way that is plausible for the column"}
        for remark, words in told.items():
            if texts := read.remarks.get(remark):  # type: ignore[call-overload]
                self.told.append(f"{self.raw.file}, {header.text!r}: cells such as {texts[0]!r} {words}.")

    def unit_from_row(self, header: Header, place: int) -> Unit | None:
        """Return the unit that the units row gives a column; one that does not fit is an error."""
        text = self.raw.units[place] if self.raw.units else ""
        column = header.column
        if not text or not column or not column.unit:
            return None
        unit = find_unit(text, quantity_of(column.unit))
        if unit is None or is_unclear(text):
            self.findings.append(Finding(
                code="header-unit", severity="error", file=self.raw.file, rows=(self.raw.header_line + 1,),
                message=f"{self.raw.file}: {text!r} under {header.text!r} is no unit of {column.label.lower()}.",
                fix=f"Write the unit in the header, such as  {column.label} ({column.unit})", column=header.name))
        return unit

    def text_column(self, header: Header, cells: pd.Series, place: int, decimal: Decimal | None) -> pd.Series:
        """Return a column of text, missing where blank."""
        texts, signs = read_texts(cells)
        self.missing += signs
        if header.name == "void":
            counts = texts.str.casefold().isin(NOT_VOID)
            if counts.any():
                said = ", ".join(repr(text) for text in pd.unique(texts[counts]))
                self.told.append(f"{self.raw.file}: {said} under {header.text!r} means that a loaf counts.")
                texts = texts.where(~counts, np.nan)
        return texts

    def tell_units(self) -> None:
        """Say which units were converted, and which were taken for granted."""
        for name, unit in self.units.items():
            header = next(h for h in self.naming.headers if h.name == name)
            canonical = header.column.unit if header.column else ""
            self.told.append(f"{self.raw.file}: {header.text!r} is converted from {unit.symbol} to {canonical}.")
        granted = [h for h in self.naming.headers if self.unit_is_granted(h)]
        if granted:
            said = ", ".join(f"{h.text!r} in {h.column.unit}" for h in granted if h.column)
            self.told.append(f"{self.raw.file}: no unit is given for {said}; these are taken for granted.")

    def unit_is_granted(self, header: Header) -> bool:
        """Return whether nothing in the file says which unit a column is in."""
        column = header.column
        in_row = self.raw.units and self.raw.units[self.naming.headers.index(header)]
        said = header.unit or in_row or header.text.casefold() == header.name
        return bool(column and quantity_of(column.unit) and not said)

    def damage(self) -> None:
        """Say where a spreadsheet has turned a code or a number into a date."""
        for place, header in enumerate(self.naming.headers):
            if header.column is None or header.name in MAY_BE_DATES:
                continue
            rows = sorted(set(self.changed_cells(place, header)))
            if rows:
                self.findings.append(self.damage_finding(rows, place, header))

    def changed_cells(self, place: int, header: Header) -> Iterator[int]:
        """Yield the rows whose cell looks like a code or number that a spreadsheet has changed."""
        dates = [row for row, column in self.raw.dates if column == place]
        if header.column and header.column.kind == "number" or len(dates) < len(self.raw.lines):
            yield from dates
        cells = self.raw.cells[place]
        odd = [text for text in pd.unique(cells) if len(text) < 20 and (
            _BECAME_DATE.fullmatch(text) or (header.name in ("loaf", "mix") and _BECAME_NUMBER.fullmatch(text)))]
        if odd:
            yield from np.flatnonzero(cells.isin(odd)).tolist()

    def damage_finding(self, rows: list[int], place: int, header: Header) -> Finding:
        """Return the warning for one column."""
        lines = tuple(int(self.raw.lines[row]) for row in rows)
        text = self.raw.cells[place].iloc[rows[0]]
        return Finding(
            code="cell-became-date", severity="warning", rows=lines, file=self.raw.file, column=header.name,
            message=f"{self.raw.file}, line {', '.join(map(str, lines[:8]))}: {text!r} under {header.text!r} looks like "
                    "something else that a spreadsheet turned into a date or a number.",
            why='Spreadsheets turn "3-1" into 3 January and "1E5" into 100000; the loaf or the value is lost.',
            fix="Look the cell up in the paper records, format the column as text, and type it again.")
