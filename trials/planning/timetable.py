"""The timetable of a bake day: what is begun when, whether the day is long enough, and what would
help if not.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from functools import cache, partial
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from ..card import TrialCard
from ..findings import Finding, TrialError
from ..frozen import frozen
from ..words.lists import counted
from .day_work import Batch, DayWork, MixWork, day_work, measuring_minutes, missing_minutes
from .result import TrialPlan, rows_of
from .task import task_of

if TYPE_CHECKING:
    from .day_solver import DayClock

STEPS = ("day", "step", "mix", "oven_load", "loaves", "begins", "ends")
MORE_REST = 30  # minutes that are tried on top of the most rest
MOST_MORE_HANDS = 3  # pairs that are tried
NIGHT = 12 * 60  # minutes that a loaf cools at least when it is measured on the next day


@frozen(kw_only=True)
class Timetable:
    """When each step of the bench work begins and ends.

    Attributes
    ----------
    fits : whether every day ends before the kitchen closes; None where the card does not say enough
        to tell
    steps : day, step ("weigh", "mix", "shape", "in", "out", "measure"), mix, oven_load, loaves
        (their codes, in the order of shaping or of measuring), begins, ends ("HH:MM"; after
        midnight the hours run on, "25:10"); in the order of the clock. "in" is the filling, "out"
        the emptying of the oven
    conflicts : why a day does not fit, with each single change that would help
    ends : when the latest of the days ends, "HH:MM"; None where no day could be placed
    proven : whether it is proven that no day could end earlier
    notes : what the oven's loads ask of rest, where they do, and that nobody said when the kitchen
        opens
    """

    fits: bool | None
    steps: pd.DataFrame
    conflicts: tuple[Finding, ...] = ()
    ends: str | None = None
    proven: bool = False
    notes: tuple[Finding, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        rows = rows_of(self.steps.drop(columns="loaves"))
        codes = [list(step) for step in self.steps["loaves"]]
        return {
            "fits": self.fits,
            "ends": self.ends,
            "proven": self.proven,
            "steps": [row | {"loaves": here} for row, here in zip(rows, codes, strict=True)],
            "conflicts": [finding.to_dict() for finding in self.conflicts],
            "notes": [finding.to_dict() for finding in self.notes],
        }


def bench_timetable(plan: TrialPlan, day: str | None = None) -> Timetable:
    """Return the timetable of one day of a plan, or of every day.

    One-day scheduling in whole minutes: mixes in their order at each baker's mixer, hands for
    weighing, the first minutes of mixing, shaping, filling, emptying and measuring, rest and proof
    within their limits, oven places. The day that ends earliest is chosen, then the one with the
    least rest.

    Raises
    ------
    ValueError: the plan has no such day.
    """
    loaves = plan.loaves
    days = list(dict.fromkeys(map(str, loaves["day"])))
    if day is not None and str(day) not in days:
        raise ValueError(f"the plan has no day {day!r}; it has {', '.join(days)}")
    missing = missing_minutes(plan.card)
    if missing:
        return Timetable(
            fits=None,
            steps=pd.DataFrame(columns=list(STEPS)),
            conflicts=(_too_little_said(missing),),
        )
    wanted = days if day is None else [str(day)]
    work = _days_work(plan.card, loaves)
    return _timetable({name: work[name] for name in wanted}, plan)


def _days_work(card: TrialCard, loaves: pd.DataFrame) -> dict[str, DayWork]:
    """Return the work of every day."""
    days = loaves["day"].astype(str)
    return {name: day_work(card, loaves[days == name]) for name in dict.fromkeys(days)}


def _timetable(work: dict[str, DayWork], plan: TrialPlan) -> Timetable:
    """Return the timetable of these days; days of equal work are placed once."""
    from .day_solver import place

    said = plan.card.kitchen.opens if plan.card.kitchen else None
    opens = said or 0
    placed: dict[DayWork, DayClock | None] = {}
    unfit: dict[DayWork, list[str]] = {}
    rows: list[tuple[Any, ...]] = []
    for name, of_day in work.items():
        alike = of_day.nameless()
        if alike not in placed:
            placed[alike] = place(of_day)
        clock = placed[alike]
        if clock is not None:
            rows += [(name, *step) for step in _steps(of_day, clock, opens)]
        if clock is None or not _in_time(clock, of_day):
            unfit.setdefault(alike, []).append(name)
    changes = _Changes(plan.card, cache(partial(_plan_fits, plan)))
    why: dict[Finding, list[str]] = {}
    for alike, names in unfit.items():
        found = _conflict(work[names[0]], placed[alike], opens, changes)
        why.setdefault(found, []).extend(names)
    conflicts = tuple(
        replace(found, message=f"{_days(names)} not fit: {found.message}")
        for found, names in why.items()
    )
    clocks = [clock for clock in placed.values() if clock is not None]
    return Timetable(
        fits=not conflicts,
        steps=pd.DataFrame(rows, columns=list(STEPS), dtype=object),
        conflicts=conflicts,
        ends=hh_mm(opens + max(clock.ends for clock in clocks)) if clocks else None,
        proven=len(clocks) == len(placed) and all(clock.proven for clock in clocks),
        notes=(*_notes(work.values()), *([] if said is not None or not rows else [NO_OPENING])),
    )


def _notes(days: Iterable[DayWork]) -> Iterator[Finding]:
    """Yield what is not as the card's rest says because whole loads go in and come out at once."""
    mixes = [mix for work in days if work.loads for mix in work.mixes]
    proofs = [
        {b.proof for b in mix.batches if b.load == load}
        for mix in mixes
        for load in {b.load for b in mix.batches}
    ]
    if any(len(some) > 1 for some in proofs):
        yield Finding(
            code="rest-for-proof",
            severity="note",
            message=(
                "Loaves of one mix that proof for different times go into the oven together: "
                "what proofs for "
                "less time rests longer by as much."
            ),
            why="A load goes in and comes out at once, so that rest and proof trade places.",
            fix=(
                "Say so with the result, or let loaves go in as they are proofed: leave out "
                "loads_a_day."
            ),
        )
    if any(len({b.load for b in mix.batches}) > 1 for mix in mixes):
        yield Finding(
            code="dough-waits",
            severity="note",
            message=(
                "Every mix is divided over the oven's loads: its dough for a later load rests "
                "longer."
            ),
            why="Loads are compared within a mix, and a load waits until the one before it is out.",
            fix=(
                "Keep what waits cool and covered; more mixes a day would let a load hold whole "
                "mixes."
            ),
        )


