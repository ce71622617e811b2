"""From the bytes of a workbook (.xlsx, .xls, .ods) to its sheets as grids of text."""

from __future__ import annotations

import io
import json
import subprocess
import sys
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from ..findings import Finding, Severity, TrialError
from ..words.lists import listed, on_lines
from . import sheet_reader
from .csv_text import changed, without_blanks
from .grid import ZIP, Grid, check_size

LARGEST_WORKBOOK = 30_000_000  # bytes: 100,000 loaves take about 10 MB
LARGEST_UNPACKED = 250_000_000  # bytes of XML: 100,000 loaves take about 100 MB
MOST_PARTS = 2_000  # files inside a workbook; an ordinary one has about ten
MOST_TOLD = 10  # cells of a sheet that a sentence names
# for a busy machine; the processor time is bounded by sheet_reader
WAIT_SECONDS = 60
LOST = "The cell would count as empty, and the loaf be lost unseen."
SEEMS_OUT = "Whoever looks at the sheet may take them for left out."
# marks of a sheet's cells → code, severity, what is said of one and of many, fix, why
OF_CELLS: dict[str, tuple[str, Severity, str, str, str, str]] = {
    "unsaved": (
        "formula-not-saved",
        "error",
        "holds a formula whose value was never saved",
        "hold formulas whose values were never saved",
        "Open the workbook in a spreadsheet and save it, or copy the cells and paste them as"
        " values.",
        LOST,
    ),
    "errors": (
        "cell-error-value",
        "error",
        "holds an error in place of a value",
        "hold errors in place of values",
        "Correct the formula or type the value, and save the workbook.",
        LOST,
    ),
    "comments": (
        "cell-comment",
        "note",
        "has a comment, which is not read",
        "have comments, which are not read",
        "Write what matters under note, and why a loaf does not count under void.",
        "What it says of a loaf does not reach the answer.",
    ),
    "struck_cells": (
        "cell-struck-through",
        "warning",
        "is struck through, and read like any other",
        "are struck through, and read like any others",
        "Empty the cell where its value does not count; take the line away where it does.",
        SEEMS_OUT,
    ),
}
# marks of its rows → code, what is said, fix
OF_ROWS = {
    "hidden": (
        "row-hidden",
        "hidden",
        "Show the rows and look whether they belong to the trial; delete them if not.",
    ),
    "struck": (
        "row-struck-through",
        "struck through",
        "Write the reason under void where a loaf does not count; take the line away where it"
        " does.",
    ),
}


def workbook_grids(raw: bytes, file: str) -> list[Grid]:
    """Return the sheets that hold anything, in the workbook's order.

    Raises
    ------
    TrialError: no workbook, damaged, encrypted, empty, or larger (unpacked, too) than any trial.
    """
    if len(raw) > LARGEST_WORKBOOK:
        raise _too_large(file, f"has {len(raw):,} bytes")
    if raw.startswith(ZIP):
        _check_archive(raw, file)
    grids = [
        grid
        for sheet in _sheets(raw, file)
        if sheet["rows"] and not (grid := _grid(sheet, file)).cells.empty
    ]
    if not grids:
        raise TrialError.one(
            "empty-file",
            f"{file} has no sheet with anything in it.",
            "Give a table with one header line and one row per loaf.",
            file=file,
        )
    return grids


def _too_large(file: str, what: str) -> TrialError:
    return TrialError.one(
        "workbook-too-large",
        f"{file} {what}: no trial's workbook is that large.",
        "Keep the sheet of loaves only, or save it as CSV.",
        file=file,
    )


def _broken(file: str, why: str) -> TrialError:
    return TrialError.one(
        "workbook-broken",
        f"{file} cannot be read as a workbook: {why}.",
        "Open it in a spreadsheet and save it again as .xlsx or as CSV.",
        file=file,
    )


def _check_archive(raw: bytes, file: str) -> None:
    """Refuse an archive that is, or claims to be, larger unpacked than any trial's workbook."""
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > LARGEST_UNPACKED:
                raise _too_large(file, "is too large when unpacked")
            if any(
                part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
                for part in parts
            ):
                raise _broken(file, "it is packed in a way that no spreadsheet uses")
            budget = LARGEST_UNPACKED
            for part in parts:
                budget -= _unpacked_size(raw, part, budget)
                if budget < 0:
                    raise _too_large(file, "is larger when unpacked than it claims")
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError, RuntimeError, OSError) as problem:
        raise _broken(file, f"the archive is damaged ({problem})") from None


