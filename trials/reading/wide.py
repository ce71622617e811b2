"""Sheets with several loaves in a row, or a loaf a column, made into one row a loaf by the rule on
the card: [wide].
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from ..card import FILE, Wide
from ..columns import BY_NAME, CRUMB_PREFIX, RECORDED
from ..findings import Finding, TrialError
from ..words.lists import on_lines
from .grid import Grid
from .headers import loose, read_header, unit_of_header
from .raw_table import RawTable

if TYPE_CHECKING:
    from .card_file import _CardReader

ASSESSOR, READING = "assessor", "reading"


def wide_section(read: _CardReader, table: Mapping[str, Any]) -> Wide | None:
    """Return the section [wide]: what a row's columns differ in, its levels, and the columns of
    each measure.
    """
    if not table:
        return None
    place = "[wide] "
    read.known_keys(table, {"turned", "over", "levels", "columns"}, place.strip())
    levels = _names(read, table.get("levels", []), f"{place}levels")
    given = read.section(table, "columns")
    columns = {name: _names(read, texts, f"[wide.columns] {name}") for name, texts in given.items()}
    for name, texts in columns.items():
        if len(texts) != len(levels):
            read.fault(
                "card-wide",
                f"[wide.columns] {name} has {len(texts)} headers for {len(levels)} levels.",
                'Give one header a level, in the order of the levels; "" where a level has none.',
            )
    over = read.text(table, "over", place)
    if bool(columns) != bool(over):
        read.fault(
            "card-wide",
            "[wide] needs both  over  and  [wide.columns]  to spread columns over rows.",
            'Write  over = "formula"  and the headers of each measure, or leave both out.',
        )
    return Wide(
        turned=read.flag(table, "turned", place) or False, over=over, levels=levels, columns=columns
    )


def _names(read: _CardReader, texts: Any, place: str) -> tuple[str, ...]:
    if not isinstance(texts, list) or not all(isinstance(text, str) for text in texts):
        read.fault(
            "card-wrong-kind",
            f"{place} is {texts!r}, not a list of texts.",
            'Write  ["first", "second"]',
        )
        return ()
    return tuple(text.strip() for text in texts)


def turned(grid: Grid) -> Grid:
    """Return a grid with its columns as rows; a line is then a column of the file."""
    cells = grid.cells.T.reset_index(drop=True)
    told = "Every column of the sheet is read as a loaf, as the card says; lines count columns."
    return replace(
        grid,
        cells=cells.set_axis(range(cells.shape[1]), axis=1),
        lines=np.arange(1, len(cells) + 1),
        dates=frozenset((column, row) for row, column in grid.dates),
        merged=frozenset((column, row) for row, column in grid.merged),
        assumptions=(*grid.assumptions, told),
    )


def unfolded(raw: RawTable, wide: Wide) -> dict[str, RawTable]:
    """Return the tables with one row a loaf: "loaves", and "scores" where the columns are
    assessors, "readings" where they are several readings of one loaf.

    Raises
    ------
    TrialError: a header of the rule is not in the file, or the columns of one measure state
    different units.
    """
    places = {loose(text): place for place, text in reversed(list(enumerate(raw.headers))) if text}
    spread = {
        name: [places.get(loose(text), -1) if text else None for text in texts]
        for name, texts in wide.columns.items()
    }
    absent = [
        text
        for name, texts in wide.columns.items()
        for text, place in zip(texts, spread[name], strict=True)
        if place == -1
    ]
    if absent:
        raise TrialError.one(
            "card-wide-column",
            f"{FILE} names {', '.join(map(repr, absent))} under [wide.columns], "
            f"but {raw.file} has no such header.",
            f"It has: {', '.join(filter(None, raw.headers))}.",
            file=FILE,
        )
    taken = {place for columns in spread.values() for place in columns if place is not None}
    kept = [place for place in range(len(raw.headers)) if place not in taken]
    if wide.over == ASSESSOR:
        return _with_beside(raw, "scores", _scores(raw, wide, spread), kept)
    if wide.over == READING:
        return _with_beside(raw, "readings", _readings(raw, wide, spread), kept)
    return {"loaves": _longer(raw, wide, spread, kept)}


def _longer(
    raw: RawTable, wide: Wide, spread: Mapping[str, list[int | None]], kept: list[int]
) -> RawTable:
    """Return a row for every loaf that has anything written under its columns."""
    blank = pd.Series("", index=raw.cells.index, dtype=object)
    parts = []
    for at, level in enumerate(wide.levels):
        own = {
            place: _labelled(raw.headers[place], raw.cells[place], level, wide) for place in kept
        }
        values = [
            raw.cells[columns[at]] if columns[at] is not None else blank
            for columns in spread.values()
        ]
        every: dict[Any, Any] = {**own, "over": level, **dict(enumerate(values, len(raw.headers)))}
        table = pd.DataFrame(every, dtype=object)
        table["line"], table["row"] = raw.lines, range(len(raw.cells))
        parts.append(table[np.logical_or.reduce([(cells != "").to_numpy() for cells in values])])
    long = pd.concat(parts).sort_values("row", kind="stable")
    over = wide.over or ""
    if over == "loaf":
        long["over"] = [
            f"{row + 1}.{level}" for row, level in zip(long["row"], long["over"], strict=True)
        ]
    headers = [
        *(_of_row(raw.headers[place], spread) for place in kept),
        over,
        *(_header(raw, name, columns) for name, columns in spread.items()),
    ]
    units = [*(raw.units[place] for place in kept), *[""] * (1 + len(spread))] if raw.units else []
    cells = (
        long.drop(columns=["line", "row"])
        .reset_index(drop=True)
        .set_axis(range(len(headers)), axis=1)
    )
    told = (
        f"{raw.file}: {len(raw.cells)} rows are read as {len(cells)} loaves, one for each {over} ("
        f"{', '.join(wide.levels)}) that has anything written, as the card says under [wide]."
    )
    gone = sorted(set(raw.lines.tolist()) - set(long["line"]))
    empty = (
        [
            f"{raw.file}: nothing is written under these columns on {on_lines(gone)}; no loaf is"
            " made of that."
        ]
        if gone
        else []
    )
    return replace(
        raw,
        headers=tuple(headers),
        units=tuple(units),
        cells=cells,
        lines=long["line"].to_numpy(int),
        dates=frozenset(),
        merged=frozenset(),
        assumptions=(*raw.assumptions, told, *empty),
        spread=True,
    )


def _of_row(header: str, spread: Mapping[str, Any]) -> str:
    """Return the header of what a row has beside the columns of its loaves: "Volume total" is no
    loaf's volume where each has a column of its own.
    """
    meant = read_header(header, RECORDED)
    return f"{header} of the row" if meant and meant.name in spread else header


def _labelled(header: str, cells: pd.Series, level: str, wide: Wide) -> pd.Series:
    """Return a row's loaf or mix number with the level behind it: the row holds several of them."""
    meant = read_header(header, RECORDED)
    several = {"loaf"} | ({"mix"} if wide.over in ("formula", "day", "table", "baker") else set())
    if meant is None or meant.name not in several or wide.over == "loaf":
        return cells
    return pd.Series(
        [f"{text} {level}" if text else "" for text in cells], index=cells.index, dtype=object
    )


