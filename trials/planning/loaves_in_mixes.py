"""Which loaves are cut from which mix: all combinations in every mix, or as many as there are,
chosen by exchange.
"""

from __future__ import annotations

import math
from itertools import combinations, product

import numpy as np

from ..frozen import frozen
from .even_order import Even, deal_evenly
from .exchange import STARTS_OF_LOAVES, Units, exchange
from .mixes_to_days import CENTRE, model_of
from .result import Inside
from .task import Task

SILENT_RATIO = 1.0  # variance of mixes to that of loaves, where the card does not say


@frozen
class DealtLoaves:
    """The loaves' settings: of the factors changed with the loaf (loaves, factors), and each loaf's
    load of its day.
    """

    inside: Inside
    settings: np.ndarray
    load: np.ndarray
    pairs: tuple[tuple[str, str], ...] = ()


def deal_loaves(
    task: Task,
    rng: np.random.Generator,
    mixes: np.ndarray,
    block: np.ndarray,
    load_of_mix: np.ndarray,
    oven: np.ndarray,
) -> DealtLoaves:
    """Return the loaves of every mix, mix after mix.

    mixes (mixes, factors) : level numbers; block (mixes,); load_of_mix (mixes,) : load of the day,
    where a mix goes into one; oven (days, loads, load factors) : level numbers of every load
    """
    names = task.factors("loaf")
    counts = [len(task.levels[name]) for name in names]
    n, per, c = len(mixes), task.loaves, math.prod(counts)
    load = np.tile(np.arange(per) % task.loads, n) if task.divided else np.repeat(load_of_mix, per)
    if not names:
        return DealtLoaves("loaves alike", np.zeros((n * per, 0), dtype=np.int64), load)
    if per % c == 0:
        every = np.array(list(product(*(range(k) for k in counts))) * (per // c))
        settings = np.tile(every, (n, 1))
        if task.divided:
            mix = np.repeat(np.arange(n), per)
            load = _even_loads(rng, settings, mix, block[mix] // task.bakers, load)
        return DealtLoaves("complete mixes", settings, load)
    mix = np.repeat(np.arange(n), per)
    day = block[mix] // task.bakers
    held_names = (*task.factors("mix"), *task.factors("load"))
    held = np.column_stack([mixes[mix], oven[day, load]])
    held_names, held = _without_centres(held_names, held)
    everything = (*held_names, *names)
    pairs = _pairs_that_fit(task, everything, names, n * per - n)
    model = model_of(task, everything, pairs)
    units = Units(mix, block[mix], _ratio(task))
    chosen = exchange(
        rng, model, units, {i: held[:, i] for i in range(len(held_names))}, STARTS_OF_LOAVES
    )
    told = tuple((everything[a], everything[b]) for a, b in pairs)
    return DealtLoaves("chosen by exchange", chosen[:, len(held_names) :], load, told)


def _even_loads(
    rng: np.random.Generator,
    settings: np.ndarray,
    mix: np.ndarray,
    day: np.ndarray,
    load: np.ndarray,
) -> np.ndarray:
    """Return each loaf's load, every level of every factor of a mix, and of a day, evenly over the
    loads.
    """
    wanted = [
        Even(group * (int(column.max()) + 1) + column, load, 4)
        for column in settings.T
        for group in (mix, day)
    ]
    wanted.append(Even(np.unique(settings, axis=0, return_inverse=True)[1].ravel(), load, 1))
    return load[deal_evenly(rng, mix, wanted)]


def _without_centres(
    names: tuple[str, ...], held: np.ndarray
) -> tuple[tuple[str, ...], np.ndarray]:
    """Return the held factors; those of a layout with centre points are left out of the model of
    loaves.
    """
    keep = [i for i in range(len(names)) if CENTRE not in held[:, i]]
    return tuple(names[i] for i in keep), held[:, keep]


def _pairs_that_fit(
    task: Task, everything: tuple[str, ...], free: tuple[str, ...], room: int
) -> tuple[tuple[int, int], ...]:
    """Return the pairs that hold a factor of loaves, where there are loaves enough to tell them
    apart.
    """
    size = {name: len(task.levels[name]) - 1 for name in everything}
    pairs = [(a, b) for a, b in combinations(range(len(everything)), 2) if everything[b] in free]
    needs = sum(size[name] for name in free) + sum(
        size[everything[a]] * size[everything[b]] for a, b in pairs
    )
    return tuple(pairs) if needs <= room else ()


def _ratio(task: Task) -> float:
    """Return the assumed ratio of the variance of mixes to that of loaves."""
    said = task.card.variation
    if said is None or said.mix is None or not said.loaf:
        return SILENT_RATIO
    return (said.mix / said.loaf) ** 2