NO_OPENING = Finding(
    code="no-opening",
    severity="note",
    message=(
        "The card does not say when the kitchen opens: the times are hours and minutes after the"
        " work begins."
    ),
    fix='Write under  [kitchen]  opens = "07:00"',
)


def _in_time(clock: DayClock, work: DayWork) -> bool:
    return work.open is None or clock.ends <= work.open


def _steps(work: DayWork, clock: DayClock, opens: int) -> list[tuple[Any, ...]]:
    """Return (step, mix, oven_load, codes, begins, ends) of a day, in the order of the clock."""
    timed = [*_dough_steps(work, clock), *_oven_steps(work, clock)]
    if clock.measures is not None:
        timed.append(
            (clock.measures, measuring_minutes(work), "measure", None, None, work.to_measure)
        )
    timed.sort(key=lambda row: (row[0], row[0] + row[1]))
    return [
        (step, mix, load, codes, hh_mm(opens + begins), hh_mm(opens + begins + minutes))
        for begins, minutes, step, mix, load, codes in timed
    ]


def _dough_steps(work: DayWork, clock: DayClock) -> Iterator[tuple[Any, ...]]:
    """Yield weighing, mixing and shaping: a row a mix, and for shaping a row for what is shaped in
    one go.
    """
    for i, mix in enumerate(work.mixes):
        codes = tuple(code for batch in mix.batches for code in batch.loaves)
        yield clock.weighs[i], work.weigh, "weigh", mix.name, None, codes
        yield clock.mixes[i], mix.mix, "mix", mix.name, None, codes
        if work.loads:
            for begins, batch in zip(clock.shapes[i], mix.batches, strict=True):
                yield (
                    begins,
                    len(batch.loaves) * work.shape,
                    "shape",
                    mix.name,
                    _load(work, batch),
                    batch.loaves,
                )
        else:
            yield clock.shapes[i][0], mix.n_loaves * work.shape, "shape", mix.name, None, codes


