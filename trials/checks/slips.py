"""Slips of the pen in measured values: another unit, two columns exchanged, two digits exchanged, a value far off.

A value is held against the other loaves of its own combination of factors and of its own mix, on the scale of
ratios (logarithms), where an ounce is as far from a gram at any size of loaf.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import BY_NAME
from ..trial import Trial
from .check import Spot, check, places, plain
from .robust import Groups, cutoff, free_values, polish, scales

MASS = {10: "", 100: "", 1000: "kg for g", 28.35: "ounces", 453.6: "pounds"}
VOLUME = {10: "cL for mL", 100: "", 1000: "L for mL", 28.35: "ounces", 16.39: "cubic inches"}
LENGTH = {10: "cm for mm", 100: "", 25.4: "inches", 1000: ""}
TIME = {10: "", 60: "hours for minutes"}
UNITS = {"dough_g": MASS, "loaf_g": MASS, "loaf_ml": VOLUME, "box_ml": VOLUME, "seed_ml": VOLUME,
         "height_mm": LENGTH, "proof_min": TIME, "cool_min": TIME}
HELD = ("dough_g", "loaf_g", "loaf_ml", "height_mm")    # measured loaf by loaf, whatever else is recorded
FITS = np.log(1.4)      # a corrected value lies within this ratio of the others of its combination
OWN_GROUP = 3           # loaves from which a combination has a centre of its own
ANOTHER_WORLD = np.log(8.0)     # a combination further from all others than this is held against them
EXCHANGED = np.log(1.3)         # mass and volume nearer to one another than this are not told apart
MOST_LEVELS = 6         # a factor of numbers with more of them is no set of groups
ALARMS = 0.1            # expected false alarms in a whole trial, over all columns
LEAST_FREE = 4          # fewer free residuals than this say nothing of one of them
LEAST_SCALE = 0.004     # relative; scaling dough to 2 % is good work (common practice, no source)
PASSES = 3


@check("slip-unit", "error", "One value in another unit would decide the answer alone.")
def values_in_another_unit(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is a value ten, a hundred, a thousand times or an ounce away from the others of its combination?"""
    codes = combinations(loaves, trial)
    for name, units in UNITS.items():
        if name in loaves and name not in trial.factors and recorded(name, loaves):
            yield from unit_slips(loaves, name, units, codes)


