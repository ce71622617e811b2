"""The rule for judging a contrast when loaves share a mix: what it is compared with, and how.

The rule. Days, bakers, oven loads and assessors are fixed blocks; random only when there are many
incomplete ones, when the contrast cannot be estimated otherwise (then they are its unit), or when
comparing within them leaves too little (`between_blocks`). The mix is random, whatever its
variance; only for a contrast whose unit crosses the mixes (a tin changed by oven load) are the
mixes blocks to compare within. Variance of the unit at or above zero: REML with Kenward and Roger's
test. Negative and balanced: the same, which is then the classical split-plot analysis. Negative and
unbalanced, or stuck at the edge: t or F on the unweighted means of the units. Stuck at the edge
where groupings cross, so that there are no such means: variances held at zero or above, which is
conservative. Contrasts inside the unit: unbounded REML throughout. Chosen and confirmed by
simulation: tests/benchmarks/test_calibration.py.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from functools import lru_cache

import numpy as np
import pandas as pd

from ...trials.columns import BLOCKS
from .arrangement import Arrangement
from .between_blocks import CLEARLY, choices, expected_reach, recovers, shares, units_apart
from .coding import Category, Coded, DesignError, Number
from .design import Design, Term, code_all, design_of
from .estimates import ManyEstimates, tested
from .judging import Fitted
from .kept import MOST_KEPT, MOST_LOAVES, Alike, alike
from .layout import MANY_INCOMPLETE, MOST_FIXED, Layout, find_layout, incomplete
from .units import GROUPINGS, combined, is_nested, named_by


class TrialModel:
    """A trial's terms and layout before any measure: for one measure or for many responses.

    design : the terms without blocks, to make contrasts with. layout : of these loaves.
    """

    def __init__(
        self,
        coded: Mapping[str, Coded],
        terms: Sequence[Term],
        layout: Layout,
        like: TrialModel | None = None,
        of_asked: str | None = None,
    ) -> None:
        self.coded = coded
        self.layout = layout
        self._like = like  # of the same loaves and terms: designs are taken from it
        self._of_asked = of_asked  # a grouping in which what is asked about never varies
        self.design: Design = like.design if like else design_of(coded, terms, {}, layout.n("loaf"))
        self._designs: dict[tuple[str, ...], Design] = {(): self.design}
        self._regrouped: dict[tuple[str, bytes], TrialModel] = {}
        self._arrangements: dict[tuple[str, ...], Arrangement] = {}
        self._chosen: dict[bytes, Arrangement | None] = {}
        self._shares: dict[tuple[tuple[str, ...], ...], Arrangement] = {}
        self._opened: dict[Arrangement, Arrangement] = {}
        self._ignored: dict[tuple[tuple[str, ...], ...], Arrangement] = {}
        self._around: dict[str, bool] = {}

    @classmethod
    def of(
        cls,
        loaves: pd.DataFrame,
        terms: Sequence[Term],
        numbers: Mapping[str, int] | None = None,
        groupings: Sequence[str] = GROUPINGS,
    ) -> TrialModel:
        """The model of these loaves; arguments and errors as of `trial_fit.fit_trial`."""
        factors = list(dict.fromkeys(factor for term in terms for factor in term.factors))
        coded = code_all(loaves, factors, numbers or {})
        return cls(coded, terms, find_layout(loaves, factors, groupings))

    @property
    def numbers(self) -> dict[str, int]:
        """Factor → its degree, of those that enter as numbers."""
        codings = self.design.codings
        return {name: c.degree for name, c in codings.items() if isinstance(c, Number)}

    def without(self, gone: np.ndarray) -> TrialModel:
        """The model of the loaves that are not gone (bool), from the codes of all: no record is
        read again. Raises DesignError: a factor has too few levels left.
        """
        return _kept_part(self, gone.tobytes())

    def with_grouping(self, name: str, codes: np.ndarray) -> TrialModel:
        """The same terms and loaves with one more grouping, of these codes (n,), in which what is
        asked about never varies.
        """
        key = name, codes.tobytes()
        if key not in self._regrouped:
            layout = self.layout.with_grouping(name, codes)
            self._regrouped[key] = TrialModel(
                self.coded, self.design.terms, layout, like=self, of_asked=name
            )
        return self._regrouped[key]

    def arrangement_for(self, L: np.ndarray) -> Arrangement | None:
        """As many blocks fixed as the contrasts L (q, P) allow, coarse ones first; then what
        crosses their unit.

        None when L is tied to another effect however the groupings are arranged.
        """
        key = np.ascontiguousarray(L, dtype=float).tobytes()
        if key not in self._chosen:
            self._chosen[key] = self._choose(L)
        return self._chosen[key]

    def _choose(self, L: np.ndarray) -> Arrangement | None:
        if not self.design.estimable(L).all():
            return None
        a_mean = bool(L[:, 0].any())  # a difference is seen inside a block or cannot be had there
        blocks = [name for name in self.layout.blocks if a_mean or name != self._of_asked]
        within = self._fix(blocks, self.arranged(()), L)
        unit = within.unit_of(within.design.reduced(L))
        few = [
            name
            for name in within.crossing(unit)
            if self.layout.n(name) <= MOST_FIXED and (a_mean or within.sees_inside(name, L))
        ]
        if few:
            within = self._fix(few, within, L)
            unit = within.unit_of(within.design.reduced(L))
        if not len(L) or within.judges_crossing(unit):
            return within
        chosen, reach = self._between_too(within, unit, L)
        return chosen if chosen.instead or np.isfinite(reach) else self._ignoring(chosen, L)

    def _ignoring(self, arrangement: Arrangement, L: np.ndarray) -> Arrangement:
        """Take as few blocks as alike as it takes to judge by anything at all, of those that the
        contrasts can be told apart from (`between_blocks`).
        """
        known = (*arrangement.fixed, *arrangement.between)
        apart = [
            name
            for name in arrangement.groups
            if name not in known and self.arranged((name,)).design.estimable(L).all()
        ]
        for left in choices([name for name in (*known, *apart) if name in BLOCKS]):
            key = (known, left)
            if key not in self._ignored:
                base = self.arranged(tuple(name for name in key[0] if name not in left))
                groups = {name: labels for name, labels in base.groups.items() if name not in left}
                self._ignored[key] = Arrangement(base.design, groups, base.fixed, ignored=left)
            if np.isfinite(expected_reach(self._ignored[key], L)):
                return self._ignored[key]
        return arrangement

    def _between_too(
        self, within: Arrangement, unit: str, L: np.ndarray
    ) -> tuple[Arrangement, float]:
        """Leave comparing within blocks alone, where that promises a narrower interval
        (`between_blocks`), whose expected reach comes with it. unit : of L within them.
        """
        reach = expected_reach(within, L)
        asked = tuple(factor for factor in self.design.asked(L) if self._around_mixes(factor))
        if not asked or within.means(unit) is None:
            return within, reach
        many = tuple(
            name
            for name in within.groups
            if self.layout.groups.get(name) == MANY_INCOMPLETE and self._around_mixes(name)
        )
        if many and unit not in many:
            return self._random(self._apart(within.fixed, many, asked)), reach
        around = [name for name in within.fixed if name in BLOCKS and self._around_mixes(name)]
        if np.isfinite(reach):
            labels, codes = self.layout.codes, [self.coded[factor].which for factor in asked]
            around = [
                name for name in around if any(incomplete(labels[name], code) for code in codes)
            ]
        best, least = within, reach
        for left in choices(around):
            apart = self._apart(within.fixed, left, asked)
            promised = expected_reach(apart, L, units_apart(within, apart, L))
            if promised < least * (1 - CLEARLY) and recovers(within, apart, L):
                best, least = apart, promised
        if best is within or not np.isfinite(reach):
            return best, least
        return self._random(best), least

    def _around_mixes(self, name: str) -> bool:
        """Whether every mix had one level of this factor, or lies in one group of this grouping."""
        if name not in self._around:
            codes = self.coded[name].which if name in self.coded else self.layout.codes[name]
            self._around[name] = is_nested(self.layout.codes["mix"], codes)
        return self._around[name]

    def _apart(
        self, fixed: tuple[str, ...], left: tuple[str, ...], asked: tuple[str, ...]
    ) -> Arrangement:
        """What each of these blocks had of one level of what is asked about, as a unit; the other
        blocks fixed.
        """
        key = (fixed, left, asked)
        if key not in self._shares:
            base = self.arranged(tuple(name for name in fixed if name not in left))
            codes = [self.coded[factor].which for factor in asked]
            self._shares[key] = Arrangement(
                base.design, shares(base.groups, left, codes), base.fixed, between=left
            )
        return self._shares[key]

    def _random(self, apart: Arrangement) -> Arrangement:
        """The same blocks random as they are, judged by their shares where that fit has no inner
        optimum.
        """
        if apart not in self._opened:
            base = self.arranged(apart.fixed)
            self._opened[apart] = Arrangement(
                base.design, base.groups, base.fixed, apart.between, instead=apart
            )
        return self._opened[apart]

    def _fix(self, names: Sequence[str], arrangement: Arrangement, L: np.ndarray) -> Arrangement:
        """Fix all of these groupings; or one after the other, as long as L can still be
        estimated.
        """
        if not names:
            return arrangement
        together = self.arranged((*arrangement.fixed, *names))
        if together.design.estimable(L).all():
            return together
        for name in names:
            tried = self.arranged((*arrangement.fixed, name))
            if tried.design.estimable(L).all():
                arrangement = tried
        return arrangement

    def mixes_of(self, factor: str) -> dict[Hashable, int]:
        """Level of a factor → in how many mixes it occurs."""
        coded, mix = self.coded[factor], self.layout.codes["mix"]
        n = int(mix.max()) + 1
        times = np.bincount(np.unique(coded.which * n + mix) // n)
        return dict(zip(coded.coding.levels, times.tolist(), strict=True))

    def cells_of(self, factors: Sequence[str]) -> np.ndarray:
        """Which combination of these factors' levels each loaf had: codes (n,), from 0 on."""
        return combined([self.coded[factor].which for factor in factors])

    def judge(self, responses: np.ndarray, L: np.ndarray) -> ManyEstimates:
        """Judge one contrast (1, P), or one hypothesis (q, P), on every response, a column of (n,
        m).
        """
        L = np.atleast_2d(L)
        arrangement = self.arrangement_for(L)
        if arrangement is None:
            raise DesignError("this contrast cannot be estimated: it is tied to another effect")
        judged = tested(
            Fitted(arrangement, np.asarray(responses, dtype=float)), arrangement.design.reduced(L)
        )
        return ManyEstimates(
            estimate=judged.estimate,
            standard_error=judged.standard_error,
            df=judged.df,
            p_value=judged.p_value,
            way=judged.way,
        )

    def arranged(self, fixed: tuple[str, ...]) -> Arrangement:
        """The trial with these blocks fixed and every other kept grouping random."""
        if fixed not in self._arrangements:
            labels = self.layout.codes
            columns = tuple(block for block in fixed if not self.layout.covered(block, fixed))
            groups = {name: labels[name] for name in self.layout.kept if name not in fixed}
            self._arrangements[fixed] = Arrangement(self._within(columns), groups, fixed)
        return self._arrangements[fixed]

    def _within(self, blocks: tuple[str, ...]) -> Design:
        """The terms and these blocks."""
        if self._like and set(blocks) <= set(self._like.layout.codes):
            return self._like._within(blocks)
        if blocks not in self._designs:
            within = {name: self._block(name) for name in blocks}
            self._designs[blocks] = design_of(
                self.coded, self.design.terms, within, self.layout.n("loaf")
            )
        return self._designs[blocks]

    def _block(self, name: str) -> Coded:
        """A grouping as a category; its labels are codes from 0 on."""
        levels = tuple(range(self.layout.n(name)))
        return Coded(Category(name, levels), self.layout.codes[name])


