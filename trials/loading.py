"""From files to a Trial: find them, read them, give columns their names and units, and work out the
measures.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import pandas as pd

from .card import FILE, TrialCard
from .columns import BY_NAME, DERIVED, KINDS, Kind
from .findings import Finding, NotedTable, TrialError, worst_first
from .measuring.derived import with_derived, with_measures
from .measuring.mixes import with_mixes
from .measuring.planned import with_plan
from .measuring.volume_readings import long_readings, with_mean_readings
from .reading.account import account, kept_rows
from .reading.answers import with_left_out
from .reading.headers import bare_header, language_of, named_on_card
from .reading.raw_table import RawTable
from .reading.records import Records, columns_for, read_records, vocabulary
from .reading.score_table import long_scores, no_column
from .reading.tick_table import Ticks, long_words
from .reading.totals import rows_of_totals
from .reading.typed_table import TypedTable
from .reading.wide import ASSESSOR, READING
from .tables import blank_rows, number_columns
from .trial import Trial

__all__ = ["assembled", "load_trial", "planned_factors", "read_trial", "with_measures"]

# the card's  mix = "loaf": every loaf had a dough of its own, whatever its column is called
OWN_DOUGH = "loaf"
BY_LOAF = tuple(name for name, kind in KINDS.items() if kind.wide)
OF_A_TRIAL = ("scores", "readings", "codes", "tasting", "words")
KEPT_EMPTY = ("loaf", "void", "note")
FACTOR_COLUMNS = ("formula", "tin", "proof_min", "oven_place")
MOST_LEVELS_OF_A_NUMBER = 6


# What makes of a kind of table what an analysis takes; of another kind its rows stand as they are.
READERS: dict[str, Callable[[RawTable, TypedTable, TrialCard], NotedTable]] = {
    "scores": lambda raw, typed, card: long_scores(typed, card, raw.file),
    "readings": lambda raw, typed, card: long_readings(typed, raw.file),
    "words": long_words,
}


def load_trial(path: str | Path = ".", *, sheet: str | None = None) -> Trial:
    """Return the trial in a folder, or in a single file of loaves, when nothing in its records
    stops an analysis.

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
    """Return the trial with all that reading and the checks found, errors included (what ``fairloaf
    check`` shows).

    Raises
    ------
    TrialError: a file or the card cannot be read at all.
    """
    return checked(assembled(read_records(path, sheet=sheet)))


def checked(trial: Trial) -> Trial:
    """Return a trial that was assembled with what the checks find, too."""
    from .checks import run_checks

    return replace(trial, findings=worst_first((*trial.findings, *run_checks(trial))))


def assembled(records: Records) -> Trial:
    """Return the trial that the records make, with what reading found, before the checks."""
    typed = records.typed
    card = replace(records.card, called=_called(typed["loaves"], records.card))
    files = {kind: table.file for kind, table in records.raw.items()}
    made = {
        name: READERS[name](records.raw[name], typed[name], card)
        if name in READERS
        else as_it_stands(typed[name], kind, files[name])
        for name, kind in KINDS.items()
        if name in typed
    }
    tables = {kind: table.frame for kind, table in made.items()}
    readings = tables.get("readings")
    read = typed["loaves"].frame
    empty = _empty(read)
    steps = [_numbered(read.drop(columns=empty) if empty else read, files["loaves"])]
    if "plan" in typed:
        steps.append(
            with_plan(
                steps[-1].frame,
                typed["plan"].frame,
                files["loaves"],
                files["plan"],
                typed["loaves"].unreadable["line"],
                {code for kind in BY_LOAF if kind in tables for code in tables[kind]["loaf"]},
            )
        )
    if "counts" in steps[-1].frame:
        steps.append(
            with_left_out(steps[-1].frame, _text_of("counts", typed["loaves"]), files["loaves"])
        )
    if readings is not None and not readings.empty:
        steps.append(with_mean_readings(steps[-1].frame, readings, files["readings"]))
    steps.append(with_derived(steps[-1].frame, card, files["loaves"]))
    steps.append(
        with_mixes(steps[-1].frame, files["loaves"], own_dough=card.columns.get("mix") == OWN_DOUGH)
    )
    loaves = steps[-1].frame
    factors, told = _factors(loaves, card)
    noted: list[TypedTable | NotedTable] = [*typed.values(), *made.values(), *steps]
    unreadable = [
        table.unreadable
        for table in (*typed.values(), *made.values())
        if isinstance(table, TypedTable | Ticks)
    ]
    findings = [finding for table in noted for finding in table.findings]
    return Trial(
        name=records.name,
        card=card,
        loaves=loaves,
        factors=factors,
        sources=records.sources,
        files=files,
        **{kind: tables.get(kind) for kind in OF_A_TRIAL},
        more_tables={kind: table for kind, table in tables.items() if kind not in OF_A_TRIAL},
        findings=worst_first(
            (
                *records.findings,
                *_unmapped(records),
                *findings,
                *rows_of_totals(_as_read(typed["loaves"], loaves), files["loaves"]),
                *_accounts(
                    records,
                    {"loaves": loaves} | {kind: tables[kind] for kind in BY_LOAF if kind in tables},
                    findings,
                ),
            )
        ),
        assumptions=(
            *records.assumptions,
            *(a for table in noted for a in table.assumptions),
            *_unknown_headers(typed["loaves"], card, files["loaves"]),
            *told,
        ),
        headers=_headers(typed, loaves),
        stated_units=typed["loaves"].stated_units,
        unreadable=pd.concat(unreadable, ignore_index=True),
    )


