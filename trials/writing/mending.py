"""A copy of the loaves with the obvious slips put right, each in the log; what is not certain is
not touched.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from ..checks.check import Seen
from ..checks.names import fold, named_columns
from ..checks.slips import swapped_lines, unit_corrections
from ..columns import BY_NAME
from ..loading import assembled, checked
from ..reading.raw_table import RawTable
from ..reading.records import Records, read_records
from ..reading.typed_table import TypedTable
from ..reading.units import Unit
from ..trial import Trial
from ..words.numbers import NumberStyle
from .tidy import TidyCopy, safe_text, tidy_copy, write_copy

_ONE_COMMA = re.compile(r"[+-]?\d+,\d{1,2}")
TOTAL = "a total or mean, no loaf"


def write_mended(path: str | Path, out: str | Path, *, sheet: str | None = None) -> TidyCopy:
    """Write a mended copy of a trial's loaves to ``out`` and its log beside it, and return both.

    Numbers and columns are separated as the file's own numbers ask for.

    Raises
    ------
    TrialError: the records cannot be read, or a file of either name is there already or cannot be
    written.
    """
    records = read_records(path, sheet=sheet)
    copy = mended_copy(records)
    mark = _mark_of(records.raw["loaves"], records.typed["loaves"])
    write_copy(copy, Path(out), NumberStyle(mark))
    return copy


def mended_copy(records: Records) -> TidyCopy:
    """Return a trial's loaves under their own headers and in their own units, with a unit, a swap,
    a decimal comma, a name's spelling put right, and without rows of totals.

    A sheet that the card unfolds has the headers and units of `tidy`: its own are not those of one
    row a loaf.
    """
    raw, typed = records.raw["loaves"], records.typed["loaves"]
    trial = checked(assembled(records))
    copy = tidy_copy(records) if raw.spread else _as_written(raw)
    own = {h.name: h.name if raw.spread else h.place for h in typed.headers}
    lines = typed.frame["line"].tolist()
    row_of = (
        dict(zip(lines, range(len(lines)), strict=True)) if len(set(lines)) == len(lines) else {}
    )
    table = copy.table.copy()
    changes: list[tuple[int, str, str, str, str]] = []
    mark = _mark_of(raw, typed)
    for line, column, now, why in (
        *([] if raw.spread or mark == "," else _stray_commas(raw, typed)),
        *_units(trial),
        *_swaps(trial),
        *_commas(trial, {} if raw.spread else typed.units),
        *_names(trial),
    ):
        if column in own and line in row_of:
            at = row_of[line], own[column]
            was = str(table.loc[at])
            table.loc[at] = now if raw.spread else _in_its_unit(now, column, typed, mark)
            changes.append((line, column, was, str(table.loc[at]), why))
    totals = [
        line
        for f in trial.findings
        if f.code == "row-of-totals" and f.severity == "error"
        for line in f.rows
        if line in row_of
    ]
    changes += [
        (line, "", " ".join(filter(None, map(str, table.loc[row_of[line]]))), "", TOTAL)
        for line in totals
    ]
    table = table.drop(index=[row_of[line] for line in totals])
    log = pd.concat(
        [copy.changes, pd.DataFrame(changes, columns=list(copy.changes.columns))], ignore_index=True
    )
    log = log.sort_values("line", kind="stable", ignore_index=True)
    return replace(copy, table=table if raw.spread else _under_headers(table, raw), changes=log)


def _as_written(raw: RawTable) -> TidyCopy:
    """Return the table as it stands in its file, a column a place, and what is not carried over."""
    gone = [(line, "", text, "", "line left out") for line, text in raw.left_out]
    changes = pd.DataFrame(gone, columns=["line", "column", "was", "now", "why"])
    return TidyCopy(file=raw.file, table=raw.cells.copy(), changes=changes)


def _under_headers(table: pd.DataFrame, raw: RawTable) -> pd.DataFrame:
    """Return the table under the file's headers, with its line of units where it has one."""
    table = table.map(safe_text)
    if raw.units:
        units = pd.DataFrame([list(raw.units)], columns=table.columns)
        table = pd.concat([units, table], ignore_index=True)
    return table.set_axis([safe_text(text) for text in raw.headers], axis=1)


