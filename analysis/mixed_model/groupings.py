"""Who shares what: the groupings of the loaves, taken apart into small independent pieces.

Two groups are linked when a loaf lies in both (a mix and its day). The linked groups form
*components* that share no loaf and are therefore independent. Many components look alike (every day
of five mixes of four loaves): they have the same *pattern*, and all that a fit needs about the
groupings is held once a pattern.

In a component with q groups let Z (loaves × q) mark each loaf's groups, N = ZᵀZ (the shared loaf
counts), and T a root of its inverse, TᵀNT = I. The columns of U = ZT are orthonormal, and in their
coordinates

    ZₖZₖᵀ  →  Hₖ = (TᵀN)ₖ(TᵀN)ₖᵀ,      V  →  σ²I + Σ θₖHₖ,      σ² everywhere outside.

A direction that N lacks (the day is the sum of its mixes) has a zero column in T: its Hₖ are zero,
so that it counts as one more direction of variance σ², and the directions outside are counted one
fewer.

Where the Hₖ of a component commute, as they do in a balanced one (every person scored every loaf),
T is turned into their common eigenvectors: V is then a number for each coordinate by itself.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ...trials.frozen import frozen
from .by_setting import BySetting
from .components import Cells, Components, find_cells, find_components

# an eigenvalue of N (whole counts) below this part of the largest is zero
ZERO_DIRECTION = 1e-9
ROUNDING = 1e-11  # of the largest number of a matrix


@frozen
class Block:
    """All components with q groups each; g patterns among them.

    T, A : (g, q, q) root of the inverse of N, and A = TᵀN
    H : (k + 1, g, q, q) ZₖZₖᵀ in the coordinates of U, the residual's identity last
    groups : (components, q) places in the list of all groups of all groupings
    pattern : (components,) which pattern a component has
    copies : (g,) how many components have a pattern
    """

    T: NDArray
    A: NDArray
    H: NDArray
    groups: NDArray
    pattern: NDArray
    copies: NDArray


@frozen
class Groupings:
    """The groupings of n loaves: codes into the list of all groups, and the components as
    blocks.
    """

    names: tuple[str, ...]
    labels: tuple[Sequence[Hashable], ...]
    # per grouping (n,): the loaf's place in the list of all groups
    codes: tuple[NDArray, ...]
    n: int
    n_groups: int
    blocks: tuple[Block, ...]

    @property
    def counts(self) -> list[int]:
        """How many groups each grouping has."""
        return [len(levels) for levels in self.labels]

    def sums(self, columns: BySetting) -> NDArray:
        """Sum of each column (n, c) within every group of every grouping: (groups, c)."""
        total = np.zeros((self.n_groups, columns.shape[1]))
        for j in range(columns.shape[1]):
            column = columns.column(j)
            for code in self.codes:
                total[:, j] += np.bincount(code, column, self.n_groups)
        return total

    def spread(self, effects: NDArray) -> NDArray:
        """Add up each loaf's group effects: (groups, c) → (n, c)."""
        total = np.zeros((self.n, effects.shape[1]))
        for code in self.codes:
            total += effects[code]
        return total


def read_groupings(groups: Mapping[str, ArrayLike], n: int) -> Groupings:
    """Code the labels and find the components. ValueError: wrong length, or a label missing (says
    where).
    """
    labels, codes = [], []
    for name, column in groups.items():
        levels, code = encode(name, column, n)
        labels.append(levels)
        codes.append(code)
    starts = np.cumsum([0, *(len(levels) for levels in labels)])
    placed = tuple(code + start for code, start in zip(codes, starts[:-1], strict=True))
    blocks = find_blocks(placed, starts) if placed else ()
    return Groupings(tuple(groups), tuple(labels), placed, n, int(starts[-1]), blocks)


