"""Repeated volume readings of a loaf, and what they say of the loaf's volume."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..findings import Finding, NotedTable
from ..reading.score_table import melted, no_column, rows_without, value_columns
from ..reading.typed_table import TypedTable
from ..tables import blank_rows
from .measures import volume_by_displacement

FIRST = ("line", "loaf", "loaf_ml")
GIVEN = ("line", "loaf", "repeat")
SAME_ML = 1.0  # a recorded volume this close to the mean of its readings is that mean, rounded


def long_readings(typed: TypedTable, file: str) -> NotedTable:
    """Return ``line, loaf, loaf_ml`` and what else was recorded, from one column of readings or
    several, in mL.
    """
    frame, told = typed.frame, []
    wide = value_columns(typed)
    if "loaf_ml" not in frame and {"box_ml", "seed_ml"} <= set(frame.columns):
        frame = frame.assign(loaf_ml=volume_by_displacement(frame["box_ml"], frame["seed_ml"]))
        told.append(f"{file}: loaf volume is the empty box less the seed left over.")
    elif "loaf_ml" not in frame and wide:
        frame = melted(typed, wide, "repeat", "loaf_ml", {name: name for name in wide})
        told.append(
            f"{file}: each of the columns {', '.join(wide)} is read as one volume reading in mL."
        )
    missing = [name for name in ("loaf", "loaf_ml") if name not in frame]
    if missing:
        none = pd.DataFrame(
            {name: pd.Series(dtype=float if name == "loaf_ml" else object) for name in FIRST}
        )
        return NotedTable(
            frame=none, findings=tuple(no_column(file, name, "readings") for name in missing)
        )
    ordered = frame[[*FIRST, *(name for name in frame.columns if name not in FIRST)]]
    filled = _filled(ordered, typed)
    return NotedTable(
        frame=filled, assumptions=(*told, *rows_without(typed, filled, file, "reading"))
    )


def _filled(readings: pd.DataFrame, typed: TypedTable) -> pd.DataFrame:
    """Return the readings without rows that wait to be filled in: a loaf, which reading of it, and
    nothing more.
    """
    waiting = blank_rows(readings, [str(name) for name in readings if name not in GIVEN])
    if waiting.any():
        waiting &= ~readings["line"].isin(typed.unreadable["line"]).to_numpy()
        readings = readings[~waiting]
    return readings.reset_index(drop=True)


def with_mean_readings(loaves: pd.DataFrame, readings: pd.DataFrame, file: str) -> NotedTable:
    """Return the loaves with the mean of their readings as volume, where no volume was recorded.

    A recorded volume stays; one that is not the mean of its readings is a warning.
    """
    means = loaves["loaf"].map(readings.groupby("loaf")["loaf_ml"].mean()).astype(float)
    own = loaves["loaf_ml"] if "loaf_ml" in loaves else pd.Series(np.nan, index=loaves.index)
    filled = int((own.isna() & means.notna()).sum())
    told = f"{filled} loaves have the mean of their readings in {file} as their volume."
    differs = (own - means).abs() > SAME_ML
    return NotedTable(
        frame=loaves.assign(loaf_ml=own.fillna(means)),
        assumptions=(told,) if filled else (),
        findings=(
            (_conflict(loaves[differs], own[differs], means[differs], file),)
            if differs.any()
            else ()
        ),
    )


def _conflict(loaves: pd.DataFrame, own: pd.Series, means: pd.Series, file: str) -> Finding:
    """Return the warning for loaves whose recorded volume is not the mean of their readings."""
    more = f"; so have {len(loaves) - 1} more loaves" if len(loaves) > 1 else ""
    return Finding(
        code="readings-conflict",
        severity="warning",
        column="loaf_ml",
        rows=tuple(map(int, loaves["line"])),
        message=(
            f"Loaf {loaves['loaf'].iloc[0]} has {own.iloc[0]:g} mL recorded, but its readings in"
            f" {file} have the mean {means.iloc[0]:g} mL{more}."
        ),
        why="One of the two is wrong; the recorded volume is used.",
        fix=(
            "Correct it, or leave the volume out of the loaves so that the mean of the readings is"
            " used."
        ),
    )