def _header(raw: RawTable, name: str, columns: list[int | None]) -> str:
    """Return the header of a measure: its name, with the unit that all its columns state."""
    known = BY_NAME.get(name)
    used = [place for place in columns if place is not None]
    units = {
        unit_of_header(
            raw.headers[place], raw.units[place] if raw.units else "", known.unit if known else ""
        )
        for place in used
    }
    if len(units) > 1:
        raise TrialError(
            [
                Finding(
                    code="wide-units",
                    severity="error",
                    file=raw.file,
                    column=name,
                    message=(
                        f"The columns of {name} state different units:"
                        f" {', '.join(sorted(u or 'none' for u in units))}."
                    ),
                    fix="Write all of them in one unit, and in every header or in none.",
                )
            ]
        )
    unit = units.pop() if units else ""
    return f"{known.label} ({unit})" if known and unit else known.label if known else name


def _with_beside(
    raw: RawTable, kind: str, long: pd.DataFrame, kept: list[int]
) -> dict[str, RawTable]:
    """Return the loaves without the columns of a rule, and the table beside them that is made of
    those: ``long`` has a row for each filled cell, and ``place``, the row of its loaf, beside its
    own columns.
    """
    known = {
        meant.name: place for place in kept if (meant := read_header(raw.headers[place], RECORDED))
    }
    cells = raw.cells[kept].set_axis(range(len(kept)), axis=1)
    headers = [raw.headers[place] for place in kept]
    if "loaf" not in known:
        own_numbers = [str(row + 1) for row in range(len(cells))]
        cells, headers = cells.assign(**{str(len(kept)): own_numbers}), [*headers, "loaf"]
        cells = cells.set_axis(range(len(headers)), axis=1)
    numbers = cells[kept.index(known["loaf"]) if "loaf" in known else len(kept)]
    places = long.pop("place").to_numpy(int)
    beside = pd.DataFrame({"loaf": numbers.to_numpy()[places], **long}, dtype=object)
    told = f"{raw.file}: {len(long)} {kind} are read from the columns named on the card."
    own = raw.units and (*(raw.units[place] for place in kept), *[""] * (len(headers) - len(kept)))
    return {
        "loaves": replace(
            raw,
            headers=tuple(headers),
            units=own,
            cells=cells,
            dates=frozenset(),
            merged=frozenset(),
            spread=True,
        ),
        kind: replace(
            raw,
            headers=tuple(map(str, beside)),
            units=(),
            left_out=(),
            findings=(),
            cells=beside.set_axis(range(beside.shape[1]), axis=1),
            lines=raw.lines[places],
            assumptions=(told,),
            spread=True,
            dates=frozenset(),
            merged=frozenset(),
        ),
    }


