"""What a comparison of formulas says, at full precision and without words."""

from __future__ import annotations

from typing import Any

import pandas as pd

from ...trials import Finding
from ...trials.fairness.pairing import Choice
from ...trials.frozen import frozen
from ..codes import Adjustment, Way, Why
from ..plain_data import plain
from ..result import Result
from ..verdict import Verdict
from .fair_test import FairTest
from .percent import Percent
from .randomisation import RandomisationTest
from .reached import Reached
from .settle import Settle
from .steadiness import Steadiness


@frozen(kw_only=True)
class Difference(Result):
    """One formula held against another in one measure, in its unit; NaN where nothing can be told.

    By itself it stands for a further measure: its interval holds for this measure alone and is not
    widened for the number of measures looked at.
    """

    measure: str
    label: str
    label_inside: str
    unit: str
    formula: str
    against: str
    matters: float | None
    difference: float
    standard_error: float
    df: float
    ci_low: float
    ci_high: float
    p_value: float
    verdict: Verdict
    n_mixes: dict[str, int]
    n_loaves: int


@frozen(kw_only=True)
class Comparison(Difference):
    """One formula held against another, in the measure's unit, at full precision.

    Where no standard error can be given (one mix of a formula) ``standard_error``, ``df``, the
    interval and ``p_value`` are NaN and ``verdict`` is "not settled". With three formulas or more
    and none asked for, the pair told here is the one that differs most for its standard error;
    ``pairs`` has all of them.

    Attributes
    ----------
    measure, label, label_inside, unit : the column compared, what a person reads for it, by itself
        and inside a sentence, its unit ("" where it
        has none)
    formula, against : ``difference`` is the mean of ``formula`` less the mean of ``against``
    matters : smallest difference worth acting on; None where nobody said
    confidence : level of every interval, 0.95 by default
    difference, standard_error, df, ci_low, ci_high, p_value : the interval and p are adjusted by
        ``adjustment``
    percent : the difference as a percentage of ``against``; None where that mean is not above zero
    verdict : by the interval alone
    sentence : the answer for a person, put on by `answers`
    means : one row a formula: formula, mean, standard_error, df, ci_low, ci_high, n_mixes,
        n_loaves;
        marginal means (every other factor's levels weighted equally), intervals for the loaves of
        these days
    way, why : how the contrast was judged and why so (see ``judging.py``)
    unit_of_analysis, n_units : what was independent ("mix", "day", …) and how many there were
    variances : estimated variances ("mix", "residual", …), squared unit
    n_mixes : formula → number of mixes; n_loaves : loaves used
    left_out : line, loaf, reason: void loaves ("void: …"), loaves without the measure or a factor
        ("no …"), loaves
        from a lidded tin that was filled ("lid")
    by_level : one row a level of every other factor: factor, level, difference, standard_error, df,
        ci_low,
        ci_high, verdict, interaction_p, interacts (F test of formula × factor at 5 %)
    pairs : every pair looked at: formula, against, difference, standard_error, df, ci_low, ci_high,
        p_value
        (adjusted), verdict, way, why, unit, n_units, between, ignored, reached (as below); one row
        with two formulas
    adjustment : "none" (one pair), "Dunnett" (all against one), "Tukey" (all pairs)
    between : blocks (days, bakers, …) that are not compared within alone, since some had one of the
        two only
    ignored : blocks that were taken as alike, since compared within them nothing could be judged
    reached : through which other formulas the difference was reached, where the loaves of the two
        alone cannot give
        it; None where they can
    choice : what was chosen for the reader where it was not asked (see ``pairing.Pairing``), ""
        where it was
    second_opinion : the randomisation test; None where there is nothing to rearrange (see
        `relabelling.py`), or
        where the difference was reached through other formulas
    settle : how many more mixes would settle it; None where the verdict is settled, where nothing
        can be told, or
        where people saw the difference differently, so that it takes more of them
    steadiness : whether the verdict hangs on one mix or one day
    fairness : the table of conditions and its findings
    findings : what stands beside the answer, worst first: those of ``fairness``, and the pairs that
        could not be compared
    """

    confidence: float
    percent: Percent | None
    sentence: str = ""
    means: pd.DataFrame
    way: Way
    why: Why
    unit_of_analysis: str
    n_units: int
    variances: dict[str, float]
    left_out: pd.DataFrame
    by_level: pd.DataFrame
    pairs: pd.DataFrame
    adjustment: Adjustment
    between: tuple[str, ...]
    ignored: tuple[str, ...]
    reached: Reached | None
    choice: Choice
    second_opinion: RandomisationTest | None
    settle: Settle | None
    steadiness: Steadiness
    fairness: FairTest
    findings: tuple[Finding, ...]

    @property
    def interacting(self) -> tuple[str, ...]:
        """Return the factors by whose levels the formula's effect differs."""
        return tuple(
            dict.fromkeys(self.by_level.loc[self.by_level["interacts"].astype(bool), "factor"])
        )

    @property
    def means_apart(self) -> float:
        """Return how far the means of the two formulas lie apart. Each mean, and the difference, is
        worked out within such blocks as it can be, so that this need not be the difference.
        """
        mean = self.means.set_index("formula")["mean"]
        return float(mean[self.formula] - mean[self.against])

    @property
    def undone(self) -> pd.DataFrame:
        """Return the conditions that undo the verdict, once it is adjusted for one
        (``FairTest.undone``).
        """
        return self.fairness.undone(self.ci_low, self.ci_high, self.matters)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data under stable names, as ``--json`` prints it; NaN becomes None."""
        hangs_on = [{"kind": kind, "left_out": name} for kind, name in self.steadiness.hangs_on]
        data: dict[str, Any] = plain(self)
        data["steadiness"]["hangs_on"] = hangs_on
        return data | {"interacting": list(self.interacting)}
