"""From a spreadsheet to a card: which column is what, how a wide sheet becomes one row a loaf, what
was not placed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from ..card import TrialCard, Wide
from ..columns import BY_NAME, CRUMB_PREFIX
from ..findings import TrialError
from ..reading.headers import (
    UNCLEAR_HEADERS,
    Header,
    name_columns,
    read_header,
    score_header,
    tidy_name,
    words,
)
from ..reading.raw_table import RawTable
from ..reading.records import loaves_tables, vocabulary
from ..reading.units import find_unit

MOST_LEVELS = 12
OF_UNIT = {
    "mass": "loaf_g",
    "volume": "loaf_ml",
    "length": "height_mm",
    "specific volume": "specific_volume",
}
# Of a header that may mean either column, the one that is likelier where nothing else tells.
MOST_LIKELY: Mapping[tuple[str, ...], str] = {("mass",): "loaf_g"}
DAYS = frozenset(
    re.findall(
        r"\S+",
        """
    mon tue wed thu fri sat sun monday tuesday wednesday thursday friday saturday sunday montag dienstag
    mittwoch donnerstag freitag samstag sonntag lundi mardi mercredi jeudi vendredi samedi dimanche
    lunes martes miercoles jueves viernes sabado domingo lunedi martedi mercoledi giovedi venerdi sabato
    domenica maandag dinsdag woensdag donderdag vrijdag zaterdag zondag""",  # noqa: E501
    )
)
_SCALE = re.compile(r"\b([01])\s*(?:-|–|—|to|bis|à|a|tot)\s*(\d{1,3})\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What a spreadsheet seems to hold.

    columns : name → its header; meant : name → what is said of it; wide : the rule for one row a
        loaf, or None;
    scale : of scores, where a header gives it; unplaced : headers without a place, with how to name
        them
    """

    columns: Mapping[str, str]
    meant: Mapping[str, str]
    wide: Wide | None = None
    scale: tuple[int, int] | None = None
    unplaced: Mapping[str, str] = field(default_factory=dict)


def propose(
    content: bytes, file: str, named: Mapping[str, str] | None = None, sheet: str | None = None
) -> Proposal:
    """Return what a spreadsheet seems to hold; ``named`` is header → name, as somebody has said.

    Raises
    ------
    TrialError: the file cannot be read.
    """
    named = named or {}
    raw, is_turned = _raw(content, file, sheet)
    given = {name: text for text, name in named.items() if name}
    naming = name_columns(
        raw.headers, raw.units, vocabulary(TrialCard()), given, file=file, line=raw.header_line
    )
    placed = {h.name: h for h in naming.headers if h.column is not None and h.text}
    open_ones = [
        h for h in naming.headers if h.text and h.name not in placed and h.text not in named
    ]
    wide = _wide(
        raw, [h for h in naming.headers if h.text and h.text not in named], placed, is_turned
    )
    spread = {text for texts in wide.columns.values() for text in texts} if wide else set()
    placed = {name: h for name, h in placed.items() if h.text not in spread}
    left = [h for h in open_ones if h.text not in spread]
    for header in list(left):
        name = MOST_LIKELY.get(words(_bare(header.text)))
        if name and name not in placed and not (wide and name in wide.columns):
            placed[name] = Header(text=header.text, name=name, column=BY_NAME[name])
            left.remove(header)
    texts = [h.text for h in naming.headers]
    scales = [match for text in texts if (match := _SCALE.search(text)) and score_header(text)]
    return Proposal(
        columns={name: h.text for name, h in placed.items()},
        meant={name: _meant(h) for name, h in placed.items()},
        wide=wide,
        scale=(int(scales[0][1]), int(scales[0][2])) if scales else None,
        unplaced={h.text: _how(h) for h in left},
    )


