"""Slips of the pen that tell themselves: a value in another unit, mass and volume in one another's
column.

A value is held against the other loaves of its own combination of factors, on the scale of ratios
(logarithms): an ounce is as far from a gram at any size of loaf.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import BY_NAME
from ..trial import Trial
from .check import Spot, check, places, plain, rows_where
from .grouping import combination_codes, logs
from .robust import Groups
from .values import outside

MASS: dict[float, str] = {10: "", 100: "", 1000: "kg for g", 28.35: "ounces", 453.6: "pounds"}
VOLUME: dict[float, str] = {
    10: "cL for mL",
    100: "",
    1000: "L for mL",
    28.35: "ounces",
    16.39: "cubic inches",
}
LENGTH: dict[float, str] = {10: "cm for mm", 100: "", 25.4: "inches", 1000: ""}
TIME: dict[float, str] = {60: "hours for minutes"}
UNITS: dict[str, dict[float, str]] = {
    "dough_g": MASS,
    "loaf_g": MASS,
    "loaf_ml": VOLUME,
    "box_ml": VOLUME,
    "seed_ml": VOLUME,
    "height_mm": LENGTH,
    "proof_min": TIME,
    "cool_min": TIME,
}
FITS = np.log(1.4)  # a corrected value lies within this ratio of the others of its combination
OWN_GROUP = 3  # loaves from which a combination has a centre of its own
# a combination further from all others than this is held against them
ANOTHER_WORLD = np.log(8.0)
# a dough above this (°C) would have killed its yeast: common practice, no source
FAHRENHEIT = 45.0
EXCHANGED = np.log(1.3)  # mass and volume nearer to one another than this are not told apart


@check(
    "slip-unit",
    "error",
    "One value in another unit would decide the answer alone.",
    after=["column-unit"],
)
def values_in_another_unit(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is a value ten, a hundred, a thousand times or an ounce away from the others of its
    combination?
    """
    kinds = Groups.of(combination_codes(loaves, trial)) if len(loaves) else None
    for name, units in UNITS.items():
        if kinds and name in loaves and name not in trial.factors and recorded(name, loaves):
            yield from unit_slips(loaves, name, units, kinds)
    if "dough_temp_c" in loaves:
        yield from in_fahrenheit(loaves)


