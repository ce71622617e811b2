"""How the loaves were handled: the order of baking and measuring, cooling, and what was lost."""

from __future__ import annotations

from collections.abc import Iterator
from math import exp, lgamma

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..trial import Trial
from ..words.lists import listed
from .check import MOST_TOLD, Spot, check, places, plain, rows_where
from .grouping import joint_codes, kinds_in
from .robust import Groups

# a pan loaf: A-A-20126F (flour, 2008), 6.6.2: cool at least 2 h before measuring volume
COOL_MIN = 120.0
LOST_BY_CHANCE = 0.05
LEAST_LOST = 3


@check(
    "cooled-too-briefly",
    "warning",
    "A warm loaf still shrinks and loses water: volume and mass read wrong.",
    needs=["cool_min"],
    after=["slip-unit"],
)
def cooled_too_briefly(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Were the loaves cool before they were measured: as long as the card asks, or two hours where
    it is silent?
    """
    said = trial.card.min_cool_min
    rows = rows_where(loaves, loaves["cool_min"] < (COOL_MIN if said is None else said))
    if len(rows):
        told = places(rows, lambda row: f"{plain(row['cool_min'])} min")
        least, more = (
            (f"the {plain(said)} min on the card", "")
            if said is not None
            else (
                f"{COOL_MIN:g} min, usual for a pan loaf,",
                " Write  min_cool_min  on the card if another time was agreed.",
            )
        )
        yield Spot(
            message=f"The loaf cooled for less than {least} on {told}.",
            column="cool_min",
            rows=rows["line"],
            fix=f"Void a loaf that was measured warm, and let the next ones cool longer.{more}",
        )


@check(
    "order-twice",
    "warning",
    "Two loaves cannot be measured at once; the order can no longer show a drift.",
    needs=["measure_order"],
    void_too=True,
    after=["names-alike", "mix-two-days"],
)
def measured_at_once(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every loaf a place of its own in the order of measuring?"""
    keys = ["day", "measure_order"] if "day" in loaves else ["measure_order"]
    place = joint_codes(loaves, keys)
    twice = (np.bincount(place) > 1)[place] if len(loaves) else place
    rows = rows_where(loaves, twice & loaves["measure_order"].notna())
    if len(rows):
        told = places(rows, lambda row: f"place {plain(row['measure_order'])}")
        yield Spot(
            message=f"A place in the order of measuring stands twice on one day on {told}.",
            column="measure_order",
            rows=rows["line"],
            fix="Correct the order from the bench sheet.",
        )


@check(
    "order-against-load",
    "warning",
    "Loads are baked one after the other; the order or the load is wrong.",
    needs=["oven_load", "bake_order"],
    void_too=True,
    after=["names-alike", "order-against-day"],
)
def loads_out_of_order(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do oven loads follow one another in the order of baking?"""
    known = loaves[loaves["bake_order"].notna() & loaves["oven_load"].notna()]
    # two ovens bake side by side
    day = joint_codes(known, [name for name in ("day", "oven") if name in known])
    load = joint_codes(known.assign(a_day=day), ["a_day", "oven_load"])
    ranked = np.lexsort((load, known["bake_order"], day))
    starts = np.append(True, np.diff(load[ranked]) != 0)[: len(known)]
    rows = known[(np.bincount(load[ranked][starts], minlength=len(known)) > 1)[load]]
    if len(rows):
        told = places(rows, lambda row: f"{row['oven_load']}, place {plain(row['bake_order'])}")
        yield Spot(
            message=f"The order of baking goes back and forth between oven loads on {told}.",
            column="bake_order",
            rows=rows["line"],
            fix="Correct the order or the load from the bench sheet.",
        )


@check(
    "order-against-day",
    "warning",
    "A loaf baked earlier cannot belong to a later day.",
    needs=["day", "bake_order"],
    void_too=True,
)
def days_out_of_order(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does the order of baking run through the days, where it does not start again every day?"""
    known = loaves[loaves["bake_order"].notna() & loaves["day"].notna()]
    if known.empty or known["day"].nunique() == 1 or starts_again(known):
        return
    ranked = known.sort_values("bake_order", kind="stable")
    day = joint_codes(ranked, ["day"])
    usual = Groups.of(day).medians(ranked["bake_order"].to_numpy())[day]
    rows = rows_where(ranked, usual < np.maximum.accumulate(usual))
    if len(rows):
        told = places(rows, lambda row: f"place {plain(row['bake_order'])}, day {row['day']}")
        yield Spot(
            message=f"The order of baking and the day disagree on {told}.",
            column="bake_order",
            rows=rows["line"],
            fix="Correct the order or the day from the bench sheet.",
        )


@check(
    "losses-follow-formula",
    "warning",
    "Loaves lost from one formula more than another can bend the answer.",
    needs=["formula"],
    void_too=True,
)
def losses_that_follow_the_formula(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Are void loaves and missing values spread over the formulas as chance would have it?"""
    measure = (
        trial.card.measure
        if trial.card.measure in loaves
        else "loaf_ml"
        if "loaf_ml" in loaves
        else None
    )
    lost = loaves["void"].notna() if "void" in loaves else pd.Series(False, index=loaves.index)
    lost = lost | loaves[measure].isna() if measure else lost
    if lost.sum() < LEAST_LOST:
        return
    by = lost.groupby(loaves["formula"], sort=False, observed=True).agg(["sum", "size"])
    worst = chance_of_losing(by["sum"].to_numpy(), by["size"].to_numpy())
    if len(by) > 1 and worst < LOST_BY_CHANCE:
        told = [f"{gone} of {baked} {name}" for name, gone, baked in by[:MOST_TOLD].itertuples()]
        yield Spot(
            message=f"Void or without a value: {listed(told, more=len(by) - len(told))} loaves.",
            column="formula",
            rows=loaves.loc[lost, "line"],
            fix="Say in the answer why they were lost; bake them again if you can.",
        )


def starts_again(loaves: pd.DataFrame) -> bool:
    """Return whether places in the order come back from day to day."""
    return bool((kinds_in(joint_codes(loaves, ["bake_order"]), loaves["day"]) > 1).any())


def chance_of_losing(lost: NDArray, baked: NDArray) -> float:
    """Return the smallest chance, times the number of formulas, that one loses so many of all the
    lost loaves.

    Hypergeometric tail (Fisher's exact test), one formula against the rest.
    """
    all_lost, all_baked = int(lost.sum()), int(baked.sum())
    tails = [
        losing_so_many(int(x), int(n), all_lost, all_baked)
        for x, n in zip(lost, baked, strict=True)
    ]
    return min(tails, default=1.0) * len(tails)


def losing_so_many(lost: int, baked: int, all_lost: int, all_baked: int) -> float:
    """Return the chance that ``lost`` or more of ``all_lost`` loaves are among ``baked`` of
    ``all_baked``.
    """
    if lost <= baked * all_lost / all_baked:
        return 1.0

    def log_comb(n: int, k: int) -> float:
        return lgamma(n + 1) - lgamma(k + 1) - lgamma(n - k + 1)

    others = all_baked - baked
    term = exp(
        log_comb(baked, lost) + log_comb(others, all_lost - lost) - log_comb(all_baked, all_lost)
    )
    tail = term
    for k in range(lost, min(baked, all_lost)):
        term *= (baked - k) * (all_lost - k) / ((k + 1) * (others - all_lost + k + 1))
        tail += term
        if term < tail * 1e-9:
            break
    return tail