def _oven_steps(work: DayWork, clock: DayClock) -> Iterator[tuple[Any, ...]]:
    """Yield what goes in and comes out: a row a batch, or a row a load."""
    stays: dict[tuple[Any, ...], list[tuple[MixWork, Batch]]] = {}
    for i, mix in enumerate(work.mixes):
        for begins, batch in zip(clock.enters[i], mix.batches, strict=True):
            key = (batch.load,) if work.loads else (mix.name, begins, batch.proof, batch.bake)
            stays.setdefault((begins, *key), []).append((mix, batch))
    for (begins, *_), inside in stays.items():
        mixes = dict.fromkeys(mix.name for mix, _ in inside)
        codes = tuple(code for _, batch in inside for code in batch.loaves)
        who = (next(iter(mixes)) if len(mixes) == 1 else None, _load(work, inside[0][1]), codes)
        yield begins, work.fill, "in", *who
        yield begins + work.fill + max(batch.bake for _, batch in inside), work.empty, "out", *who


def _load(work: DayWork, batch: Batch) -> str | None:
    return None if batch.load is None else work.loads[batch.load]


# what would help ----------------------------------------------------------------------------------


@frozen
class _Changes:
    """What changes of the card are possible; fits : whether a plan of so many mixes a day fits,
    drawn once.
    """

    card: TrialCard
    fits: Callable[[int], bool]


def _days(names: list[str]) -> str:
    return f"Day {names[0]} does" if len(names) == 1 else f"Days {', '.join(names)} do"


def _conflict(work: DayWork, clock: DayClock | None, opens: int, changes: _Changes) -> Finding:
    """Return why a day does not fit, with what would help and what would not; without its name."""
    full = _too_full(work)
    if full:
        return Finding(
            code="does-not-fit",
            severity="warning",
            message=full,
            why="These loaves go in at the same time.",
            fix="Give the oven more places, or cut each mix into fewer loaves.",
        )
    closing = f"the kitchen closes at {hh_mm(opens + work.open)}" if work.open is not None else ""
    if clock is not None:
        said = f"the work would end at {hh_mm(opens + clock.ends)}, and {closing}."
    else:
        said = (
            "no order of the work was found that keeps rest, proof and cooling within their limits"
            + (f", and {closing}." if closing else ".")
        )
    helps, fails = _single_changes(work, clock, opens, changes)
    fix = (
        f"Any one of these would do: {'; '.join(helps)}."
        if helps
        else (
            "No single change that was tried would do: make fewer mixes or loaves, or take more "
            "days."
        )
    )
    if fails:
        fix += f" These alone would not: {'; '.join(fails)}."
    return Finding(
        code="does-not-fit",
        severity="warning",
        message=said,
        why="Work that is late is done in haste, and the last loaves are treated differently.",
        fix=fix,
    )


def _too_full(work: DayWork) -> str:
    """Return which batch or load has more loaves than the oven takes; empty where each finds its
    places.
    """
    limits = dict(work.places)
    inside: dict[tuple[Any, ...], int] = {}
    for mix in work.mixes:
        for batch in mix.batches:
            what = f"load {_load(work, batch)}" if work.loads else f"mix {mix.name}"
            for zone, n in batch.zones:
                key = (what, zone) if work.loads else (what, zone, batch.proof, batch.bake)
                inside[key] = inside.get(key, 0) + n
    for (what, zone, *_), n in inside.items():
        limit = limits.get(zone, sum(limits.values()))
        if limit and n > limit:
            where = f"the oven's {zone}" if zone else "the oven"
            return f"{what} has {n} loaves for {where}, which takes {limit}."
    return ""


