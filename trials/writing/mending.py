"""A copy of the loaves with the obvious slips put right, each in the log; what is not certain is
not touched.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from ..checks.check import Seen
from ..checks.names import fold, named_columns
from ..checks.slips import swapped_lines, unit_corrections
from ..columns import BY_NAME
from ..loading import assembled, read_trial
from ..reading.records import read_records
from ..trial import Trial
from ..words.numbers import ENGLISH, NumberStyle
from .tidy import TidyCopy, tidy_copy, write_copy

_ONE_COMMA = re.compile(r"[+-]?\d+,\d{1,2}")
Change = tuple[int, str, str, str, str]  # line, column, was, now, why


def write_mended(
    path: str | Path, out: str | Path, *, sheet: str | None = None, style: NumberStyle = ENGLISH
) -> TidyCopy:
    """Write a mended copy of a trial's loaves to ``out`` and its log beside it, and return both.

    Raises
    ------
    TrialError: the records cannot be read, or a file of either name is there already or cannot be
    written.
    """
    copy = mended_copy(path, sheet=sheet)
    write_copy(copy, Path(out), style)
    return copy


def mended_copy(path: str | Path, *, sheet: str | None = None) -> TidyCopy:
    """Return the clean copy of a trial's loaves with a unit, a swap, a decimal comma, a name's
    spelling put right, and without rows of totals."""
    records = read_records(path, sheet=sheet)
    copy, trial = tidy_copy(records), read_trial(path, sheet=sheet)
    loaves = assembled(records).loaves
    lines = records.typed["loaves"].frame["line"].to_numpy()
    table = copy.table.copy()
    row_of = (
        {int(line): row for row, line in enumerate(lines)}
        if len(set(lines.tolist())) == len(lines)
        else {}
    )
    changes: list[Change] = []
    for line, column, now, why in (
        *_units(trial),
        *_swaps(trial),
        *_commas(trial),
        *_names(trial, loaves),
    ):
        if column in table and line in row_of:
            was = str(table.at[row_of[line], column])
            table.at[row_of[line], column] = now
            changes.append((line, column, was, now, why))
    totals = [
        line
        for f in trial.findings
        if f.code == "row-of-totals" and f.severity == "error"
        for line in f.rows
    ]
    gone = [row_of[line] for line in totals if line in row_of]
    changes += [
        (
            line,
            "",
            " ".join(filter(None, map(str, table.iloc[row_of[line]]))),
            "",
            "a total or mean, no loaf",
        )
        for line in totals
        if line in row_of
    ]
    log = pd.concat(
        [copy.changes, pd.DataFrame(changes, columns=list(copy.changes.columns))], ignore_index=True
    )
    log = log.sort_values("line", kind="stable", ignore_index=True)
    return replace(copy, table=table.drop(index=gone), changes=log)


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


def _commas(trial: Trial) -> Iterator[tuple[int, str, str, str]]:
    """Yield numbers with one decimal comma that could not be read, where the number is plausible in
    its column.
    """
    for row in trial.unreadable.itertuples():
        column, text = BY_NAME.get(str(row.column)), str(row.text).strip()
        if row.file == trial.files.get("loaves") and column and _ONE_COMMA.fullmatch(text):
            value = float(text.replace(",", "."))
            if (column.low or -np.inf) <= value <= (column.high or np.inf):
                yield int(str(row.line)), column.name, text.replace(",", "."), "decimal comma"


def _names(trial: Trial, loaves: pd.DataFrame) -> Iterator[tuple[int, str, str, str]]:
    """Yield names that differ from a more frequent one in capitals, spaces and signs only."""
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