def trial_model(
    loaves: pd.DataFrame,
    terms: Sequence[Term],
    numbers: Mapping[str, int] | None = None,
    groupings: Sequence[str] = GROUPINGS,
) -> TrialModel:
    """Return the model of these loaves; of a trial of the usual size, the one that another measure
    or question may have made.
    """
    if len(loaves) > MOST_LOAVES:
        return TrialModel.of(loaves, terms, numbers, groupings)
    factors = [factor for term in terms for factor in term.factors]
    numbered = tuple((numbers or {}).items())
    return _kept_model(
        alike(loaves, (*factors, *named_by(groupings))), tuple(terms), numbered, tuple(groupings)
    )


@lru_cache(maxsize=MOST_KEPT)
def _kept_model(
    alike: Alike,
    terms: tuple[Term, ...],
    numbers: tuple[tuple[str, int], ...],
    groupings: tuple[str, ...],
) -> TrialModel:
    return TrialModel.of(alike.loaves, terms, dict(numbers), groupings)


@lru_cache(maxsize=MOST_KEPT)
def _kept_part(model: TrialModel, gone: bytes) -> TrialModel:
    left_out = np.frombuffer(gone, dtype=bool)
    coded = {name: part.without(left_out) for name, part in model.coded.items()}
    return TrialModel(coded, model.design.terms, model.layout.without(left_out))
