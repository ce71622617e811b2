"""From files to a Trial: find them, read them, give columns their names and units, and work out the measures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

import pandas as pd

from . import measures
from .card import FILE, TrialCard, card_text, read_card
from .columns import BY_NAME, CRUMB_PREFIX, DERIVED, READINGS, RECORDED, SCORES, Column
from .files import LARGEST_CARD, TrialFiles, find_files, read_bytes
from .formula import flour_share
from .headers import Vocabulary, loose, tidy_name
from .mixes import with_mixes
from .reading import RawTable, read_tables
from .score_table import long_scores
from .trial import Finding, Trial, TrialError, on_lines, worst_first
from .typed_table import NotedTable, TypedTable, typed_table
from .volume_readings import long_readings, with_mean_readings

FACTOR_COLUMNS = ("formula", "tin", "proof_min", "oven_place")
MOST_LEVELS_OF_A_NUMBER = 6
SUMMARIES = ("mean", "average", "avg", "total", "sum", "sd", "std", "standard deviation", "median")
MATERIAL = 0.005    # relative difference between a typed and a calculated measure that rounding does not explain
Read = TypeVar("Read")


def load_trial(path: str | Path = ".", *, sheet: str | None = None) -> Trial:
    """Return the trial in a folder, or in a single file of loaves, when nothing in its records stops an analysis.

    ``sheet`` names the sheet of loaves in a workbook; it is found by its headers otherwise.

    Raises
    ------
    TrialError: the records cannot be read, or hold errors; lists every one, each with its fix.
    """
    trial = read_trial(path, sheet=sheet)
    if trial.errors:
        raise TrialError(trial.errors)
    return trial


def read_trial(path: str | Path = ".", *, sheet: str | None = None) -> Trial:
    """Return the trial with all that reading and the checks found, errors included (what ``fairloaf check`` shows).

    Raises
    ------
    TrialError: a file or the card cannot be read at all.
    """
    from .checks import run_checks

    trial = assembled(read_records(path, sheet=sheet))
    return replace(trial, findings=worst_first((*trial.findings, *run_checks(trial))))


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """A trial's card and tables as they were read: the raw text and the typed columns of each table, by kind."""

    name: str
    card: TrialCard
    raw: dict[str, RawTable]
    typed: dict[str, TypedTable]
    sources: dict[str, str]
    assumptions: tuple[str, ...] = ()


def read_records(path: str | Path, *, sheet: str | None = None) -> Records:
    """Return everything that the files of a trial say, before it is put together.

    Raises
    ------
    TrialError: a file or the card cannot be read; names every such file.
    """
    path = Path(path)
    files = find_files(path)
    problems: list[Finding] = []
    card = _or_problem(lambda: _card(files), TrialCard(), problems)
    raw: dict[str, RawTable] = {}
    nothing: dict[str, RawTable] = {}
    for kind in ("loaves", "scores", "readings"):
        if kind in files.paths:
            raw |= _or_problem(partial(_tables, files, kind, card, sheet), nothing, problems)
    if problems:
        raise TrialError(problems)
    typed = {kind: _typed(table, kind, card) for kind, table in raw.items()}
    return Records(
        name=path.resolve().stem, card=card, raw=raw, typed=typed, assumptions=files.assumptions,
        sources={table.source: table.fingerprint for table in raw.values()},
    )


def _or_problem(read: Callable[[], Read], otherwise: Read, problems: list[Finding]) -> Read:
    """Return what can be read, or ``otherwise`` with the faults added to ``problems``: all are told at once."""
    try:
        return read()
    except TrialError as error:
        problems += error.findings
        return otherwise


def _card(files: TrialFiles) -> TrialCard:
    if "card" not in files.paths:
        return TrialCard()
    return read_card(card_text(read_bytes(files.paths["card"], files.folder, LARGEST_CARD)))


def _tables(files: TrialFiles, kind: str, card: TrialCard, sheet: str | None) -> dict[str, RawTable]:
    """Return the tables in one file; a workbook of loaves may hold scores and readings, too."""
    path = files.paths[kind]
    vocabularies: dict[str, Vocabulary] = {"loaves": vocabulary(card), "scores": SCORES, "readings": READINGS}
    wanted = [kind] if kind != "loaves" else ["loaves", *(k for k in vocabularies if k not in files.paths)]
    mapped = tuple(card.columns.values()) if kind == "loaves" else ()
    return read_tables(read_bytes(path, files.folder), path.name, {k: vocabularies[k] for k in wanted}, mapped,
                       sheet if kind == "loaves" else None)


