"""What would settle it: how many more mixes would show a difference that matters, or halve the interval.

A difference of two formulas with M mixes each and l loaves a mix has variance 2 (s²mix + s²loaf / l) / M, and what
is left to judge by are the mixes less formulas and days (Cochran and Cox 1957, Experimental Designs, ch. 7). Power
by the noncentral t distribution.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import chdtri, nctdtr, stdtrit

from ..model.mix_rule import Estimate
from .formula_fit import FormulaFit

POWER = 0.80
MOST_MIXES = 100
LOAVES = (1, 2, 3, 4, 6, 8)
ROUGH = 0.80            # level of the interval for the variances, from which the range of mixes comes
OPTIONS = ["loaves_per_mix", "mixes_needed", "more_mixes", "loaves_in_all"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Settle:
    """How many mixes of each formula would settle it, from this trial's own variances; rough when mixes are few.

    Attributes
    ----------
    goal : "power" (a chance of ``power`` to show a difference of ``matters``) or "half width" (an interval half as
        wide: the goal where nobody said what matters, where a difference is real already, or where these mixes
        should have been enough)
    power, matters, half_width : what is aimed at; None where it is not the goal
    unit : what more is needed of: "mix", or "day" where a day had one formula only, or "loaf" where no mixes share
    sd_mix, sd_loaf : standard deviations used, between units and inside them; a negative variance counts as zero
    mixes_now, loaves_per_mix : of each formula in this trial: the smaller number, and the mean
    mixes_needed, more_mixes : of each formula, at the present loaves per mix; None where that is more than ``most``
    mixes_low, mixes_high : the same had the variance been at either end of its 80 % interval; None beyond ``most``
    options : one row a number of loaves per mix: loaves_per_mix, mixes_needed, more_mixes, loaves_in_all (of both)
    """

    goal: str
    power: float | None
    matters: float | None
    half_width: float | None
    unit: str
    sd_mix: float
    sd_loaf: float
    mixes_now: int
    loaves_per_mix: float
    mixes_needed: int | None
    more_mixes: int | None
    mixes_low: int | None
    mixes_high: int | None
    options: pd.DataFrame
    most: int = MOST_MIXES


@dataclass(frozen=True, slots=True)
class Bake:
    """A trial to come: variances, how many formulas, and mixes of each a day (0: days are not compared within)."""

    mix_variance: float
    loaf_variance: float
    n_formulas: int
    mixes_a_day: float
    confidence: float

    def error(self, mixes: int, loaves: float) -> float:
        """Standard error of the difference of two formulas."""
        return math.sqrt(2 * (self.mix_variance + self.loaf_variance / loaves) / mixes)

    def df(self, mixes: int) -> int:
        """Degrees of freedom left to judge by: mixes less formulas, less days but one."""
        days = math.ceil(mixes / self.mixes_a_day) if self.mixes_a_day else 1
        return self.n_formulas * (mixes - 1) - (days - 1)

    def half_width(self, mixes: int, loaves: float) -> float:
        """Half the interval's expected width."""
        return float(stdtrit(self.df(mixes), (1 + self.confidence) / 2)) * self.error(mixes, loaves)

    def power(self, mixes: int, loaves: float, difference: float) -> float:
        """Chance that the interval excludes zero."""
        return power_of_t(difference / self.error(mixes, loaves), self.df(mixes), self.confidence)

    def scaled(self, factor: float) -> Bake:
        """The same with all variances multiplied."""
        return Bake(self.mix_variance * factor, self.loaf_variance * factor, self.n_formulas, self.mixes_a_day,
                     self.confidence)


def power_of_t(noncentrality: float, df: float, confidence: float) -> float:
    """Return the power of a two-sided t test."""
    t = float(stdtrit(df, (1 + confidence) / 2))
    lower = float(nctdtr(df, noncentrality, -t))
    return 1 - float(nctdtr(df, noncentrality, t)) + (lower if math.isfinite(lower) else 0.0)


