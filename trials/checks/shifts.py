"""A whole mix or day that lies apart, or drifts: what a wrong box, a scale, warm loaves or seed
that packs do to all its loaves alike, so that no loaf looks odd beside its neighbours.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..frozen import frozen
from ..trial import Trial
from ..words.lists import on_lines
from .additive import (
    LESS_SCATTER,
    MOST_LOAVES,
    SCATTER,
    Additive,
    groups_in,
    settings_of,
    told_apart,
)
from .check import Spot, check, plain
from .grouping import logs, ranks

ALARMS = 0.03  # expected false alarms in a whole trial, over all measures, mixes, days and orders
# Share of the false alarms of what is clear when it goes wrong, such as another box, beside that of
# what is not, such as a mix weighed warm.
CLEAR = 0.05
MOST_TOLD_APART = 3  # of one measure
LEAST_OF_DAY = 6  # loaves from which a change through a day is looked for
ALIKE = 0.9  # share of the best explanation from which another is named beside it
# a wrong box explains a volume where it leaves at most this share of what is odd about it
EXPLAINED, ODD = 1 / 3, 0.05
MOST_BOXES = 10
SINGLE = ("slip-unit", "slip-swap", "value-far", "gained-in-oven", "seed-above-box", "values-run")

LOOK = {
    "dough": "Look at the scale, its tare, and what was scaled",
    "mass": (
        "Look at the scale and its tare, and whether the loaves were weighed warm (warm loaves have"
        " yet to lose water)"
    ),
    "volume": "Look at the volume of the box, the seed (it packs with use) and the oven",
    "shape": (
        "Look at the volume of the box and the seed (it packs with use), and at how the height was"
        " read"
    ),
}


Kind = Literal["mix", "day", "through a day", "through all"]
GROUPS: tuple[Kind, ...] = ("mix", "day")
CHANGES: tuple[Kind, ...] = ("through a day", "through all")


@frozen
class Measure:
    """One thing that is held together: its logarithms (n,), the column it is told under, how it is
    said; ``unclear`` is what goes wrong with it by little more than it scatters.
    """

    values: NDArray
    column: str
    said: str
    look: str
    unclear: tuple[Kind, ...] = ()
    scatter: float = LESS_SCATTER


@frozen
class Unit:
    """What may lie apart: which rows, the column (n,) that sets it apart, and what it is: a mix, a
    day, the change through a day, or through every day.
    """

    rows: NDArray
    column: NDArray
    kind: Kind

    def named(self, loaves: pd.DataFrame) -> str:
        """Return it as a sentence names it, with its lines."""
        if self.kind == "through all":
            days = loaves["day"].nunique() if "day" in loaves else 1
            return "every day" if days > 1 else "the trial"
        kind = "mix" if self.kind == "mix" else "day"
        own = loaves[self.rows]
        return f"{kind} {own[kind].iloc[0] if kind in own else ''} ({on_lines(own['line'])})"


@frozen
class Looked:
    """The loaves of which something is known, what may lie apart among them, what was set for them,
    and the fits of that by the scatter that they were made for.
    """

    loaves: pd.DataFrame
    units: list[Unit]
    settings: list[str]
    fits: dict[float, Additive]

    def fit(self, scatter: float) -> Additive:
        """Return the fit for a scatter, made once."""
        if scatter not in self.fits:
            self.fits[scatter] = Additive.of(self.loaves, self.settings, scatter)
        return self.fits[scatter]


@check(
    "box-unlike",
    "warning",
    "A wrong box volume makes every loaf of the mix or the day bigger or smaller alike.",
    needs=["box_ml", "seed_ml", "loaf_ml"],
    after=SINGLE,
)
def boxes_that_do_not_fit(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do loaves measured in another box come out as big as the others?"""
    known = loaves[(loaves["loaf_ml"] > 0) & (loaves["box_ml"] > 0)]
    counts = known["box_ml"].value_counts()
    if len(counts) < 2 or counts.iloc[0] == counts.iloc[1] or len(known) > MOST_LOAVES:
        return
    fit = Additive.of(known, settings_of(known, trial))
    if not told_apart(fit):
        return
    usual = float(counts.index[0])
    for box in sorted(counts.index[1:MOST_BOXES]):
        rows = (known["box_ml"] == box).to_numpy()
        again = known["loaf_ml"] - np.where(rows, box - usual, 0.0)
        if (again <= 0).any():
            continue
        column = rows[:, None].astype(float)
        was, now = (fit.added(logs(values), column) for values in (known["loaf_ml"], again))
        if was.p_values[0] < ODD and abs(now.estimates[0]) < EXPLAINED * abs(was.estimates[0]):
            way = "bigger" if was.estimates[0] > 0 else "smaller"
            yield Spot(
                message=(
                    f"The box is {plain(box)} mL on {on_lines(known.loc[rows, 'line'])} and"
                    f" {plain(usual)} mL elsewhere, and loaves measured in it come out about"
                    f" {percent(was.estimates[0])} {way}; with {plain(usual)} mL they would be like"
                    " the others."
                ),
                column="box_ml",
                rows=known.loc[rows, "line"],
                fix="Look at which box was used; leave it if it was another one.",
            )


