"""Values that were copied and not measured: more alike than chance allows.

Rounded measurements agree now and then. Each check works out from the trial's own values how many
such agreements chance would give, and is silent unless it would seldom give one in the whole trial.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import BY_NAME, CRUMB_PREFIX, DERIVED, label, unit
from ..tables import number_columns
from ..trial import Trial
from ..words.lists import listed, on_lines
from .check import MOST_TOLD, Spot, check, plain
from .far import HELD
from .grouping import batch_codes, joint_codes
from .values import worked_out

CHANCE = 0.01
TWINS_BY_CHANCE, PERHAPS_BY_CHANCE = 0.01, 0.05
ABOVE_BY_CHANCE = 0.01
# differences inside groups from which a standard deviation is worked out
LEAST_FREE = 3
LEAST_DETERMINANT = 0.05  # of correlations: measures that tell the same are not counted as two
RUN_BY_CHANCE = 0.0005  # for each column and each kind of run
# never alike by intention, as a scaled dough may be
MEASURED = ("loaf_g", "loaf_ml", "seed_ml", "height_mm")
PLACES = ("line", "loaf", "bake_order", "measure_order", "oven_place", "note", "void")
SHORTEST_RUN = 4
FEW_LOAVES = 6
# from these it is worked out how many twins chance would give in all rows
ENOUGH_ROWS = 2000


@check("rows-alike", "warning", "A row that was copied to save typing is no second loaf.")
def rows_the_same_but_for_the_number(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every loaf values of its own?"""
    by_chance, same = twins(loaves, trial)
    if same and by_chance < TWINS_BY_CHANCE:
        yield Spot(
            message=f"Rows are the same but for the loaf's number: {told_twins(same)}.",
            rows=np.concatenate(same),
            fix="Enter what was measured on each loaf.",
        )


