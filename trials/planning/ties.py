"""What a layout cannot tell apart: by words where it is regular, else by the null space of its
model.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from .exchange import Model
from .two_level import TwoLevel, ties_of

DAY = "day"
TIMES = " × "
# a pair left out of the model that bends a main effect by this share of itself, or more
STRONG = 0.3
Groups = list[tuple[str, ...]]


def ties_by_words(layout: TwoLevel, factors: tuple[str, ...]) -> Groups:
    """Return the groups of main effects and pairs of a two-level layout that cannot be told
    apart.
    """

    def name(word: int) -> str:
        return TIMES.join(factor for bit, factor in enumerate(factors) if word >> bit & 1) or DAY

    return [tuple(name(word) for word in group) for group in ties_of(layout, len(factors))]


def ties_by_columns(
    factors: tuple[str, ...],
    counts: tuple[int, ...],
    settings: np.ndarray,
    block: np.ndarray,
    modelled: set[frozenset[str]],
) -> Groups:
    """Return what cannot be told apart in any layout.

    settings (n, factors) : level numbers; block (n,); modelled : the pairs that the layout was made
    to tell apart. Of what the model holds, the groups that share a combination that is zero on all
    loaves; of the pairs left out, those that bend a main effect by three tenths of themselves or
    more.
    """
    pairs = list(combinations(range(len(factors)), 2))
    inside = [p for p in pairs if frozenset(factors[i] for i in p) in modelled]
    left_out = [p for p in pairs if p not in inside]
    model = Model(counts, (None,) * len(counts), tuple(inside))
    names = [*_terms(factors, counts, inside), *[DAY] * (int(block.max()) + 1)]
    columns = np.column_stack([model.rows(settings), np.eye(int(block.max()) + 1)[block]])
    groups = _zero_together(columns, names)
    if left_out:
        outside = Model(counts, (None,) * len(counts), tuple(left_out))
        main = sum(n - 1 for n in counts)
        bent = np.abs(np.linalg.pinv(columns) @ outside.rows(settings)[:, main:])
        told = _terms(factors, counts, left_out)[main:]
        for effect in factors:
            rows = [i for i, name in enumerate(names) if name == effect]
            worst = {
                name: bent[np.ix_(rows, [j for j, n in enumerate(told) if n == name])].max()
                for name in told
            }
            groups += [
                (effect, name) for name, share in worst.items() if round(float(share), 6) >= STRONG
            ]
    return groups


def _terms(
    factors: tuple[str, ...], counts: tuple[int, ...], pairs: list[tuple[int, int]]
) -> list[str]:
    """Return the effect of every column of the model."""
    main = [name for name, n in zip(factors, counts, strict=True) for _ in range(n - 1)]
    both = [
        factors[a] + TIMES + factors[b]
        for a, b in pairs
        for _ in range((counts[a] - 1) * (counts[b] - 1))
    ]
    return main + both


def _zero_together(columns: np.ndarray, names: list[str]) -> Groups:
    """Return groups of effects that occur together in combinations of columns that are zero
    everywhere.
    """
    sizes, vectors = np.linalg.eigh(columns.T @ columns)
    none = vectors[:, sizes < 1e-9 * sizes.max()]
    shared = np.abs(none @ none.T)
    effects = list(dict.fromkeys(names))
    of = np.array([effects.index(name) for name in names])
    linked = np.zeros((len(effects), len(effects)), dtype=bool)
    for i, j in np.argwhere(shared > 1e-7):
        linked[of[i], of[j]] = True
    return [tuple(effects[i] for i in group) for group in _connected(linked) if len(group) > 1]


def _connected(linked: np.ndarray) -> list[list[int]]:
    """Return the groups that are linked to one another, directly or by others, in order."""
    left, groups = list(range(len(linked))), []
    while left:
        group, reach = [], {left[0]}
        while reach:
            one = min(reach)
            reach.discard(one)
            group.append(one)
            reach |= {int(j) for j in np.flatnonzero(linked[one])} - set(group)
        groups.append(sorted(group))
        left = [i for i in left if i not in group]
    return groups
