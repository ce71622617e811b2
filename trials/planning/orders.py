"""Orders and places: which mix comes when, which load has which heat, which loaf stands where and
is measured when.
"""

from __future__ import annotations

import math

import numpy as np

from .even_order import Even, deal_evenly
from .mixes_to_days import DealtMixes
from .task import Task

# weights: a factor, all factors together, the same within a day's turns
FACTOR, JOINT, TURN = 2, 1, 4
STARTS_OF_LONG_ORDERS = 3  # an order of many loaves is even after a start or two


def joint(settings: np.ndarray) -> np.ndarray:
    """Return one number for every combination of settings that occurs: (n, factors) → (n,)."""
    if settings.shape[1] == 0:
        return np.zeros(len(settings), dtype=np.int64)
    return np.unique(settings, axis=0, return_inverse=True)[1].ravel()


def levels(settings: np.ndarray) -> list[np.ndarray]:
    """Return each factor's levels as labels from 0; a number half-way is a level of its own."""
    return [np.unique(column, return_inverse=True)[1].ravel() for column in settings.T]


def oven_settings(task: Task, rng: np.random.Generator) -> np.ndarray:
    """Return the level numbers of every load's factors, (days, loads, load factors), even over days
    and order.
    """
    names = task.factors("load")
    loads = max(task.loads, 1)
    if not names:
        return np.zeros((task.days, loads, 0), dtype=np.int64)
    counts = [len(task.levels[name]) for name in names]
    every = np.arange(loads) % math.prod(counts)
    heat = np.tile(every, task.days)
    place = np.tile(np.arange(loads), task.days)
    day = np.repeat(np.arange(task.days), loads)
    slot = deal_evenly(rng, day, [Even(heat, place, FACTOR, ordered=True)], place)
    dealt = np.empty(len(heat), dtype=np.int64)
    dealt[slot] = heat
    return np.stack(np.unravel_index(dealt, counts), axis=-1).reshape(task.days, loads, len(names))


def mixing_order(task: Task, mixes: DealtMixes, rng: np.random.Generator) -> np.ndarray:
    """Return each mix's place in its block's order of mixing, from 0.

    Where every combination is made equally often in a block, each turn holds every combination
    once.
    """
    block, m = mixes.block, task.mixes
    place = np.tile(np.arange(m), task.blocks)
    together = joint(mixes.settings)
    t = task.combinations("mix")
    turns = m // t if mixes.layout == "complete days" else 1
    groups = block * turns + place // t if turns > 1 else block
    slots = (
        np.lexsort((rng.permutation(len(block)), _copy(together, block), block))
        if turns > 1
        else None
    )
    items = slots if slots is not None else np.arange(len(block))
    wanted = [Even(label[items], place, FACTOR, ordered=True) for label in levels(mixes.settings)]
    wanted.append(Even(together[items], place, JOINT, ordered=True))
    if turns == 1 and m > t > 1:
        within = np.unique(np.column_stack([block, together]), axis=0, return_inverse=True)[
            1
        ].ravel()
        wanted.append(Even(within[items], place // t, TURN))
    slot = deal_evenly(rng, groups, wanted, place)
    order = np.empty(len(block), dtype=np.int64)
    order[items] = place[slot]
    return order


def _copy(together: np.ndarray, block: np.ndarray) -> np.ndarray:
    """Return, of each mix, how many of the same combination came before it in its block."""
    keys = together + block * (together.max() + 1)
    order = np.argsort(keys, kind="stable")
    starts = np.r_[True, np.diff(keys[order]) != 0]
    counted = np.arange(len(keys)) - np.maximum.accumulate(
        np.where(starts, np.arange(len(keys)), 0)
    )
    copies = np.empty(len(keys), dtype=np.int64)
    copies[order] = counted
    return copies


def oven_places(
    rng: np.random.Generator,
    zones: list[int],
    oven: np.ndarray,
    settings: np.ndarray,
    mix: np.ndarray,
) -> np.ndarray:
    """Return each loaf's zone, number in ``zones``; ``oven`` (n,) numbers what stands in the oven
    together.
    """
    zone = np.empty(len(oven), dtype=np.int64)
    for number in np.unique(oven):
        members = np.flatnonzero(oven == number)
        zone[members] = rng.permutation(_filled(rng, zones, len(members)))
    wanted = [Even(label, zone, FACTOR) for label in (*levels(settings), mix)]
    wanted.append(Even(joint(settings), zone, JOINT))
    return zone[deal_evenly(rng, oven, wanted)]


def _filled(rng: np.random.Generator, zones: list[int], loaves: int) -> np.ndarray:
    """Return the zone of every place that is used, zones filled in proportion to their places."""
    share = np.array(zones) * loaves
    used = share // sum(zones)
    left = share % sum(zones)
    more = np.lexsort((rng.permutation(len(zones)), -left))[: loaves - int(used.sum())]
    used[more] += 1
    return np.repeat(np.arange(len(zones)), used)


def even_order(
    rng: np.random.Generator, groups: np.ndarray, settings: np.ndarray, mix: np.ndarray
) -> np.ndarray:
    """Return each loaf's place in the order of its group, from 0: every level and mix equally early
    on average.
    """
    place = np.zeros(len(groups), dtype=np.int64)
    for group in np.unique(groups):
        members = groups == group
        place[members] = np.arange(members.sum())
    wanted = [Even(label, place, FACTOR, ordered=True) for label in levels(settings)]
    wanted += [
        Even(mix, place, JOINT, ordered=True),
        Even(joint(settings), place, JOINT, ordered=True),
    ]
    return place[deal_evenly(rng, groups, wanted, place, STARTS_OF_LONG_ORDERS)]
