"""Which groups are linked, and which of the linked components look alike.

Two groups are linked when a loaf lies in both. Components are numbered from 0; inside a component
the groups are in an order that depends on their sizes and links alone, coarse groupings first, so
that components that look alike get the same description. (Nested layouts are always recognised; two
crossed components that look alike may be taken for two patterns, which costs time and nothing
else.)
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ...trials.frozen import frozen


@frozen
class Cells:
    """The distinct combinations of groups in which loaves lie.

    group : (cells, k) places in the list of all groups, coarsest grouping first
    loaves : (cells,) how many lie there
    size : (groups,) loaves of each group
    """

    group: NDArray
    loaves: NDArray
    size: NDArray


@frozen
class Components:
    """The components of linked groups.

    of_cell, of_group : the component of a cell and of a group
    place : (groups,) a group's place inside its component
    n_groups : (components,) groups in a component
    look : (components,) equal for components that look alike
    """

    of_cell: NDArray
    of_group: NDArray
    place: NDArray
    n_groups: NDArray
    look: NDArray


def find_cells(codes: tuple[NDArray, ...], starts: NDArray) -> Cells:
    """Cross the groupings; codes[k] counts from starts[k]."""
    counts = np.diff(starts)
    coarse_first = np.argsort(counts, kind="stable")
    cell = codes[coarse_first[-1]] - starts[coarse_first[-1]]
    for k in coarse_first[-2::-1]:
        cell = cross(cell, codes[k] - starts[k])
    some_loaf = np.empty(cell.max() + 1, int)
    some_loaf[cell] = np.arange(len(cell))
    size = np.concatenate(
        [np.bincount(code - start) for code, start in zip(codes, starts[:-1], strict=True)]
    )
    return Cells(
        np.column_stack([codes[k][some_loaf] for k in coarse_first]), np.bincount(cell), size
    )


def cross(fine: NDArray, coarse: NDArray) -> NDArray:
    """Number the combinations of two codings; that is the fine one itself when it is nested in the
    other.
    """
    above = np.empty(fine.max() + 1, int)
    above[fine] = coarse
    if (above[fine] == coarse).all():
        return fine
    return np.unique(fine * (coarse.max() + 1) + coarse, return_inverse=True)[1].reshape(-1)


def find_components(cells: Cells) -> Components:
    """Link the groups, order them inside their components, and describe each component's look."""
    of_cell = connect(cells)
    of_group = np.empty(len(cells.size), int)
    for column in cells.group.T:
        of_group[column] = of_cell
    n_groups = np.bincount(of_group)
    place = order_groups(cells, of_cell, of_group, len(n_groups))
    look = cells.loaves.astype(np.uint64)
    for column in cells.group.T:
        look = mix_bits(look) + place[column].astype(np.uint64)
    return Components(
        of_cell, of_group, place, n_groups, total(mix_bits(look), of_cell, len(n_groups))
    )


def connect(cells: Cells) -> NDArray:
    """The component of each cell: pass the least name around until nothing changes."""
    name = cells.group[:, 0]
    while True:
        before = name
        for k, column in enumerate(cells.group.T):
            least = np.full(len(cells.size), len(cells.size))
            np.minimum.at(least, column, name)
            name = least[column]
            if k == 0:  # names are coarsest groups: follow the name's own name
                name = least[name]
        if (name == before).all():
            return np.unique(name, return_inverse=True)[1].reshape(-1)


def order_groups(cells: Cells, of_cell: NDArray, of_group: NDArray, n_components: int) -> NDArray:
    """Each group's place in its component: by grouping, then the coarser group it lies in, then its
    look.
    """
    look = group_looks(cells)
    place, taken = np.empty(len(of_group), int), np.zeros(n_components, int)
    rank, above_cell = np.empty(len(of_group), int), of_cell
    for column in cells.group.T:
        above = np.full(len(of_group), len(of_group))
        np.minimum.at(above, column, above_cell)
        groups = np.flatnonzero(above < len(of_group))
        groups = groups[np.lexsort((look[groups], above[groups]))]
        component = of_group[groups]
        here = np.bincount(component, minlength=n_components)
        first = np.cumsum(here) - here
        rank[groups] = np.arange(len(groups))
        place[groups] = taken[component] + rank[groups] - first[component]
        taken += here
        above_cell = rank[column]
    return place


def group_looks(cells: Cells) -> NDArray:
    """A number for each group made of its cells: their loaves and the sizes of all groups that meet
    in them.
    """
    cell = cells.loaves.astype(np.uint64)
    for column in cells.group.T:
        cell = mix_bits(cell) + cells.size[column].astype(np.uint64)
    cell = mix_bits(cell)
    look = np.zeros(len(cells.size), np.uint64)
    for column in cells.group.T:
        look += total(cell, column, len(look))
    return look


def total(numbers: NDArray, into: NDArray, length: int) -> NDArray:
    """Sum 64-bit numbers (modulo 2⁶⁴) by the place they go into."""
    sums = np.zeros(length, np.uint64)
    np.add.at(sums, into, numbers)
    return sums


def mix_bits(x: NDArray) -> NDArray:
    """Scramble 64-bit numbers, so that equal sums mean equal parts (SplitMix64's finaliser, Steele
    et al. 2014).
    """
    x = x + np.uint64(0x9E3779B97F4A7C15)
    x = (x ^ (x >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    x = (x ^ (x >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return x ^ (x >> np.uint64(31))
