"""A clean copy of the loaves, with canonical headers and units, and a log of every change that was
made for it.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from ..columns import BY_NAME, CRUMB_PREFIX
from ..findings import TrialError
from ..frozen import frozen
from ..reading.cells import plain_numbers, states_unit
from ..reading.csv_text import FORMULA_SIGNS
from ..reading.headers import Header
from ..reading.raw_table import RawTable
from ..reading.records import Records, read_records
from ..reading.typed_table import TypedTable
from ..words.numbers import ENGLISH, NumberStyle
from .whole_files import write_whole


@frozen(kw_only=True)
class TidyCopy:
    """A clean copy: ``table`` is what is written, as text; ``changes`` says ``line, column, was,
    now, why``.

    ``line`` is the line of the file that was read; a change of header stands with the header's
    line.
    """

    file: str
    table: pd.DataFrame
    changes: pd.DataFrame


def write_tidy(
    path: str | Path, out: str | Path, *, sheet: str | None = None, style: NumberStyle = ENGLISH
) -> TidyCopy:
    """Write a clean copy of a trial's loaves to ``out`` and its log beside it (``…_changes.csv``),
    and return both.

    Raises
    ------
    TrialError: the records cannot be read, or a file of either name is there already or cannot be
    written.
    """
    copy = tidy_copy(read_records(path, sheet=sheet))
    write_copy(copy, Path(out), style)
    return copy


def write_copy(copy: TidyCopy, out: Path, style: NumberStyle = ENGLISH) -> None:
    """Write a copy and its log, both or none; raises TrialError where a file is there or cannot be
    written.

    Where the reader's numbers have a decimal comma, columns are separated by semicolons, as
    spreadsheets there do.
    """
    if out.suffix.lower() != ".csv":
        raise TrialError.one(
            "tidy-not-csv",
            f"A clean copy is a CSV file, and {str(out)!r} has another name.",
            "Give it a name that ends in .csv.",
        )
    log = copy.changes.assign(
        was=copy.changes["was"].map(safe_text), now=copy.changes["now"].map(safe_text)
    )
    _write_new(
        {out: _in_style(copy.table, style), changes_path(out): log},
        ";" if style.decimal_mark == "," else ",",
    )


def _in_style(table: pd.DataFrame, style: NumberStyle) -> pd.DataFrame:
    """Return a table whose columns of numbers have the reader's decimal mark."""
    numbers = [
        name
        for name in table
        if ((known := BY_NAME.get(str(name))) and known.kind == "number")
        or str(name).startswith(CRUMB_PREFIX)
    ]
    written = {
        str(name): [str(text).replace(".", style.decimal_mark) for text in table[name]]
        for name in numbers
    }
    return table.assign(**written)


def changes_path(out: Path) -> Path:
    """Return where the log of a clean copy stands."""
    return out.with_name(f"{out.stem}_changes.csv")


def tidy_copy(records: Records) -> TidyCopy:
    """Return the clean copy of a trial's loaves. Nothing is guessed: a cell that cannot be read
    stays as it was.
    """
    raw, typed = records.raw["loaves"], records.typed["loaves"]
    table = pd.DataFrame(
        {header.name: _written(raw.cells[header.place], typed, header) for header in typed.headers},
        dtype=object,
    )
    parts = [
        _header_changes(raw, typed),
        _read_elsewhere(records),
        *_cell_changes(raw, typed, table),
    ]
    changes = pd.concat(parts, ignore_index=True).sort_values(
        "line", kind="stable", ignore_index=True
    )
    return TidyCopy(file=raw.file, table=table, changes=changes)


def _read_elsewhere(records: Records) -> pd.DataFrame:
    """Return the columns of scores or readings that a wide sheet holds beside its loaves: a copy
    of the loaves has none of them.
    """
    raw, wide = records.raw["loaves"], records.card.wide
    rows = [
        (raw.header_line, kind, text, "", f"{kind}: not in this copy of the loaves")
        for kind, table in records.raw.items()
        if kind != "loaves" and table.spread and wide
        for texts in wide.columns.values()
        for text in texts
        if text
    ]
    return pd.DataFrame(rows, columns=["line", "column", "was", "now", "why"])