def _scores(raw: RawTable, wide: Wide, spread: Mapping[str, list[int | None]]) -> pd.DataFrame:
    """Return ``place, assessor, attribute, score``, a row for each filled cell."""
    parts = [
        pd.DataFrame(
            {
                "place": range(len(raw.cells)),
                "assessor": level,
                "attribute": name.removeprefix(CRUMB_PREFIX),
                "score": raw.cells[place],
            },
            dtype=object,
        )
        for name, columns in spread.items()
        for level, place in zip(wide.levels, columns, strict=True)
        if place is not None
    ]
    long = pd.concat(parts, ignore_index=True)
    return long[long["score"] != ""].reset_index(drop=True)


def _readings(raw: RawTable, wide: Wide, spread: Mapping[str, list[int | None]]) -> pd.DataFrame:
    """Return ``place, repeat`` and the volumes under their headers, a row for each reading; a box
    that was measured once stands beside each.
    """
    blank = pd.Series("", index=raw.cells.index, dtype=object)
    box = [
        place
        for place, text in enumerate(raw.headers)
        if (meant := read_header(text, RECORDED)) and meant.name == "box_ml"
    ]
    shared = {raw.headers[place]: raw.cells[place] for place in box if "box_ml" not in spread}
    parts = []
    for at, level in enumerate(wide.levels):
        own = {
            _header(raw, name, columns): blank
            if (place := columns[at]) is None
            else raw.cells[place]
            for name, columns in spread.items()
        }
        filled = np.logical_or.reduce([(cells != "").to_numpy() for cells in own.values()])
        table = {"place": range(len(raw.cells)), "repeat": level, **own, **shared}
        parts.append(pd.DataFrame(table, dtype=object)[filled])
    return pd.concat(parts, ignore_index=True)
