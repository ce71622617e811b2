"""What else differed between two formulas: the same difference in the other measures, for trade-offs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..trials import Trial
from ..trials.columns import label, unit
from ..trials.lids import capped_loaves
from .comparison import _fit, _questions
from .pair_tests import judge_pairs
from .plain_data import plain
from .verdict import Verdict

USUAL = ("bake_loss_pct", "volume_per_100g_flour", "height_mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherDifference:
    """One formula held against another in one more measure, in its unit; NaN where nothing can be told.

    The interval holds for this measure alone: it is not widened for the number of measures looked at.
    """

    measure: str
    label: str
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

    def to_dict(self) -> dict[str, Any]:
        """Return plain data; NaN becomes None."""
        result: dict[str, Any] = plain(self)
        return result


def other_measures(trial: Trial, main: str) -> tuple[str, ...]:
    """Return the measures beside the main one: those on the card, then the usual ones; no scores."""
    loaves = trial.counted
    wanted = dict.fromkeys((*trial.card.measures, *USUAL))
    return tuple(name for name in wanted if name != main and name in loaves and not name.startswith("crumb_")
                 and loaves[name].dtype.kind == "f" and loaves[name].nunique() > 1)


def other_difference(trial: Trial, formula: str, against: str, measure: str, confidence: float) -> OtherDifference:
    """Return the difference in one measure, judged as ``compare_formulas`` judges it.

    Raises
    ------
    TrialError: the measure cannot be compared; says why.
    """
    pairing, asked = _questions(trial, formula, against, measure, confidence)
    capped = capped_loaves(asked.table, trial.card, measure)
    fitted = _fit(asked, capped, pairing, order=2)
    matters = trial.card.matters_for(measure)
    told = judge_pairs(fitted, pairing.pairs, pairing.family, matters).iloc[0]
    numbers = {name: float(told[name]) for name in ("difference", "standard_error", "df", "ci_low", "ci_high",
                                                    "p_value")}
    return OtherDifference(
        measure=measure, label=label(measure, trial.card), unit=unit(measure, trial.card), formula=formula,
        against=against, matters=matters, verdict=told["verdict"], n_mixes=fitted.n_mixes,
        n_loaves=fitted.fit.n_loaves, **numbers,
    )