def _raw(content: bytes, file: str, sheet: str | None) -> tuple[RawTable, bool]:
    """Return the sheet as a table of text, and whether its columns are the loaves."""

    def read(card: TrialCard) -> RawTable:
        return loaves_tables(
            content, file, {"loaves": vocabulary(card)}, card, sheet, any_header=True
        )["loaves"]

    try:
        return read(TrialCard()), False
    except TrialError as stop:
        if stop.findings[0].code != "sheet-turned":
            raise
    return read(TrialCard(wide=Wide(turned=True))), True


def _bare(text: str) -> str:
    return re.sub(r"\([^)]*\)", " ", text).strip()


def _meant(header: Header) -> str:
    column = BY_NAME.get(header.name)
    if column is None:
        return "a score"
    unit = (
        header.unit.symbol
        if header.unit
        else f"{column.unit}, as nothing else is said"
        if column.unit
        else ""
    )
    return f"{column.meaning}{f'; in {unit}' if unit else ''}"


def _how(header: Header) -> str:
    """Return how a header without a place could be named."""
    if meanings := UNCLEAR_HEADERS.get(words(_bare(header.text))):
        return f"it may be {' or '.join(meanings)}"
    return "kept as it is; name it if it is one of  fairloaf check --columns"


# --- wide sheets -------------------------------------------------------------------------------


def _wide(
    raw: RawTable, headers: Sequence[Header], placed: Mapping[str, Header], is_turned: bool
) -> Wide | None:
    """Return the rule that makes one row a loaf, or None where the sheet has one already."""
    groups = _groups(raw, headers, placed)
    if not groups:
        return Wide(turned=True) if is_turned else None
    levels = tuple(dict.fromkeys(level for group in groups.values() for level in group))
    over = _over(levels, groups, placed)
    return Wide(
        turned=is_turned,
        over=over,
        levels=levels,
        columns={
            name: tuple(group.get(level, "") for level in levels) for name, group in groups.items()
        },
    )


def _groups(
    raw: RawTable, headers: Sequence[Header], placed: Mapping[str, Header]
) -> dict[str, dict[str, str]]:
    """Return measure → level → header, for measures that stand in two columns or more."""
    found: dict[str, dict[str, str]] = {}
    for header in headers:
        if header.name in placed and placed[header.name].text == header.text:
            continue
        below = raw.units[header.place] if raw.units else ""
        for name, level in _splits(header.text, below):
            if level and level not in found.get(name, {}):
                found.setdefault(name, {})[level] = header.text
                break
    wide = {name: group for name, group in found.items() if len(group) > 1}
    return wide or _assessors(raw, headers, placed)


def _splits(text: str, below: str) -> list[tuple[str, str]]:
    """Return (measure, level) for each way in which a header is a measure with something that sets
    it apart.
    """
    unit = next(
        (
            u
            for part in (below, *re.findall(r"\(([^)]*)\)", text))
            if part and (u := find_unit(part))
        ),
        None,
    )
    without = " ".join(
        part
        for part in re.split(
            r"[\s_]+",
            re.sub(r"\(([^)]*)\)", lambda m: " " if find_unit(m[1]) else f" {m[1]} ", text),
        )
        if part not in ("-", "–", "/", ":")
    )
    parts = without.strip(" -–:/").split(" ")
    if unit is None and len(parts) > 1 and (unit := find_unit(parts[-1])):
        parts = parts[:-1]
    ways = []
    for cut in range(len(parts) - 1, 0, -1):
        for stem, rest in ((parts[:cut], parts[cut:]), (parts[-cut:], parts[:-cut])):
            name = _measure(" ".join(stem), unit.symbol if unit else "")
            if name:
                ways.append((name, " ".join(rest).strip(" -–:,")))
    if unit and unit.quantity in OF_UNIT and not ways:
        ways.append((OF_UNIT[unit.quantity], " ".join(parts)))
    return ways


