"""What would settle it: how many more mixes would show a difference that matters, or halve the
interval.

A difference of two formulas with M mixes each and l loaves a mix has variance 2 (s²mix + s²loaf /
l) / M, and what is left to judge by are the mixes less formulas and days (Cochran and Cox 1957,
Experimental Designs, ch. 7). Power by the noncentral t distribution.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pandas as pd
from scipy.special import chdtri

from ...trials.fairness.pairing import Family
from ...trials.frozen import frozen
from ..codes import Goal
from ..methods.multiplicity import dunnett_critical, tukey_critical
from ..methods.power import USUAL as POWER
from ..methods.power import assurance, mean_of_possible_sd, own_critical, power_of_t
from ..model.estimates import Estimate
from .formula_fit import FormulaFit

POINTS = 40  # of what the variance may be, where power is averaged over it
MOST_MIXES = 100
LOAVES = (1, 2, 3, 4, 6, 8)
# level of the interval for the variances, from which the range of mixes comes
ROUGH = 0.80
OPTIONS = ["loaves_per_mix", "mixes_needed", "more_mixes", "loaves_in_all"]


@frozen(kw_only=True)
class Settle:
    """How many mixes of each formula would settle it, from this trial's own variances; rough when
    mixes are few.

    Attributes
    ----------
    goal : "power" (a chance of ``power`` to show a difference of ``matters``) or "half width" (an
        interval half as wide as now, in the mean over trials like this one: the goal where nobody
        said what matters, where a difference is real already, or where these mixes should have been
        enough)
    power, matters, half_width : what is aimed at; None where it is not the goal
    unit : what more is needed of: "mix", or "day" where a day had one formula only, or "loaf" where
        no mixes share
    sd_mix, sd_loaf : standard deviations used, between units and inside them; a negative variance
        counts as zero
    mixes_now, loaves_per_mix : of each formula in this trial: the smaller number, and the mean
    mixes_needed, more_mixes : of each formula, at the present loaves per mix; None where that is
        more than ``most``
    mixes_low, mixes_high : the same had the variance been at either end of its 80 % interval; None
        beyond ``most``
    options : one row a number of loaves per mix: loaves_per_mix, mixes_needed, more_mixes,
        loaves_in_all (all of them)
    """

    goal: Goal
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


@frozen
class Bake:
    """A trial to come: variances, how many formulas, and mixes of each a day (0: days are not
    compared within).

    family : how the pairs will be judged together. known_df : degrees of freedom that the variances
        are known with.
    """

    mix_variance: float
    loaf_variance: float
    n_formulas: int
    mixes_a_day: float
    confidence: float
    family: Family = "one pair"
    known_df: float = math.inf

    def error(self, mixes: int, loaves: float) -> float:
        """Standard error of the difference of two formulas."""
        return math.sqrt(2 * (self.mix_variance + self.loaf_variance / loaves) / mixes)

    def df(self, mixes: int) -> int:
        """Degrees of freedom left to judge by: mixes less formulas, less days but one."""
        days = math.ceil(mixes / self.mixes_a_day) if self.mixes_a_day else 1
        return self.n_formulas * (mixes - 1) - (days - 1)

    def critical(self, mixes: int) -> float:
        """How many standard errors the interval will reach."""
        return _critical(self.family, self.n_formulas, self.df(mixes), self.confidence)

    def half_width(self, mixes: int, loaves: float) -> float:
        """Half the interval's width that is to be expected, the variances being known no better
        than they are.
        """
        unsure = mean_of_possible_sd(self.known_df) if math.isfinite(self.known_df) else 1.0
        return self.critical(mixes) * self.error(mixes, loaves) * unsure

    def power(self, mixes: int, loaves: float, difference: float) -> float:
        """Chance that the interval excludes zero: the mean over what the variances may be."""
        standardised = difference / self.error(mixes, loaves)
        df, critical = self.df(mixes), self.critical(mixes)
        if math.isinf(self.known_df):
            return float(power_of_t(standardised, df, critical))
        return assurance(standardised, df, critical, self.known_df, POINTS)

    def were(self, factor: float) -> Bake:
        """The same with all variances multiplied, and known."""
        return replace(
            self,
            mix_variance=self.mix_variance * factor,
            loaf_variance=self.loaf_variance * factor,
            known_df=math.inf,
        )


@lru_cache(maxsize=1024)
def _critical(family: Family, n_formulas: int, df: int, confidence: float) -> float:
    """The limit of one pair; of several against one, equally often mixed (correlation one half), or
    of all pairs.
    """
    if family == "all pairs":
        return tukey_critical(confidence, df, n_formulas)
    if family == "all against one" and n_formulas > 2:
        several = n_formulas - 1
        return dunnett_critical(confidence, df, (np.ones((several, several)) + np.eye(several)) / 2)
    return own_critical(df, confidence)


def what_would_settle(
    fitted: FormulaFit,
    formula: str,
    against: str,
    d: Estimate,
    half_width: float,
    matters: float | None,
    real: bool,
    family: Family = "one pair",
) -> Settle | None:
    """Return what would settle the comparison of two formulas, or None where no variance can be
    told.

    d : the difference as judged; half_width : half its interval now; real : whether that excludes
    zero; family : how pairs are judged together.
    """
    if not (math.isfinite(d.standard_error) and d.standard_error > 0):
        return None
    now, loaves = _now(fitted, formula, against, d.unit)
    bake = _bake(fitted, d, now, family)
    goal: Goal = "half width"
    if (
        matters is not None
        and not real
        and bake.df(now) > 0
        and bake.power(now, loaves, matters) < POWER
    ):
        goal = "power"
    reaches = _reaches(goal, matters, half_width / 2)
    needed = _fewest(bake, loaves, reaches)
    low, high = (
        _fewest(bake.were(d.df / chdtri(d.df, tail)), loaves, reaches)
        for tail in ((1 - ROUGH) / 2, (1 + ROUGH) / 2)
    )
    return Settle(
        goal=goal,
        power=POWER if goal == "power" else None,
        matters=matters if goal == "power" else None,
        half_width=half_width / 2 if goal == "half width" else None,
        unit=d.unit,
        sd_mix=math.sqrt(bake.mix_variance),
        sd_loaf=math.sqrt(bake.loaf_variance),
        mixes_now=now,
        loaves_per_mix=loaves,
        mixes_needed=needed,
        more_mixes=_more(needed, now),
        mixes_low=low,
        mixes_high=high,
        options=_options(bake, now, loaves if d.unit == "mix" else None, reaches),
    )


def _now(fitted: FormulaFit, formula: str, against: str, unit: str) -> tuple[int, float]:
    """Return the fewer units of the two formulas and the mean number of loaves in a unit."""
    labels = fitted.fit.layout.labels
    codes = (
        labels[unit] if unit in labels else pd.Series(np.arange(len(labels)), index=labels.index)
    )
    level = fitted.loaves["formula"].astype(str)
    units = [codes[level == name].nunique() for name in (formula, against)]
    return min(units), float(level.isin([formula, against]).sum() / sum(units))


def _bake(fitted: FormulaFit, d: Estimate, now: int, family: Family) -> Bake:
    """Return the variances and the layout to go on with."""
    layout, variances = fitted.fit.layout, {k: max(v, 0.0) for k, v in fitted.fit.variances.items()}
    n_formulas, confidence = len(fitted.fit.design.levels["formula"]), fitted.fit.confidence
    if d.unit != "mix":  # one number for all that differs from unit to unit
        return Bake(d.standard_error**2 * now / 2, 0.0, n_formulas, 0, confidence, family, d.df)
    days = layout.n("day") if "day" in layout.blocks else 0
    inside = sum(value for name, value in variances.items() if name != "mix")
    return Bake(
        variances.get("mix", 0.0),
        inside,
        n_formulas,
        now / days if days else 0,
        confidence,
        family,
        d.df,
    )


def _reaches(
    goal: Goal, matters: float | None, half_width: float
) -> Callable[[Bake, int, float], bool]:
    """Return the test of whether a bake reaches the goal with so many mixes and loaves."""
    if goal == "power" and matters is not None:
        return lambda bake, mixes, loaves: bake.power(mixes, loaves, matters) >= POWER
    return lambda bake, mixes, loaves: bake.half_width(mixes, loaves) <= half_width


def _fewest(bake: Bake, loaves: float, reaches: Callable[[Bake, int, float], bool]) -> int | None:
    """Return the fewest mixes of each formula that reach the goal; None beyond ``MOST_MIXES``.

    More mixes never show less: what is left to judge by does not fall with them, unless there is
    nothing left however many they are. So the fewest are found by halves.
    """
    mixes = range(2, MOST_MIXES + 1)
    enough = bisect_left(mixes, True, key=lambda m: bake.df(m) > 0 and reaches(bake, m, loaves))
    return mixes[enough] if enough < len(mixes) else None


def _more(needed: int | None, now: int) -> int | None:
    return None if needed is None else max(needed - now, 0)


def _options(
    bake: Bake, now: int, loaves: float | None, reaches: Callable[[Bake, int, float], bool]
) -> pd.DataFrame:
    """Return the mixes needed with other numbers of loaves in a mix; empty where a mix is not what
    is judged by.
    """
    rows = []
    for n in LOAVES if loaves is not None else ():
        needed = _fewest(bake, n, reaches)
        rows.append(
            (
                n,
                needed,
                _more(needed, now),
                None if needed is None else bake.n_formulas * needed * n,
            )
        )
    return pd.DataFrame(rows, columns=OPTIONS, dtype=object)