def _accounts(
    records: Records, made: dict[str, pd.DataFrame], findings: list[Finding]
) -> list[Finding]:
    """Return an error for every table of which a row or a filled cell is neither used nor named."""
    faults = []
    for kind, raw in records.raw.items():
        if raw.spread:
            continue
        own = account(raw, records.typed[kind])
        faults += own.findings()
        if kind in made and not any(
            f.severity == "error" and f.code == "no-column" and f.file == raw.file for f in findings
        ):
            waiting = (
                _not_baked_yet(records)
                if kind == "loaves"
                else _without_number(records.typed[kind])
            )
            faults += kept_rows(
                own, raw.file, set(raw.lines.tolist()) - waiting, made[kind]["line"], findings
            )
    return faults


def _without_number(typed: TypedTable) -> set[int]:
    """Return the lines of scores or readings on which nothing was scored or read, as is told of the
    table.
    """
    numbers = [name for name in number_columns(typed.frame) if name != "order"]
    bare = typed.frame["line"].to_numpy()[blank_rows(typed.frame, numbers)]
    return set(bare.tolist()) - set(typed.unreadable["line"])


def _not_baked_yet(records: Records) -> set[int]:
    """Return the lines of planned loaves with nothing beside their code, which are told with the
    plan.
    """
    frame = records.typed["loaves"].frame
    planned = records.typed["plan"].frame if "plan" in records.typed else None
    if planned is None or "loaf" not in frame or "loaf" not in planned:
        return set()
    bare = frame.drop(columns=["loaf", "line"]).isna().all(axis=1)
    return set(frame.loc[bare & frame["loaf"].isin(planned["loaf"]), "line"].tolist())


def _as_read(typed: TypedTable, loaves: pd.DataFrame) -> pd.DataFrame:
    """Return the columns of the loaves that were read, in the file's order, without those beyond
    the last header: what stands there is told already and says nothing of its row.
    """
    last = max((place for place, header in enumerate(typed.headers) if header.text), default=0)
    beyond = {header.name for header in typed.headers[last + 1 :]}
    read = [name for name in typed.frame if name in loaves and name not in ("loaf", *beyond)]
    return loaves[[*read, "loaf"]]


def _text_of(name: str, typed: TypedTable) -> str:
    return next(header.text for header in typed.headers if header.name == name)


def as_it_stands(typed: TypedTable, kind: Kind, file: str) -> NotedTable:
    """Return a table as it was read, with an error for every column that it cannot do without."""
    missing = [name for name in kind.needs if name not in typed.frame]
    return NotedTable(
        frame=typed.frame[:0].assign(**dict.fromkeys(missing, "")) if missing else typed.frame,
        findings=tuple(no_column(file, name, kind.name) for name in missing),
    )


def _called(loaves: TypedTable, card: TrialCard) -> dict[str, str]:
    """Return what the trial's own columns are called in its file, where nouns have capitals there
    (German); elsewhere a name inside a sentence begins small.
    """
    texts = [header.text for header in loaves.headers]
    if language_of(texts, vocabulary(card)) != "de":
        return {}
    own = [h for h in loaves.headers if h.name not in BY_NAME and h.text]
    return {h.name: bare_header(h.text) for h in own}


