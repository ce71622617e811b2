"""The scores of a trial as one table, a row a score, and what is missing from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches

import numpy as np
import pandas as pd

from ...trials import Trial, TrialError
from ...trials.columns import CRUMB_PREFIX

TOTAL = "total"  # crumb_total: the attributes weighted as the card says
MOST_ROUNDS, CLOSE = 500, 1e-10  # of the alternating means; points
COLUMNS = ["row", "assessor", "attribute", "score"]


def score_rows(trial: Trial, attributes: Sequence[str] | None = None) -> pd.DataFrame:
    """Return every score of a loaf that counts: row (of ``trial.loaves``), assessor, attribute,
    score.

    Scores of the panel come first; an attribute that no panel scored is taken from the loaves' own
    ``crumb_…`` column, with no assessor (missing). The same assessor, loaf and attribute twice is a
    repeat.

    Raises
    ------
    TrialError: nothing was scored, or an attribute that was asked for was not.
    """
    rows = _every_row(trial)
    if rows.empty:
        raise TrialError.one(
            "no-scores",
            "No loaf that counts has a score.",
            "Add scores.csv with the columns loaf, assessor, attribute, score, or columns crumb_…"
            " to the loaves.",
        )
    present = attribute_order(trial, rows)
    for wanted in attributes or ():
        if wanted not in present:
            near = get_close_matches(wanted, present, n=1)
            fix = f"Did you mean {near[0]!r}?" if near else f"There are: {', '.join(present)}."
            raise TrialError.one(
                "no-such-attribute", f"Nobody scored an attribute {wanted!r}.", fix
            )
    return rows[rows["attribute"].isin(attributes)] if attributes else rows


def measure_rows(trial: Trial, measure: str) -> pd.DataFrame:
    """Return the scores of one measure, ``crumb_<attribute>`` or ``crumb_total``, repeats by their
    mean.

    As of `score_rows`, one row a loaf and assessor; empty where the measure is none that was
    scored.
    """
    if not measure.startswith(CRUMB_PREFIX):
        return pd.DataFrame(columns=["row", "assessor", "score"])
    attribute, rows = measure.removeprefix(CRUMB_PREFIX), _every_row(trial)
    own = rows[rows["attribute"] == attribute]
    if own.empty and attribute == TOTAL and trial.card.scores:
        own = total_rows(rows, trial.card.scores.weights)
    return own.groupby(["row", "assessor"], dropna=False)["score"].mean().reset_index()


def scored_measures(trial: Trial) -> list[str]:
    """Return the names of the measures that were scored, ``crumb_total`` aside."""
    return [
        f"{CRUMB_PREFIX}{attribute}" for attribute in dict.fromkeys(_every_row(trial)["attribute"])
    ]


def attribute_order(trial: Trial, rows: pd.DataFrame) -> list[str]:
    """Return the attributes that were scored, in the card's order, then as they come."""
    found = list(dict.fromkeys(rows["attribute"]))
    planned = [
        name
        for name in (trial.card.scores.attributes if trial.card.scores else ())
        if name in found
    ]
    return [*planned, *(name for name in found if name not in planned)]


def total_rows(rows: pd.DataFrame, weights: Mapping[str, float]) -> pd.DataFrame:
    """Return the weighted total of each loaf and assessor with every part of it; empty without
    weights.

    ``weights`` add up to 100; a repeated score counts by its mean. A part scored once a loaf, by
    nobody named, is the same for everybody who scored the others.
    """
    parts = rows[rows["attribute"].isin(weights)]
    if not weights or parts["attribute"].nunique() < len(weights):
        return pd.DataFrame(columns=COLUMNS)
    named = parts["assessor"].notna()
    by_loaf = parts[~named].pivot_table(index="row", columns="attribute", values="score")
    wide = parts[named].pivot_table(index=["row", "assessor"], columns="attribute", values="score")
    wide = wide.join(by_loaf, on="row") if named.any() else by_loaf
    total = (wide[list(weights)].dropna() * pd.Series(weights)).sum(axis=1) / 100
    return total.rename("score").reset_index().assign(attribute=TOTAL).reindex(columns=COLUMNS)


def loaf_scores(rows: pd.DataFrame) -> pd.Series:
    """Return row (a loaf) → its score from everybody, so that a score can be sorted and drawn as
    any other measure.

    Score = loaf + assessor, by least squares (alternating means until they settle): where everybody
    scored every loaf this is the loaf's plain mean, and elsewhere no loaf gains by having met the
    milder assessors.
    rows : row, assessor (missing: the loaf's only score), score
    """
    loaf, assessor, score = (
        rows["row"],
        rows["assessor"].astype(object).fillna(""),
        rows["score"].astype(float),
    )
    severity = pd.Series(0.0, index=assessor.unique())
    for _ in range(MOST_ROUNDS):
        means = (score - assessor.map(severity)).groupby(loaf).mean()
        found = (score - loaf.map(means)).groupby(assessor).mean()
        found -= np.average(found, weights=assessor.value_counts().reindex(found.index))
        settled = float((found - severity).abs().max()) < CLOSE
        severity = found
        if settled:
            break
    return means


def is_complete(rows: pd.DataFrame) -> bool:
    """Return whether every assessor scored every loaf in every attribute."""
    cells = rows[["assessor", "row", "attribute"]].drop_duplicates()
    return (
        len(cells)
        == cells["assessor"].nunique() * cells["row"].nunique() * cells["attribute"].nunique()
    )


def _every_row(trial: Trial) -> pd.DataFrame:
    """The panel's scores, then those of the loaves' own columns for attributes that no panel
    scored.
    """
    panel = _panel_rows(trial)
    tables = [table for table in (panel, _loaf_rows(trial, set(panel["attribute"]))) if len(table)]
    return pd.concat(tables or [panel], ignore_index=True)


def _panel_rows(trial: Trial) -> pd.DataFrame:
    if trial.scores is None or "loaf" not in trial.counted:
        return pd.DataFrame(columns=COLUMNS)
    known = trial.scores.dropna(subset=["loaf", "assessor", "attribute", "score"])
    loaves = trial.counted["loaf"].dropna().drop_duplicates()
    row_of = pd.Series(loaves.index, index=loaves.astype(str).to_numpy())
    rows = known.assign(row=known["loaf"].astype(str).map(row_of)).dropna(subset=["row"])
    return rows.assign(
        assessor=rows["assessor"].astype(str), row=rows["row"].astype(loaves.index.dtype)
    )[COLUMNS]


def _loaf_rows(trial: Trial, scored: set[str]) -> pd.DataFrame:
    tables = []
    for column in trial.counted.columns:
        attribute = column.removeprefix(CRUMB_PREFIX)
        if (
            column.startswith(CRUMB_PREFIX)
            and attribute not in scored
            and trial.counted[column].notna().any()
        ):
            score = trial.counted[column].dropna()
            nobody = pd.Series([None] * len(score), dtype=object)
            tables.append(
                pd.DataFrame(
                    {
                        "row": score.index,
                        "assessor": nobody,
                        "attribute": attribute,
                        "score": score.to_numpy(float),
                    }
                )
            )
    return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame(columns=COLUMNS)
