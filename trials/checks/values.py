"""Numbers that cannot be, and numbers that are hard to believe, one row at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import BY_NAME, RECORDED, Column, label
from ..reading.totals import measurements
from ..tables import blank_rows, distinct
from ..trial import Trial
from ..words.lists import listed, on_lines
from .check import Spot, Table, check, places, plain, rows_where

POSITIVE = ("dough_g", "loaf_g", "loaf_ml", "box_ml", "height_mm", "bake_order", "measure_order")
NOT_NEGATIVE = ("proof_min", "seed_ml", "cool_min")
# worked out; the others follow from the same values
BELIEVED = ("specific_volume", "bake_loss_pct")
OPEN_TOP = 2.0  # most loaf volume / tin volume of an open tin: common practice, no source
# the same under a lid, for the error of measuring: common practice, no source
UNDER_LID = 1.05
TWO_VOLUMES = 0.01  # most relative difference between a written volume and box less seed
IMPOSSIBLE = ("value-not-positive", "gained-in-oven", "seed-above-box", "tin-overfull")
LONGEST_QUOTE = 40
MOST_BARE = 0.5  # of the lines, without any value: with more the trial is still under way
LIDDED = frozenset({"lid", "lidded", "with lid", "closed", "pullman"})
SLIPS = ("column-unit", "slip-unit", "slip-swap")


@check(
    "not-a-number",
    "error",
    "The cell is empty for every calculation, so that the loaf would be lost unseen.",
)
def cells_without_number(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do number columns hold numbers?"""
    yield from not_numbers(loaves, "loaves", trial)


