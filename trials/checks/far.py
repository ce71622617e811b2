"""Values far from the other loaves of their mix and combination: Hampel's rule on a fit that no
slip can bend.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import BY_NAME, label
from ..frozen import frozen
from ..trial import Trial
from .check import Spot, check, places, plain
from .grouping import batch_codes, combination_codes, joint_codes, logs
from .robust import Groups, cutoff, free_values, polish, scales
from .unnamed import unnamed_codes

# measured loaf by loaf, whatever else is recorded
HELD = ("dough_g", "loaf_g", "loaf_ml", "height_mm")
ALARMS = 0.015  # expected false alarms in a whole trial, over all columns
LEAST_FREE = 4  # fewer free residuals than this say nothing of one of them
LEAST_SCALE = 0.004  # relative; scaling dough to 2 % is good work (common practice, no source)


@check(
    "value-far",
    "warning",
    "A single wrong value can hide a difference or make one.",
    after=[
        "slip-unit",
        "slip-swap",
        "value-not-positive",
        "gained-in-oven",
        "seed-above-box",
        "tin-overfull",
    ],
)
def values_far_off(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is a value far from the other loaves of its mix and combination?"""
    names = [
        name
        for name in dict.fromkeys([*HELD, trial.card.measure, *trial.card.measures])
        if name in loaves and can_be_far(loaves, str(name), trial)
    ]
    layouts: Layouts = {}
    for name in names:
        far = far_values(loaves, str(name), trial, ALARMS / len(names), layouts)
        if len(far):
            yield far_spot(far, str(name), means_of_readings(trial, str(name)))


@frozen
class Layout:
    """What a set of rows can show: their groups, how many residuals are free, and how far is too
    far.

    ``batches`` and ``tins`` (n,) are codes; ``cut`` is in robust scales, infinite where too little
    is free.
    """

    groupings: tuple[Groups, ...]
    batches: NDArray
    tins: NDArray
    free: int
    cut: float

    @classmethod
    def of(cls, loaves: pd.DataFrame, trial: Trial, alarms: float) -> Layout:
        """Return the layout of these loaves, with the cut that gives so many false alarms in all of
        them.
        """
        batches, tins = batch_codes(loaves), joint_codes(loaves, ["tin"] if "tin" in loaves else [])
        kinds, mixes = Groups.of(combination_codes(loaves, trial)), Groups.of(batches)
        unnamed = [Groups.of(codes) for codes in unnamed_codes(loaves, trial)]
        groupings = (kinds, *unnamed, mixes)
        free = free_values((kinds, mixes, *unnamed))
        cut = cutoff(groupings, tins, free, alarms) if free >= LEAST_FREE else np.inf
        return cls(groupings, batches, tins, free, cut)

    def far(self, values: NDArray) -> dict[int, float]:
        """Return place → distance of far values from the other loaves of their mix, both fitted
        (logarithms).
        """
        if np.isinf(self.cut):
            return {}
        residuals = polish(values, self.groupings)
        limits = self.cut * np.maximum(scales(residuals, self.tins, self.free), LEAST_SCALE)
        suspected = np.abs(residuals) > limits
        if not suspected.any():
            return {}
        from_centre = np.abs(polish(values, self.groupings[:-1]))
        rows = np.flatnonzero(np.isin(self.batches, self.batches[suspected]))
        found: dict[int, float] = {}
        for mix in pd.Series(rows).groupby(self.batches[rows]).groups.values():
            found |= far_in_mix(rows[mix], residuals, limits, from_centre)
        return found


