"""What the cells of an .xls workbook show beside their values: errors, and formulas that were never
worked out. Read by ``sheet_reader`` in its own process; imports nothing of the package.

Source: [MS-CFB] (the compound file) and [MS-XLS] (its records), Microsoft's open specifications.
"""

from __future__ import annotations

import dataclasses
import struct
from collections.abc import Iterator

SIGNATURE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
ERRORS = {
    0x00: "#NULL!",
    0x07: "#DIV/0!",
    0x0F: "#VALUE!",
    0x17: "#REF!",
    0x1D: "#NAME?",
    0x24: "#NUM!",
    0x2A: "#N/A",
}
BOUND_SHEET, FORMULA, BOOL_OR_ERROR, ROW, BEGIN = 0x85, 0x06, 0x205, 0x208, 0x809
FIRST_IN_HEADER = 109  # sectors of the table of sectors that the header names itself
LAST_SECTOR = 0xFFFFFFF0
ON_LOAD, HIDDEN_ROW = 0x02, 0x20


@dataclasses.dataclass
class OldSheet:
    """One sheet: whether it is visible, cells (row, column) with an error or an unworked formula,
    hidden rows; all counted from 0.

    Formulas that came out ``empty`` were never worked out where none of the sheet was.
    """

    visible: bool
    errors: dict[tuple[int, int], str] = dataclasses.field(default_factory=dict)
    unsaved: dict[tuple[int, int], str] = dataclasses.field(default_factory=dict)
    hidden: set[int] = dataclasses.field(default_factory=set)
    empty: set[tuple[int, int]] = dataclasses.field(default_factory=set)
    worked_out: bool = False


def old_sheets(raw: bytes) -> list[OldSheet]:
    """Return the sheets of an .xls workbook in its own order; none where it is no such file, or one
    that is put together in another way.
    """
    try:
        content = book_stream(raw) if raw.startswith(SIGNATURE) else b""
    except struct.error:
        return []
    sheets = [
        (struct.unpack_from("<I", body)[0], OldSheet(visible=body[4] & 3 == 0))
        for kind, body in records(content, 0)
        if kind == BOUND_SHEET and len(body) > 5
    ]
    for start, sheet in sheets:
        for kind, body in records(content, start):
            note(sheet, kind, body)
        if not sheet.worked_out:
            sheet.unsaved |= dict.fromkeys(sheet.empty, "=")
    return [sheet for _, sheet in sheets]


def note(sheet: OldSheet, kind: int, body: bytes) -> None:
    """Take note of a record of a sheet."""
    if kind == BOOL_OR_ERROR and len(body) >= 8 and body[7] == 1:
        sheet.errors[struct.unpack_from("<HH", body)] = ERRORS.get(body[6], "#ERROR")
    elif kind == FORMULA and len(body) >= 16:
        place, result = struct.unpack_from("<HH", body), body[6:14]
        if result[6:] == b"\xff\xff" and result[0] == 2:
            sheet.errors[place], sheet.worked_out = ERRORS.get(result[2], "#ERROR"), True
        elif result[6:] == b"\xff\xff" and result[0] == 3:
            sheet.empty.add(place)
        elif result == bytes(8) and struct.unpack_from("<H", body, 14)[0] & ON_LOAD:
            sheet.unsaved[place] = "="
        else:
            sheet.worked_out = True
    elif kind == ROW and len(body) >= 16 and struct.unpack_from("<H", body, 12)[0] & HIDDEN_ROW:
        sheet.hidden.add(struct.unpack_from("<H", body)[0])


def records(content: bytes, start: int) -> Iterator[tuple[int, bytes]]:
    """Yield kind and body of the records from ``start`` to the end of its part of the stream."""
    place, deep = start, 0
    while place + 4 <= len(content):
        kind, size = struct.unpack_from("<HH", content, place)
        deep += (kind == BEGIN) - (kind == 0x0A)
        if deep <= 0:
            return
        if deep == 1:
            yield kind, content[place + 4 : place + 4 + size]
        place += 4 + size


def book_stream(raw: bytes) -> bytes:
    """Return the stream of records of a compound file; nothing where there is none."""
    sector = 1 << struct.unpack_from("<H", raw, 30)[0]
    small = 1 << struct.unpack_from("<H", raw, 32)[0]
    directory, cutoff, small_table = (struct.unpack_from("<I", raw, at)[0] for at in (48, 56, 60))
    named = list(struct.unpack_from(f"<{FIRST_IN_HEADER}I", raw, 76))
    more = struct.unpack_from("<I", raw, 68)[0]
    for _ in range(len(raw) // sector):
        if more >= LAST_SECTOR:
            break
        words = numbers(part(raw, more, sector))
        named, more = named + words[:-1], words[-1]
    table = numbers(b"".join(part(raw, one, sector) for one in named if one < LAST_SECTOR))
    entries = chain(raw, directory, table, sector)
    found = {}
    for place in range(0, len(entries) - 127, 128):
        entry = entries[place : place + 128]
        length = struct.unpack_from("<H", entry, 64)[0]
        name = entry[: max(length - 2, 0)].decode("utf-16-le", "replace")
        found[name] = struct.unpack_from("<II", entry, 116)
    start, size = found.get("Workbook") or found.get("Book") or (LAST_SECTOR, 0)
    if size >= cutoff:
        return chain(raw, start, table, sector)[:size]
    inside = chain(raw, found.get("Root Entry", (LAST_SECTOR, 0))[0], table, sector)
    links = numbers(chain(raw, small_table, table, sector))
    return chain(bytes(sector) + inside, start, links, small, sector)[:size]


def part(raw: bytes, number: int, sector: int, header: int = 0) -> bytes:
    """Return one sector by its number; the header is as long as one of the large ones."""
    start = (header or sector) + number * sector
    return raw[start : start + sector]


def numbers(content: bytes) -> list[int]:
    """Return the numbers of four bytes that a text of bytes holds."""
    return list(struct.unpack(f"<{len(content) // 4}I", content[: len(content) // 4 * 4]))


def chain(raw: bytes, start: int, table: list[int], sector: int, header: int = 0) -> bytes:
    """Return the sectors from ``start`` on, each followed by the one that the table names."""
    parts, seen = [], 0
    while start < len(table) and seen <= len(table):
        parts.append(part(raw, start, sector, header))
        start, seen = table[start], seen + 1
    return b"".join(parts)