def _headers(typed: Mapping[str, TypedTable], loaves: pd.DataFrame) -> dict[str, str]:
    """Return the header of every column that holds what was read or planned, and not what was
    worked out anew.
    """
    read = typed["loaves"].frame
    given = [column.name for column in DERIVED if column.name in read]
    if given:
        read = read[read["line"].isin(loaves["line"])].reset_index(drop=True)
    worked_out = {name for name in given if not loaves[name].equals(read[name])}
    filled = {
        kind: set(typed[kind].frame) - set(_empty(typed[kind].frame))
        for kind in ("plan", "loaves")
        if kind in typed
    }
    return {
        h.name: h.text
        for kind, names in filled.items()
        for h in typed[kind].headers
        if h.name not in worked_out and h.name in names
    }


def _empty(loaves: pd.DataFrame) -> list[str]:
    """Return the columns of words that nobody filled in: they are as good as not there."""
    return [
        str(name)
        for name, column in loaves.items()
        if name not in KEPT_EMPTY and column.dtype.kind not in "fiub" and column.array.isna().all()
    ]


def _numbered(loaves: pd.DataFrame, file: str) -> NotedTable:
    """Return the loaves with numbers of their own where nobody wrote any."""
    if "loaf" in loaves:
        return NotedTable(frame=loaves)
    numbers = pd.Series(range(1, len(loaves) + 1), index=loaves.index).astype(str).astype(object)
    told = (
        f"{file}: there is no column of loaf numbers; loaves are numbered in the order of the file."
    )
    return NotedTable(frame=loaves.assign(loaf=numbers), assumptions=(told,))


def _unmapped(records: Records) -> list[Finding]:
    """Return an error for every header that the card names and the file of loaves does not have."""
    file, texts = (
        records.raw["loaves"].file,
        [text for text in records.raw["loaves"].headers if text],
    )
    return [
        Finding(
            code="card-column",
            severity="error",
            file=FILE,
            column=name,
            message=(
                f"{FILE} says {name} = {header!r} under [columns], but {file} has no such header."
            ),
            why="Nothing can be read from a column that is not there.",
            fix=f"It has: {', '.join(texts)}.",
        )
        for name, header in records.card.columns.items()
        if not named_on_card(header, texts)
        and (name, header) != ("mix", OWN_DOUGH)
        and not any(
            columns_for(kind, raw, records.card).get(name) for kind, raw in records.raw.items()
        )
    ]


def _unknown_headers(typed: TypedTable, card: TrialCard, file: str) -> list[str]:
    """Return what is said of columns that neither the vocabulary nor the card knows."""
    known = {*card.columns, *card.measures, *card.factors} | {
        finding.column for finding in typed.findings
    }
    texts = [
        h.text
        for h in typed.headers
        if h.column is None and h.text and not known & {h.name, h.text}
    ]
    if not texts:
        return []
    return [
        f"{file}: kept as they are, under headers that are not known here:"
        f" {', '.join(map(repr, texts))}. What should count as more is renamed, or named on the"
        ' card under [columns], such as  day = "Baked when".'
    ]


def _factors(loaves: pd.DataFrame, card: TrialCard) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the factors, and what was taken for granted where the card names none."""
    factors = planned_factors(loaves, card)
    if card.factors:
        return factors, ()
    said = ", ".join(factors) if factors else "nothing that is known here"
    vary = "vary in the records and are" if len(factors) > 1 else "varies in the records and is"
    return factors, ((f"The card names no factors; {said} {vary} taken for what was changed."),)


def planned_factors(loaves: pd.DataFrame, card: TrialCard) -> tuple[str, ...]:
    """Return what was changed on purpose: the card's factors, or the usual columns that vary when
    it is silent.
    """
    if card.factors:
        return tuple(card.factors)
    varied = []
    for name in (*FACTOR_COLUMNS, *_columns_differ_in(card)):
        if name not in loaves or (name == "proof_min" and card.proof_to == "height"):
            continue
        counts = loaves[name].value_counts()
        is_number = loaves[name].dtype.kind == "f"
        if len(counts) > 1 and not (
            is_number and (len(counts) > MOST_LEVELS_OF_A_NUMBER or counts.min() < 2)
        ):
            varied.append(name)
    return tuple(varied)


def _columns_differ_in(card: TrialCard) -> tuple[str, ...]:
    """Return what the columns of a wide sheet differ in, where it is nothing of the vocabulary."""
    over = card.wide.over if card.wide else None
    return (over,) if over and over not in BY_NAME and over not in (ASSESSOR, READING) else ()
