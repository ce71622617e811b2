"""Layouts chosen by coordinate exchange, where no regular one fits: the least mean variance of what
will be reported.

Sources: Meyer & Nachtsheim 1995, Technometrics 37: 60-69 (coordinate exchange); Goos & Vandebroek
2001, J. Qual. Technol. 33: 436-450, and Jones & Goos 2007, Appl. Statist. 56: 347-364 (under whole
plots).

All starts go side by side, so that one product of matrices serves them all. Criteria are rounded
before the best is picked: last digits differ between processors.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache
from itertools import combinations

import numpy as np

from ..frozen import frozen

# added to the information, so that a start that cannot tell two effects apart has a criterion
RIDGE = 1e-6
DIGITS = 7  # of the criterion's logarithm: gains below are none
PAIR_WEIGHT = 0.1  # of a pair against a factor: pairs are not tied where they need not be
STARTS_OF_MIXES, STARTS_OF_LOAVES = 30, 20
# of so many mixes at most the best starts are improved: by swaps, or, with so few mixes to spare at
# most, by kicks of so many coordinates
MOST_IMPROVED, MOST_SPARE = 30, 2
SWAPPED_STARTS = 8
KICKED_STARTS, KICKS, KICKED = 15, 15, 4


@frozen
class Model:
    """What a layout is to tell apart.

    levels : of each factor; control : the level number that others are held against, or None, a
        factor
    pairs : of factors whose joint effect is in the model
    """

    levels: tuple[int, ...]
    control: tuple[int | None, ...]
    pairs: tuple[tuple[int, int], ...] = ()

    @property
    def columns(self) -> int:
        """Return the number of columns: independent contrasts."""
        alone = [n - 1 for n in self.levels]
        return sum(alone) + sum(alone[a] * alone[b] for a, b in self.pairs)

    def rows(self, settings: np.ndarray) -> np.ndarray:
        """Return the model's row of every setting: (…, factors) → (…, columns)."""
        main = [_with_centre(n)[settings[..., i]] for i, n in enumerate(self.levels)]
        both = [
            (main[a][..., :, None] * main[b][..., None, :]).reshape(*settings.shape[:-1], -1)
            for a, b in self.pairs
        ]
        return np.concatenate([*main, *both], axis=-1)

    def weights(self, reported: Sequence[bool]) -> np.ndarray:
        """Return W, for which trace(W V) is the mean variance of the reported contrasts; V is the
        columns' variance.

        Of each factor with True in ``reported``: its levels against the control, else all pairs of
        levels, factors weighted equally; of each pair of factors a tenth of that.
        """
        blocks = []
        for n, control, wanted in zip(self.levels, self.control, reported, strict=True):
            rows = contrasts(n)
            pairs = (
                combinations(range(n), 2)
                if control is None
                else ((control, i) for i in range(n) if i != control)
            )
            apart = np.array([rows[b] - rows[a] for a, b in pairs])
            blocks.append(apart.T @ apart / len(apart) if wanted else np.zeros((n - 1, n - 1)))
        for a, b in self.pairs:
            size = (self.levels[a] - 1) * (self.levels[b] - 1)
            blocks.append(np.eye(size) * 4 * PAIR_WEIGHT / size)
        whole = np.zeros((self.columns, self.columns))
        at = 0
        for block in blocks:
            whole[at : at + len(block), at : at + len(block)] = block
            at += len(block)
        return whole / max(sum(reported), 1)


def contrasts(n: int) -> np.ndarray:
    """Return orthonormal contrasts of n levels, scaled to columns of squared length n: (n, n − 1);
    Helmert's.
    """
    rows = np.zeros((n, n - 1))
    for j in range(1, n):
        rows[:j, j - 1] = -1.0
        rows[j, j - 1] = j
    return rows * np.sqrt(n / (rows**2).sum(axis=0)) if n > 1 else rows


@cache
def _with_centre(n: int) -> np.ndarray:
    """Return the contrasts with one row more, of zeros: level −1 is half-way between all."""
    return np.vstack([contrasts(n), np.zeros((1, n - 1))])