def _unpacked_size(raw: bytes, part: zipfile.ZipInfo, budget: int) -> int:
    """Return the bytes that a part really unpacks to, counted no further than ``budget``, whatever
    it claims.
    """
    if part.compress_type == zipfile.ZIP_STORED:
        return part.compress_size
    start = part.header_offset + 30
    name_length = int.from_bytes(raw[start - 4 : start - 2], "little")
    extra_length = int.from_bytes(raw[start - 2 : start], "little")
    packed = raw[start + name_length + extra_length :][: part.compress_size]
    inflate, size = zlib.decompressobj(-zlib.MAX_WBITS), 0
    while packed and size <= budget and not inflate.eof:
        size += len(inflate.decompress(packed, 1_000_000))
        packed = inflate.unconsumed_tail
    return size


def _sheets(raw: bytes, file: str) -> list[dict[str, Any]]:
    """Return what the reader, in a process of its own, makes of the bytes."""
    program = [sys.executable, "-I", str(Path(sheet_reader.__file__))]
    try:
        done = subprocess.run(
            program, input=raw, capture_output=True, timeout=WAIT_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        raise _too_large(file, f"takes more than {WAIT_SECONDS} s to read") from None
    if done.returncode == sheet_reader.ENCRYPTED:
        raise TrialError.one(
            "workbook-locked",
            f"{file} is locked with a password.",
            "Save it without one.",
            file=file,
        )
    if done.returncode == sheet_reader.BROKEN and b"memory" not in done.stderr.lower():
        raise _broken(
            file, done.stderr.decode("utf-8", "replace").strip().rstrip(".") or "it is damaged"
        )
    if done.returncode:
        raise _too_large(file, "needs more memory or time than any trial's")
    return json.loads(done.stdout)


def _grid(sheet: dict[str, Any], file: str) -> Grid:
    rows: list[list[str]] = sheet["rows"]
    width = max(map(len, rows))
    check_size(len(rows), width, file)
    full = [row + [""] * (width - len(row)) for row in rows]
    cells = changed(pd.DataFrame(full, columns=range(width), dtype=object), str.strip)
    cells, lines = without_blanks(cells, np.arange(1, len(rows) + 1))
    place = {line - 1: row for row, line in enumerate(lines.tolist())}

    def kept(places: list[list[int]]) -> frozenset[tuple[int, int]]:
        return frozenset((place[row], column) for row, column in places if row in place)

    told = (
        f"{file}: {sheet['spans']} merged cells of sheet {sheet['name']!r} count for every row they"
        " span."
    )
    return Grid(
        cells=cells,
        lines=lines,
        sheet=sheet["name"],
        visible=sheet["visible"],
        assumptions=(told,) if sheet["spans"] else (),
        dates=kept(sheet["dates"]),
        merged=kept(sheet["merged"]),
        findings=tuple(_findings(sheet, set(place), file)),
    )


def _findings(sheet: dict[str, Any], filled: set[int], file: str) -> Iterator[Finding]:
    """Yield what there is to say of a sheet's formulas, errors and comments, and of what is hidden
    or struck through.
    """
    for key, (code, severity, one, many, fix, why) in OF_CELLS.items():
        if cells := sorted((row, column) for row, column in sheet[key] if row in filled):
            names = [cell_name(row, column) for row, column in cells[:MOST_TOLD]]
            told = listed(names, more=len(cells) - len(names))
            yield Finding(
                code=code,
                severity=severity,
                file=file,
                rows=tuple(sorted({row + 1 for row, _ in cells})),
                message=f"Sheet {sheet['name']!r}: {told} {many if len(cells) > 1 else one}.",
                fix=fix,
                why=why,
            )
    for key, (code, what, fix) in OF_ROWS.items():
        if lines := tuple(row + 1 for row in sheet[key] if row in filled):
            yield Finding(
                code=code,
                severity="warning",
                file=file,
                rows=lines,
                fix=fix,
                message=(
                    f"Sheet {sheet['name']!r}: {on_lines(lines)}"
                    f" {'are' if len(lines) > 1 else 'is'} {what}, and read like any other."
                ),
                why=SEEMS_OUT,
            )


def cell_name(row: int, column: int) -> str:
    """Return a cell's name as spreadsheets show it, such as "C2", from its place counted from 0."""
    letters = ""
    while column >= 0:
        letters, column = chr(65 + column % 26) + letters, column // 26 - 1
    return f"{letters}{row + 1}"
