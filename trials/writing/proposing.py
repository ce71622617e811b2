"""From a spreadsheet to a card: which column is what, how a wide sheet becomes one row a loaf, what
was not placed.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import field

from ..card import TrialCard, Wide
from ..columns import BY_NAME
from ..findings import TrialError
from ..frozen import frozen
from ..reading.headers import UNCLEAR_HEADERS, Header, name_columns, score_header, words
from ..reading.raw_table import RawTable
from ..reading.records import loaves_tables, vocabulary
from ..reading.stacked import SHEET
from ..words.for_card import in_quotes, key
from .wide_rule import MOST_LIKELY, rule_for

MOST_LEVELS = 12
_SCALE = re.compile(r"\b([01])\s*(?:-|–|—|to|bis|à|a|tot)\s*(\d{1,3})\b")


@frozen(kw_only=True)
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
    found = rule_for(raw, [h for h in naming.headers if h.text and h.text not in named], placed)
    wide = found.rule(is_turned)
    spread = {text for texts in wide.columns.values() for text in texts} if wide else set()
    beside = [h for name, h in placed.items() if wide and name in wide.columns]
    placed = {name: h for name, h in placed.items() if h.text not in spread and h not in beside}
    left = [h for h in (*open_ones, *beside) if h.text not in spread]
    for header in list(left):
        name = MOST_LIKELY.get(words(_bare(header.text)))
        if name and name not in placed and not (wide and name in wide.columns):
            placed[name] = Header(text=header.text, name=name, column=BY_NAME[name])
            left.remove(header)
    if "formula" not in placed and not (wide and wide.over == "formula"):
        for header in [h for h in left if h.text == SHEET]:
            placed["formula"] = Header(text=SHEET, name="formula", column=BY_NAME["formula"])
            left.remove(header)
    texts = [h.text for h in naming.headers]
    scales = [match for text in texts if (match := _SCALE.search(text)) and score_header(text)]
    return Proposal(
        columns={name: h.text for name, h in placed.items()},
        meant={
            name: "a guess: each sheet of the workbook holds one formula"
            if h.text == SHEET and name == "formula"
            else f"{_meant(h)}; a guess, as the header says only {' '.join(words(_bare(h.text)))}"
            if words(_bare(h.text)) in MOST_LIKELY
            else _meant(h)
            for name, h in placed.items()
        },
        wide=wide,
        scale=(int(scales[0][1]), int(scales[0][2])) if scales else None,
        unplaced={h.text: found.kept_out.get(h.text) or _how(h) for h in left},
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
        f"{key(name)} = {in_quotes(text)}   # {proposal.meant[name]}"
        for name, text in proposal.columns.items()
    ]
    lines += [f"# not placed: {in_quotes(text)}: {how}" for text, how in proposal.unplaced.items()]
    if proposal.wide:
        lines += ["", "[wide]                         # how the sheet becomes one row a loaf"]
        lines += (
            ["turned = true                  # every column is a loaf"]
            if proposal.wide.turned
            else []
        )
    if proposal.wide and proposal.wide.over:
        lines += [
            f"over   = {in_quotes(proposal.wide.over)}   # what the columns of one row differ in",
            f"levels = [{', '.join(map(in_quotes, proposal.wide.levels))}]",
            "[wide.columns]",
        ]
        lines += [
            f"{key(name)} = [{', '.join(map(in_quotes, texts))}]"
            for name, texts in proposal.wide.columns.items()
        ]
    if proposal.scale:
        lines += ["", "[scores]", f"scale = [{proposal.scale[0]}, {proposal.scale[1]}]"]
    return "\n".join(lines) + "\n"
