"""Places the work of one day on the clock so that it ends as early as it can (constraint
programming, CP-SAT).
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

from ortools.sat.python import cp_model

from ..frozen import frozen
from .day_work import NEVER, Batch, DayWork, MixWork, measuring_minutes

Moment = Any  # a variable of the model, or one shifted by whole minutes
# of the solver's own measure of work, which is the same on every machine; no clock is asked
EFFORT = 0.5
# what a minute less at the end is worth at least, in minutes of rest and late proof
PER_MINUTE = 1000


@frozen(kw_only=True)
class DayClock:
    """When the work of a day begins, in minutes after opening; a row a mix, a row a batch of it.

    ``enters`` is when a batch goes in; ``shapes`` when the shaping of a batch begins; ``measures``
    when measuring begins, None where it is not done on this day. ``proven``: no day could end
    earlier.
    """

    weighs: tuple[int, ...]
    mixes: tuple[int, ...]
    shapes: tuple[tuple[int, ...], ...]
    enters: tuple[tuple[int, ...], ...]
    measures: int | None
    ends: int
    proven: bool


def place(work: DayWork, *, within: int | None = None) -> DayClock | None:
    """Return the clock of a day that ends earliest; with ``within``, any that ends by then. None:
    there is none.

    None also where none was found with the effort spent, which is bounded by the solver's count of
    its own steps, so that the answer is the same on every machine.
    """
    day = _Day(work)
    if within is None:
        day.model.minimize(max(PER_MINUTE, day.slack + 1) * day.end + sum(day.waits))
    else:
        day.model.add(day.end <= within)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = EFFORT
    status = solver.solve(day.model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return DayClock(
        weighs=tuple(solver.value(v) for v in day.weighs),
        mixes=tuple(solver.value(v) for v in day.mixes),
        shapes=tuple(tuple(solver.value(v) for v in row) for row in day.shapes),
        enters=tuple(tuple(solver.value(v) for v in row) for row in day.enters),
        measures=None if day.measures is None else solver.value(day.measures),
        ends=solver.value(day.end),
        proven=status == cp_model.OPTIMAL,
    )


@dataclass
class _Day:
    """The model of one day. Times are whole minutes after opening."""

    work: DayWork
    model: cp_model.CpModel = field(default_factory=cp_model.CpModel)

    def __post_init__(self) -> None:
        work = self.work
        self.latest = min(NEVER, _horizon(work))
        self.end = self.time()
        self.hands: list[cp_model.IntervalVar] = []
        self.weighs: list[Moment] = []
        self.mixes: list[Moment] = []
        self.waits: list[Moment] = []
        self.slack = 0  # minutes that all waits together could differ by
        self.shapes: list[list[Moment]] = []
        self.enters: list[list[Moment]] = []
        self.outs: list[Moment] = []
        self.loads = [self.time() for _ in work.loads]
        for mix in work.mixes:
            self.dough(mix)
        self.bakers_in_order()
        if work.loads:
            self.oven_by_loads()
        else:
            self.oven_one_by_one()
        self.model.add_cumulative(self.hands, [1] * len(self.hands), work.hands)
        self.measures = self.measuring() if work.measure is not None else None

    def time(self) -> Moment:
        """Return a moment of the day."""
        return self.model.new_int_var(0, self.latest, "")

    def busy(self, begins: Moment, minutes: int) -> cp_model.IntervalVar:
        """Return a stretch of time."""
        return self.model.new_fixed_size_interval_var(begins, minutes, "")

    def dough(self, mix: MixWork) -> None:
        """Weigh, mix, rest and shape one dough."""
        work, weigh, start = self.work, self.time(), self.time()
        self.weighs.append(weigh)
        self.mixes.append(start)
        self.model.add(start >= weigh + work.weigh)
        self.hands += [self.busy(weigh, work.weigh), self.busy(start, min(work.attend, mix.mix))]
        rest = self.rested_by_load if work.loads else self.rested_whole
        self.shapes.append(rest(mix, start + mix.mix))

    def rested_whole(self, mix: MixWork, mixed: Moment) -> list[Moment]:
        """Shape the dough in one go; each batch proofs from the end of its own shaping."""
        bench = self.time()
        self.rested(bench, mixed, mix.rest)
        self.hands.append(self.busy(bench, mix.n_loaves * self.work.shape))
        shapes, enters, shaped = [], [], 0
        for batch in mix.batches:
            shapes.append(bench + shaped)
            shaped += len(batch.loaves) * self.work.shape
            enters.append(self.time())
            self.proofed(enters[-1], bench + shaped, batch)
        self.enters.append(list(enters))
        return shapes

    def rested_by_load(self, mix: MixWork, mixed: Moment) -> list[Moment]:
        """Shape each batch on its own: a shorter proof rests longer by the difference, a later load
        waits.
        """
        first = min(batch.load or 0 for batch in mix.batches)
        longest = max(batch.proof for batch in mix.batches)
        shapes = []
        for batch in mix.batches:
            begins, n = self.time(), len(batch.loaves)
            most = NEVER if (batch.load or 0) > first else mix.rest[1] + longest - batch.proof
            self.rested(begins, mixed, (mix.rest[0], most))
            self.hands.append(self.busy(begins, n * self.work.shape))
            self.proofed(self.loads[batch.load or 0], begins + n * self.work.shape, batch)
            shapes.append(begins)
        self.enters.append([self.loads[batch.load or 0] for batch in mix.batches])
        return shapes

    def rested(self, begins: Moment, mixed: Moment, rest: tuple[int, int]) -> None:
        """Hold the rest between its least and its most."""
        self.waits.append(begins - mixed)
        self.slack += min(rest[1] - rest[0], self.latest)
        self.model.add_linear_constraint(begins - mixed, *rest)

    def proofed(self, enters: Moment, shaped: Moment, batch: Batch) -> None:
        """Let a batch in when it is proofed, or late by what is allowed."""
        self.waits.append(enters - shaped)
        self.slack += self.work.late
        self.model.add_linear_constraint(enters - shaped, batch.proof, batch.proof + self.work.late)

    def bakers_in_order(self) -> None:
        """Let each baker weigh and mix one dough after the other."""
        last: dict[str, int] = {}
        for i, mix in enumerate(self.work.mixes):
            if mix.baker in last:
                before = last[mix.baker]
                self.model.add(self.mixes[i] >= self.mixes[before] + self.work.mixes[before].mix)
                self.model.add(self.weighs[i] >= self.weighs[before] + self.work.weigh)
            last[mix.baker] = i

    def oven_one_by_one(self) -> None:
        """Fill and empty the oven batch by batch, never with more loaves than its places."""
        zones: defaultdict[str, list[tuple[cp_model.IntervalVar, int]]] = defaultdict(list)
        for mix, enters in zip(self.work.mixes, self.enters, strict=True):
            for batch, begins in zip(mix.batches, enters, strict=True):
                self.through_the_oven(begins, batch.bake)
                inside = self.busy(begins, self.work.fill + batch.bake)
                for zone, n in batch.zones:
                    zones[zone].append((inside, n))
        limits = dict(self.work.places)
        for zone, stays in zones.items():
            limit = limits.get(zone, sum(limits.values()))
            if limit:
                self.model.add_cumulative([stay for stay, _ in stays], [n for _, n in stays], limit)

    def oven_by_loads(self) -> None:
        """Fill the oven load by load; a load comes out whole before the next goes in."""
        free: Moment = 0
        for load, begins in enumerate(self.loads):
            baked = max(
                batch.bake for mix in self.work.mixes for batch in mix.batches if batch.load == load
            )
            self.model.add(begins >= free)
            self.through_the_oven(begins, baked)
            free = begins + self.work.fill + baked + self.work.empty

    def through_the_oven(self, begins: Moment, bake: int) -> None:
        """Fill, bake, empty; only filling and emptying take a hand."""
        out = begins + self.work.fill + bake
        self.hands += [self.busy(begins, self.work.fill), self.busy(out, self.work.empty)]
        self.outs.append(out + self.work.empty)
        self.model.add(self.end >= self.outs[-1])

    def measuring(self) -> Moment:
        """Measure every loaf in one session, when all are cool, with all hands."""
        begins, minutes = self.time(), measuring_minutes(self.work)
        self.model.add(self.end == begins + minutes)
        for out in self.outs:
            self.model.add(begins >= out + self.work.cool[0])
            self.model.add(begins + minutes <= out + self.work.cool[1])
        return begins


def _horizon(work: DayWork) -> int:
    """Return a time by which the work of the day would be done with one thing after the other."""
    doughs = sum(
        work.weigh
        + mix.mix
        + mix.rest[1]
        + sum(
            len(b.loaves) * work.shape + b.proof + work.late + b.bake + work.fill + work.empty
            for b in mix.batches
        )
        for mix in work.mixes
    )
    return doughs + work.cool[0] + measuring_minutes(work)
