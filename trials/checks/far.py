"""Values far from the other loaves of their mix and combination: Hampel's rule on a fit that no slip can bend."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import BY_NAME
from ..trial import Trial
from .check import Spot, check, places, plain
from .grouping import batch_codes, combination_codes, joint_codes, logs
from .robust import Groups, cutoff, free_values, polish, scales

HELD = ("dough_g", "loaf_g", "loaf_ml", "height_mm")    # measured loaf by loaf, whatever else is recorded
ALARMS = 0.1            # expected false alarms in a whole trial, over all columns
LEAST_FREE = 4          # fewer free residuals than this say nothing of one of them
LEAST_SCALE = 0.004     # relative; scaling dough to 2 % is good work (common practice, no source)
PASSES = 3


@check("value-far", "warning", "A single wrong value can hide a difference or make one.",
       after=["slip-unit", "slip-swap", "value-not-positive", "gained-in-oven", "seed-above-box", "tin-overfull"])
def values_far_off(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is a value far from the other loaves of its mix and combination?"""
    names = [name for name in dict.fromkeys([*HELD, trial.card.measure, *trial.card.measures])
             if name in loaves and can_be_far(loaves, str(name), trial)]
    layouts: Layouts = {}
    for name in names:
        far = far_values(loaves, str(name), trial, ALARMS / len(names), layouts)
        if len(far):
            yield far_spot(far, str(name))


@dataclass(frozen=True, slots=True)
class Layout:
    """What a set of rows can show: their groups, how many residuals are free, and how far is too far.

    ``batches`` and ``tins`` (n,) are codes; ``cut`` is in robust scales, infinite where too little is free.
    """

    groupings: tuple[Groups, Groups]
    batches: NDArray
    tins: NDArray
    free: int
    cut: float

    @classmethod
    def of(cls, loaves: pd.DataFrame, trial: Trial, alarms: float) -> Layout:
        """Return the layout of these loaves, with the cut that gives so many false alarms in all of them."""
        batches, tins = batch_codes(loaves), joint_codes(loaves, ["tin"] if "tin" in loaves else [])
        groupings = (Groups.of(combination_codes(loaves, trial)), Groups.of(batches))
        free = free_values(groupings)
        cut = cutoff(groupings, tins, free, alarms) if free >= LEAST_FREE else np.inf
        return cls(groupings, batches, tins, free, cut)

    def far(self, values: NDArray) -> dict[int, float]:
        """Return place → residual of far values, one a mix: the worst, which may have bent the others."""
        if np.isinf(self.cut):
            return {}
        residuals = polish(values, self.groupings)
        ratios = np.abs(residuals) / np.maximum(scales(residuals, self.tins, self.free), LEAST_SCALE) / self.cut
        places = np.flatnonzero(ratios > 1)
        from_centre = np.abs(polish(values, self.groupings[:1])[places])
        order = places[np.lexsort((from_centre, ratios[places].round(9), self.batches[places]))]
        last = np.append(np.diff(self.batches[order]) != 0, True)[:len(order)]
        return {int(i): float(residuals[i]) for i in order[last]}


Layouts = dict[bytes, Layout]       # by which rows are in it: columns without gaps share one


def far_values(loaves: pd.DataFrame, name: str, trial: Trial, alarms: float, layouts: Layouts) -> pd.DataFrame:
    """Return the rows whose value is far off, with ``expected``: what the others of mix and combination suggest."""
    values = logs(loaves[name])
    if name == "loaf_g" and "dough_g" in loaves:
        values = values - logs(loaves["dough_g"])
    kept, far = ~np.isnan(values), dict[int, float]()
    for _ in range(PASSES):
        rest, key = np.flatnonzero(kept), np.packbits(kept).tobytes()
        if len(rest) and key not in layouts:
            layouts[key] = Layout.of(loaves.iloc[rest], trial, alarms)
        new = layouts[key].far(values[rest]) if len(rest) else {}
        far |= {int(rest[i]): residual for i, residual in new.items()}
        kept[list(far)] = False
        if not new:
            break
    rows = loaves.iloc[sorted(far)]
    return rows.assign(expected=[loaves[name].iloc[i] / np.exp(far[i]) for i in sorted(far)])


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


def can_be_far(loaves: pd.DataFrame, name: str, trial: Trial) -> bool:
    """Return whether a column holds measured values above zero that are no factor and no score."""
    known = BY_NAME.get(name)
    return (loaves[name].dtype.kind == "f" and not (known and known.derived) and name not in trial.factors
            and not name.startswith("crumb_") and bool((loaves[name].dropna() > 0).all()))