def vocabulary(card: TrialCard) -> Vocabulary:
    """Return the columns that a file of loaves may have: the trade's, and one an attribute of the card's scores."""
    attributes = card.scores.attributes if card.scores else ()
    crumb = (Column(name=CRUMB_PREFIX + tidy_name(a), kind="number", label="Crumb " + a, meaning="", spellings=(a,))
             for a in attributes)
    return (*RECORDED, *DERIVED, *crumb)


def _typed(raw: RawTable, kind: str, card: TrialCard) -> TypedTable:
    """Return one typed table; the card says of unknown columns whether they hold numbers or texts."""
    columns = {"loaves": vocabulary(card), "scores": SCORES, "readings": READINGS}[kind]
    numbers = {name for name, levels in card.factors.items() if isinstance(levels[0], float)}
    numbers |= {*card.measures, card.measure or ""}
    texts = {name for name, levels in card.factors.items() if isinstance(levels[0], str)}
    if kind != "loaves":
        return typed_table(raw, columns, {}, wide=True)
    return typed_table(raw, columns, card.columns, numbers - texts, texts)


def assembled(records: Records) -> Trial:
    """Return the trial that the records make, with what reading found, before the checks."""
    card, typed = records.card, records.typed
    files = {kind: table.file for kind, table in records.raw.items()}
    scores = long_scores(typed["scores"], card, files["scores"]) if "scores" in typed else None
    readings = long_readings(typed["readings"], files["readings"]) if "readings" in typed else None
    steps = [_numbered(typed["loaves"].frame, files["loaves"])]
    if readings is not None and not readings.frame.empty:
        steps.append(with_mean_readings(steps[-1].frame, readings.frame, files["readings"]))
    steps.append(_derived(steps[-1].frame, card, files["loaves"]))
    steps.append(with_mixes(steps[-1].frame, files["loaves"]))
    loaves = steps[-1].frame
    factors, told = _factors(loaves, card)
    noted: list[TypedTable | NotedTable] = [*typed.values(), *(t for t in (scores, readings) if t), *steps]
    return Trial(
        name=records.name, card=card, loaves=loaves, factors=factors, sources=records.sources, files=files,
        scores=scores.frame if scores else None, readings=readings.frame if readings else None,
        findings=worst_first((*_unmapped(records), *_summary_rows(loaves, files["loaves"]),
                              *(finding for table in noted for finding in table.findings))),
        assumptions=(*records.assumptions, *(a for table in noted for a in table.assumptions), *told),
        headers=_headers(typed["loaves"], loaves),
        unreadable=pd.concat([table.unreadable for table in typed.values()], ignore_index=True),
    )


def _headers(typed: TypedTable, loaves: pd.DataFrame) -> dict[str, str]:
    """Return the header of every column that holds what was read, and not what was worked out anew."""
    typed_in = [column.name for column in DERIVED if column.name in typed.frame]
    worked_out = {name for name in typed_in if not loaves[name].equals(typed.frame[name])}
    return {header.name: header.text for header in typed.headers if header.name not in worked_out}


def _summary_rows(loaves: pd.DataFrame, file: str) -> list[Finding]:
    """Return an error for rows that are no loaf but, as their first cell says, a mean or a total."""
    words = [form for word in SUMMARIES for form in (word, word.upper(), word.title())]
    rows = loaves[loaves.iloc[:, 0].isin(words)]
    lines = tuple(int(line) for line in rows["line"][rows["void"].isna() if "void" in rows else slice(None)])
    if not lines:
        return []
    return [Finding(
        code="row-of-totals", severity="error", rows=lines, file=file, column=str(loaves.columns[0]),
        message=f"There is a mean, a total or the like on {on_lines(lines)}, where a loaf should be.",
        why="It would count as one more loaf.", fix="Delete the row, or write a reason under void.")]


def _numbered(loaves: pd.DataFrame, file: str) -> NotedTable:
    """Return the loaves with numbers of their own where nobody wrote any."""
    if "loaf" in loaves:
        return NotedTable(frame=loaves)
    numbers = pd.Series(range(1, len(loaves) + 1), index=loaves.index).astype(str).astype(object)
    told = f"{file}: there is no column of loaf numbers; loaves are numbered in the order of the file."
    return NotedTable(frame=loaves.assign(loaf=numbers), assumptions=(told,))