def what_would_settle(fitted: FormulaFit, formula: str, against: str, d: Estimate, half_width: float,
                      matters: float | None, real: bool) -> Settle | None:
    """Return what would settle the comparison of two formulas, or None where no variance can be told.

    d : the difference as judged; half_width : half its interval now; real : whether that excludes zero.
    """
    if not (math.isfinite(d.standard_error) and d.standard_error > 0):
        return None
    now, loaves = _now(fitted, formula, against, d.unit)
    bake = _bake(fitted, d, now)
    goal = "half width"
    if matters is not None and not real and bake.power(now, loaves, matters) < POWER:
        goal = "power"
    reaches = _reaches(goal, matters, half_width / 2)
    needed = _fewest(bake, loaves, reaches)
    low, high = (_fewest(bake.scaled(d.df / chdtri(d.df, tail)), loaves, reaches)
                 for tail in ((1 - ROUGH) / 2, (1 + ROUGH) / 2))
    return Settle(
        goal=goal, power=POWER if goal == "power" else None, matters=matters if goal == "power" else None,
        half_width=half_width / 2 if goal == "half width" else None, unit=d.unit,
        sd_mix=math.sqrt(bake.mix_variance), sd_loaf=math.sqrt(bake.loaf_variance), mixes_now=now,
        loaves_per_mix=loaves, mixes_needed=needed, more_mixes=_more(needed, now), mixes_low=low, mixes_high=high,
        options=_options(bake, now, loaves if d.unit == "mix" else None, reaches),
    )


def _now(fitted: FormulaFit, formula: str, against: str, unit: str) -> tuple[int, float]:
    """Return the fewer units of the two formulas and the mean number of loaves in a unit."""
    labels = fitted.fit.layout.labels
    codes = labels[unit] if unit in labels else pd.Series(np.arange(len(labels)), index=labels.index)
    level = fitted.loaves["formula"].astype(str)
    units = [codes[level == name].nunique() for name in (formula, against)]
    return min(units), float(level.isin([formula, against]).sum() / sum(units))


def _bake(fitted: FormulaFit, d: Estimate, now: int) -> Bake:
    """Return the variances and the layout to go on with."""
    layout, variances = fitted.fit.layout, {k: max(v, 0.0) for k, v in fitted.fit.variances.items()}
    n_formulas, confidence = len(fitted.fit.design.levels["formula"]), fitted.fit.confidence
    if d.unit != "mix":         # one number for all that differs from unit to unit
        return Bake(d.standard_error**2 * now / 2, 0.0, n_formulas, 0, confidence)
    days = layout.n("day") if "day" in layout.blocks else 0
    inside = sum(value for name, value in variances.items() if name != "mix")
    return Bake(variances.get("mix", 0.0), inside, n_formulas, now / days if days else 0, confidence)


def _reaches(goal: str, matters: float | None, half_width: float) -> Callable[[Bake, int, float], bool]:
    """Return the test of whether a bake reaches the goal with so many mixes and loaves."""
    if goal == "power" and matters is not None:
        return lambda bake, mixes, loaves: bake.power(mixes, loaves, matters) >= POWER
    return lambda bake, mixes, loaves: bake.half_width(mixes, loaves) <= half_width


def _fewest(bake: Bake, loaves: float, reaches: Callable[[Bake, int, float], bool]) -> int | None:
    """Return the fewest mixes of each formula that reach the goal; None beyond ``MOST_MIXES``."""
    return next((m for m in range(2, MOST_MIXES + 1) if bake.df(m) > 0 and reaches(bake, m, loaves)), None)


def _more(needed: int | None, now: int) -> int | None:
    return None if needed is None else max(needed - now, 0)


def _options(bake: Bake, now: int, loaves: float | None, reaches: Callable[[Bake, int, float], bool]
             ) -> pd.DataFrame:
    """Return the mixes needed with other numbers of loaves in a mix; empty where a mix is not what is judged by."""
    rows = []
    for n in LOAVES if loaves is not None else ():
        needed = _fewest(bake, n, reaches)
        rows.append((n, needed, _more(needed, now), None if needed is None else 2 * needed * n))
    return pd.DataFrame(rows, columns=OPTIONS, dtype=object)
