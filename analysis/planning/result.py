"""What a plan can show, at full precision and without words."""

from __future__ import annotations

from typing import Any, Literal

import pandas as pd

from ...trials.findings import Finding
from ...trials.frozen import frozen
from ...trials.kitchen import Variation
from ..result import Result

Source = Literal["call", "past trial", "card", "rough", "rough share"]


@frozen(kw_only=True)
class PlanPower(Result):
    """What a plan will show, judged as the finished trial will be judged; in the measure's unit.

    Attributes
    ----------
    measure, label, label_inside, unit : what is to be measured
    power, confidence : chance asked for (0.8: four times in five), and level of the intervals
    matters : smallest difference worth acting on; None where nobody said
    factors : one row a factor: factor, unit ("day", "load", "mix", "loaf"), n_levels, n_units,
        standard_error (of the
        pair of levels with the largest), df, critical (t, Tukey's q/√2 or Dunnett's; NaN with
        Lenth's margin), half_width (critical × standard_error), smallest_difference (shown with
        chance ``power``), matters, power (chance to show a difference of ``matters``),
        simulated_power (chance to show ``smallest_difference``, in simulated trials), assurance
        (mean of ``power`` over what the variances may be, where a past trial tells their df),
        judged ("t", "Tukey", "Dunnett", "Lenth" or "" where nothing can be shown), days_needed. NaN
        where nothing can be said.
    mixes_and_loaves : mixes (of each level of the first factor made per mix), loaves_a_mix, loaves
        (in all),
        smallest_difference. Empty where no factor is made per mix.
    best_loaves_a_mix : that costs the least minutes for what it shows; None where minutes or
        variances are silent
    days_needed : the fewest days on which every factor shows ``matters`` with chance ``power``;
        None where nobody
        said what matters, or beyond ``most_days``
    days_needed_if_unlucky : the same at the upper 80 % limit of the variances; None without a past
        trial
    days : as planned
    variation : the standard deviations assumed, and source : where they come from ("rough share":
        of a measure whose usual size nobody knows, so that all is in percent of it, and what
        matters cannot be compared). half, double : the smallest difference of the first factor were
        they half or twice as large.
    findings : a warning for every factor of which nothing can be shown
    sentence : the answer, put on by `answers`
    """

    measure: str
    label: str
    label_inside: str
    unit: str
    power: float
    confidence: float
    matters: float | None
    factors: pd.DataFrame
    mixes_and_loaves: pd.DataFrame
    best_loaves_a_mix: int | None
    days: int
    days_needed: int | None
    days_needed_if_unlucky: int | None
    most_days: int
    variation: Variation
    source: Source
    half: float
    double: float
    findings: tuple[Finding, ...] = ()
    sentence: str = ""

    @property
    def sentences(self) -> tuple[str, ...]:
        """Return the answer as the other results have it."""
        return (self.sentence,)

    @property
    def shows_nothing(self) -> tuple[str, ...]:
        """Return the factors of which this plan can show nothing, however large."""
        return tuple(self.factors.loc[self.factors["smallest_difference"].isna(), "factor"])

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        return Result.to_dict(self) | {"shows_nothing": list(self.shows_nothing)}