def _unmapped(records: Records) -> list[Finding]:
    """Return an error for every header that the card names and the file of loaves does not have."""
    file, texts = records.raw["loaves"].file, [text for text in records.raw["loaves"].headers if text]
    there = {loose(text) for text in texts}
    return [
        Finding(code="card-column", severity="error", file=FILE, column=name,
                message=f"{FILE} says {name} = {header!r} under [columns], but {file} has no such header.",
                why="Nothing can be read from a column that is not there.", fix=f"It has: {', '.join(texts)}.")
        for name, header in records.card.columns.items() if loose(header) not in there
    ]


def _derived(loaves: pd.DataFrame, card: TrialCard, file: str) -> NotedTable:
    """Return the loaves with their measures, and say where a measure that was typed in is another one.

    A measure that cannot be worked out from the other columns is taken as it was typed in.
    """
    typed = [column.name for column in DERIVED if column.name in loaves]
    table = with_measures(loaves.drop(columns=typed), card)
    told, findings = [], []
    for name in typed:
        if name not in table:
            table[name] = loaves[name]
            told.append(f"{file}: {BY_NAME[name].label.lower()} is taken as written; it cannot be worked out here.")
        elif finding := _disagreement(table, loaves[name], name, file):
            findings.append(finding)
    return NotedTable(frame=table, assumptions=tuple(told), findings=tuple(findings))


def _disagreement(table: pd.DataFrame, typed: pd.Series, name: str, file: str) -> Finding | None:
    rows = table.index[(typed - table[name]).abs() > MATERIAL * table[name].abs()]
    if rows.empty:
        return None
    column, first = BY_NAME[name], rows[0]
    lines = tuple(int(line) for line in table.loc[rows, "line"])
    return Finding(
        code="measure-differs", severity="warning", rows=lines, file=file, column=name,
        message=f"{column.label} is not what the other columns give on {on_lines(lines)}: {typed[first]:g} is "
                f"written on line {lines[0]}, not {table[name][first]:.4g} {column.unit}.",
        why=f"The calculated one is used: {column.meaning}.",
        fix="Correct the value that is wrong, or delete the column.")


def with_measures(loaves: pd.DataFrame, card: TrialCard) -> pd.DataFrame:
    """Return the loaves with every measure that their columns allow."""
    table = loaves.copy()
    if {"box_ml", "seed_ml"} <= set(table.columns):
        worked_out = measures.volume_by_displacement(table["box_ml"], table["seed_ml"])
        table["loaf_ml"] = table["loaf_ml"].fillna(worked_out) if "loaf_ml" in table else worked_out
    if {"loaf_ml", "loaf_g"} <= set(table.columns):
        table["specific_volume"] = measures.specific_volume(table["loaf_ml"], table["loaf_g"])
        table["air_fraction"] = measures.air_fraction(table["loaf_ml"], table["loaf_g"])
    if {"dough_g", "loaf_g"} <= set(table.columns):
        table["bake_loss_pct"] = measures.bake_loss_pct(table["dough_g"], table["loaf_g"])
    if {"formula", "loaf_ml", "dough_g"} <= set(table.columns) and card.formulas:
        share = table["formula"].map({name: flour_share(parts) for name, parts in card.formulas.items()})
        table["volume_per_100g_flour"] = measures.volume_per_100g_flour(table["loaf_ml"], table["dough_g"], share)
    return table


def _factors(loaves: pd.DataFrame, card: TrialCard) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the factors, and what was taken for granted where the card names none."""
    factors = planned_factors(loaves, card)
    if card.factors:
        return factors, ()
    said = ", ".join(factors) if factors else "nothing that is known here"
    return factors, (f"The card names no factors; {said} varies in the records and is taken for what was changed.",)


def planned_factors(loaves: pd.DataFrame, card: TrialCard) -> tuple[str, ...]:
    """Return what was changed on purpose: the card's factors, or the usual columns that vary when it is silent."""
    if card.factors:
        return tuple(card.factors)
    varied = []
    for name in FACTOR_COLUMNS:
        if name not in loaves or (name == "proof_min" and card.proof_to == "height"):
            continue
        counts = loaves[name].value_counts()
        is_number = loaves[name].dtype.kind == "f"
        if len(counts) > 1 and not (is_number and (len(counts) > MOST_LEVELS_OF_A_NUMBER or counts.min() < 2)):
            varied.append(name)
    return tuple(varied)
