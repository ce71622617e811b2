"""Scores one by one: on the scale, on its steps, of whom, of which loaf and for what."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from ..columns import CRUMB_PREFIX
from ..tables import distinct
from ..trial import Trial
from ..words.lists import listed, on_lines
from .check import Spot, check, places, plain, rows_where
from .names import spelled_two_ways
from .readings import strangers
from .values import not_numbers


@check("score-not-a-number", "error", "The score would be lost unseen.", table="scores")
def scores_without_number(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Are scores numbers?"""
    yield from not_numbers(scores, "scores", trial)


@check(
    "score-off-scale",
    "error",
    "It is a slip, or the scale on the card is not the one that was used.",
    needs=["score"],
    table="scores",
)
def scores_off_scale(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every score on the card's scale?"""
    yield from off_scale(scores, "score", trial)


@check(
    "crumb-off-scale",
    "error",
    "It is a slip, or the scale on the card is not the one that was used.",
)
def crumb_off_scale(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every crumb score on the card's scale?"""
    for name in crumb_columns(loaves):
        yield from off_scale(loaves, name, trial)


@check(
    "score-between-steps",
    "warning",
    "Halves on a scale of whole steps are another scale; few use it alike.",
    needs=["score"],
    table="scores",
)
def scores_between_steps(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every score a step of the card's scale?"""
    yield from between_steps(scores, "score", trial)


@check(
    "crumb-between-steps",
    "warning",
    "Halves on a scale of whole steps are another scale; few use it alike.",
)
def crumb_between_steps(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every crumb score a step of the card's scale?"""
    for name in crumb_columns(loaves):
        yield from between_steps(loaves, name, trial)


@check(
    "score-of-no-loaf",
    "error",
    "Nobody knows which loaf was scored.",
    needs=["loaf"],
    table="scores",
)
def scores_of_no_loaf(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every score one of a loaf in the table?"""
    yield from strangers(scores, trial)


@check(
    "score-label-missing", "error", "A score belongs to somebody and to something.", table="scores"
)
def score_labels_missing(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is it known of every score who gave it, and for what?"""
    for name in ("assessor", "attribute"):
        if name in scores:
            missing = scores[name].array.isna()
            if missing.any():
                rows = scores.loc[missing, "line"]
                yield Spot(
                    message=f"The {name} is missing on {on_lines(rows)}.",
                    column=name,
                    rows=rows,
                    fix="Fill it in from the score sheet.",
                )


@check(
    "score-twice",
    "error",
    "One of them is another loaf's or another person's score.",
    needs=["loaf", "assessor", "attribute", "score"],
    table="scores",
)
def scores_given_twice(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did everybody score a loaf once for an attribute, where no repeat is recorded?"""
    keys = ["loaf", "assessor", "attribute", *(["repeat"] if "repeat" in scores else [])]
    rows = rows_where(scores, scores.duplicated(keys, keep=False))
    if len(rows):
        told = places(
            rows, lambda row: f"loaf {row['loaf']}, {row['assessor']}, {row['attribute']}"
        )
        yield Spot(
            message=(
                f"A score stands more than once for the same loaf, assessor and attribute: {told}."
            ),
            column="score",
            rows=rows["line"],
            fix=(
                "Correct the loaf or the name; call the column of names  assessor, if there is"
                " none; or number second looks in a column  repeat."
            ),
        )


@check("score-names-alike", "error", "One person would be taken for two.", table="scores")
def score_names_alike(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every assessor and every attribute spelled in one way?"""
    for name in ("assessor", "attribute"):
        if name in scores:
            yield from spelled_two_ways(scores, name)


@check(
    "attribute-not-on-card",
    "warning",
    "It may be another one misspelled; it is kept apart from the card's.",
    needs=["attribute"],
    table="scores",
    after=["score-names-alike"],
)
def attributes_not_on_card(scores: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every attribute that was scored one that the card names?"""
    planned = trial.card.scores.attributes if trial.card.scores else ()
    for name in distinct(scores["attribute"]) if planned else ():
        if name not in planned:
            rows = scores.loc[scores["attribute"] == name, "line"]
            yield Spot(
                message=f'The attribute "{name}" is not on the card, {on_lines(rows)}.',
                column="attribute",
                rows=rows,
                fix=f"The card has {listed(planned)}: write one of these, or add it.",
            )


def crumb_columns(loaves: pd.DataFrame) -> list[str]:
    """Return the columns of crumb scores that hold numbers."""
    return [
        str(name)
        for name in loaves
        if str(name).startswith(CRUMB_PREFIX) and loaves[name].dtype.kind == "f"
    ]


def off_scale(table: pd.DataFrame, column: str, trial: Trial) -> Iterator[Spot]:
    """Yield a spot for scores beyond the ends of the card's scale."""
    scale = trial.card.scores
    if not scale:
        return
    values = table[column].to_numpy()
    rows = rows_where(table, (values < scale.low) | (values > scale.high))
    if len(rows):
        yield Spot(
            message=(
                f"The scale goes from {plain(scale.low)} to {plain(scale.high)}; {column} is off it"
                f" on {places(rows, lambda row: plain(row[column]))}."
            ),
            column=column,
            rows=rows["line"],
            fix="Correct the score, or the scale on the card.",
        )


def between_steps(table: pd.DataFrame, column: str, trial: Trial) -> Iterator[Spot]:
    """Yield a spot for scores on the scale that are no step of it."""
    scale = trial.card.scores
    if not scale:
        return
    values = table[column].to_numpy()
    steps = (values - scale.low) / scale.step
    on_scale = (scale.low <= values) & (values <= scale.high)
    rows = rows_where(table, on_scale & (np.abs(steps - steps.round()) > 1e-6))
    if len(rows):
        yield Spot(
            message=(
                f"The scale has steps of {plain(scale.step)}; {column} lies between them on "
                f"{places(rows, lambda row: plain(row[column]))}."
            ),
            column=column,
            rows=rows["line"],
            fix=(
                "Correct the score, or write the step in use on the card:  step ="
                f" {plain(scale.step / 2)}"
            ),
        )