def _measure(stem: str, unit: str) -> str | None:
    """Return the measure that a part of a header names, or None."""
    meant = read_header(f"{stem} ({unit})" if unit else stem, vocabulary(TrialCard()))
    if (
        meant
        and meant.column
        and meant.column.kind == "number"
        and meant.name not in ("bake_order", "measure_order")
    ):
        return meant.name
    return MOST_LIKELY.get(words(stem)) or (
        "crumb_" + tidy_name(stem)
        if words(stem)
        in (
            ("softness",),
            ("taste",),
            ("score",),
            ("openness",),
            ("crust",),
            ("crumb",),
            ("evenness",),
        )
        else None
    )


def _assessors(
    raw: RawTable, headers: Sequence[Header], placed: Mapping[str, Header]
) -> dict[str, dict[str, str]]:
    """Return the columns of small whole numbers under a name each: one row a loaf with a column an
    assessor.
    """
    if not {"loaf", "formula"} & set(placed):
        return {}
    names = [
        h.text
        for h in headers
        if h.name not in placed
        and re.fullmatch(r"[^\W\d_]+\.?(?: [^\W_]{1,2}\.?)?", h.text)
        and _are_scores(raw, h)
    ]
    return {f"{CRUMB_PREFIX}score": {text: text for text in names}} if len(names) > 1 else {}


def _are_scores(raw: RawTable, header: Header) -> bool:
    texts = [text.replace(",", ".") for text in raw.cells[header.place] if text not in ("", "-")]
    return len(texts) > 1 and all(re.fullmatch(r"(?:\d|10)(?:\.5|\.0)?", text) for text in texts)


def _over(
    levels: Sequence[str], groups: Mapping[str, Mapping[str, str]], placed: Mapping[str, Header]
) -> str:
    """Return what a row's columns differ in: the loaf, the day, the assessor or the formula."""
    plain = [tidy_name(level) for level in levels]
    if all(
        re.fullmatch(r"(?:loaf_|brot_|pain_|pan_|pane_|brood_|nr_|no_)?\d+|[a-d]", level)
        for level in plain
    ) and ("formula" in placed):
        return "loaf"
    if all(
        level in DAYS or re.fullmatch(r"(?:day_|tag_|jour_|dia_|giorno_|dag_)\d+", level)
        for level in plain
    ):
        return "day"
    if all(name.startswith(CRUMB_PREFIX) for name in groups):
        return "assessor"
    if "formula" in placed:
        return "tin" if "tin" not in placed else "loaf"
    return "formula"


# --- the card ----------------------------------------------------------------------------------


def sections(proposal: Proposal) -> str:
    """Return [columns], [wide] and [scores] as they stand on the card, every line with what it
    means.
    """
    lines = [
        "[columns]                      # name = header in the file: correct what is wrong, take a"
        " line out"
    ]
    lines += [
        f"{_key(name)} = {_text(text)}   # {proposal.meant[name]}"
        for name, text in proposal.columns.items()
    ]
    lines += [f"# not placed: {_text(text)}: {how}" for text, how in proposal.unplaced.items()]
    if proposal.wide:
        lines += ["", "[wide]                         # how the sheet becomes one row a loaf"]
        lines += (
            ["turned = true                  # every column is a loaf"]
            if proposal.wide.turned
            else []
        )
    if proposal.wide and proposal.wide.over:
        lines += [
            f"over   = {_text(proposal.wide.over)}   # what the columns of one row differ in",
            f"levels = [{', '.join(map(_text, proposal.wide.levels))}]",
            "[wide.columns]",
        ]
        lines += [
            f"{_key(name)} = [{', '.join(map(_text, texts))}]"
            for name, texts in proposal.wide.columns.items()
        ]
    if proposal.scale:
        lines += ["", "[scores]", f"scale = [{proposal.scale[0]}, {proposal.scale[1]}]"]
    return "\n".join(lines) + "\n"


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _text(name)


def _text(text: str) -> str:
    plain = "".join(sign for sign in text if sign.isprintable())
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'
