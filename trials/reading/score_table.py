"""Scores in the long form that the analysis takes, whichever way they were written down."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from ..card import TrialCard
from ..columns import CRUMB_PREFIX, KINDS, RECORDED
from ..findings import Finding, NotedTable
from ..tables import distinct
from ..words.lists import on_lines
from .headers import read_header, tidy_name
from .totals import is_summary
from .typed_table import TypedTable

ONE_ATTRIBUTE = "score"  # what is scored when nobody says it
ONE_ASSESSOR = "assessor 1"  # who scored when nobody says it
FIRST = ("line", "loaf", "assessor", "attribute", "score")


def long_scores(typed: TypedTable, card: TrialCard, file: str) -> NotedTable:
    """Return ``line, loaf, assessor, attribute, score`` and what else was recorded, from long
    scores or wide ones.

    Wide scores have a column an assessor (beside ``attribute``, or for one attribute) or a column
    an attribute (beside ``assessor``, or with the attributes of the card as headers).
    """
    if _waits(typed, card):
        return NotedTable(frame=no_scores())
    frame, told, findings = _long(typed, card, file)
    if "attribute" not in frame and "score" in frame:
        one = (
            card.scores.attributes[0]
            if card.scores and len(card.scores.attributes) == 1
            else ONE_ATTRIBUTE
        )
        frame = frame.assign(attribute=one)
        told.append(f"{file}: the scores are all taken to be for {one!r}.")
    missing = [name for name in ("loaf", "score") if name not in frame]
    if missing:
        return NotedTable(
            frame=no_scores(), findings=tuple(no_column(file, name, "scores") for name in missing)
        )
    if "assessor" not in frame:
        frame = frame.assign(assessor=ONE_ASSESSOR)
        told.append(
            f"{file}: there is no column of assessors; one person is taken to have scored"
            " everything."
        )
    frame = _with_card_spelling(frame, card)
    ordered = frame[[*FIRST, *(name for name in frame.columns if name not in FIRST)]]
    return NotedTable(
        frame=ordered,
        findings=tuple(findings),
        assumptions=(*told, *rows_without(typed, ordered, file, "score")),
    )


def _waits(typed: TypedTable, card: TrialCard) -> bool:
    """Return whether there is a column for every attribute of the card, and nobody has filled one
    in yet.
    """
    named = [name for name in typed.frame if _are_attributes([str(name)], card)]
    wanted = len(card.scores.attributes) if card.scores else 0
    return (
        len(named) == wanted > 0
        and "score" not in typed.frame
        and not value_columns(typed)
        and (bool(typed.frame[named].isna().all(axis=None)))
    )


def no_scores() -> pd.DataFrame:
    """Return a table of scores without a row."""
    return pd.DataFrame(
        {name: pd.Series(dtype=float if name == "score" else object) for name in FIRST}
    )


def no_column(file: str, name: str, kind: str) -> Finding:
    """Return the error for a table beside the loaves without a column that it needs."""
    return Finding(
        code="no-column",
        severity="error",
        file=file,
        column=name,
        message=f"{file}: there is no column {name}.",
        why=f"The {kind} cannot be used without it.",
        fix=f"Call the columns {KINDS[kind].is_called}, or take the file out of the trial.",
    )


def _long(
    typed: TypedTable, card: TrialCard, file: str
) -> tuple[pd.DataFrame, list[str], list[Finding]]:
    """Return the scores with a row a score, and what was assumed and found for that."""
    frame, values = typed.frame, value_columns(typed)
    if "score" in frame or not values:
        return frame, [], []
    headers = {header.name: header.text for header in typed.headers}
    totals = [name for name in values if is_summary(headers[name])]
    values = [name for name in values if name not in totals] or values
    findings = list(_unread(typed, values, totals, file))
    if {"assessor", "attribute"} <= set(frame):
        if len(values) > 1:
            return frame, [], findings  # which of them is the score is for the user to say
        told = f"{file}: the column {headers[values[0]]!r} is read as the score."
        return frame.rename(columns={values[0]: "score"}), [told], findings
    if "assessor" in frame or ("attribute" not in frame and _are_attributes(values, card)):
        over, words = "attribute", {name: name.removeprefix(CRUMB_PREFIX) for name in values}
    else:
        over, words = "assessor", {name: headers[name] for name in values}
    said = ", ".join(repr(headers[name]) for name in values)
    told = f"{file}: each of the columns {said} is read as one {over}."
    return melted(typed, values, over, "score", words), [told], findings


def _unread(
    typed: TypedTable, values: list[str], totals: list[str], file: str
) -> Iterator[Finding]:
    """Yield what is said of columns in a wide table that hold no scores, or only their means and
    totals.
    """
    strangers = [
        h
        for h in typed.headers
        if h.column is None
        and h.name not in values
        and h.text
        and h.name not in totals
        and read_header(h.text, RECORDED) is None
    ]
    for header in strangers:
        texts = typed.frame[header.name].dropna().unique()
        if len(texts):
            yield Finding(
                code="score-column-unread",
                severity="warning",
                file=file,
                column=header.name,
                message=(
                    f"The column {header.text!r} holds words such as {str(texts[0])[:40]!r};"
                    " nothing under it counts as a score."
                ),
                why="An assessor's scores would be missed by nobody.",
                fix="Write each score as a number of the scale; call a column of remarks note.",
            )
    if totals:
        said = ", ".join(repr(h.text) for h in typed.headers if h.name in totals)
        yield Finding(
            code="score-column-of-totals",
            severity="note",
            file=file,
            column=totals[0],
            message=(
                f"The column {said} is taken for a mean, a total or the like, and not for scores."
            ),
            why="It would count as one more assessor or attribute.",
            fix="Rename it if somebody or something is called so.",
        )


def rows_without(typed: TypedTable, long: pd.DataFrame, file: str, what: str) -> list[str]:
    """Return what is said of rows that wait to be filled in."""
    read = typed.frame["line"].to_numpy()
    lines = read[~np.isin(read, long["line"].to_numpy())].astype(int).tolist()
    return [f"{file}: there is no {what} on {on_lines(lines)}."] if lines else []


def value_columns(typed: TypedTable) -> list[str]:
    """Return the columns of a wide table that hold its values: numbers under a header outside the
    vocabulary.
    """
    known = {h.name for h in typed.headers if h.column and not h.name.startswith(CRUMB_PREFIX)}
    odd = set(typed.unreadable["column"])
    return [
        name
        for name in typed.frame.columns
        if name not in known
        and name != "line"
        and (typed.frame[name].dtype.kind == "f" or name in odd)
    ]


def _are_attributes(names: Sequence[str], card: TrialCard) -> bool:
    attributes = {tidy_name(a) for a in card.scores.attributes} if card.scores else set()
    return all(name.startswith(CRUMB_PREFIX) or name in attributes for name in names)


def melted(
    typed: TypedTable, values: list[str], over: str, into: str, words: dict[str, str]
) -> pd.DataFrame:
    """Return one row per value, in file order, without the cells that were left blank."""
    kept = [name for name in typed.frame.columns if name not in values]
    long = typed.frame.melt(
        id_vars=kept, value_vars=values, var_name=over, value_name=into, ignore_index=False
    )
    odd = pd.MultiIndex.from_frame(typed.unreadable[["line", "column"]])
    was_written = long[into].notna() | pd.MultiIndex.from_frame(long[["line", over]]).isin(odd)
    long = long[was_written].sort_index(kind="stable").reset_index(drop=True)
    return long.assign(**{over: long[over].map(words).astype(object)})


def _with_card_spelling(frame: pd.DataFrame, card: TrialCard) -> pd.DataFrame:
    """Return the scores with attributes spelled as on the card, where they differ in case or spaces
    only.
    """
    if not card.scores:
        return frame
    spelled = {tidy_name(a): a for a in card.scores.attributes}
    own = {
        text: spelled.get(tidy_name(text).removeprefix(CRUMB_PREFIX), text)
        for text in distinct(frame["attribute"])
    }
    return frame.assign(attribute=frame["attribute"].map(own).astype(object))