def encode(name: str, column: ArrayLike, n: int) -> tuple[Sequence[Hashable], NDArray]:
    """The distinct labels, and for every loaf the place of its label among them."""
    values = np.asarray(column)
    if values.shape != (n,):
        raise ValueError(f"grouping {name!r} has shape {values.shape}, but there are {n} loaves")
    if values.dtype.kind in "iu" and values.min() >= 0 and values.max() < 4 * n:
        present = np.bincount(values) > 0
        return np.flatnonzero(present).tolist(), (np.cumsum(present) - 1)[values]
    items = values.tolist()
    for row, item in enumerate(items):
        if item is None or item != item:
            raise ValueError(f"grouping {name!r} has no label in row {row} (counted from 0)")
    place = {label: i for i, label in enumerate(dict.fromkeys(items))}
    return list(place), np.array([place[item] for item in items])


def find_blocks(codes: tuple[NDArray, ...], starts: NDArray) -> tuple[Block, ...]:
    """The components, those with equally many groups together."""
    cells = find_cells(codes, starts)
    components = find_components(cells)
    kind = np.repeat(np.arange(len(codes)), np.diff(starts))
    groups = np.lexsort((components.place, components.of_group))
    first = np.cumsum(components.n_groups) - components.n_groups
    return tuple(
        one_size(q, cells, components, kind, groups[first[chosen][:, None] + np.arange(q)], chosen)
        for q in np.unique(components.n_groups)
        for chosen in [np.flatnonzero(components.n_groups == q)]
    )


def one_size(
    q: int, cells: Cells, components: Components, kind: NDArray, groups: NDArray, chosen: NDArray
) -> Block:
    """The block of the `chosen` components, which have q groups; groups (components, q)."""
    _, example, pattern = np.unique(components.look[chosen], return_index=True, return_inverse=True)
    pattern_of = np.full(len(components.n_groups), -1)
    pattern_of[chosen[example]] = np.arange(len(example))
    pattern_of_cell = pattern_of[components.of_cell]
    shown = pattern_of_cell >= 0
    place = components.place[cells.group[shown]]
    N = np.zeros((len(example), q, q))
    for a in place.T:
        for b in place.T:
            np.add.at(N, (pattern_of_cell[shown], a, b), cells.loaves[shown])
    return make_block(N, kind[groups[example]], kind[-1] + 1, groups, pattern.reshape(-1))


def make_block(N: NDArray, kind: NDArray, n_kinds: int, groups: NDArray, pattern: NDArray) -> Block:
    """The block of g patterns with shared loaf counts N (g, q, q); kind (g, q): the grouping that a
    group is of.
    """
    size, E = np.linalg.eigh(N)
    real = size > ZERO_DIRECTION * size[:, -1:]
    T = E * np.where(real, 1 / np.sqrt(np.where(real, size, 1)), 0)[:, None, :]
    A = T.swapaxes(1, 2) @ N
    H = np.stack([(A * (kind == k)[:, None, :]) @ A.swapaxes(1, 2) for k in range(n_kinds)])
    turn = common_eigenvectors(H)
    if turn is not None:
        back = turn.swapaxes(1, 2)
        T, A, H = T @ turn, back @ A, back @ H @ turn
    residual = np.broadcast_to(np.eye(N.shape[1]), (1, *N.shape))
    copies = np.bincount(pattern, minlength=len(N)).astype(float)
    return Block(T, A, np.concatenate([H, residual]), groups, pattern, copies)


def common_eigenvectors(H: NDArray) -> NDArray | None:
    """What makes all of H (k, g, q, q) diagonal at once; None where nothing does, or all are."""
    if is_diagonal(H):
        return None
    # a sum whose weights no two sets of eigenvalues make alike has the vectors of all of them
    _, E = np.linalg.eigh(np.tensordot(np.sqrt(np.arange(2, len(H) + 2)), H, 1))
    return E if is_diagonal(E.swapaxes(1, 2) @ H @ E) else None


def is_diagonal(H: NDArray) -> bool:
    """Whether all off the diagonal is rounding."""
    off = np.abs(H * (1 - np.eye(H.shape[-1])))
    return bool(off.max(initial=0.0) <= ROUNDING * np.abs(H).max(initial=0.0))
