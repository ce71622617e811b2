"""Was everything else the same? Each recorded condition of two formulas, side by side, as a class
can read it.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import Literal

import numpy as np
import pandas as pd

from ..columns import BY_NAME, CRUMB_PREFIX, DERIVED, label, unit
from ..frozen import frozen
from ..measuring.mixes import mix_codes
from ..trial import Trial
from ..words.numbers import ENGLISH, level_words

Status = Literal["changed on purpose", "kept the same", "drifted"]
# of each of the two, how far they lie apart, the same in standard deviations, and the farthest loaf
Values = tuple[float | str, float | str, float, float, float]

NOT_CONDITIONS = frozenset(
    {
        "loaf",
        "mix",
        "line",
        "void",
        "note",
        "formula",
        "loaf_g",
        "loaf_ml",
        "box_ml",
        "seed_ml",
        "height_mm",
    }
)
OUTCOMES = frozenset(column.name for column in DERIVED)
MOST_LEVELS_TOLD = 6


@frozen(kw_only=True, slots=False)
class Pair:
    """Two formulas of a trial that are compared in one measure, and their loaves that count.

    factor : of which ``formula`` and ``against`` are two levels, where it is not the formula
    """

    trial: Trial
    formula: str
    against: str
    measure: str | None
    factor: str = "formula"

    @cached_property
    def loaves(self) -> pd.DataFrame:
        """Return the loaves of these two formulas that count."""
        counted = self.trial.counted
        return counted[counted[self.factor].isin([self.formula, self.against])]

    @cached_property
    def is_formula(self) -> pd.Series:
        """Return which of the loaves are of ``formula`` rather than ``against``."""
        return self.loaves[self.factor] == self.formula

    @cached_property
    def n_mixes(self) -> dict[str, int]:
        """Return the number of mixes of each of the two formulas that have the measure."""
        codes = pd.Series(mix_codes(self.loaves), index=self.loaves.index)
        # a mix without a value is none that was compared
        if self.measure in self.loaves:
            codes = codes[self.loaves[self.measure].notna()]
        counts = codes.groupby(self.loaves["formula"]).nunique()
        return {name: int(counts.get(name, 0)) for name in (self.formula, self.against)}

    @cached_property
    def conditions(self) -> tuple[Condition, ...]:
        """Return every recorded condition of the two formulas (``recorded_conditions``)."""
        return recorded_conditions(self)


@frozen(kw_only=True)
class Condition:
    """One condition under which both formulas were made, baked or measured.

    status : "changed on purpose" for a factor, "kept the same" for one value throughout, "drifted"
        otherwise
    formula_value, against_value : what each formula had: the mean as a number, or levels with their
        loaves as text
    difference : of the means, in ``unit``; for a category the share of loaves that would have to
        change their level
        for both formulas to have the same (0 alike, 1 never alike)
    farthest : how far the loaf that is farthest off lies from the mean of all, as a share of that
        mean; NaN for a category, or where the mean is zero
    in_sd : the difference in standard deviations of loaves inside the formulas; NaN for a category,
        infinite where
        the loaves of a formula are all alike
    missing : loaves without a value
    """

    name: str
    label: str
    unit: str
    kind: Literal["number", "category"]
    status: Status
    formula_value: float | str
    against_value: float | str
    difference: float
    in_sd: float
    farthest: float
    missing: int


def recorded_conditions(pair: Pair) -> tuple[Condition, ...]:
    """Return every recorded condition of the two formulas: factors first, then in the order of the
    columns.

    What a loaf turned out to be is no condition: measures, scores, proof time where dough was
    proofed to height. A number that is not in the vocabulary counts as a condition only where it
    never varies inside a mix.
    """
    loaves = pair.loaves
    names = [name for name in pair.trial.factors if name in loaves and is_condition(name, pair)]
    names += [
        name for name in loaves.columns if name not in names and is_condition(str(name), pair)
    ]
    return tuple(_condition(name, pair) for name in names if not loaves[name].array.isna().all())


def is_condition(name: str, pair: Pair) -> bool:
    """Return whether a column says how a loaf was made rather than what became of it."""
    loaves, card = pair.loaves, pair.trial.card
    if (
        name in NOT_CONDITIONS
        or name == pair.factor
        or name in card.measures
        or name == pair.measure
        or name.startswith(CRUMB_PREFIX)
    ):
        return False
    if name in OUTCOMES or (name == "proof_min" and card.proof_to == "height"):
        return False
    if name in BY_NAME or name in pair.trial.factors:
        return True
    if is_number(loaves[name]):
        return bool((loaves.groupby(mix_codes(loaves))[name].nunique() <= 1).all()) and has_repeats(
            loaves
        )
    return loaves[name].nunique() < max(2, loaves[name].notna().sum())


def is_number(column: pd.Series) -> bool:
    """Return whether a column holds numbers."""
    return column.dtype.kind in "fiu"


def has_repeats(loaves: pd.DataFrame) -> bool:
    """Return whether any mix has two loaves."""
    return len(np.unique(mix_codes(loaves))) < len(loaves)


def linked_levels(pair: Pair, name: str) -> Iterator[tuple[set[str], set[object]]]:
    """Yield groups of formulas and levels that are joined by loaves: two groups share no formula
    and no level.
    """
    counted = pair.trial.counted[["formula", name]].dropna().drop_duplicates()
    left = {str(f): set(rows[name]) for f, rows in counted.groupby("formula", sort=False)}
    while left:
        first, levels = left.popitem()
        formulas = {first}
        while joined := [f for f in left if left[f] & levels]:
            formulas.update(joined)
            levels = levels.union(*(left.pop(f) for f in joined))
        yield formulas, levels


def _condition(name: str, pair: Pair) -> Condition:
    loaves = pair.loaves
    column, ours = loaves[name], pair.is_formula.to_numpy()
    codes, levels = pd.factorize(column, sort=is_number(column))
    status: Status = "kept the same" if len(levels) <= 1 else "drifted"
    if name in pair.trial.factors:
        status = "changed on purpose"
    if is_number(column) and status != "changed on purpose":
        values = _as_number(column, ours)
    else:
        values = _as_category(codes, levels, ours)
    return Condition(
        name=name,
        label=label(name, pair.trial.card),
        unit=unit(name, pair.trial.card),
        status=status,
        kind="number" if is_number(column) else "category",
        missing=int((codes < 0).sum()),
        formula_value=values[0],
        against_value=values[1],
        difference=values[2],
        in_sd=values[3],
        farthest=values[4],
    )


def _farthest(values: np.ndarray) -> float:
    """How far the value that is farthest off lies from the mean, as a share of the mean."""
    mean = _mean(values)
    return float(np.abs(values - mean).max() / abs(mean)) if mean else float("nan")


def _mean(values: np.ndarray) -> float:
    return float(values.mean()) if len(values) else float("nan")


def _as_number(column: pd.Series, ours: np.ndarray) -> Values:
    """Means of both formulas, their difference, the same in pooled standard deviations, and the
    farthest.
    """
    values = column.to_numpy(float, na_value=np.nan)
    known = ~np.isnan(values)
    sides = values[ours & known], values[~ours & known]
    means = [_mean(side) for side in sides]
    difference = means[0] - means[1]
    inside = np.concatenate([side - mean for side, mean in zip(sides, means, strict=True)])
    spread = float(np.sqrt((inside**2).sum() / max(len(inside) - 2, 1)))
    in_sd = (
        difference / spread
        if spread > 0
        else float(np.copysign(np.inf, difference))
        if difference
        else 0.0
    )
    return means[0], means[1], difference, in_sd, _farthest(values[known])


def _as_category(codes: np.ndarray, levels: pd.Index, ours: np.ndarray) -> Values:
    """Levels of both formulas with their loaves, and how far the shares differ (total variation
    distance).
    """
    a, b = (
        np.bincount(codes[side & (codes >= 0)], minlength=len(levels)) for side in (ours, ~ours)
    )
    apart = float(np.abs(a / max(a.sum(), 1) - b / max(b.sum(), 1)).sum() / 2)
    return _told(levels, a), _told(levels, b), apart, float("nan"), float("nan")


def _told(levels: pd.Index, counts: np.ndarray) -> str:
    """Return levels as text: the level where there is one, else each with its number of loaves."""
    had = [(level, n) for level, n in zip(levels, counts.tolist(), strict=True) if n]
    if len(had) == 1:
        return level_words(had[0][0], ENGLISH)
    if len(had) > MOST_LEVELS_TOLD:
        return f"{len(had)} different"
    return ", ".join(f"{level_words(level, ENGLISH)} × {n}" for level, n in had)