@check(
    "slip-swap",
    "error",
    "Mass would be read as volume.",
    needs=["loaf_g", "loaf_ml"],
    after=["column-unit", "slip-unit"],
)
def mass_and_volume_swapped(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do mass and volume stand in one another's column?"""
    if loaves.empty:
        return
    mass, volume = logs(loaves["loaf_g"]), logs(loaves["loaf_ml"])
    kinds = Groups.of(combination_codes(loaves, trial))
    mass_centre = centres(mass, kinds, "loaf_g")
    if not (np.abs(mass - mass_centre) > EXCHANGED).any():
        return
    volume_centre = centres(volume, kinds, "loaf_ml")
    fits = (np.abs(mass - volume_centre) < EXCHANGED) & (np.abs(volume - mass_centre) < EXCHANGED)
    rows = loaves[
        fits
        & (np.abs(mass - mass_centre) > EXCHANGED)
        & (np.abs(volume - volume_centre) > EXCHANGED)
    ]
    if len(rows):
        told = places(rows, lambda row: f"{plain(row['loaf_g'])} g, {plain(row['loaf_ml'])} mL")
        yield Spot(
            message=f"Baked mass and loaf volume are exchanged on {told}.",
            column="loaf_g",
            rows=rows["line"],
            fix="Exchange the two values.",
        )


def unit_corrections(
    loaves: pd.DataFrame, trial: Trial
) -> Iterator[tuple[int, str, float, float, str]]:
    """Yield (line, column, was, now, unit) for values that one unit alone brings back to their
    combination.
    """
    exact = {28.35: 28.349523125, 453.6: 453.59237, 16.39: 16.387064}
    kinds = Groups.of(combination_codes(loaves, trial)) if len(loaves) else None
    for name, units in UNITS.items():
        if not kinds or name not in loaves or name in trial.factors or not recorded(name, loaves):
            continue
        values = logs(loaves[name])
        off = values - centres(values, kinds, name)
        for row in np.flatnonzero(np.abs(off) > np.log(min(units)) - FITS):
            fits = [
                (unit, sign)
                for unit in units
                for sign in (1, -1)
                if abs(off[row] - sign * np.log(unit)) < FITS
            ]
            if len(fits) == 1:
                unit, sign = fits[0]
                was, by = float(loaves[name].iloc[row]), exact.get(unit, unit)
                said = units[unit].partition(" for ")[0] or f"{unit:g} times"
                yield (
                    int(loaves["line"].iloc[row]),
                    name,
                    was,
                    was / by if sign > 0 else was * by,
                    said,
                )


def swapped_lines(trial: Trial) -> list[int]:
    """Return the lines on which mass and volume were both written down and stand in one another's
    column.
    """
    if not recorded("loaf_ml", trial.loaves) or not {"loaf_g", "loaf_ml"} <= set(
        trial.loaves.columns
    ):
        return []
    return [
        int(line)
        for spot in mass_and_volume_swapped.find(trial.counted, trial)
        for line in spot.rows
    ]


def unit_slips(
    loaves: pd.DataFrame, name: str, units: dict[float, str], kinds: Groups
) -> Iterator[Spot]:
    """Yield a spot for each unit that brings values back to their combination."""
    values = logs(loaves[name])
    off = values - centres(values, kinds, name)
    suspected = np.flatnonzero(np.abs(off) > np.log(min(units)) - FITS)
    if not len(suspected):
        return
    factors = np.array([sign * np.log(unit) for unit in units for sign in (1, -1)])
    apart = np.abs(off[suspected][:, None] - factors[None])
    nearest = np.where(apart.min(axis=1, initial=np.inf) < FITS, apart.argmin(axis=1), -1)
    for i in np.unique(nearest[nearest >= 0]):
        unit, words = list(units.items())[i // 2]
        yield unit_spot(
            loaves.iloc[suspected[nearest == i]], name, unit, words, too_large=i % 2 == 0
        )


def in_fahrenheit(loaves: pd.DataFrame) -> Iterator[Spot]:
    """Yield a spot for dough temperatures that no dough has in °C, but every dough in °F."""
    known = BY_NAME["dough_temp_c"]
    written = loaves["dough_temp_c"].to_numpy()
    celsius = (written - 32) / 1.8
    rows = rows_where(loaves, (written > FAHRENHEIT) & ~outside(celsius, known))
    if len(rows):
        told = places(
            rows,
            lambda row: (
                f"{plain(row['dough_temp_c'])}; {plain((row['dough_temp_c'] - 32) / 1.8, 3)}"
                " would fit"
            ),
        )
        yield Spot(
            message=f"{known.label} looks like °F on {told}.",
            column=known.name,
            rows=rows["line"],
            fix="Write it in °C, or name °F in the header.",
        )


def unit_spot(rows: pd.DataFrame, name: str, unit: float, words: str, too_large: bool) -> Spot:
    """Return what is said of values that are one unit away."""
    by = 1 / unit if too_large else unit
    told = places(rows, lambda row: f"{plain(row[name])}; {plain(row[name] * by)} would fit")
    kind = f" ({words})" if words and not too_large else ""
    size = "large" if too_large else "small"
    return Spot(
        message=f"{BY_NAME[name].label} is about {plain(unit)} times too {size}{kind} on {told}.",
        column=name,
        rows=rows["line"],
        fix=f"Write it in {BY_NAME[name].unit}, as it stands on the bench sheet.",
    )


def recorded(name: str, loaves: pd.DataFrame) -> bool:
    """Return whether a column was written down, and not worked out from the box and its seed."""
    return name != "loaf_ml" or not {"box_ml", "seed_ml"} <= set(loaves.columns)


def centres(values: NDArray, kinds: Groups, name: str) -> NDArray:
    """Return the middle of each row's combination (n,), on the scale of logarithms.

    The middle of all combinations stands in where a combination is small, a world apart from the
    others, not to be believed of any loaf, or where no loaf is near its middle because half of it
    is in another unit.
    """
    known = ~np.isnan(values)
    if not known.any():
        return np.full(len(values), np.nan)
    present = Groups.of(pd.factorize(kinds.codes[known])[0]) if not known.all() else kinds
    medians = present.medians(values[known])
    nearest = np.full(present.n, np.inf)
    np.minimum.at(nearest, present.codes, np.abs(values[known] - medians[present.codes]))
    believed = (nearest < FITS) & ~outside(np.exp(medians), BY_NAME[name])
    overall = float(np.median(medians[believed] if believed.any() else medians))
    own = (
        believed
        & (np.bincount(present.codes) >= OWN_GROUP)
        & (np.abs(medians - overall) < ANOTHER_WORLD)
    )
    middle = np.full(len(values), overall)
    middle[known] = np.where(own, medians, overall)[present.codes]
    return middle