@check(
    "mix-or-day-apart",
    "warning",
    "What goes wrong with a scale, a box or seed moves a whole mix or day, and can look like the"
    " formula.",
    after=[
        *SINGLE,
        "box-unlike",
        "mixes-exchanged",
        "mix-two-formulas",
        "mix-two-days",
        "day-two-ways",
    ],
)
def mixes_and_days_apart(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does a whole mix or day lie far from the others, or change from first loaf to last?

    The false alarms are shared out unevenly, most to what is hard to find (Genovese, Roeder &
    Wasserman, Biometrika 93 (2006), 509-524, from memory): a wrong box is found with few of them.
    """
    if not 0 < len(loaves) <= MOST_LOAVES:
        return
    seen: dict[bytes, Looked] = {}
    looks = []
    for measure in measures_of(loaves):
        known = ~np.isnan(measure.values)
        if known.any():
            rows = known.tobytes()
            if rows not in seen:
                own = loaves if known.all() else loaves[known]
                seen[rows] = Looked(own, units_of(own), settings_of(own, trial), {})
            looks.append((measure, measure.values[known], seen[rows]))
    weights = [
        np.array([1.0 if unit.kind in measure.unclear else CLEAR for unit in looked.units])
        for measure, _, looked in looks
    ]
    total = sum(of_units.sum() for of_units in weights)
    for (measure, values, looked), of_units in zip(looks, weights, strict=True):
        if looked.units:
            fit = looked.fit(measure.scatter)
            alarms = ALARMS * of_units / total
            yield from told_of(looked.loaves, measure, fit, looked.units, alarms, values)


def measures_of(loaves: pd.DataFrame) -> list[Measure]:
    """Return what is looked at: each mass, the volume, and the volume beside the height."""
    there = {
        name: logs(loaves[name])
        for name in ("dough_g", "loaf_g", "loaf_ml", "height_mm")
        if name in loaves
    }
    found = []
    if "dough_g" in there:
        found.append(Measure(there["dough_g"], "dough_g", "Dough mass", "dough"))
    if {"dough_g", "loaf_g"} <= there.keys():
        lost = there["loaf_g"] - there["dough_g"]
        found.append(Measure(lost, "loaf_g", "Baked mass beside its dough", "mass", GROUPS))
    elif "loaf_g" in there:
        found.append(Measure(there["loaf_g"], "loaf_g", "Baked mass", "mass", GROUPS))
    if "loaf_ml" in there:
        volume = there["loaf_ml"]
        alone = np.isnan(there["height_mm"]) & ~np.isnan(volume) if "height_mm" in there else True
        # the height beside it shows a box or seed far better than the volume alone
        unclear = (*GROUPS, *CHANGES) if np.any(alone) else ()
        found.append(Measure(volume, "loaf_ml", "Loaf volume", "volume", unclear, SCATTER))
    if {"loaf_ml", "height_mm"} <= there.keys():
        shape = there["loaf_ml"] - there["height_mm"]
        said = "Loaf volume beside the height"
        found.append(Measure(shape, "loaf_ml", said, "shape", CHANGES))
    return found


def units_of(loaves: pd.DataFrame) -> list[Unit]:
    """Return the mixes, the days of several mixes, and the change through each day and through
    all.
    """
    units = [Unit(rows, rows.astype(float), "mix") for rows in groups_in(loaves, "mix")]
    days = groups_in(loaves, "day") if "day" in loaves else []
    mixes = {unit.rows.tobytes() for unit in units}
    units += [Unit(rows, rows.astype(float), "day") for rows in days if rows.tobytes() not in mixes]
    every = np.ones(len(loaves), dtype=bool)
    place = through_day(loaves, days or [every])
    units += [
        Unit(rows, np.where(rows, place, 0.0), "through a day")
        for rows in days
        if rows.sum() >= LEAST_OF_DAY
    ]
    return [*units, Unit(every, place, "through all")] if len(loaves) >= LEAST_OF_DAY else units


def through_day(loaves: pd.DataFrame, days: Sequence[NDArray]) -> NDArray:
    """Return each loaf's place in its day (n,), from −½ for the first to ½ for the last.

    In the order of measuring, else of baking, where it is written down for all; else as the rows
    stand.
    """
    order = next(
        (name for name in ("measure_order", "bake_order") if known_throughout(loaves, name)), "line"
    )
    place, ordered = np.zeros(len(loaves)), loaves[order].to_numpy()
    for rows in days:
        rank = ranks(ordered[rows]) - 1
        place[rows] = rank / max(len(rank) - 1, 1) - 0.5
    return place


def known_throughout(loaves: pd.DataFrame, name: str) -> bool:
    """Return whether every loaf has a place in an order."""
    return name in loaves and bool(loaves[name].notna().all())


def told_of(
    loaves: pd.DataFrame,
    measure: Measure,
    fit: Additive,
    units: list[Unit],
    alarms: NDArray,
    values: NDArray,
) -> Iterator[Spot]:
    """Yield a spot for each mix, day or change that chance would seldom give, the clearest first;
    what has been told is taken out before the next is looked for. ``alarms`` (k,) are the false
    ones that are expected of each unit.
    """
    columns = np.column_stack([unit.column for unit in units])
    told = 0
    while told < MOST_TOLD_APART and told_apart(fit):
        added = fit.added(values, columns)
        chances = added.p_values / alarms
        best = int(np.lexsort((np.arange(len(units)), chances.round(9)))[0])
        if chances[best] > 1:
            return
        same = [
            i
            for i, unit in enumerate(units)
            if unit.kind == units[best].kind and added.squares[i] >= ALIKE * added.squares[best]
        ]
        yield shift_spot(loaves, measure, [units[i] for i in same], added.estimates[best])
        fit, told = fit.knowing(columns[:, same]), told + len(same)


def shift_spot(loaves: pd.DataFrame, measure: Measure, units: list[Unit], estimate: float) -> Spot:
    """Return what is said of a mix or day that lies apart or drifts."""
    rows = np.any([unit.rows for unit in units], axis=0)
    if units[0].kind.startswith("through"):
        way = "rises" if estimate > 0 else "falls"
        message = (
            f"{measure.said} {way} by about {percent(estimate)} from the first loaf to the last,"
            f" on {units[0].named(loaves)}."
        )
    else:
        way = "above" if estimate > 0 else "below"
        either = " or ".join(unit.named(loaves) for unit in units[:3])
        message = (
            f"{measure.said} of {either} lies about {percent(estimate)} {way} what the others would"
            " have led one to expect."
        )
    return Spot(
        message=message,
        column=measure.column,
        rows=loaves.loc[rows, "line"],
        fix=f"{LOOK[measure.look]}; leave it if the loaves were so.",
    )


def percent(estimate: float) -> str:
    """Return a difference of logarithms as a share: ``20 %``."""
    return f"{plain(100 * abs(np.expm1(estimate)), 2)} %"
