"""From the files of a trial to its records: the card, and the raw and the typed form of every
table.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from ..card import TrialCard
from ..columns import BY_NAME, CRUMB_PREFIX, DERIVED, KINDS, RECORDED, Column
from ..findings import Finding, TrialError
from ..frozen import frozen
from .card_file import card_text, read_card
from .cells import LONGEST_NUMBER, OUT_OF, plain
from .files import LARGEST_CARD, TABLE_SUFFIXES, TrialFiles, find_files, read_bytes
from .grid import LARGEST_FILE
from .headers import Vocabulary, named_on_card, score_on_card, tidy_name
from .raw_table import RawTable
from .sheets import read_tables
from .tick_table import headers_of_words
from .typed_table import TypedTable, typed_table
from .wide import turned, unfolded

Read = TypeVar("Read")
# what stands in the rows of the files beside the loaves
ROWS = {
    "scores": "a row a score: loaf, assessor, attribute, score",
    "readings": "a row a reading: loaf, loaf_ml",
    "codes": "a row a code: code, loaf",
    "tasting": "a row a serving: assessor, test, served, answer",
    "words": "a row a person and bread: assessor, code, and a column a word",
}


@frozen(kw_only=True)
class Records:
    """A trial's card and tables as they were read: the raw text and the typed columns of each
    table, by kind.
    """

    name: str
    card: TrialCard
    raw: dict[str, RawTable]
    typed: dict[str, TypedTable]
    sources: dict[str, str]
    assumptions: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def read_records(path: str | Path, *, sheet: str | None = None) -> Records:
    """Return everything that the files of a trial say, before it is put together.

    Raises
    ------
    TrialError: a file or the card cannot be read; names every such file.
    """
    path = Path(path)
    files = find_files(path)
    problems: list[Finding] = []
    contents: dict[str, bytes] = {}
    for kind in files.paths:
        contents |= _or_nothing(partial(_content, files, kind), problems)
    card = _or_nothing(partial(_card, contents.get("card", b"")), problems).get("card", TrialCard())
    card = with_score_names(card)
    tables: dict[str, RawTable] = {}
    for kind in [kind for kind in contents if kind != "card"]:
        tables |= _or_nothing(partial(_tables, contents[kind], kind, files, card, sheet), problems)
    if problems:
        raise TrialError(
            [_of_its_kind(_with_others_beside(problem, files), files) for problem in problems]
        )
    typed = {kind: _typed(table, kind, card) for kind, table in tables.items()}
    return Records(
        name=whole.name if (whole := path.resolve()).is_dir() else whole.stem,
        card=card,
        raw=tables,
        typed=typed,
        assumptions=files.assumptions,
        findings=files.findings,
        sources={
            files.paths[kind].name: hashlib.sha256(raw).hexdigest()
            for kind, raw in contents.items()
        },
    )


def _with_others_beside(problem: Finding, files: TrialFiles) -> Finding:
    """Return the finding of an empty file of loaves with the tables that stand beside it and may be
    meant.
    """
    loaves = files.paths.get("loaves")
    if (
        problem.code != "empty-file"
        or loaves is None
        or files.folder is None
        or problem.file != loaves.name
    ):
        return problem
    others = [
        entry.name
        for entry in sorted(files.folder.iterdir())
        if entry not in files.paths.values()
        and entry.suffix.casefold() in TABLE_SUFFIXES
        and entry.name[0] not in ".~"
    ]
    if not others:
        return problem
    return replace(
        problem,
        message=f"{problem.message} Beside it stands {', '.join(others)}.",
        fix=f"If the loaves are in {others[0]}, take {loaves.name} away; or write them into it.",
    )


def _of_its_kind(problem: Finding, files: TrialFiles) -> Finding:
    """Return the finding of an empty file with the rows that such a file has."""
    kind = next((k for k, path in files.paths.items() if path.name == problem.file), "")
    if problem.code != "empty-file" or kind not in ROWS:
        return problem
    fix = f"Write {ROWS[kind]} below one header line, or take the file out of the trial."
    return replace(problem, fix=fix)


def _or_nothing(read: Callable[[], dict[str, Read]], problems: list[Finding]) -> dict[str, Read]:
    """Return what can be read, or nothing with its faults added to ``problems``, so that all are
    told at once.
    """
    try:
        return read()
    except TrialError as error:
        problems += error.findings
        return {}


def _content(files: TrialFiles, kind: str) -> dict[str, bytes]:
    largest = LARGEST_CARD if kind == "card" else LARGEST_FILE
    return {kind: read_bytes(files.paths[kind], files.folder, largest)}


def _card(content: bytes) -> dict[str, TrialCard]:
    return {"card": read_card(card_text(content))}


def _tables(
    content: bytes, kind: str, files: TrialFiles, card: TrialCard, sheet: str | None
) -> dict[str, RawTable]:
    """Return the tables in one file; a workbook of loaves may hold the other tables, too."""
    vocabularies: dict[str, Vocabulary] = {
        "loaves": vocabulary(card),
        **{name: kind.columns for name, kind in KINDS.items()},
    }
    if kind == "plan":
        return read_tables(content, files.paths[kind].name, {kind: RECORDED})
    wanted = (
        [kind]
        if kind != "loaves"
        else ["loaves", *(k for k in vocabularies if k not in files.paths)]
    )
    if kind != "loaves":
        return read_tables(
            content,
            files.paths[kind].name,
            {k: vocabularies[k] for k in wanted},
            tuple(card.columns.values()),
        )
    return loaves_tables(
        content, files.paths[kind].name, {k: vocabularies[k] for k in wanted}, card, sheet
    )


def loaves_tables(
    content: bytes,
    file: str,
    vocabularies: dict[str, Vocabulary],
    card: TrialCard,
    sheet: str | None,
    any_header: bool = False,
) -> dict[str, RawTable]:
    """Return the tables in a file of loaves, one row a loaf, by the rule on the card where the
    sheet is wide.
    """
    wide = card.wide
    spread = [text for texts in wide.columns.values() for text in texts if text] if wide else []
    tables = read_tables(
        content,
        file,
        vocabularies,
        (*card.columns.values(), *spread),
        sheet,
        turned if wide and wide.turned else None,
        any_header,
    )
    return tables | unfolded(tables["loaves"], wide) if wide and wide.over else tables


def with_score_names(card: TrialCard) -> TrialCard:
    """Return the card with its scores under the names of their columns: ``crust`` →
    ``crumb_crust``.
    """
    attributes = {tidy_name(a) for a in card.scores.attributes} if card.scores else set()
    own = {
        name: header.name
        for name, text in card.columns.items()
        if name not in BY_NAME and (header := score_on_card(name, text))
    }

    def named(name: str) -> str:
        if name in own:
            return own[name]
        return (
            CRUMB_PREFIX + tidy_name(name)
            if name not in BY_NAME and tidy_name(name) in attributes
            else name
        )

    return replace(
        card,
        measure=card.measure and named(card.measure),
        measures={named(name): said for name, said in card.measures.items()},
    )


def vocabulary(card: TrialCard) -> Vocabulary:
    """Return the columns that a file of loaves may have: the trade's, and one an attribute of the
    card's scores.
    """
    attributes = card.scores.attributes if card.scores else ()
    crumb = (
        Column(
            name=CRUMB_PREFIX + tidy_name(a),
            kind="number",
            label="Crumb " + a,
            meaning="",
            spellings=(a,),
        )
        for a in attributes
    )
    return (*RECORDED, *DERIVED, *crumb)


def columns_for(kind: str, raw: RawTable, card: TrialCard) -> dict[str, str]:
    """Return what the card says, under [columns], of the headers of a file of scores or
    readings.
    """
    known = {column.name for column in KINDS[kind].columns} if kind in KINDS else set()
    return {
        name: header
        for name, header in card.columns.items()
        if name in known and named_on_card(header, raw.headers)
    }


def _typed(raw: RawTable, kind: str, card: TrialCard) -> TypedTable:
    """Return one typed table; the card says of unknown columns whether they hold numbers or
    texts.
    """
    if kind in KINDS and not KINDS[kind].wide:
        return typed_table(
            raw, KINDS[kind].columns, headers_of_words(raw.headers, card) if kind == "words" else {}
        )
    numbers = {name for name, levels in card.factors.items() if isinstance(levels[0], float)}
    numbers |= {*card.measures, card.measure or ""}
    texts = {name for name, levels in card.factors.items() if isinstance(levels[0], str)}
    if kind == "plan":
        return typed_table(raw, RECORDED, {}, numbers - texts, texts)
    if kind != "loaves":
        return typed_table(
            raw,
            KINDS[kind].columns,
            columns_for(kind, raw, card),
            wide=True,
            out_of=_end_of_scale(raw, card),
        )
    return typed_table(
        raw,
        vocabulary(card),
        card.columns,
        numbers - texts,
        texts,
        shared=card.factors,
        out_of=card.scores.high if card.scores else None,
    )


def _end_of_scale(raw: RawTable, card: TrialCard) -> float | None:
    """Return the end of the scale of scores: the card's, or the one that all scores such as "7/10"
    show.
    """
    if card.scores:
        return card.scores.high
    ends = {
        match[2]
        for place in raw.cells
        for text in raw.cells[place].unique()
        if len(text) < LONGEST_NUMBER and (match := re.fullmatch(OUT_OF, plain(text)))
    }
    return float(ends.pop()) if len(ends) == 1 else None