@check("rows-perhaps-alike", "note", "A row that was copied to save typing is no second loaf.")
def rows_perhaps_the_same(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every loaf values of its own, where chance makes two alike now and then?"""
    by_chance, same = twins(loaves, trial)
    if same and TWINS_BY_CHANCE <= by_chance < PERHAPS_BY_CHANCE:
        yield Spot(
            message=(
                f"Rows are the same but for the loaf's number: {told_twins(same)}. Chance gives"
                f" that in about one of {1 / by_chance:.0f} trials like this one."
            ),
            rows=np.concatenate(same),
            fix="Look whether one was copied; leave them if both were measured so.",
        )


def twins(loaves: pd.DataFrame, trial: Trial) -> tuple[float, list[NDArray]]:
    """Return how many pairs of rows would be alike by chance, and the lines of those that are; 0
    where none are.
    """
    measured = measured_columns(loaves, trial)
    derived = {column.name for column in DERIVED}
    setting = [
        str(name)
        for name in loaves
        if name not in measured and name not in PLACES and name not in derived
    ]
    if len(measured) < 2 or len(loaves) < FEW_LOAVES:
        return 0.0, []
    known = with_all(loaves, measured)
    if len(known) < FEW_LOAVES:
        return 0.0, []
    codes = joint_codes(known, measured)
    if codes.max() + 1 == len(codes):
        return 0.0, []
    codes = joint_codes(known, [*setting, *measured])
    again = np.bincount(codes)[codes] > 1
    if not again.any():
        return 0.0, []
    first = known.head(ENOUGH_ROWS)
    by_chance = expected_twins(first, measured, setting) * len(known) / len(first)
    lines = known.loc[again, "line"].groupby(codes[again], sort=False)
    return by_chance, [own.to_numpy() for _, own in lines]


def with_all(loaves: pd.DataFrame, measured: list[str]) -> pd.DataFrame:
    """Return the loaves of which all of this was measured."""
    lacking = np.any([loaves[name].array.isna() for name in measured], axis=0)
    return loaves[~lacking] if lacking.any() else loaves


def told_twins(same: list[NDArray]) -> str:
    """Return the lines of rows that are alike, as a sentence lists them."""
    told = [on_lines(lines) for lines in same[:MOST_TOLD]]
    return listed(told, more=len(same) - len(told))


@check(
    "row-above",
    "warning",
    "Values copied from the row above are no second loaf's.",
    after=["rows-alike"],
)
def rows_like_the_one_above(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does no row repeat all the values of the row above, whatever was set for the two loaves?"""
    measured = measured_columns(loaves, trial)
    if len(measured) < 2 or len(loaves) < FEW_LOAVES:
        return
    known = with_all(loaves, measured).sort_values("line", kind="stable")
    if len(known) < FEW_LOAVES:
        return
    again = np.arange(len(known)) > 0
    for name in measured:
        values = known[name].to_numpy()
        again[1:] &= values[1:] == values[:-1]
    if not again.any():
        return
    first = known.head(ENOUGH_ROWS)
    by_chance = chance_alike(first, measured, batch_codes(first)) * (len(known) - again.sum())
    if by_chance < ABOVE_BY_CHANCE:
        rows = known[again]
        yield Spot(
            message=f"Every measured value is that of the row above on {on_lines(rows['line'])}.",
            rows=rows["line"],
            fix="Enter what was measured on each loaf; leave it if the two came out alike.",
        )


@check("values-run", "warning", "A value that was dragged down a column is not a measurement.")
def values_copied_down(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does no value run on down a column, the same or counting up by one?"""
    for name in MEASURED:
        if name in loaves and not worked_out(name, trial):
            values = loaves[name].to_numpy()
            for step, how in ((0.0, "stays the same"), (1.0, "counts up by one")):
                runs = long_runs(values, step)
                if runs:
                    line = loaves["line"].to_numpy()
                    told = [
                        f"{end - start} loaves ({plain(values[start])}, line {line[start]} to"
                        f" {line[end - 1]})"
                        for start, end in runs[:MOST_TOLD]
                    ]
                    yield Spot(
                        message=(
                            f"{BY_NAME[name].label} {how} over"
                            f" {listed(told, more=len(runs) - len(told))}."
                        ),
                        column=name,
                        rows=np.concatenate([line[start:end] for start, end in runs]),
                        fix="Enter what was measured on each loaf.",
                    )


@check(
    "values-constant", "warning", "No two loaves come out of the oven alike: it may be a target."
)
def columns_of_one_value(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do measured values differ from loaf to loaf?"""
    for name in [*MEASURED, *filter(is_crumb, number_columns(loaves))]:
        if name in loaves and not worked_out(name, trial):
            values = loaves[name].dropna()
            if len(values) >= FEW_LOAVES and values.nunique() == 1:
                yield Spot(
                    message=(
                        f"{label(name, trial.card)} is {plain(values.iloc[0])}"
                        f" {unit(name, trial.card)} for all {len(values)} loaves."
                    ),
                    column=name,
                    fix="Enter what was measured on each loaf.",
                )


@check("columns-copied", "warning", "One of the two was pasted over the other.")
def columns_the_same(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does every column hold values of its own?"""
    numbers = {
        name: loaves[name].to_numpy()
        for name in number_columns(loaves)
        if name in HELD + MEASURED or is_crumb(name)
    }
    for one, other in combinations(numbers, 2):
        if not np.array_equal(numbers[one], numbers[other], equal_nan=True):
            continue
        values = loaves[one].dropna()
        if len(values) >= FEW_LOAVES and by_chance(values) < CHANCE:
            yield Spot(
                message=f"The columns {one} and {other} hold the same {len(values)} values.",
                column=other,
                fix="Enter the values of each column again.",
            )


def measured_columns(loaves: pd.DataFrame, trial: Trial) -> list[str]:
    """Return the columns that hold what was measured on each loaf, none that was worked out."""
    return [
        name
        for name in number_columns(loaves)
        if (name in HELD + MEASURED or is_crumb(name)) and not worked_out(name, trial)
    ]


def expected_twins(loaves: pd.DataFrame, measured: list[str], setting: list[str]) -> float:
    """Return how many pairs of rows alike in ``setting`` would have all of ``measured`` alike by
    chance.
    """
    groups = joint_codes(loaves, setting)
    sizes = np.bincount(groups)
    pairs = float((sizes * (sizes - 1) / 2).sum())
    return pairs * chance_alike(loaves, measured, groups) if pairs else 0.0


def chance_alike(loaves: pd.DataFrame, measured: list[str], groups: NDArray) -> float:
    """Return the chance that two rows of one group (codes, (n,)) agree in all of ``measured``.

    Two values of a normal measure with standard deviation s, written to a step h, agree with chance
    h / (2 √π s); for measures that go together the product is divided by the root of their
    correlations' determinant.
    """
    values = loaves[measured].to_numpy(dtype=float)
    covariance = spread(values, [groups, batch_codes(loaves), np.zeros(len(loaves), int)])
    step = np.array([np.diff(np.unique(column)).min(initial=np.inf) for column in values.T])
    with np.errstate(divide="ignore"):
        alike = step / (2 * np.sqrt(np.pi * np.diag(covariance)))
    telling = alike < 1
    scale = np.sqrt(np.diag(covariance)[telling])
    together = np.linalg.det(covariance[np.ix_(telling, telling)] / np.outer(scale, scale))
    return float(np.prod(alike[telling]) / np.sqrt(max(together, LEAST_DETERMINANT)))


def spread(values: NDArray, groupings: list[NDArray]) -> NDArray:
    """Return the pooled covariance of ``values`` (n, k) inside the first grouping that has enough
    in its groups.
    """
    for groups in groupings:
        free = len(groups) - int(groups.max(initial=-1)) - 1
        if free >= LEAST_FREE:
            break
    residuals = values - pd.DataFrame(values).groupby(groups).transform("mean").to_numpy()
    return residuals.T @ residuals / max(free, 1)


def is_crumb(name: str) -> bool:
    """Return whether a column holds crumb scores."""
    return name.startswith(CRUMB_PREFIX)


def long_runs(values: NDArray, step: float) -> list[tuple[int, int]]:
    """Return the start and end of runs with one step from row to row that chance would seldom
    give.
    """
    follows = np.isclose(np.diff(values), step)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], follows, [False]]).astype(int)))
    runs = edges.reshape(-1, 2) + np.array([0, 1])
    lengths = runs[:, 1] - runs[:, 0]
    suspected = lengths >= SHORTEST_RUN
    if not suspected.any():
        return []
    inside = (lengths[suspected] - 1).sum()
    chance = (follows.sum() - inside + 1) / (len(follows) - inside + 1)
    unlikely = len(values) * chance ** (lengths - 1.0) < RUN_BY_CHANCE
    return [(int(start), int(end)) for start, end in runs[suspected & unlikely]]


def by_chance(values: pd.Series) -> float:
    """Return the chance that another column of such values agrees with this one in every row."""
    shares = values.value_counts(normalize=True)
    return float((shares**2).sum() ** len(values))
