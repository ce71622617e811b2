"""The run of a day: what is done when, with which loaves, and where each stands in the oven. For
who mixes.
"""

from __future__ import annotations

from typing import Any

import pandas as pd

from ..frozen import frozen
from ..planning.result import TrialPlan, rows_of
from ..planning.timetable import Timetable
from .levels import Levels, levels_of, mix_factors

ORDER_OF_WORK = ("weigh", "mix", "shape", "in", "out")  # of a dough, where there is no clock
SILENT = ("weigh", "mix")  # steps of a dough before there are loaves


@frozen(kw_only=True)
class RunStep:
    """One step. ``begins`` is "HH:MM", None without a timetable.

    ``baker`` is who makes the mix, where there are several; ``made`` are the levels of the mix;
    ``loaves`` the codes, apart by what is done to each.
    """

    step: str
    begins: str | None
    mix: str | None
    baker: str | None
    oven_load: str | None
    made: Levels
    loaves: tuple[tuple[Levels, tuple[str, ...]], ...]


@frozen(kw_only=True)
class OvenPlace:
    """Which loaves stand in a zone of the oven, of one load where there are loads."""

    oven_load: str | None
    place: str | None
    loaves: tuple[str, ...]


@frozen(kw_only=True)
class RunDay:
    """All of one day, in the order of the clock."""

    day: str
    steps: tuple[RunStep, ...]
    oven: tuple[OvenPlace, ...]


def run_days(plan: TrialPlan, timetable: Timetable) -> tuple[RunDay, ...]:
    """Return the run of every day; without times where the day could not be timed."""
    return tuple(
        RunDay(
            day=str(day),
            steps=_steps(plan, loaves, timetable.steps[timetable.steps["day"] == day]),
            oven=_oven(loaves, tuple(plan.card.kitchen.zones) if plan.card.kitchen else ()),
        )
        for day, loaves in plan.loaves.groupby("day", sort=False)
    )


def _steps(plan: TrialPlan, loaves: pd.DataFrame, timed: pd.DataFrame) -> tuple[RunStep, ...]:
    by_loaf = [name for name in plan.factors if name not in mix_factors(plan)]
    rows: list[tuple[Any, ...]] = (
        [tuple(row) for row in timed[["step", "begins", "mix", "oven_load", "loaves"]].to_numpy()]
        if len(timed)
        else _without_times(loaves)
    )
    indexed = loaves.set_index("loaf", drop=False)
    steps = []
    for step, begins, mix, oven_load, codes in rows:
        mine = indexed.loc[list(codes)]
        made = levels_of(mine.iloc[0], mix_factors(plan)) if mix is not None else ()
        apart: dict[Levels, list[str]] = {}
        for code, row in mine.iterrows() if step not in (*SILENT, "measure") else ():
            levels = levels_of(row, by_loaf) if step in ("shape", "in") else ()
            apart.setdefault(levels, []).append(str(code))
        steps.append(
            RunStep(
                step=step,
                begins=begins,
                mix=mix,
                baker=str(mine["baker"].iloc[0]) if mix is not None and "baker" in mine else None,
                oven_load=oven_load,
                made=made,
                loaves=tuple((levels, tuple(some)) for levels, some in apart.items()),
            )
        )
    return tuple(steps)


def _without_times(loaves: pd.DataFrame) -> list[tuple[Any, ...]]:
    """Return each dough's steps, dough by dough, and one measuring at the end."""
    mixes = loaves.sort_values(["mix_order", "mix"]).groupby("mix", sort=False)["loaf"]
    of_mix = {str(mix): tuple(map(str, codes)) for mix, codes in mixes}
    rows: list[tuple[Any, ...]] = [
        (step, None, mix, None, codes) for mix, codes in of_mix.items() for step in ORDER_OF_WORK
    ]
    return [*rows, ("measure", None, None, None, tuple(map(str, loaves["loaf"])))]


def _oven(loaves: pd.DataFrame, zones: tuple[str, ...]) -> tuple[OvenPlace, ...]:
    """Return the oven map: by load and by zone as the card names them, in baking order; empty where
    nothing of both is planned.
    """
    if not {"oven_load", "oven_place"} & set(loaves):
        return ()
    inside: dict[tuple[str | None, str | None], list[str]] = {}
    for row in rows_of(loaves.sort_values("bake_order")):
        inside.setdefault((row.get("oven_load"), row.get("oven_place")), []).append(row["loaf"])
    places = [
        OvenPlace(oven_load=load, place=place, loaves=tuple(codes))
        for (load, place), codes in inside.items()
    ]
    loads = list(dict.fromkeys(place.oven_load for place in places))
    order = {zone: at for at, zone in enumerate(zones)}
    return tuple(
        sorted(places, key=lambda p: (loads.index(p.oven_load), order.get(p.place or "", -1)))
    )
