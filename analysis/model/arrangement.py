"""A trial's groupings arranged, some as fixed blocks and the others random, and what a contrast
rests on then.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from itertools import pairwise

import numpy as np

from ...trials.frozen import frozen
from ..mixed_model.by_setting import BySetting, Centred
from ..mixed_model.fitting import NotIdentifiable, PreparedModel, prepare
from .design import Design
from .unit_means import Averaging, LeastSquares, UnitMeans
from .units import is_nested


@frozen
class OfMeans:
    """Groups of loaves and the model of their means, each of which counts once."""

    averaging: Averaging
    engine: PreparedModel


class Arrangement:
    """A design with its fixed blocks, and labels of the groupings that are random.

    design : terms and fixed blocks; groups : {name: labels (n,)} of what is random, coarse to fine;
        fixed : names
        of what is not.
    between : blocks that are not compared within alone (`between_blocks`); instead : what judges
        where, with these
        random, the fit has no inner optimum. ignored : blocks that are taken as alike, since
        nothing could be judged otherwise.
    """

    def __init__(
        self,
        design: Design,
        groups: Mapping[str, np.ndarray],
        fixed: tuple[str, ...],
        between: tuple[str, ...] = (),
        instead: Arrangement | None = None,
        ignored: tuple[str, ...] = (),
    ) -> None:
        self.design = design
        self.fixed = fixed
        self.between = between
        self.ignored = ignored
        self.instead = instead
        self.groups = dict(groups)
        self._means: dict[str, UnitMeans | None] = {}
        self._blind: dict[str, np.ndarray] = {}

    @cached_property
    def engine(self) -> PreparedModel:
        """The model, ready for responses. A grouping whose variance these records cannot tell from
        another is left out of it: contrasts inside that grouping do not need it, and contrasts
        between are refused before."""
        groups = dict(self.groups)
        while True:
            try:
                return prepare(self.design.matrix, groups)
            except NotIdentifiable as fault:
                coarsest = next((name for name in groups if name in fault.groupings), None)
                if coarsest is None:  # nothing at all is left to judge by
                    raise
                del groups[coarsest]

    @cached_property
    def of_means(self) -> OfMeans | None:
        """What random blocks are judged by where mixes have unequally many loaves: the means of the
        finest grouping, which count alike (`between_blocks`).

        None where blocks are not random, where these means have equally many loaves, where a term
        varies inside them, or where they leave a variance that cannot be told from another.
        """
        if self.instead is None or len(self.groups) < 2 or self.design.matrix.shape[1] > 2:
            return None  # more than two levels: a pair of three formulas misses up to 6.6 %
        *outer, finest = self.groups
        averaging, matrix = Averaging(self.groups[finest]), np.asarray(self.design.matrix)
        alike = averaging.sizes.min() == averaging.sizes.max()
        varies = np.abs(averaging.centre(matrix)).max(initial=0.0) > 1e-9
        if alike or varies or not all(self._lies_inside[finest, name] for name in outer):
            return None
        first = np.unique(averaging.codes, return_index=True)[1]
        groups = {name: self.groups[name][first] for name in outer}
        try:
            return OfMeans(averaging, prepare(matrix[first], groups))
        except NotIdentifiable:
            return None

    def unit_of(self, L: np.ndarray) -> str:
        """The coarsest random grouping inside which L (q, p) cannot be estimated; "loaf" when there
        is none.
        """
        return next((name for name in self.groups if not self._seen_inside(name, L)), "loaf")

    def n_units(self, unit: str) -> int:
        """How many there are; loaves when the loaf is the unit."""
        return self._sizes.get(unit, len(self.design.matrix))

    def below(self, unit: str) -> list[str]:
        """The unit and the random groupings inside it, from the finest; none when the loaf is the
        unit.
        """
        if unit not in self.groups:
            return []
        return [name for name in self.groups if self._lies_inside[name, unit]][::-1]

    def crossing(self, unit: str) -> list[str]:
        """Random groupings that neither lie inside the unit nor hold it."""
        if unit not in self.groups:
            return []
        inside = self._lies_inside
        return [name for name in self.groups if not inside[name, unit] and not inside[unit, name]]

    def judges_crossing(self, unit: str) -> bool:
        """Whether the unit crosses other random groupings, so that there are no means of it, and
        something is left to judge by.
        """
        if self.means(unit) is not None:
            return False
        if not self._leaves_loaves:
            return False
        return unit not in self.groups or unit in self.engine.reduced.names

    @property
    def _leaves_loaves(self) -> bool:
        """Whether loaves are more than the design and all random groupings can tell apart."""
        n, p = self.design.matrix.shape
        if n > p + sum(self._sizes.values()):
            return True
        units = [labels[:, None] == np.unique(labels) for labels in self.groups.values()]
        whole = np.hstack([np.asarray(self.design.matrix), *units])
        return bool(np.linalg.matrix_rank(whole) < n)

    def means(self, unit: str) -> UnitMeans | None:
        """The means analysis at this unit; None where the groupings cross, so that there is
        none.
        """
        if unit not in self._means:
            self._means[unit] = self._averaged(unit)
        return self._means[unit]

    def _averaged(self, unit: str) -> UnitMeans | None:
        chain = self.below(unit)
        above = [name for name in self.groups if name not in chain]
        if not all(self._lies_inside[pair] for pair in pairwise([*chain, *above[::-1]])):
            return None
        within = self.groups[above[-1]] if above else None
        return UnitMeans(self.design.matrix, [self.groups[name] for name in chain], within)

    @cached_property
    def _lies_inside(self) -> dict[tuple[str, str], bool]:
        """Whether the first grouping of a pair lies inside the second; found once, as it looks at
        every loaf.
        """
        return {
            (a, b): is_nested(self.groups[a], self.groups[b])
            for a in self.groups
            for b in self.groups
        }

    @cached_property
    def _sizes(self) -> dict[str, int]:
        return {name: len(np.unique(labels)) for name, labels in self.groups.items()}

    @cached_property
    def balanced(self) -> bool:
        """Every grouping has groups of one size, and sums over its groups keep the design's columns
        together.

        Then least squares is best whatever the variances (Zyskind 1967, Ann. Math. Stat. 38,
        1092-1109), and the unbounded fit is the classical analysis of the strata.
        """
        basis = LeastSquares.of(Centred(self.design.matrix)).basis
        return all(_keeps_together(Averaging(labels), basis) for labels in self.groups.values())

    def sees_inside(self, name: str, L: np.ndarray) -> bool:
        """Whether contrasts L (q, P of the whole design) can be estimated inside a grouping."""
        return self._seen_inside(name, self.design.reduced(L))

    def _seen_inside(self, name: str, L: np.ndarray) -> bool:
        if name not in self._blind:
            self._blind[name] = LeastSquares.of(
                Averaging(self.groups[name]).inside(self.design.matrix)
            ).unseen
        return bool(
            np.abs(L @ self._blind[name]).max(initial=0.0) <= 1e-7 * np.abs(L).max(initial=0.0)
        )


def _keeps_together(averaging: Averaging, basis: BySetting) -> bool:
    if averaging.sizes.min() != averaging.sizes.max():
        return False
    sums = averaging.sum(basis)
    within = sums.T @ sums  # of the basis and the sums that its rows lie in
    left = Centred(basis.turned(within), [sums], [averaging.codes])
    largest = max((float(np.abs(part).max(initial=0.0)) for part in left.parts()), default=0.0)
    return largest < 1e-9 * int(averaging.sizes.max())
