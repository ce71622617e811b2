"""The work of one bake day in whole minutes: what the timetable has to place, read from the card
and the plan.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pandas as pd

from ..card import TrialCard
from ..frozen import frozen
from ..kitchen import Minutes

NEVER = 7 * 24 * 60  # minutes: longer than any limit of one day's work
NEEDED = ("mix", "rest", "shape", "proof", "bake")


@frozen(kw_only=True)
class Batch:
    """Loaves of one mix that go into the oven together: same load, proof and baking time.

    ``loaves`` are codes in the order of shaping; ``zones`` counts them by oven zone ("" for a
    single one).
    """

    load: int | None
    proof: int
    bake: int
    loaves: tuple[str, ...]
    zones: tuple[tuple[str, int], ...]


@frozen(kw_only=True)
class MixWork:
    """One dough: who makes it, its minutes at the mixer, its least and most rest, its batches as
    they are shaped.
    """

    name: str
    baker: str
    mix: int
    rest: tuple[int, int]
    batches: tuple[Batch, ...]

    @property
    def n_loaves(self) -> int:
        """Return how many loaves the dough is cut into."""
        return sum(len(batch.loaves) for batch in self.batches)


@frozen(kw_only=True)
class DayWork:
    """All doughs of one day, in the order in which each baker mixes them, and the kitchen's limits.

    ``loads`` names the oven loads in their order; empty where loaves go in as they are proofed.
    ``to_measure`` are the codes in measuring order; ``measure`` is None where that is not done on
    this day. ``places`` are the oven's places by zone, empty where nobody said. ``open`` is how
    long the kitchen is open, None without a closing time.
    """

    mixes: tuple[MixWork, ...]
    loads: tuple[str, ...]
    to_measure: tuple[str, ...]
    weigh: int
    attend: int
    shape: int
    late: int
    fill: int
    empty: int
    cool: tuple[int, int]
    measure: int | None
    hands: int
    places: tuple[tuple[str, int], ...]
    open: int | None

    @property
    def n_loaves(self) -> int:
        """Return the loaves of the day."""
        return sum(mix.n_loaves for mix in self.mixes)

    def nameless(self) -> DayWork:
        """Return the same work without codes and names, so that days of equal work can be told to
        be equal.
        """
        return replace(
            self,
            to_measure=(),
            loads=("",) * len(self.loads),
            mixes=tuple(
                replace(
                    mix,
                    name="",
                    batches=tuple(replace(b, loaves=("",) * len(b.loaves)) for b in mix.batches),
                )
                for mix in self.mixes
            ),
        )


def missing_minutes(card: TrialCard) -> tuple[str, ...]:
    """Return what the card must still say in [minutes] before a day can be timed."""
    minutes = card.minutes or Minutes()
    by_factor = {"proof": "proof_min", "bake": "bake_min", "rest": "rest_min", "mix": "mix_min"}
    return tuple(
        key
        for key in NEEDED
        if getattr(minutes, key) is None and by_factor.get(key) not in card.factors
    )


def day_work(card: TrialCard, loaves: pd.DataFrame) -> DayWork:
    """Return the work of one day; ``loaves`` are its rows of the plan (loaf, mix, mix_order, and
    what applies).
    """
    minutes, kitchen = card.minutes or Minutes(), card.kitchen
    loads = _in_order(loaves, "oven_load", "bake_order") if "oven_load" in loaves else ()
    opens, closes = (kitchen.opens, kitchen.closes) if kitchen else (None, None)
    zones = dict(kitchen.zones) if kitchen else {}
    if kitchen and not zones and kitchen.oven_places:
        zones = {"": kitchen.oven_places}
    names = _in_order(loaves, "mix", "mix_order")
    measured = minutes.measure is not None
    return DayWork(
        mixes=tuple(
            _mix_work(name, loaves[loaves["mix"] == name], minutes, loads, zones) for name in names
        ),
        loads=loads,
        to_measure=_in_order(loaves, "loaf", "measure_order"),
        weigh=_up(minutes.weigh),
        shape=_up(minutes.shape),
        late=int(minutes.late or 0),
        attend=_up(minutes.mix if minutes.attend is None else minutes.attend),
        fill=_up(minutes.fill),
        empty=_up(minutes.empty),
        cool=_span(minutes.cool or (card.min_cool_min or 0, NEVER)),
        measure=_up(minutes.measure) if measured else None,
        hands=kitchen.hands if kitchen else 1,
        places=tuple(zones.items()),
        open=closes - (opens or 0) if closes is not None else None,
    )


def measuring_minutes(work: DayWork) -> int:
    """Return how long measuring takes, the loaves dealt to all hands."""
    return -(-work.n_loaves // work.hands) * (work.measure or 0)


def _mix_work(
    name: str,
    loaves: pd.DataFrame,
    minutes: Minutes,
    loads: tuple[str, ...],
    zones: Mapping[str, int],
) -> MixWork:
    """Return the work of one dough; the loaves that proof longest are shaped first."""
    load: list[int | None] = [None] * len(loaves)
    if loads:
        load = [loads.index(str(v)) for v in loaves["oven_load"]]
    proof = map(_up, _own(loaves, "proof_min", minutes.proof))
    bake = map(_up, _own(loaves, "bake_min", minutes.bake))
    zone = [str(v) if v in zones else "" for v in _own(loaves, "oven_place", None)]
    together: defaultdict[tuple[int | None, int, int], list[tuple[str, str]]] = defaultdict(list)
    for within, proofs, bakes, loaf, where in zip(
        load, proof, bake, loaves["loaf"], zone, strict=True
    ):
        together[within, proofs, bakes].append((str(loaf), where))
    batches = [
        Batch(
            load=key[0],
            proof=key[1],
            bake=key[2],
            loaves=tuple(loaf for loaf, _ in inside),
            zones=tuple(sorted(Counter(where for _, where in inside).items())),
        )
        for key, inside in together.items()
    ]
    rest = _span(minutes.rest or (0.0, 0.0))
    if "rest_min" in loaves:
        rest = _up(loaves["rest_min"].iloc[0]), _up(loaves["rest_min"].iloc[0])
    mixing = [minutes.mix or 0, *(loaves["mix_min"].iloc[:1] if "mix_min" in loaves else ())]
    baker = str(loaves["baker"].iloc[0]) if "baker" in loaves else ""
    return MixWork(
        name=name,
        baker=baker,
        mix=max(map(_up, mixing)),
        rest=rest,
        batches=tuple(sorted(batches, key=lambda b: (b.load or 0, -b.proof, -b.bake, b.loaves))),
    )


def _in_order(loaves: pd.DataFrame, column: str, order: str) -> tuple[str, ...]:
    """Return the names in a column by their first place in ``order``, else as the plan lists
    them.
    """
    ordered = loaves.sort_values(order, kind="stable") if order in loaves else loaves
    return tuple(dict.fromkeys(map(str, ordered[column])))


def _own(loaves: pd.DataFrame, column: str, usual: float | None) -> list[Any]:
    return list(loaves[column]) if column in loaves else [usual] * len(loaves)


def _up(minutes: float | None) -> int:
    """Return whole minutes, never fewer than were given; none where nobody said."""
    return 0 if minutes is None else math.ceil(float(minutes) - 1e-9)


def _span(ends: tuple[float, float]) -> tuple[int, int]:
    least = _up(ends[0])
    return least, max(least, math.floor(ends[1]))
