"""Repeated readings of a loaf's volume."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd

from ..trial import Trial
from ..words.lists import listed, on_lines
from .check import MOST_TOLD, Spot, check, places, plain, rows_where
from .grouping import joint_codes
from .robust import MAD_TO_SD, Groups
from .values import not_numbers

# relative SD of one reading by seed displacement: common practice, no source
READING_SD = (0.01, 0.03)
SURE = 4.0  # a reading may be this many SDs from the middle of its loaf's


@check("reading-not-a-number", "error", "The reading would be lost unseen.", table="readings")
def readings_without_number(readings: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do readings hold numbers?"""
    yield from not_numbers(readings, "readings", trial)


@check(
    "reading-of-no-loaf",
    "error",
    "Nobody knows which loaf was read.",
    needs=["loaf"],
    table="readings",
)
def readings_of_no_loaf(readings: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every reading one of a loaf in the table?"""
    yield from strangers(readings, trial)


@check(
    "readings-apart",
    "warning",
    "Readings of one loaf that differ so much mean that one was misread.",
    needs=["loaf", "loaf_ml"],
    table="readings",
)
def readings_that_disagree(readings: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do readings of one loaf agree as seed displacement usually does?"""
    known = readings[readings["loaf"].notna() & readings["loaf_ml"].notna()]
    loaf, values = joint_codes(known, ["loaf"]), known["loaf_ml"].to_numpy()
    again = np.bincount(loaf)[loaf] > 1
    if not again.any():
        return
    count = np.bincount(loaf)[loaf][again]
    middle = Groups.of(loaf).medians(values)[loaf][again]
    with np.errstate(divide="ignore", invalid="ignore"):
        apart = np.abs(values[again] / middle - 1) / np.sqrt(1 - 1 / count)
    there = apart[apart > 0]
    usual = np.clip(np.median(there) / MAD_TO_SD, *READING_SD) if len(there) else np.inf
    rows = rows_where(known[again], np.isfinite(apart) & (apart > SURE * usual))
    if len(rows):
        names = rows["loaf"].unique()
        told = [
            f"{name}"
            f" ({listed([plain(v) for v in readings.loc[readings['loaf'] == name, 'loaf_ml']])} mL)"
            for name in names[:MOST_TOLD]
        ]
        yield Spot(
            message=(
                f"Volume readings disagree for loaf {listed(told, more=len(names) - len(told))}, "
                f"{on_lines(readings.loc[readings['loaf'].isin(names), 'line'])}."
            ),
            column="loaf_ml",
            rows=readings.loc[readings["loaf"].isin(names), "line"],
            fix=(
                "Read the volume again if the loaf is still there; otherwise strike the misread"
                " one."
            ),
        )


def strangers(table: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Yield a spot for rows whose loaf is not in the table of loaves."""
    if "loaf" not in trial.loaves:
        return
    rows = rows_where(table, ~table["loaf"].isin(trial.loaves["loaf"].dropna()))
    rows = rows.drop_duplicates("line")
    if len(rows):
        told = places(rows, lambda row: "no number" if pd.isna(row["loaf"]) else str(row["loaf"]))
        yield Spot(
            message=f"There is no such loaf in the table of loaves: {told}.",
            column="loaf",
            rows=rows["line"],
            fix="Correct the number, or add the loaf.",
        )