@check("slip-swap", "error", "Mass would be read as volume.", needs=["loaf_g", "loaf_ml"], after=["slip-unit"])
def mass_and_volume_swapped(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do mass and volume stand in one another's column?"""
    mass, volume = logs(loaves["loaf_g"]), logs(loaves["loaf_ml"])
    codes = combinations(loaves, trial)
    mass_centre, volume_centre = centres(mass, codes), centres(volume, codes)
    fits = (np.abs(mass - volume_centre) < EXCHANGED) & (np.abs(volume - mass_centre) < EXCHANGED)
    rows = loaves[fits & (np.abs(mass - mass_centre) > EXCHANGED) & (np.abs(volume - volume_centre) > EXCHANGED)]
    if len(rows):
        told = places(rows, lambda row: f"{plain(row['loaf_g'])} g, {plain(row['loaf_ml'])} mL")
        yield Spot(message=f"Baked mass and loaf volume are exchanged on {told}.", column="loaf_g",
                   rows=rows["line"], fix="Exchange the two values.")


@check("value-far", "warning", "A single wrong value can hide a difference or make one.",
       after=["slip-unit", "slip-swap", "value-not-positive", "gained-in-oven", "seed-above-box", "tin-overfull"])
def values_far_off(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is a value far from the other loaves of its mix and combination?"""
    names = [name for name in dict.fromkeys([*HELD, trial.card.measure, *trial.card.measures])
             if name in loaves and can_be_far(loaves, str(name), trial)]
    for name in names:
        far = far_values(loaves, str(name), trial, ALARMS / len(names))
        if len(far):
            yield far_spot(far, str(name))


# another unit ----------------------------------------------------------------------------------------------------


def unit_slips(loaves: pd.DataFrame, name: str, units: dict[float, str], codes: NDArray) -> Iterator[Spot]:
    """Yield a spot for each unit that brings values back to their combination."""
    off = logs(loaves[name]) - centres(logs(loaves[name]), codes)
    factors = np.array([sign * np.log(unit) for unit in units for sign in (1, -1)])
    apart = np.abs(off[:, None] - factors[None])
    nearest = np.where(np.isnan(off), 0, np.nan_to_num(apart, nan=np.inf).argmin(axis=1))
    found = np.nan_to_num(apart, nan=np.inf).min(axis=1) < FITS
    for i in np.unique(nearest[found]):
        unit, words = list(units.items())[i // 2]
        rows = loaves[found & (nearest == i)]
        yield unit_spot(rows, name, unit, words, too_large=i % 2 == 0)


def unit_spot(rows: pd.DataFrame, name: str, unit: float, words: str, too_large: bool) -> Spot:
    """Return what is said of values that are one unit away."""
    by = 1 / unit if too_large else unit
    told = places(rows, lambda row: f"{plain(row[name])}; {plain(row[name] * by)} would fit")
    kind = f" ({words})" if words and not too_large else ""
    size = "large" if too_large else "small"
    return Spot(message=f"{BY_NAME[name].label} is about {plain(unit)} times too {size}{kind} on {told}.",
                column=name, rows=rows["line"],
                fix=f"Write it in {BY_NAME[name].unit}, as it stands on the bench sheet.")


def recorded(name: str, loaves: pd.DataFrame) -> bool:
    """Return whether a column was written down, and not worked out from the box and its seed."""
    return name != "loaf_ml" or not {"box_ml", "seed_ml"} <= set(loaves.columns)


def centres(values: NDArray, codes: NDArray) -> NDArray:
    """Return the middle of each row's combination (n,); of all where the combination is small or a world apart."""
    known = ~np.isnan(values)
    centre = np.full(len(values), np.nan)
    if not known.any():
        return centre
    kinds, own = np.unique(codes[known], return_inverse=True)
    groups = Groups.of(own)
    middles = groups.medians(values[known])
    overall = float(np.median(middles))
    small = np.bincount(own) < OWN_GROUP
    middles = np.where(small | (np.abs(middles - overall) > ANOTHER_WORLD), overall, middles)
    place = np.clip(np.searchsorted(kinds, codes), 0, len(kinds) - 1)
    return np.where(kinds[place] == codes, middles[place], overall)


# far off ---------------------------------------------------------------------------------------------------------


def far_values(loaves: pd.DataFrame, name: str, trial: Trial, alarms: float) -> pd.DataFrame:
    """Return the rows whose value is far off, with ``expected``: what the others of mix and combination suggest."""
    values = logs(loaves[name])
    if name == "loaf_g" and "dough_g" in loaves:
        values = values - logs(loaves["dough_g"])
    kept = np.flatnonzero(~np.isnan(values))
    far: dict[int, float] = {}
    for _ in range(PASSES):
        rest = np.array([i for i in kept if i not in far]) if far else kept
        new = worst_of_mixes(loaves.iloc[rest], values[rest], trial, alarms)
        if not new:
            break
        far |= {int(rest[i]): residual for i, residual in new.items()}
    rows = loaves.iloc[sorted(far)]
    return rows.assign(expected=[loaves[name].iloc[i] / np.exp(far[i]) for i in sorted(far)])


def worst_of_mixes(loaves: pd.DataFrame, values: NDArray, trial: Trial, alarms: float) -> dict[int, float]:
    """Return place → residual of far values, one a mix: the worst, which may have bent the others."""
    mixes, tins = mix_codes(loaves), joint_codes(loaves, ["tin"] if "tin" in loaves else [])
    if len(values) == 0:
        return {}
    groupings = [Groups.of(combinations(loaves, trial)), Groups.of(mixes)]
    free = free_values(groupings)
    if free < LEAST_FREE:
        return {}
    residuals = polish(values, groupings)
    scale = np.maximum(scales(residuals, tins, free), LEAST_SCALE)
    ratios = np.abs(residuals) / scale / cutoff(groupings, tins, free, alarms)
    from_centre = np.abs(polish(values, groupings[:1]))
    order = np.lexsort((from_centre, ratios.round(9), mixes))
    worst = order[np.append(np.diff(mixes[order]) != 0, True)]
    return {int(i): float(residuals[i]) for i in worst if ratios[i] > 1}


def far_spot(far: pd.DataFrame, name: str) -> Spot:
    """Return what is said of values that are far off."""
    told = places(far, lambda row: f"{plain(row[name])}; {plain(row['expected'], 3)} expected{digits(row, name)}")
    label = BY_NAME[name].label if name in BY_NAME else name
    return Spot(message=f"{label} is far from the other loaves of its mix and combination on {told}.", column=name,
                rows=far["line"], fix="Check it against the bench sheet; leave it if it was measured so.",
                why="A single wrong value can hide a difference or make one. Among sound values this is said "
                    f"about {ALARMS:g} times in a whole trial.")


def digits(row: pd.Series, name: str) -> str:
    """Return how exchanging two neighbouring digits would explain a value, where it does."""
    text, expected = plain(row[name], 9), row["expected"]
    for i in range(len(text) - 1):
        swapped = text[:i] + text[i + 1] + text[i] + text[i + 2:]
        if text[i] != text[i + 1] and "." not in text[i:i + 2]:
            nearer = abs(np.log(float(swapped) / expected)) < abs(np.log(row[name] / expected)) / 4
            if float(swapped) > 0 and nearer:
                return f"; {swapped} with two digits exchanged"
    return ""


# the groups ------------------------------------------------------------------------------------------------------


def can_be_far(loaves: pd.DataFrame, name: str, trial: Trial) -> bool:
    """Return whether a column holds measured values above zero that are no factor and no score."""
    known = BY_NAME.get(name)
    return (loaves[name].dtype.kind == "f" and not (known and known.derived) and name not in trial.factors
            and not name.startswith("crumb_") and bool((loaves[name].dropna() > 0).all()))


def logs(values: pd.Series) -> NDArray:
    """Return logarithms; missing where the value is missing or not above zero."""
    numbers = values.to_numpy(dtype=float)
    return np.log(np.where(numbers > 0, numbers, np.nan))


def combinations(loaves: pd.DataFrame, trial: Trial) -> NDArray:
    """Return a code for each row's combination of factors (n,)."""
    return joint_codes(loaves, [name for name in trial.factors if name in loaves
                                and (loaves[name].dtype.kind != "f" or loaves[name].nunique() <= MOST_LEVELS)])


def mix_codes(loaves: pd.DataFrame) -> NDArray:
    """Return a code for each row's mix (n,); the day's where mixes were not recorded."""
    return joint_codes(loaves, [name for name in ("day", "formula", "mix") if name in loaves]
                       if "mix" in loaves else [name for name in ("day",) if name in loaves])


def joint_codes(loaves: pd.DataFrame, names: list[str]) -> NDArray:
    """Return a code from 0 for each distinct row of the columns (n,)."""
    codes = np.zeros(len(loaves), dtype=np.int64)
    for name in names:
        own, levels = pd.factorize(loaves[name], use_na_sentinel=False)
        codes = compact(codes * len(levels) + own)
    return codes


def compact(codes: NDArray) -> NDArray:
    """Return codes without gaps, from 0."""
    return pd.factorize(codes)[0]