@check(
    "void-not-a-number",
    "note",
    "No answer rests on a void loaf; what was written of it is named all the same.",
    needs=["void"],
    void_too=True,
)
def void_cells_without_number(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do number columns of void loaves hold numbers?"""
    for spot in not_numbers(loaves[loaves["void"].notna()], "loaves", trial):
        yield replace(spot, fix="Nothing to do while the loaf is void.")


@check("value-not-positive", "error", "No mass, volume or time is like that.", after=["slip-unit"])
def values_not_positive(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Are masses, volumes and times above zero?"""
    for name in POSITIVE + NOT_NEGATIVE:
        if name not in loaves or (name == "loaf_ml" and worked_out(name, trial)):
            continue
        values = loaves[name].to_numpy()
        low = values <= 0 if name in POSITIVE else values < 0
        if low.any():
            rows = loaves[low]
            least = "zero or less" if name in POSITIVE else "negative"
            yield Spot(
                message=f"{BY_NAME[name].label} is {least} on {places(rows, valued(name))}.",
                column=name,
                rows=rows["line"],
                fix="Correct it; empty the cell if it was not measured.",
            )


@check(
    "gained-in-oven",
    "error",
    "A loaf loses water in the oven.",
    needs=["dough_g", "loaf_g"],
    after=[*SLIPS, "value-not-positive"],
)
def loaves_that_gained_mass(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every loaf lighter than its dough?"""
    rows = rows_where(loaves, loaves["loaf_g"] >= loaves["dough_g"])
    if len(rows):
        told = places(
            rows, lambda row: f"{plain(row['loaf_g'])} g from {plain(row['dough_g'])} g of dough"
        )
        yield Spot(
            message=f"The baked mass is not below the dough mass on {told}.",
            column="loaf_g",
            rows=rows["line"],
            fix="Look whether two columns or two loaves were exchanged; weigh again.",
        )


@check(
    "seed-above-box",
    "error",
    "The loaf would have no volume.",
    needs=["box_ml", "seed_ml"],
    after=[*SLIPS, "value-not-positive"],
)
def more_seed_than_box(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is less seed left around the loaf than fills the empty box?"""
    rows = rows_where(loaves, loaves["seed_ml"] >= loaves["box_ml"])
    if len(rows):
        told = places(
            rows, lambda row: f"{plain(row['seed_ml'])} mL of seed, {plain(row['box_ml'])} mL box"
        )
        yield Spot(
            message=f"There is as much seed as fills the empty box on {told}.",
            column="seed_ml",
            rows=rows["line"],
            fix="seed_ml is the seed that fits in around the loaf; measure again.",
        )


@check(
    "tin-overfull",
    "error",
    "The loaf cannot be as big as that in this tin.",
    needs=["tin", "loaf_ml"],
    after=SLIPS,
)
def loaves_bigger_than_tin(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does every loaf fit its tin, with the rise that an open top allows?"""
    volumes = loaves["loaf_ml"].to_numpy()
    for name, tin in trial.card.tins.items():
        most = UNDER_LID if tin.lid else OPEN_TOP
        bigger = volumes > most * (tin.volume_ml or np.inf)
        if not bigger.any():
            continue
        rows = loaves[bigger & (loaves["tin"] == name)]
        if len(rows):
            held = "under a lid" if tin.lid else "with an open top"
            yield Spot(
                message=f'Loaf volume is more than {most:g} times that of the tin "{name}" '
                f"({plain(tin.volume_ml or 0)} mL, {held}) on {places(rows, valued('loaf_ml'))}.",
                column="loaf_ml",
                rows=rows["line"],
                fix="Measure again, or correct the tin or its volume on the card.",
            )


@check(
    "tin-not-on-card",
    "note",
    "Fill and overfilling are not looked at for a tin of unknown volume.",
    needs=["tin"],
    after=["names-alike", "level-not-on-card"],
)
def tins_not_on_card(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does the card tell the volume of every tin?"""
    unknown = [str(tin) for tin in distinct(loaves["tin"]) if str(tin) not in trial.card.tins]
    unknown = [tin for tin in unknown if tin.casefold() not in LIDDED]
    if trial.card.tins and unknown:
        yield Spot(
            message=(
                "The card has no volume for the tin"
                f" {listed(unknown[:10], more=len(unknown[10:]))}."
            ),
            column="tin",
            fix=f"Add  [tins.{unknown[0]}]  with volume_ml and lid.",
        )


@check(
    "lid-not-on-card",
    "warning",
    "A loaf that fills a lidded tin can get no bigger; it is compared as if it could.",
    needs=["tin", "loaf_ml"],
    after=["names-alike", "level-not-on-card"],
)
def lids_not_on_card(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does the card know of every lid?"""
    for tin in distinct(loaves["tin"]):
        if str(tin).casefold() in LIDDED and str(tin) not in trial.card.tins:
            yield Spot(
                message=f'The tin "{tin}" seems to have a lid, and the card does not say so.',
                column="tin",
                rows=loaves.loc[loaves["tin"] == tin, "line"],
                fix=f'Write on the card  [tins."{tin}"]  with  lid = true  and its volume_ml.',
            )


@check(
    "volume-two-ways",
    "warning",
    "Two readings of one volume should agree; the written one is used.",
    needs=["loaf_ml", "box_ml", "seed_ml"],
    after=[*SLIPS, *IMPOSSIBLE],
)
def volumes_that_disagree(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is a written volume the box's less the seed's?"""
    worked_out = loaves["box_ml"] - loaves["seed_ml"]
    apart = (loaves["loaf_ml"] - worked_out).abs()
    rows = rows_where(loaves, apart > TWO_VOLUMES * loaves["loaf_ml"])
    if len(rows):
        told = places(
            rows,
            lambda row: (
                f"{plain(row['loaf_ml'])} mL, box less seed "
                f"{plain(row['box_ml'] - row['seed_ml'])} mL"
            ),
        )
        yield Spot(
            message=f"Loaf volume disagrees with box less seed on {told}.",
            column="loaf_ml",
            rows=rows["line"],
            fix="Correct the wrong one, or empty the cell that was not measured.",
        )


@check(
    "value-unlikely",
    "warning",
    "Few loaves are like that (common practice); a unit or a digit may be wrong.",
    after=[*SLIPS, *IMPOSSIBLE, "volume-two-ways"],
)
def values_hard_to_believe(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do values lie where those of bread usually do?"""
    told: set[int] = set()
    for column in (*RECORDED, *(BY_NAME[name] for name in BELIEVED)):
        if column.kind == "number" and column.name in loaves:
            odd = outside(loaves[column.name].to_numpy(), column)
            if column.derived and odd.any():
                odd &= ~loaves["line"].isin(told).to_numpy()
            if odd.any():
                rows = loaves[odd]
                told |= set(rows["line"])
                yield Spot(
                    message=(
                        f"{column.label} is outside {between(column)} on "
                        f"{places(rows, valued(column.name))}."
                    ),
                    column=column.name,
                    rows=rows["line"],
                    fix="Check it against the bench sheet; leave it if it is right.",
                )


@check(
    "nothing-on-line",
    "warning",
    "A title, a legend or a line of another table would count as a loaf that was lost.",
    needs=["loaf"],
    after=["not-a-number", "row-of-totals"],
)
def lines_without_values(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is anything measured on every line, where most have it?"""
    names = [name for name in measurements(loaves) if name not in trial.card.factors]
    bare = blank_rows(loaves, names) if names else np.zeros(len(loaves), bool)
    if 0 < bare.sum() <= MOST_BARE * len(loaves):
        rows = loaves.loc[bare, "line"]
        loaf = loaves.loc[bare, "loaf"].dropna()
        quoted = [repr(str(name)[:LONGEST_QUOTE]) for name in loaf][:10]
        said = f" ({listed(quoted)})" if quoted else ""
        yield Spot(
            message=f"Nothing is measured on {on_lines(rows)}{said}.",
            rows=rows,
            fix="Delete what is no loaf; give a loaf that was lost its reason under void.",
        )


@check(
    "value-missing",
    "note",
    "A loaf without a value is left out of the answers that need it.",
    after=["not-a-number", "row-of-totals", "nothing-on-line"],
)
def values_missing(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every loaf that counts its mass and volume?"""
    asked = trial.card.measure or "loaf_ml"
    names = [
        "dough_g",
        "loaf_g",
        "loaf_ml",
        *([] if asked in BY_NAME and BY_NAME[asked].derived else [asked]),
    ]
    for name in dict.fromkeys(names):
        if name in loaves:
            missing = loaves[name].isna().to_numpy()
            if missing.any() and not missing.all():
                rows = loaves.loc[missing, "line"]
                told = f"{len(rows)} of {len(loaves)} loaves, on {on_lines(rows)}"
                yield Spot(
                    message=f"{label(name, trial.card)} is missing for {told}.",
                    column=name,
                    rows=rows,
                    fix="Fill it in if it was measured.",
                )


def worked_out(name: str, trial: Trial) -> bool:
    """Return whether this trial's column was worked out from others and not read from the file."""
    return bool(trial.headers) and name not in trial.headers


def not_numbers(table: pd.DataFrame, name: Table, trial: Trial) -> Iterator[Spot]:
    """Yield what is said of cells in number columns that hold something else, a spot a column."""
    here = trial.unreadable
    if here.empty:
        return
    here = here[here["file"] == trial.files.get(name, "")]
    for column, cells in here[here["line"].isin(table["line"])].groupby("column", sort=False):
        told = places(cells, lambda row: repr(str(row["text"])[:LONGEST_QUOTE]))
        yield Spot(
            message=f"There is no number under {column} on {told}.",
            column=str(column),
            rows=cells["line"],
            fix=(
                "Write a number (2.5 for 2 1/2), or empty the cell and say what happened under void"
                " or note."
            ),
        )


def outside(values: NDArray, column: Column) -> NDArray:
    """Return which values (n,) lie outside a column's plausible range."""
    low = -np.inf if column.low is None else column.low
    high = np.inf if column.high is None else column.high
    return (values < low) | (values > high)


def between(column: Column) -> str:
    """Return a plausible range in words: ``1.5 to 8 mL/g``."""
    ends = [plain(end) for end in (column.low, column.high) if end is not None]
    return f"{' to '.join(ends)} {column.unit}".strip()


def valued(name: str) -> Callable[[pd.Series], str]:
    """Return how one cell of a column is told: its number with its unit."""
    unit = BY_NAME[name].unit if name in BY_NAME else ""
    return lambda row: f"{plain(row[name])} {unit}".strip()
