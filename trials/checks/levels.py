"""The records against the card: are the planned levels, the control and the measure there?"""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches
from functools import partial

import numpy as np
import pandas as pd

from ..columns import BY_NAME, CRUMB_PREFIX
from ..tables import distinct
from ..trial import Trial
from ..words.lists import listed, on_lines
from .answerable import holds_values
from .check import MOST_TOLD, Spot, check, places, plain, rows_where
from .names import fold, said
from .values import valued

LEAST_FOR_CENTRE = 3  # numbers of two levels


@check(
    "level-not-on-card",
    "error",
    "The card says what was planned; one of the two is wrong.",
    void_too=True,
    after=["names-alike", "ditto-mark"],
)
def levels_not_on_card(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every level of a factor one that the card names?"""
    for name in text_factors(loaves, trial):
        planned = [str(level) for level in trial.card.factors[name]]
        unknown = strangers(loaves[name], planned)
        for level in unknown[:MOST_TOLD]:
            rows = loaves.loc[loaves[name] == level, "line"]
            near = get_close_matches(fold(level), [fold(p) for p in planned], n=1)
            fix = (
                f'Write "{planned[[fold(p) for p in planned].index(near[0])]}" if that is meant'
                if near
                else f"The card has {listed(planned)}: write one of these"
            )
            yield Spot(
                message=f'The {said(name)} "{level}" on {on_lines(rows)} is not on the card.',
                column=name,
                rows=rows,
                fix=f"{fix}, or add the level under [factors] on the card.",
            )
        if unknown[MOST_TOLD:]:
            rows = loaves.loc[loaves[name].isin(unknown[MOST_TOLD:]), "line"]
            yield Spot(
                message=(
                    f"{len(unknown) - MOST_TOLD} more levels under {name} are not on the card, on "
                    f"{on_lines(rows)}."
                ),
                column=name,
                rows=rows,
                fix=f"The card has {listed(planned)}.",
            )


@check(
    "level-off-plan",
    "warning",
    "What was done is not what was planned; the numbers as recorded are used.",
)
def numbers_off_plan(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every value of a factor with numbers one that was planned?"""
    centre = _centre_points(loaves, trial)
    for name in number_factors(loaves, trial):
        planned = np.array(trial.card.factors[name], dtype=float)
        values = loaves[name].to_numpy()
        as_planned = np.isclose(values[:, None], planned[None], rtol=1e-6).any(axis=1)
        rows = rows_where(loaves, ~as_planned & ~np.isnan(values) & ~centre)
        if len(rows):
            told = places(rows, valued(name))
            levels = listed([plain(p) for p in planned])
            yield Spot(
                message=f"The {said(name)} is not as planned ({levels}) on {told}.",
                column=name,
                rows=rows["line"],
                fix="Check the bench sheet; leave it if it was done so.",
            )


def _centre_points(loaves: pd.DataFrame, trial: Trial) -> np.ndarray:
    """Return which loaves (n,) have every number half-way between its two levels: a plan may ask
    for that.
    """
    numbers = list(number_factors(loaves, trial))
    levels = [trial.card.factors[name] for name in numbers]
    if len(numbers) < LEAST_FOR_CENTRE or any(len(two) != 2 for two in levels):
        return np.zeros(len(loaves), dtype=bool)
    half = np.array(levels, dtype=float).mean(axis=1)
    return np.isclose(loaves[numbers].to_numpy(dtype=float), half, rtol=1e-6).all(axis=1)


@check("level-never-baked", "warning", "What was never baked cannot be judged.", void_too=True)
def levels_never_baked(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Was every level on the card baked?"""
    if loaves.empty:
        return  # that nothing is baked is told by itself
    for name in text_factors(loaves, trial):
        planned = [str(level) for level in trial.card.factors[name]]
        present = set(distinct(loaves[name]))
        absent = [level for level in planned if level not in present]
        if absent and not strangers(loaves[name], planned):
            yield never_baked(name, absent)
    for name in number_factors(loaves, trial):
        values = loaves[name].dropna().unique()
        absent = [
            plain(float(p))
            for p in trial.card.factors[name]
            if not np.isclose(values, float(p)).any()
        ]
        if absent:
            yield never_baked(name, absent)


@check(
    "factor-no-column", "error", "The records do not say which loaf had which level.", void_too=True
)
def factors_without_column(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every factor on the card a column?"""
    for name in trial.card.factors:
        if name not in loaves:
            yield Spot(
                message=f'The card names the factor "{name}", but the table has no such column.',
                column=name,
                fix=f"{near_column(name, loaves)}add the column, or take the factor off the card.",
            )


@check(
    "measure-no-column",
    "error",
    "The trial's question cannot be answered without it.",
    void_too=True,
)
def measure_without_column(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is the measure that the card asks about recorded?"""
    name = trial.card.measure if len(loaves) else ""  # an empty table is told as such
    scores, names = trial.scores, (name, f"{CRUMB_PREFIX}{name}")
    scored = (
        scores is not None and "attribute" in scores and bool((scores["attribute"] == name).any())
    )
    if name and not scored and not any(map(partial(holds_values, loaves), names)):
        known = BY_NAME.get(name)
        how = (
            f"it is worked out as {known.meaning}: record what it needs, "
            if known and known.derived
            else ""
        )
        there = "Fill the column in, " if name in loaves else ""
        yield Spot(
            message=f'The card asks about "{name}", but the records do not hold it.',
            column=name,
            fix=(
                f"{how.capitalize() or there or near_column(name, loaves)}or name another measure"
                " on the card."
            ),
        )


@check("card-measure-no-column", "warning", "What the card says of it is not used.", void_too=True)
def measures_on_card_without_column(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every measure that the card describes a column?"""
    scored = (
        [f"{CRUMB_PREFIX}{name}" for name in distinct(trial.scores["attribute"])]
        if (trial.scores is not None and "attribute" in trial.scores)
        else []
    )
    there = [*map(str, loaves.columns), *scored, *BY_NAME, f"{CRUMB_PREFIX}total"]
    for name in trial.card.measures:
        if name not in there and name != trial.card.measure:
            near = get_close_matches(name, there, n=1)
            meant = f'Is "{near[0]}" meant? ' if near else ""
            yield Spot(
                message=f'The card describes the measure "{name}", but no column carries it.',
                column=name,
                fix=f"{meant}Correct the name on the card, or give its header under [columns].",
            )


@check(
    "control-not-baked",
    "warning",
    "There is nothing to hold the others against.",
    needs=["formula"],
    void_too=True,
)
def control_not_baked(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Was the control on the card baked?"""
    control = trial.card.control
    if control and "formula" not in trial.card.factors and not (loaves["formula"] == control).any():
        yield Spot(
            message=f'The card names "{control}" as the control, but no loaf has that formula.',
            column="formula",
            fix="Correct the name on the card or in the table.",
        )


def text_factors(loaves: pd.DataFrame, trial: Trial) -> list[str]:
    """Return the card's factors with named levels that have a column."""
    return [
        name
        for name, levels in trial.card.factors.items()
        if name in loaves and isinstance(levels[0], str)
    ]


def number_factors(loaves: pd.DataFrame, trial: Trial) -> list[str]:
    """Return the card's factors with numbers for levels that have a column of numbers."""
    return [
        name
        for name, levels in trial.card.factors.items()
        if name in loaves and isinstance(levels[0], float) and loaves[name].dtype.kind == "f"
    ]


def strangers(column: pd.Series, planned: list[str]) -> list[str]:
    """Return the levels in a column that nobody planned."""
    known = set(planned)
    return [level for level in distinct(column) if str(level) not in known]


def never_baked(name: str, absent: list[str]) -> Spot:
    """Return what is said of levels without a loaf."""
    return Spot(
        message=f"The card plans the {said(name)} {listed(absent)}, but no loaf has it.",
        column=name,
        fix="Take it off the card, or look for the missing rows.",
    )


def near_column(name: str, loaves: pd.DataFrame) -> str:
    """Return the start of a fix: which column may be meant."""
    there = [str(column) for column in loaves.columns if column != "line"]  # no column of the file
    near = get_close_matches(name, there, n=1)
    return (
        f'Is "{near[0]}" meant? Correct the card, '
        if near
        else "Give its header under [columns] on the card, "
    )