@frozen
class Units:
    """The units that get a setting: mix (n,), block (n,) of each, and the variance ratio mix to
    loaf, 0 for mixes.
    """

    mix: np.ndarray
    block: np.ndarray
    ratio: float = 0.0

    def shrink(self) -> tuple[np.ndarray, np.ndarray]:
        """Return a mix's share of ``ratio`` (mixes,) and the weight of each block's mean
        (blocks,).
        """
        sizes = np.bincount(self.mix)
        shared = 1 / (1 + self.ratio * sizes)
        block = np.zeros(len(sizes), dtype=np.int64)
        block[self.mix] = self.block
        return shared, np.bincount(block, weights=sizes * shared)

    def sums(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the sum of the rows of each mix (…, mixes, p), and the weighted sum of each block
        (…, blocks, p).
        """
        shared, of_block = self.shrink()
        mixes = (np.arange(len(shared))[:, None] == self.mix).astype(float)
        blocks = (np.arange(len(of_block))[:, None] == self.block) * shared[self.mix]
        return mixes @ x, blocks @ x


def information(x: np.ndarray, units: Units) -> np.ndarray:
    """Return the information on the columns, blocks eliminated and mixes random: (…, n, p) → (…, p,
    p).
    """
    shared, of_block = units.shrink()
    sums, means = units.sums(x)
    total = np.swapaxes(x, -1, -2) @ x
    total = total - np.swapaxes(sums * (units.ratio * shared)[:, None], -1, -2) @ sums
    return total - np.swapaxes(means / of_block[:, None], -1, -2) @ means


def mean_variance(info: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Return the mean variance of the reported contrasts: (…, p, p) → (…)."""
    inverse = np.linalg.inv(info + RIDGE * np.eye(info.shape[-1]))
    return (inverse * weights).sum(axis=(-1, -2))


def exchange(
    rng: np.random.Generator,
    model: Model,
    units: Units,
    held: dict[int, np.ndarray] | None = None,
    starts: int = STARTS_OF_MIXES,
) -> np.ndarray:
    """Return the best setting found of every unit: (n, factors), level numbers.

    ``held`` : factor → its levels (n,), which are given and not exchanged; only the others'
    contrasts are minimised. Among equals the one with the least spread of level totals, then of
    combinations.
    """
    held = held or {}
    free = [i for i in range(len(model.levels)) if i not in held]
    n = len(units.mix)
    settings = np.stack(
        [rng.integers(levels, size=(starts, n)) for levels in model.levels], axis=-1
    )
    for factor, levels in held.items():
        settings[..., factor] = levels
    weights = model.weights([i in free for i in range(len(model.levels))])
    settings, found = _descend(rng, settings, model, units, weights, free)
    if len(np.unique(units.mix)) == n <= MOST_IMPROVED and not held:
        spare = n - len(np.unique(units.block)) - model.columns
        improve = _with_swaps if spare > MOST_SPARE else _with_kicks
        settings, found = improve(rng, settings, found, model, units, weights)
    rounded = _rounded(found)
    keys = [
        (rounded[s], *_spreads(settings[s], model.levels, free), s) for s in range(len(settings))
    ]
    return settings[min(keys)[-1]]


def _rounded(values: np.ndarray) -> np.ndarray:
    """Return logarithms, rounded: differences in the last digits of a criterion are none."""
    return np.round(np.log(values), DIGITS)


def _spreads(settings: np.ndarray, levels: Sequence[int], free: list[int]) -> tuple[int, int]:
    """Return the sum of the spreads of level totals, and the spread of the combinations' totals."""
    totals = sum(int(np.ptp(np.bincount(settings[:, i], minlength=levels[i]))) for i in free)
    joint = np.ravel_multi_index(settings[:, free].T, [levels[i] for i in free])
    return totals, int(np.ptp(np.bincount(joint, minlength=math.prod(levels[i] for i in free))))


def _best(found: np.ndarray, most: int) -> np.ndarray:
    """Return the places of the best starts, in their order."""
    return np.lexsort((np.arange(len(found)), _rounded(found)))[:most]


def _with_swaps(
    rng: np.random.Generator,
    settings: np.ndarray,
    found: np.ndarray,
    model: Model,
    units: Units,
    weights: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Return the starts with the best of them improved: two units exchange a level, then
    coordinates are exchanged again, until neither gains.
    """
    best = _best(found, SWAPPED_STARTS)
    settings, found, free = settings.copy(), found.copy(), list(range(len(model.levels)))
    for start in best:
        while True:
            swapped = _swaps(settings[start])
            value = mean_variance(information(model.rows(swapped), units), weights)
            first = int(_rounded(value).argmin())
            if _rounded(value[first]) >= _rounded(found[start]):
                break
            one, now = _descend(rng, swapped[first : first + 1], model, units, weights, free)
            settings[start], found[start] = one[0], now[0]
    return settings, found


def _with_kicks(
    rng: np.random.Generator,
    settings: np.ndarray,
    found: np.ndarray,
    model: Model,
    units: Units,
    weights: np.ndarray,
) -> tuple[np.ndarray, np.ndarray]:
    """Return the best starts improved: a few coordinates are drawn anew, all exchanged again, and
    what is worse is thrown away.

    Where hardly a mix is to spare, single coordinates and swaps end in poor layouts far more often
    than not. Source: Lourenço, Martin & Stützle 2003, Handbook of Metaheuristics, ch. 11 (iterated
    local search).
    """
    best = _best(found, KICKED_STARTS)
    settings, found, free = settings[best], found[best], list(range(len(model.levels)))
    every, n = np.arange(len(best))[:, None], settings.shape[1]
    for _ in range(KICKS):
        at = rng.permuted(np.tile(np.arange(n * len(free)), (len(best), 1)), axis=1)[:, :KICKED]
        kicked = settings.copy()
        kicked[every, at // len(free), at % len(free)] = rng.integers(
            np.array(model.levels)[at % len(free)]
        )
        kicked, now = _descend(rng, kicked, model, units, weights, free)
        kept = _rounded(now) <= _rounded(found)
        settings[kept], found[kept] = kicked[kept], now[kept]
    return settings, found


def _swaps(settings: np.ndarray) -> np.ndarray:
    """Return every layout in which two units with different levels of a factor exchange them, and
    the one given.
    """
    changed = [settings[None]]
    for factor in range(settings.shape[1]):
        column = settings[:, factor]
        a, b = np.nonzero(np.triu(column[:, None] != column[None, :]))
        others = np.repeat(settings[None], len(a), axis=0)
        others[np.arange(len(a)), a, factor] = column[b]
        others[np.arange(len(a)), b, factor] = column[a]
        changed.append(others)
    return np.concatenate(changed)


def _descend(
    rng: np.random.Generator,
    settings: np.ndarray,
    model: Model,
    units: Units,
    weights: np.ndarray,
    free: list[int],
) -> tuple[np.ndarray, np.ndarray]:
    """Exchange one coordinate after another in every start, until a pass gains nothing in it."""
    shared, of_block = units.shrink()
    x = model.rows(settings)
    of_mix, of_blocks = units.sums(x)
    info = information(x, units)
    now = mean_variance(info, weights)
    coordinates = [(unit, factor) for unit in range(settings.shape[1]) for factor in free]
    on = np.arange(len(settings))  # the starts that gained in the last pass: others never will
    while len(on):
        before = _rounded(now[on])
        for unit, factor in rng.permutation(coordinates):
            mix, block = units.mix[unit], units.block[unit]
            levels = _other_levels(settings[on, unit, factor], model.levels[factor])
            tried = np.repeat(settings[on, unit, None], levels.shape[1], axis=1)
            tried[..., factor] = levels
            step = model.rows(tried) - x[on, unit, None]  # (starts, levels, p)
            own = shared[mix]
            gradient = (
                x[on, unit]
                - units.ratio * own * of_mix[on, mix]
                - own / of_block[block] * of_blocks[on, block]
            )
            curvature = 1 - units.ratio * own - own**2 / of_block[block]
            half = (gradient[:, None] + curvature / 2 * step)[..., None] * step[..., None, :]
            changed = info[on, None] + half + np.swapaxes(half, -1, -2)
            found = mean_variance(changed, weights)
            rounded = _rounded(found)
            best = rounded.argmin(axis=1)
            gains = np.flatnonzero(
                np.take_along_axis(rounded, best[:, None], 1)[:, 0] < _rounded(now[on])
            )
            s, level = on[gains], best[gains]
            move = step[gains, level]
            settings[s, unit], info[s] = tried[gains, level], changed[gains, level]
            now[s] = found[gains, level]
            x[s, unit] += move
            of_mix[s, mix] += move
            of_blocks[s, block] += move * own
        on = on[_rounded(now[on]) < before]
    return settings, now


def _other_levels(now: np.ndarray, levels: int) -> np.ndarray:
    """Return, for the level (starts,) that a unit has, all others in their order: (starts, levels −
    1).
    """
    return np.sort((now[:, None] + np.arange(1, levels)) % levels, axis=1)
