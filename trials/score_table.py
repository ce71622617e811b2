"""Scores and volume readings in the long form that the analysis takes, whichever way they were written down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from .card import TrialCard
from .columns import CRUMB_PREFIX
from .headers import tidy_name
from .measures import volume_by_displacement
from .trial import Finding
from .typed_table import TypedTable

ONE_ATTRIBUTE = "score"     # what a score is called when nobody says what was scored


@dataclass(frozen=True, slots=True, kw_only=True)
class NotedTable:
    """A table with what was taken for granted and found in making it."""

    frame: pd.DataFrame
    assumptions: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def long_scores(typed: TypedTable, card: TrialCard, file: str) -> NotedTable:
    """Return ``line, loaf, assessor, attribute, score`` from long scores or from wide ones.

    Wide scores have a column an assessor (beside ``attribute``, or for one attribute) or a column an attribute
    (beside ``assessor``).
    """
    frame, told = typed.frame, []
    values = _value_columns(typed)
    if "score" not in frame and values:
        over = "attribute" if "assessor" in frame or ("attribute" not in frame and _are_attributes(values, card)) else (
            "assessor")
        headers = {h.name: h.text for h in typed.headers}
        words = {name: headers[name] if over == "assessor" else name.removeprefix(CRUMB_PREFIX) for name in values}
        frame = _melted(frame, values, over, words)
        told.append(f"{file}: the columns {', '.join(repr(headers[v]) for v in values)} are read as one {over} each.")
    if "attribute" not in frame and "score" in frame:
        one = card.scores.attributes[0] if card.scores and len(card.scores.attributes) == 1 else ONE_ATTRIBUTE
        frame = frame.assign(attribute=one)
        told.append(f"{file}: the scores are all taken to be for {one!r}.")
    frame = _with_card_spelling(frame, card)
    missing = [name for name in ("loaf", "score") if name not in frame]
    if missing:
        return NotedTable(frame=frame.iloc[:0].reindex(columns=["line", "loaf", "assessor", "attribute", "score"]),
                         findings=(_no_column(file, missing),))
    if "assessor" not in frame:
        frame = frame.assign(assessor="assessor 1")
        told.append(f"{file}: there is no column of assessors; one person is taken to have scored everything.")
    first = ["line", "loaf", "assessor", "attribute", "score"]
    ordered = frame[[*first, *(name for name in frame.columns if name not in first)]]
    return NotedTable(frame=ordered, assumptions=tuple(told))


def _value_columns(typed: TypedTable) -> list[str]:
    """Return the columns of a wide table that hold scores: numbers under a header outside the vocabulary."""
    known = {h.name for h in typed.headers if h.column and not h.name.startswith(CRUMB_PREFIX)}
    return [name for name in typed.frame.columns
            if name not in known and name != "line" and typed.frame[name].dtype.kind == "f"]


def _are_attributes(names: Sequence[str], card: TrialCard) -> bool:
    attributes = {tidy_name(a) for a in card.scores.attributes} if card.scores else set()
    return all(name.startswith(CRUMB_PREFIX) or name in attributes for name in names)


def _melted(frame: pd.DataFrame, values: list[str], over: str, words: dict[str, str]) -> pd.DataFrame:
    """Return one row per score, in file order, without the cells that were left blank."""
    kept = [name for name in frame.columns if name not in values]
    long = frame.melt(id_vars=kept, value_vars=values, var_name=over, value_name="score", ignore_index=False)
    long = long[long["score"].notna()].sort_index(kind="stable").reset_index(drop=True)
    return long.assign(**{over: long[over].map(words).astype(object)})


def _with_card_spelling(frame: pd.DataFrame, card: TrialCard) -> pd.DataFrame:
    """Return the frame with attributes spelled as on the card, where they differ in case or spaces only."""
    if "attribute" not in frame or not card.scores:
        return frame
    spelled = {tidy_name(a): a for a in card.scores.attributes}
    own = {text: spelled.get(tidy_name(text).removeprefix(CRUMB_PREFIX), text)
           for text in frame["attribute"].dropna().unique()}
    return frame.assign(attribute=frame["attribute"].map(own).astype(object))


def _no_column(file: str, missing: list[str]) -> Finding:
    return Finding(
        code="no-column", severity="error", file=file, message=f"{file}: no column {' and no column '.join(missing)}.",
        why="A score without its loaf says nothing.", fix="Call the columns loaf, assessor, attribute and score.")


def long_readings(typed: TypedTable, file: str) -> NotedTable:
    """Return ``line, loaf, loaf_ml`` from repeated volume readings, one or several columns of them, in mL."""
    frame, told = typed.frame, []
    if "loaf_ml" not in frame and {"box_ml", "seed_ml"} <= set(frame.columns):
        frame = frame.assign(loaf_ml=volume_by_displacement(frame["box_ml"], frame["seed_ml"]))
        told.append(f"{file}: loaf volume is box_ml − seed_ml.")
    wide = _value_columns(typed)
    if "loaf_ml" not in frame and wide:
        words = {name: name for name in wide}
        frame = _melted(frame, wide, "repeat", words).rename(columns={"score": "loaf_ml"})
        told.append(f"{file}: the columns {', '.join(wide)} are read as one volume reading each, in mL.")
    missing = [name for name in ("loaf", "loaf_ml") if name not in frame]
    if missing:
        return NotedTable(frame=pd.DataFrame({"line": [], "loaf": [], "loaf_ml": []}).astype({"loaf": object}),
                         findings=(_no_column(file, missing),))
    first = ["line", "loaf", "loaf_ml"]
    ordered = frame[[*first, *(name for name in frame.columns if name not in first)]]
    return NotedTable(frame=ordered, assumptions=tuple(told))


def with_mean_readings(loaves: pd.DataFrame, readings: pd.DataFrame, file: str) -> NotedTable:
    """Return the loaves with the mean of their readings as volume, where none was recorded.

    A recorded volume stays; one that is not the mean of its readings (to the nearest mL) is a warning.
    """
    means = loaves["loaf"].map(readings.groupby("loaf")["loaf_ml"].mean()).astype(float)
    own = loaves["loaf_ml"] if "loaf_ml" in loaves else pd.Series(np.nan, index=loaves.index)
    differs = (own - means).abs() > 1.0
    told = f"{int((own.isna() & means.notna()).sum())} loaves have the mean of their readings in {file} as volume."
    findings = (_conflict(loaves, own, means, differs, file),) if differs.any() else ()
    assumptions = (told,) if (own.isna() & means.notna()).any() else ()
    return NotedTable(frame=loaves.assign(loaf_ml=own.fillna(means)), assumptions=assumptions, findings=findings)


def _conflict(loaves: pd.DataFrame, own: pd.Series, means: pd.Series, differs: pd.Series, file: str) -> Finding:
    first = differs.idxmax()
    return Finding(
        code="readings-conflict", severity="warning", column="loaf_ml", rows=tuple(loaves["line"][differs].astype(int)),
        message=f"loaf {loaves['loaf'][first]}: {own[first]:g} mL is recorded, but its readings in {file} have the mean "
                f"{means[first]:g} mL" + (f"; so have {int(differs.sum()) - 1} more." if differs.sum() > 1 else "."),
        why="The recorded volume is used; one of the two is wrong.",
        fix="Correct it, or leave the volume out of the loaves so that the mean of the readings is used.")