def far_in_mix(
    rows: NDArray, residuals: NDArray, limits: NDArray, from_centre: NDArray
) -> dict[int, float]:
    """Return place → distance of the far values of one mix: the worst first, then what is far
    without it.

    Two loaves of a mix are equally far from their middle; the one further from its combination is
    the odd one.
    """
    found: dict[int, float] = {}
    own = residuals[rows]
    while len(rows) > 1:
        ratios = np.abs(own) / limits[rows]
        if ratios.max() <= 1:
            break
        worst = np.lexsort((from_centre[rows], ratios.round(9)))[-1]
        others = np.delete(own, worst)
        found[int(rows[worst])] = float(own[worst] - np.median(others))
        rows, own = np.delete(rows, worst), others - np.median(others)
    return found


Layouts = dict[bytes, Layout]  # by which rows are in it: columns without gaps share one


def far_values(
    loaves: pd.DataFrame, name: str, trial: Trial, alarms: float, layouts: Layouts
) -> pd.DataFrame:
    """Return the rows whose value is far off, with ``expected``: what the others of mix and
    combination suggest.
    """
    values = logs(loaves[name])
    if name == "loaf_g" and "dough_g" in loaves:
        values = values - logs(loaves["dough_g"])
    kept = np.flatnonzero(~np.isnan(values))
    if not len(kept):
        return loaves.iloc[:0]
    key = kept.tobytes()
    if key not in layouts:
        layouts[key] = Layout.of(
            loaves if len(kept) == len(loaves) else loaves.iloc[kept], trial, alarms
        )
    far = {int(kept[i]): distance for i, distance in layouts[key].far(values[kept]).items()}
    if not far:
        return loaves.iloc[:0]
    rows = loaves.iloc[sorted(far)]
    return rows.assign(expected=[loaves[name].iloc[i] / np.exp(far[i]) for i in sorted(far)])


def means_of_readings(trial: Trial, name: str) -> frozenset[object]:
    """Return the loaves of which nobody typed this value: it is the mean of their readings."""
    if name != "loaf_ml" or trial.readings is None:
        return frozenset()
    return frozenset(trial.readings["loaf"])


def far_spot(far: pd.DataFrame, name: str, means: frozenset[object] = frozenset()) -> Spot:
    """Return what is said of values that are far off; by seed displacement, of the seed as it was
    read; ``means`` are loaves whose value nobody typed.
    """

    def said(row: pd.Series) -> str:
        exchanged = "" if row.get("loaf") in means else digits(row, name)
        return f"{plain(row[name])}; {plain(row['expected'], 3)} expected{exchanged}"

    told = places(far, said)
    by_seed = name == "loaf_ml" and {"box_ml", "seed_ml"} <= set(far.columns)
    return Spot(
        message=f"{label(name)} is far from the other loaves of its mix and combination on {told}.",
        column="seed_ml" if by_seed else name,
        rows=far["line"],
        fix="Check it against the bench sheet; leave it if it was measured so.",
        why=(
            "A single wrong value can hide a difference or make one. Among sound values alone this"
            f" is said about once in {1 / ALARMS:.0f} trials."
        ),
    )


def digits(row: pd.Series, name: str) -> str:
    """Return how exchanging two neighbouring digits would explain a value, where it does."""
    value, expected, what = row[name], row["expected"], ""
    if name == "loaf_ml" and {"box_ml", "seed_ml"} <= set(row.index):
        value, expected, what = row["seed_ml"], row["box_ml"] - row["expected"], "seed "
    text = plain(value, 9)
    for i in range(len(text) - 1 if "e" not in text else 0):
        swapped = text[:i] + text[i + 1] + text[i] + text[i + 2 :]
        if (
            "." not in text[i : i + 2]
            and abs(float(swapped) - expected) < abs(value - expected) / 4
        ):
            return f"; {what}{swapped} with two digits exchanged"
    return ""


def can_be_far(loaves: pd.DataFrame, name: str, trial: Trial) -> bool:
    """Return whether a column holds measured values above zero that are no factor and no score."""
    known = BY_NAME.get(name)
    if (known and known.derived) or name in trial.factors or name.startswith("crumb_"):
        return False
    column = loaves[name]
    return column.dtype.kind == "f" and not (column.to_numpy() <= 0).any()
