"""Which mixes on which day: the first layout that fits, from complete days to one chosen by
exchange.
"""

from __future__ import annotations

import math
from itertools import combinations, product

import numpy as np

from ..frozen import frozen
from .exchange import Model, Units, exchange
from .incomplete_days import incomplete_days
from .result import Layout
from .task import Task
from .two_level import TwoLevel, two_level

LEAST_FOR_FRACTION = 3  # two-level factors from which a factorial in days is sought
CENTRE = -1  # the level number of a number half-way


@frozen
class DealtMixes:
    """The mixes' settings, block by block.

    settings (mixes, factors changed with the mix) : level numbers, −1 half-way; block (mixes,) : a
    baker's day
    pairs : of factors that the layout was made to tell apart; regular : the two-level layout, with
        its words
    """

    layout: Layout
    settings: np.ndarray
    block: np.ndarray
    pairs: tuple[tuple[int, int], ...] = ()
    regular: TwoLevel | None = None


def deal_mixes(task: Task, rng: np.random.Generator) -> DealtMixes:
    """Return the mixes of every baker's day; which day and which level is which is drawn by lot."""
    counts = [len(task.levels[name]) for name in task.factors("mix")]
    t, m, blocks = math.prod(counts), task.mixes, task.blocks
    if m % t == 0:
        return _complete(counts, m // t, blocks)
    dealt = _two_level(task, counts, rng) or _balanced(counts, m, blocks, rng)
    return dealt or _exchanged(task, counts, rng)


def model_of(task: Task, names: tuple[str, ...], pairs: tuple[tuple[int, int], ...]) -> Model:
    """Return the model of these factors; the card's control is what other formulas are held
    against.
    """
    control = [
        (
            task.levels[name].index(task.card.control)
            if name == "formula" and task.card.control in task.levels[name]
            else None
        )
        for name in names
    ]
    return Model(tuple(len(task.levels[name]) for name in names), tuple(control), pairs)


def _complete(counts: list[int], times: int, blocks: int) -> DealtMixes:
    every = list(product(*(range(n) for n in counts))) * times
    day = np.array(every, dtype=np.int64).reshape(len(every), len(counts))
    return DealtMixes(
        "complete days",
        np.tile(day, (blocks, 1)),
        np.repeat(np.arange(blocks), len(day)),
        tuple(combinations(range(len(counts)), 2)),
    )


def _two_level(task: Task, counts: list[int], rng: np.random.Generator) -> DealtMixes | None:
    """Return a factorial or fraction in days; with one mix a day to spare and numbers only, a
    centre point each day.
    """
    m, blocks = task.mixes, task.blocks
    if set(counts) != {2} or len(counts) < LEAST_FOR_FRACTION or not _power_of_two(blocks):
        return None
    numbers = all(
        isinstance(level, float) for name in task.factors("mix") for level in task.levels[name]
    )
    centre = not _power_of_two(m) and _power_of_two(m - 1) and numbers
    each = m - centre
    if not _power_of_two(each):
        return None
    made = two_level(len(counts), each * blocks, blocks)
    if made is None or each * blocks <= len(counts):
        return None
    signs = made.signs * rng.choice([-1, 1], size=len(counts))
    block = rng.permutation(blocks)[made.day]
    settings = (signs > 0).astype(np.int64)
    if centre:
        settings = np.vstack([settings, np.full((blocks, len(counts)), CENTRE)])
        block = np.append(block, np.arange(blocks))
    order = np.argsort(block, kind="stable")
    layout: Layout = "two-level fraction" if made.defining else "two-level factorial"
    return DealtMixes(
        layout, settings[order], block[order], tuple(combinations(range(len(counts)), 2)), made
    )


def _power_of_two(n: int) -> bool:
    return n > 0 and n & (n - 1) == 0


def _balanced(
    counts: list[int], m: int, blocks: int, rng: np.random.Generator
) -> DealtMixes | None:
    """Return balanced incomplete days of all combinations."""
    days = incomplete_days(math.prod(counts), m, blocks)
    if days is None:
        return None
    every = rng.permutation(np.array(list(product(*(range(n) for n in counts)))))
    chosen = np.array(days)[rng.permutation(blocks)]
    return DealtMixes(
        "balanced incomplete days",
        every[chosen.ravel()],
        np.repeat(np.arange(blocks), m),
        tuple(combinations(range(len(counts)), 2)),
    )


def _exchanged(task: Task, counts: list[int], rng: np.random.Generator) -> DealtMixes:
    """Return the layout chosen by exchange, with pairs of factors in the model where there are
    mixes for them.
    """
    m, blocks = task.mixes, task.blocks
    pairs = tuple(combinations(range(len(counts)), 2))
    needs = (
        blocks
        + sum(n - 1 for n in counts)
        + sum((counts[a] - 1) * (counts[b] - 1) for a, b in pairs)
    )
    if needs > m * blocks:
        pairs = ()
    block = np.repeat(np.arange(blocks), m)
    units = Units(np.arange(len(block)), block)
    settings = exchange(rng, model_of(task, task.factors("mix"), pairs), units)
    days = rng.permutation(blocks)
    return DealtMixes(
        "chosen by exchange",
        settings.reshape(blocks, m, -1)[days].reshape(len(block), -1),
        block,
        pairs,
    )