def _written(cells: pd.Series, typed: TypedTable, header: Header) -> pd.Series:
    """Return a column's cells as they are written in the copy."""
    values = typed.frame[header.name]
    if values.dtype.kind != "f":
        return values.fillna("").map(safe_text)
    different, codes = cells.unique(), pd.factorize(cells)[0]
    first = np.unique(codes, return_index=True)[1]
    unreadable = set(typed.unreadable.loc[typed.unreadable["column"] == header.name, "text"])
    texts = [
        _number_text(text, values.iloc[row], text in unreadable)
        for text, row in zip(different, first, strict=True)
    ]
    return pd.Series(np.array(texts, dtype=object)[codes], index=cells.index, dtype=object)


def _number_text(text: str, value: float, unreadable: bool) -> str:
    """Return a number in its canonical unit: as it stood where that will do, otherwise to twelve
    digits.
    """
    if unreadable:
        return safe_text(text)
    if np.isnan(value):
        return ""
    as_it_stands = plain_numbers(np.array([text], dtype=object))
    same = as_it_stands is not None and as_it_stands[0] == value
    return text if same else f"{value:.12g}"


def safe_text(text: str) -> str:
    """Return a text that no spreadsheet runs as a formula: an apostrophe before it, which reading
    takes away.
    """
    return "'" + text if text.startswith(FORMULA_SIGNS) else text


def _changes(lines: object, column: object, was: object, now: object, why: object) -> pd.DataFrame:
    return pd.DataFrame({"line": lines, "column": column, "was": was, "now": now, "why": why})


def _header_changes(raw: RawTable, typed: TypedTable) -> pd.DataFrame:
    """Return the changes of headers, and the lines that are left out."""
    told = [
        (raw.header_line, h.name, h.text, h.name, "header")
        for h in typed.headers
        if h.text != h.name
    ]
    told += [(line, "", text, "", "line left out") for line, text in raw.left_out]
    if raw.units:
        told.append(
            (
                raw.header_line + 1,
                "",
                " ".join(filter(None, raw.units)),
                "",
                "line of units left out",
            )
        )
    lines, columns, was, now, why = zip(*told, strict=True) if told else ((),) * 5
    return _changes(list(lines), list(columns), list(was), list(now), list(why))


def _cell_changes(raw: RawTable, typed: TypedTable, table: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """Yield the changes of cells, a table a column."""
    for header in typed.headers:
        was, now = raw.cells[header.place].to_numpy(), table[header.name].to_numpy()
        rows = np.flatnonzero(was != now)
        why = [_reason(header, typed, was[row], now[row]) for row in rows]
        yield _changes(raw.lines[rows], header.name, was[rows], now[rows], why)


def _reason(header: Header, typed: TypedTable, was: str, now: str) -> str:
    if not now:
        return "counts as missing" if header.name != "void" else "the loaf counts"
    if now == "'" + was:
        return "kept from being run as a formula"
    if states_unit(was):
        return "the cell states its own unit"
    unit = typed.units.get(header.name)
    if unit is not None and header.column is not None:
        return f"from {unit.symbol} to {header.column.unit}"
    return "number written plainly"


def _write_new(tables: dict[Path, pd.DataFrame], separator: str) -> None:
    """Write all these files whole, or none; a file that is there already is never replaced."""
    there = [path.name for path in tables if path.exists()]
    if there:
        raise TrialError.one(
            "file-exists",
            f"{' and '.join(there)} would be overwritten.",
            "Give another name, or move the old file away.",
        )
    missing = next((path.parent for path in tables if not path.parent.is_dir()), None)
    if missing is not None:
        raise TrialError.one(
            "no-such-folder",
            f"There is no folder {missing}.",
            "Make it first; nothing was written.",
        )
    write_whole(
        {
            path: (
                table.to_csv(
                    index=False, sep=separator, lineterminator="\n", quoting=csv.QUOTE_MINIMAL
                ).encode()
            )
            for path, table in tables.items()
        }
    )