def _single_changes(
    work: DayWork, clock: DayClock | None, opens: int, possible: _Changes
) -> tuple[list[str], list[str]]:
    """Return the single changes that would make the day fit, and those that would not."""
    helps, fails = [], []
    if clock is not None:
        helps.append(f"close at {hh_mm(opens + clock.ends)}")
    elif work.open is not None:
        fails.append("a later closing time")
    more = (n for n in range(1, MOST_MORE_HANDS + 1) if _can(_more_hands(work, n)))
    hands = next(more, None)
    if hands is None:
        fails.append("more hands")
    else:
        helps.append(_hands_words(work.hands, hands))
    changes = {
        "twice the oven places": _more_places(work),
        f"{MORE_REST} minutes more of rest where needed": _more_rest(work, possible.card),
        _next_day(work): None if work.measure is None else replace(work, measure=None),
    }
    for words, changed in changes.items():
        if changed is not None:
            (helps if _can(changed) else fails).append(words)
    fewer = _fewer_mixes(work, possible)
    if fewer:
        helps.append(f"{fewer} mix{'es' if fewer > 1 else ''} a day")
    else:
        fails.append("fewer mixes")
    return helps, fails


def _can(work: DayWork) -> bool:
    from .day_solver import place

    return place(work, within=work.open) is not None


def _fewer_mixes(work: DayWork, possible: _Changes) -> int:
    """Return the most mixes, of every baker, of which a plan can be made whose days all fit; or
    0.
    """
    bakers = {mix.baker for mix in work.mixes}
    for n in range(len(work.mixes) // len(bakers) - 1, 0, -1):
        if _can(_first_mixes(work, n)) and possible.fits(n):
            return n
    return 0


def _plan_fits(plan: TrialPlan, mixes: int) -> bool:
    """Return whether a plan of so many mixes a day can be drawn, and fits into its days."""
    from .draw import draw

    assert plan.card.kitchen is not None
    kitchen = replace(plan.card.kitchen, mixes_a_day=mixes)
    try:
        task = task_of(replace(plan.card, kitchen=kitchen))
    except TrialError:
        return False
    drawn = draw(task, np.random.Generator(np.random.PCG64(plan.seed)))
    days = _days_work(task.card, drawn.loaves).values()
    return all(_can(day) for day in {one.nameless() for one in days})


def _first_mixes(work: DayWork, n: int) -> DayWork:
    """Return the day with the first mixes of every baker only."""
    made: Counter[str] = Counter()
    mixes = []
    for mix in work.mixes:
        made[mix.baker] += 1
        if made[mix.baker] <= n:
            mixes.append(mix)
    used = sorted({batch.load for mix in mixes for batch in mix.batches if batch.load is not None})
    return replace(
        work,
        loads=tuple(work.loads[load] for load in used),
        mixes=tuple(
            replace(
                mix,
                batches=tuple(
                    replace(b, load=None if b.load is None else used.index(b.load))
                    for b in mix.batches
                ),
            )
            for mix in mixes
        ),
    )


def _more_hands(work: DayWork, more: int) -> DayWork:
    return replace(work, hands=work.hands + more)


def _hands_words(now: int, more: int) -> str:
    said = "a second pair" if now == more == 1 else counted(more, "more pair", "more pairs")
    return f"{said} of hands (hands = {now + more})"


def _more_places(work: DayWork) -> DayWork | None:
    if work.loads or not work.places:
        return None
    return replace(work, places=tuple((zone, 2 * n) for zone, n in work.places))


def _more_rest(work: DayWork, card: TrialCard) -> DayWork | None:
    if "rest_min" in card.factors:
        return None
    return replace(
        work,
        mixes=tuple(
            replace(mix, rest=(mix.rest[0], mix.rest[1] + MORE_REST)) for mix in work.mixes
        ),
    )


def _next_day(work: DayWork) -> str:
    """Return how measuring on the next day is said, where it is longer than loaves may cool."""
    most = work.cool[1]
    return "measuring on the next day" + (
        f" (if loaves may cool for longer than {most} minutes)" if most < NIGHT else ""
    )


def _too_little_said(missing: tuple[str, ...]) -> Finding:
    example = {
        "mix": "mix = 12",
        "rest": "rest = [50, 60]",
        "shape": "shape = 1",
        "proof": "proof = 60",
        "bake": "bake = 30",
    }
    return Finding(
        code="no-minutes",
        severity="note",
        message=(
            f"There is no timetable: the card does not say under [minutes] {', '.join(missing)}."
        ),
        fix=f"Write under  [minutes]  {'  ,  '.join(example[key] for key in missing)}",
    )


def hh_mm(minutes: int) -> str:
    """Return minutes after midnight as "HH:MM"; on the next day the hours run on."""
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