def _mark_of(raw: RawTable, typed: TypedTable) -> str:
    """Return the decimal mark that most numbers of the file have."""
    numbers = [h.place for h in typed.headers if h.column and h.column.kind == "number"]
    texts = [str(text) for place in numbers for text in raw.cells[place]]
    commas, points = (sum(mark in text for text in texts) for mark in ",.")
    return "," if commas > points else "."


def _stray_commas(raw: RawTable, typed: TypedTable) -> Iterator[tuple[int, str, str, str]]:
    """Yield numbers with a decimal comma that were read, in a file whose numbers have points."""
    for header in typed.headers:
        if header.column and header.column.kind == "number":
            values = typed.frame[header.name].to_numpy()
            cells = zip(raw.lines, raw.cells[header.place], values, strict=True)
            for line, text, value in cells:
                if _ONE_COMMA.fullmatch(str(text)) and np.isfinite(value):
                    yield int(line), header.name, _number(value), "decimal comma"


def _in_its_unit(now: str, column: str, typed: TypedTable, mark: str) -> str:
    """Return what a cell holds now in the unit and with the decimal mark of its column."""
    known = BY_NAME.get(column)
    if known is None or known.kind != "number":
        return now
    unit = typed.units.get(column)
    own = _number(float(now) / unit.factor + unit.offset) if unit else now
    return own.replace(".", mark)


def _number(value: float) -> str:
    return f"{value:.6g}"


def _units(trial: Trial) -> Iterator[tuple[int, str, str, str]]:
    for line, column, _, now, unit in unit_corrections(Seen(trial).counted, trial):
        if not any(f.code == "column-unit" and line in f.rows for f in trial.findings):
            yield (
                line,
                column,
                _number(now),
                f"{unit} for {BY_NAME[column].unit}: all others of its kind say so",
            )


def _swaps(trial: Trial) -> Iterator[tuple[int, str, str, str]]:
    told = {line for f in trial.findings if f.code == "slip-swap" for line in f.rows}
    rows = (
        trial.loaves[trial.loaves["line"].isin(told & set(swapped_lines(trial)))]
        if told
        else trial.loaves[:0]
    )
    for line, mass, volume in zip(
        rows["line"], rows.get("loaf_g", []), rows.get("loaf_ml", []), strict=False
    ):
        yield int(line), "loaf_g", _number(volume), "mass and volume exchanged"
        yield int(line), "loaf_ml", _number(mass), "mass and volume exchanged"


def _commas(trial: Trial, units: Mapping[str, Unit]) -> Iterator[tuple[int, str, str, str]]:
    """Yield numbers with one decimal comma that could not be read, where the number is plausible in
    its column.
    """
    for row in trial.unreadable.itertuples():
        column, text = BY_NAME.get(str(row.column)), str(row.text).strip()
        if row.file == trial.files.get("loaves") and column and _ONE_COMMA.fullmatch(text):
            value = float(text.replace(",", "."))
            value = units[column.name].to_canonical(value) if column.name in units else value
            if (column.low or -np.inf) <= value <= (column.high or np.inf):
                yield int(str(row.line)), column.name, _number(value), "decimal comma"


def _names(trial: Trial) -> Iterator[tuple[int, str, str, str]]:
    """Yield names that differ from a more frequent one in capitals, spaces and signs only."""
    loaves = trial.loaves
    for column in named_columns(loaves, trial):
        counts = loaves[column].dropna().astype(str).value_counts()
        planned = set(map(str, trial.card.factors.get(column, ())))
        for short, twins in counts.groupby([fold(name) for name in counts.index]):
            meant = [name for name in twins.index if name in planned] or list(
                twins.index[twins == twins.max()]
            )
            if len(twins) < 2 or len(meant) != 1 or not short:
                continue
            rows = loaves[loaves[column].isin([name for name in twins.index if name != meant[0]])]
            for line in rows["line"]:
                yield int(line), column, meant[0], "the same name, written as elsewhere"
