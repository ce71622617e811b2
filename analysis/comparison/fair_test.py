"""Was it a fair test? Every recorded condition, and what the difference becomes when it is adjusted
for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from ...trials import Finding
from ...trials.columns import label, unit
from ...trials.fairness.conditions import Condition, Pair
from ...trials.fairness.fairness import fairness_findings
from ...trials.findings import worst_first
from ...trials.frozen import frozen
from ...trials.words.numbers import ENGLISH, amount, decimals
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.coding import DesignError
from ..model.estimates import Estimate
from ..verdict import verdict
from .formula_fit import FormulaFit, refit
from .steadiness import Judge

DRIFT = 0.05  # a slope over the baking order with a p-value below this is told
ORDER = "bake_order"
# from here on formulas stood visibly apart: a reading aid, no test
VISIBLY_SD, VISIBLY_SHARE = 0.5, 0.25
# a number was kept about the same where no loaf lies farther from the mean than the first share,
# and the formulas' means lie closer than the second, from which on a check warns (as above)
KEPT_LOAF, KEPT_MEANS = 0.02, 0.01
IN_MODEL, ADJUSTED, TIED = "in the model", "adjusted", "cannot be told apart"
COLUMNS = [
    "condition",
    "label",
    "unit",
    "kind",
    "status",
    "formula_value",
    "against_value",
    "difference",
    "in_sd",
    "farthest",
    "missing",
    "handled",
    "adjusted_difference",
    "adjusted_ci_low",
    "adjusted_ci_high",
]


@frozen(kw_only=True)
class FairTest:
    """The conditions of the trial as a class can read them, and what speaks against the comparison.

    table : one row a condition: condition (column), label, unit, kind ("number", "category"),
        status ("changed on
        purpose", "kept the same", "drifted"), formula_value, against_value (means, or levels with
        their loaves as text), difference (in its unit; for a category the share of loaves that
        would have to change level, 0 to 1), in_sd (in standard deviations of loaves; NaN for a
        category), farthest (the loaf that is farthest off, as a share of the mean), missing
        (loaves without a value), handled ("in the model" when compared within it
        or its levels weighted equally; "adjusted"; "cannot be told apart"; "" when kept the same),
        adjusted_difference, adjusted_ci_low, adjusted_ci_high (of the measure, adjusted for this
        condition alone, each on the loaves that have it; NaN unless handled is "adjusted")
    findings : worst first
    """

    table: pd.DataFrame
    findings: tuple[Finding, ...]

    @property
    def about_kept(self) -> pd.Series:
        """Return which numbers were kept about the same, though not to the last gram or minute."""
        table = self.table
        number = ((table["status"] == "drifted") & (table["kind"] == "number")).to_numpy()
        ours, theirs, difference, farthest = (
            table[name].to_numpy()[number].astype(float)
            for name in ("formula_value", "against_value", "difference", "farthest")
        )
        kept = np.zeros(len(table), dtype=bool)
        close = np.abs(difference) < KEPT_MEANS * np.abs(ours + theirs) / 2
        kept[number] = close & (farthest <= KEPT_LOAF)
        return pd.Series(kept, table.index)

    @property
    def apart(self) -> pd.Series:
        """Return which conditions drifted so far that the formulas stood visibly apart in them.

        Half a standard deviation, or a quarter of the loaves elsewhere.
        """
        table = self.table
        far = np.where(
            table["kind"] == "category",
            table["difference"].abs() >= VISIBLY_SHARE,
            table["in_sd"].abs() >= VISIBLY_SD,
        )
        return (
            (table["status"] == "drifted") & (table["handled"] != IN_MODEL) & far & ~self.about_kept
        )

    @property
    def inseparable(self) -> pd.DataFrame:
        """Return the rows of the conditions that stood visibly apart and that nothing in the trial
        can tell from what is compared.
        """
        return self.table[self.apart & self.table["handled"].eq(TIED)]

    def undone(self, ci_low: float, ci_high: float, matters: float | None) -> pd.DataFrame:
        """Return the conditions that the verdict does not outlive: adjusted for one, the difference
        leaves the interval that is told, and the verdict is another one.

        What is not settled stays so: an adjustment that was picked among several settles nothing.
        A column ``adjusted_verdict`` is added to those of ``table``.
        """
        now = verdict(ci_low, ci_high, matters)
        table = self.table[self.apart & self.table["handled"].eq(ADJUSTED)]
        ends = zip(table["adjusted_ci_low"], table["adjusted_ci_high"], strict=True)
        table = table.assign(
            adjusted_verdict=[verdict(float(low), float(high), matters) for low, high in ends]
        )
        outside = ~table["adjusted_difference"].astype(float).between(ci_low, ci_high)
        return table[outside & table["adjusted_verdict"].ne(now) & (now != "not settled")]


def fair_test(
    pair: Pair, fitted: FormulaFit, adjusted: Mapping[str, FormulaFit | None], judge: Judge
) -> FairTest:
    """Return the conditions of two formulas, with the difference adjusted for each one that
    drifted.

    adjusted : the fits of `adjusted_for` all conditions. judge : gives the pair's row (difference,
        ci_low, ci_high) for a fit, as the comparison itself judged it.
    """
    table = _table(pair.conditions, adjusted, fitted, judge)
    again, order = adjusted.get(ORDER), table[table["condition"] == ORDER]
    days = fitted.fit.layout.labels.get("day")
    drift = _drift(again, pair, days) if again and order["handled"].eq(ADJUSTED).any() else ()
    return FairTest(table=table, findings=worst_first([*fairness_findings(pair), *drift]))


def stood_apart(pair: Pair, fitted: FormulaFit, judge: Judge) -> FairTest:
    """Return the conditions alone in which two levels of any factor stood visibly apart, each
    adjusted for, and no findings; arguments as of `fair_test`.
    """
    before = FairTest(table=_table(pair.conditions, {}, fitted, judge), findings=())
    apart = [c for c, far in zip(pair.conditions, before.apart, strict=True) if far]
    table = _table(apart, adjusted_for(apart, pair, fitted), fitted, judge)
    return FairTest(table=table, findings=())


def adjusted_for(
    conditions: Iterable[Condition], pair: Pair, fitted: FormulaFit
) -> dict[str, FormulaFit | None]:
    """Return the fit adjusted for each condition that is to be adjusted for."""
    return {
        condition.name: _refitted(condition, pair, fitted)
        for condition in conditions
        if _need_not(condition, fitted) is None
    }


def _table(
    conditions: Iterable[Condition],
    tried: Mapping[str, FormulaFit | None],
    fitted: FormulaFit,
    judge: Judge,
) -> pd.DataFrame:
    """Return the rows of conditions, adjusted for those that were tried (`FairTest.table`)."""
    rows = []
    for condition in conditions:
        handled, again = _need_not(condition, fitted), tried.get(condition.name)
        adjusted = _adjusted(again, judge) if again else None
        said = (ADJUSTED if adjusted else TIED) if handled is None else handled
        rows.append(_row(condition, said, adjusted))
    return pd.DataFrame(rows, columns=COLUMNS)


def _row(condition: Condition, handled: str, adjusted: dict[str, Any] | None) -> dict[str, object]:
    values = asdict(condition)
    interval = [
        np.nan if adjusted is None else adjusted[name]
        for name in ("difference", "ci_low", "ci_high")
    ]
    names = {"condition": values.pop("name"), "handled": handled}
    return values | names | dict(zip(COLUMNS[-3:], interval, strict=True))


def _need_not(condition: Condition, fitted: FormulaFit) -> str | None:
    """Return how a condition is dealt with that is not to be adjusted for; None for the others."""
    if condition.status == "kept the same":
        return ""
    asked = {factor for term in fitted.terms for factor in term.factors}
    if condition.status == "changed on purpose" or condition.name in asked:
        return IN_MODEL
    if condition.name in fitted.fit.layout.kept:
        return IN_MODEL
    return None


def _refitted(condition: Condition, pair: Pair, fitted: FormulaFit) -> FormulaFit | None:
    """Return the fit with a condition to adjust for; None where it leaves nothing of the pair."""
    degree = 1 if condition.kind == "number" else None
    try:
        again = refit(fitted, fitted.loaves, adjust_for=condition.name, degree=degree)
        left = set(again.fit.design.levels[pair.factor])
    except DesignError:
        return None
    return again if {pair.formula, pair.against} <= left else None


def _adjusted(again: FormulaFit, judge: Judge) -> dict[str, Any] | None:
    """Return the difference adjusted for a condition; None where it cannot be told apart."""
    try:
        adjusted = judge(again)
    except (DesignError, NoVariation, NotIdentifiable):
        return None
    return adjusted if np.isfinite(adjusted["difference"]) else None


def _drift(again: FormulaFit, pair: Pair, days: pd.Series | None) -> tuple[Finding, ...]:
    """Return the finding that loaves changed in the course of baking, where they did.

    Days are compared within: the slope is one inside a day, and is told over a usual day's places.
    """
    slope = again.fit.contrast(again.fit.design.powers(ORDER)[0])
    if not slope.p_value < DRIFT:
        return ()
    places = again.loaves[ORDER].astype(float)
    day = pd.Series(0, places.index) if days is None else days.loc[places.index]
    spans = places.groupby(day).agg(np.ptp)
    usual = float(spans[spans > 0].median())
    seen = float(np.ptp(again.loaves[pair.measure or ""]))
    return (_drift_finding(pair, slope, usual, seen, several=day.nunique() > 1),)


def _drift_finding(
    pair: Pair, slope: Estimate, places: float, seen: float, several: bool
) -> Finding:
    """Return the finding that the measure drifted over the baking order.

    slope : per place in the order. places : from the first loaf of a usual day to its last. seen :
        how far all loaves lie apart; a larger change is not sized. several : days.
    """
    measure, card = pair.measure or "", pair.trial.card
    change, reach = slope.estimate * places, abs(slope.ci_high - slope.ci_low) / 2 * places
    way = "rose" if change > 0 else "fell"
    span = "the first loaf of a day to its last" if several else "the first loaf to the last"
    by = amount(abs(change), unit(measure, card), decimals(reach, change), style=ENGLISH)
    size = f"by about {by}" if abs(change) <= seen else "by how much cannot be said,"
    return Finding(
        code="drift-over-baking-order",
        severity="warning",
        column="bake_order",
        message=f"{label(measure, card)} {way} while baking: {size} from {span}.",
        why=(
            "The oven, the dough's age or the seed changed while baking; an order by lot spreads"
            " that evenly."
        ),
        fix=(
            "Draw the baking order by lot within each day; look at the difference adjusted for the"
            " baking order."
        ),
    )
