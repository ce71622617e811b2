"""What a plan will show: each factor's smallest difference, the chance to see what matters, the
days that would do.

Everything is judged as the finished trial will be: the same terms, blocks, unit, degrees of freedom
and limits. Source of the degrees of freedom before there are data: Kenward and Roger 1997, at the
assumed variances.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from ...trials import Trial
from ...trials.columns import label, label_inside, unit
from ...trials.findings import Finding
from ...trials.kitchen import Variation
from ...trials.planning.result import TrialPlan
from ..factors.unreplicated import Unreplicated, find_unreplicated
from ..methods.power import (
    USUAL,
    best_repeats,
    lenth_power,
    lenth_shown_with,
    power_of_t,
    shown_with,
    upper_sd,
)
from ..model.coding import DesignError
from ..model.judging import ByStratum, Fitted, Judged, by_strata
from ..model.layout import find_layout
from .planned_model import Hardest, PlannedModel, Variances, loaves_on, simulated_errors
from .result import PlanPower
from .variation import Assumption, assumption_for, planned_measure

FACTORS = [
    "factor",
    "unit",
    "n_levels",
    "n_units",
    "standard_error",
    "df",
    "critical",
    "half_width",
    "smallest_difference",
    "matters",
    "power",
    "simulated_power",
    "assurance",
    "judged",
    "days_needed",
]
TABLE = ["mixes", "loaves_a_mix", "loaves", "smallest_difference"]
LOAVES = (1, 2, 3, 4, 6, 8)
MOST_DAYS = 60
# of a model up to which all simulated trials are fitted, and of trials below which none is
QUICK_COLUMNS, FEWEST_TRIALS = 20, 100
OF_ITSELF = "% of its usual size"
UNIT_NAMES = {"oven_load": "load", "mix": "mix", "loaf": "loaf", "day": "day"}


def what_it_shows(
    plan: TrialPlan,
    *,
    variation: Variation | None = None,
    like: Trial | None = None,
    power: float = USUAL,
    confidence: float = 0.95,
    trials: int = 2000,
) -> PlanPower:
    """Return what a plan can show.

    Parameters
    ----------
    variation : standard deviations of mixes, loaves and oven loads; else those of ``like``, of the
        card, or rough
    like : a past trial of the same measure
    power : chance of a difference to be shown; trials : simulated ones beside the formulas, 0 for
        none; fewer are fitted where a layout is not balanced and its model has more than 20
        columns, and none (NaN) where these would be fewer than 100

    Raises
    ------
    TrialError: ``like`` cannot tell how the measure varies.
    ValueError: power or confidence are no shares between 0 and 1.
    """
    if not (0 < power < 1 and 0 < confidence < 1):
        raise ValueError("power and confidence are shares between 0 and 1")
    card = plan.card
    measure = planned_measure(card)
    assumed = assumption_for(card, variation, like, measure)
    in_share = assumed.source == "rough share"
    matters = None if in_share else card.matters_for(measure)
    question = _Question(plan, matters, power, confidence)
    rows = question.rows(plan.loaves, assumed)
    if trials:
        question.simulate(rows, plan.loaves, assumed, trials)
    days = question.days_needed(rows, assumed.variances)
    unlucky = None
    if matters is not None and assumed.mix_df > 0:
        factor = upper_sd(assumed.mix_df) ** 2
        unlucky = question.days_needed(
            rows, {name: value * factor for name, value in assumed.variances.items()}
        )
    table = pd.DataFrame([{key: row[key] for key in FACTORS} for row in rows], columns=FACTORS)
    first = next((row for row in rows if row["unit"] == "mix"), rows[0])
    half, double = (question.smallest(first["factor"], assumed, factor) for factor in (0.5, 2.0))
    return PlanPower(
        measure=measure,
        label=label(measure, card),
        label_inside=label_inside(measure, card),
        unit=OF_ITSELF if in_share else unit(measure, card),
        power=power,
        confidence=confidence,
        matters=matters,
        factors=table,
        mixes_and_loaves=question.mixes_and_loaves(first, assumed.variances),
        best_loaves_a_mix=_best_loaves(plan, assumed.variances),
        days=plan.loaves["day"].nunique(),
        days_needed=days,
        days_needed_if_unlucky=unlucky,
        most_days=MOST_DAYS,
        variation=assumed.variation,
        source=assumed.source,
        half=half,
        double=double,
        findings=tuple(
            _shows_nothing(row) for row in rows if math.isnan(row["smallest_difference"])
        ),
    )


class _Question:
    """What is asked of one plan: every factor's row, on the days planned or on others."""

    def __init__(
        self, plan: TrialPlan, matters: float | None, power: float, confidence: float
    ) -> None:
        self.plan = plan
        self.matters = matters
        self.power = power
        self.confidence = confidence
        self.control = plan.card.control
        self._models: dict[int, PlannedModel | None] = {}

    def model_on(self, days: int) -> PlannedModel | None:
        """Return the model of so many days; None where its loaves cannot bear the factors."""
        if days not in self._models:
            try:
                self._models[days] = PlannedModel(
                    loaves_on(self.plan, days), self.plan.factors, self.control
                )
            except DesignError:
                self._models[days] = None
        return self._models[days]

    def rows(self, loaves: pd.DataFrame, assumed: Assumption) -> list[dict[str, Any]]:
        """Return one row a factor for the plan as it is."""
        single = _unrepeated(loaves, self.plan.factors, self.confidence)
        if single is not None:
            return [self._lenth_row(name, single, assumed.variances) for name in self.plan.factors]
        return [self._row(name, assumed) for name in self.plan.factors]

    def smallest(self, factor: str, assumed: Assumption, times: float) -> float:
        """Return the smallest difference were the standard deviations so many times as large."""
        scaled = replace(assumed, variation=_times(assumed.variation, times))
        row = next(row for row in self.rows(self.plan.loaves, scaled) if row["factor"] == factor)
        return float(row["smallest_difference"])

    def _row(self, factor: str, assumed: Assumption) -> dict[str, Any]:
        model = self.model_on(self.plan.loaves["day"].nunique())
        found = model.hardest(factor, assumed.variances) if model else None
        if found is None:
            return self._nothing(factor, self.plan.made_per[factor])
        error, df = float(found.standard_error[0]), float(found.df[0])
        critical = found.critical(df, self.confidence)
        return self._nothing(factor, UNIT_NAMES.get(found.unit, found.unit)) | {
            "n_units": found.n_units,
            "standard_error": error,
            "df": df,
            "critical": critical,
            "half_width": critical * error,
            "smallest_difference": shown_with(self.power, df, critical) * error,
            "power": self._chance(error, df, critical),
            "assurance": self._assurance(factor, assumed, found),
            "judged": found.judged,
        }

    def _nothing(self, factor: str, unit_name: str) -> dict[str, Any]:
        """Return the row of a factor of which nothing can be shown."""
        numbers = dict.fromkeys(FACTORS, math.nan)
        return numbers | {
            "factor": factor,
            "unit": unit_name,
            "n_units": 0,
            "judged": "",
            "n_levels": self.plan.loaves[factor].nunique(),
            "matters": math.nan if self.matters is None else self.matters,
        }

    def _chance(self, error: float, df: float, critical: float) -> float:
        return (
            math.nan
            if self.matters is None
            else float(power_of_t(self.matters / error, df, critical))
        )

    def _assurance(self, factor: str, assumed: Assumption, found: Hardest) -> float:
        possible, model = assumed.possible(), self.model_on(self.plan.loaves["day"].nunique())
        if possible is None or self.matters is None or model is None:
            return math.nan
        every = model.hardest(factor, possible)
        if every is None:
            return math.nan
        limit = found.critical(float(found.df[0]), self.confidence)
        return float(power_of_t(self.matters / every.standard_error, every.df, limit).mean())

    def _lenth_row(self, factor: str, single: Unreplicated, variances: Variances) -> dict[str, Any]:
        """Return what Lenth's margin will show of a factor where no combination is baked twice."""
        effects = single.effects
        own = effects[effects["term"] == factor]
        judged = effects[effects["beyond"] != "unjudged"]
        if own.empty or own["beyond"].iloc[0] == "unjudged" or len(judged) < 3:
            return self._nothing(factor, self.plan.made_per[factor])
        unit_name = str(own["unit"].iloc[0])
        n = self.plan.loaves["mix"].nunique() if unit_name == "mix" else len(self.plan.loaves)
        inside = len(self.plan.loaves) / n
        error = math.sqrt(4 / n * float(variances["mix"][0] + variances["loaf"][0] / inside))
        return self._nothing(factor, UNIT_NAMES.get(unit_name, unit_name)) | {
            "n_units": n,
            "standard_error": error,
            "judged": "Lenth",
            "smallest_difference": (
                lenth_shown_with(self.power, len(judged), self.confidence) * error
            ),
            "power": (
                math.nan
                if self.matters is None
                else lenth_power(self.matters / error, len(judged), self.confidence)
            ),
        }

    def simulate(
        self, rows: Sequence[dict[str, Any]], loaves: pd.DataFrame, assumed: Assumption, trials: int
    ) -> None:
        """Put the chance to show the smallest difference into the rows: errors are drawn once for
        all.
        """
        model = self.model_on(loaves["day"].nunique())
        if model is None or all(row["judged"] in ("", "Lenth") for row in rows):
            return
        errors = simulated_errors(model.model.layout.labels, assumed.variances, trials)
        fitted: dict[int, Fitted] = {}
        seen: ByStratum | Judged | None
        for row in rows:
            found = model.hardest(str(row["factor"]), assumed.variances)
            if row["judged"] in ("", "Lenth") or found is None:
                continue
            seen = by_strata(found.arrangement, found.L, errors)
            if seen is None:
                n = _affordable(trials, found)
                if n < FEWEST_TRIALS:
                    continue
                key = id(found.arrangement)
                if key not in fitted:
                    fitted[key] = Fitted(found.arrangement, errors[:, :n])
                seen = fitted[key].contrast(found.L)
            limit = _criticals(found, seen.df, self.confidence) * seen.standard_error
            row["simulated_power"] = float(
                (np.abs(seen.estimate + float(row["smallest_difference"])) > limit).mean()
            )

    def days_needed(self, rows: Sequence[dict[str, Any]], variances: Variances) -> int | None:
        """Return the fewest days on which every factor shows what matters; into the rows each one's
        own.
        """
        if self.matters is None:
            return None
        needed = []
        for row in rows:
            fewest = self._fewest_days(str(row["factor"]), variances)
            row["days_needed"] = math.nan if fewest is None else fewest
            needed.append(fewest)
        return None if None in needed else max(day for day in needed if day is not None)

    def _fewest_days(self, factor: str, variances: Variances) -> int | None:
        """Return the fewest days for one factor: doubled until they do, then halved in between."""
        high = 1
        while not self._enough(factor, high, variances):
            if high >= MOST_DAYS:
                return None
            high = min(2 * high, MOST_DAYS)
        low = high // 2
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if self._enough(factor, middle, variances) else (middle, high)
        return high

    def _enough(self, factor: str, days: int, variances: Variances) -> bool:
        model = self.model_on(days)
        found = model.hardest(factor, variances) if model else None
        if found is None:
            return False
        error, df = float(found.standard_error[0]), float(found.df[0])
        return self._chance(error, df, found.critical(df, self.confidence)) >= self.power

    def mixes_and_loaves(self, first: Mapping[str, Any], variances: Variances) -> pd.DataFrame:
        """Return the smallest difference with fewer mixes of each level and other numbers of loaves
        in a mix.
        """
        factor, loaves = str(first["factor"]), self.plan.loaves
        if first["unit"] != "mix" or first["judged"] in ("", "Lenth"):
            return pd.DataFrame(columns=TABLE)
        planned, inside = loaves["day"].nunique(), len(loaves) / loaves["mix"].nunique()
        rows = []
        for days in range(1, planned + 1):
            model = self.model_on(days)
            mixes = loaves_on(self.plan, days).drop_duplicates("mix")[factor].value_counts()
            if model is None or mixes.nunique() != 1 or mixes.iloc[0] < 2:
                continue
            for n in LOAVES:
                found = model.hardest(factor, {**variances, "loaf": variances["loaf"] * inside / n})
                if found is None:
                    continue
                error, df = float(found.standard_error[0]), float(found.df[0])
                size = shown_with(self.power, df, found.critical(df, self.confidence)) * error
                rows.append((int(mixes.iloc[0]), n, int(mixes.sum()) * n, size))
        return pd.DataFrame(rows, columns=TABLE)


def _shows_nothing(row: Mapping[str, Any]) -> Finding:
    """Return the warning that a factor cannot be judged at all, with the days on which it could."""
    needed = row["days_needed"]
    days = "more days" if math.isnan(needed) else f"{needed:g} days"
    return Finding(
        code="shows-nothing",
        severity="warning",
        column=row["factor"],
        message=(
            f"This plan shows no difference of {row['factor']}, however large: nothing is repeated"
            " to judge it by."
        ),
        fix=(
            f"Make every level of it again as a new {row['unit']}: on {days}, or more often on a"
            " day."
        ),
    )


def _unrepeated(
    loaves: pd.DataFrame, factors: Sequence[str], confidence: float
) -> Unreplicated | None:
    """Return the effects that the analysis will judge by Lenth's margin, from noise; None where
    there are repeats.
    """
    noise = np.random.default_rng(1).standard_normal(len(loaves))
    return find_unreplicated(
        loaves.assign(noise=noise), "noise", factors, find_layout(loaves, factors), confidence
    )


def _affordable(trials: int, found: Hardest) -> int:
    """Return how many trials are fitted one by one: fewer where the model has many columns, with
    the third power of which a fit's time grows.
    """
    columns = found.arrangement.design.matrix.shape[1]
    return int(trials * min(1.0, (QUICK_COLUMNS / columns) ** 3))


def _criticals(found: Hardest, df: np.ndarray, confidence: float) -> np.ndarray:
    """Return the critical value of every simulated trial: worked out at a few df, straight lines in
    1/df between.
    """
    low, high = float(np.nanmin(df)), float(np.nanmax(df))
    at = np.array([low]) if high - low < 1e-6 else 1 / np.linspace(1 / high, 1 / low, 9)[::-1]
    values = np.array([found.critical(float(one), confidence) for one in at])
    return (
        values[0] * np.ones_like(df)
        if len(at) == 1
        else np.interp(1 / df, (1 / at)[::-1], values[::-1])
    )


def _times(variation: Variation, times: float) -> Variation:
    return Variation(
        mix=(variation.mix or 0.0) * times,
        loaf=(variation.loaf or 0.0) * times,
        load=(variation.load or 0.0) * times,
    )


def _best_loaves(plan: TrialPlan, variances: Variances) -> int | None:
    """Return the loaves of a mix that cost least for what they show; None where the card is
    silent.
    """
    minutes = plan.card.minutes
    if minutes is None or not variances["mix"][0] > 0:
        return None
    mix = sum(
        value or 0.0 for value in (minutes.weigh, minutes.attend, minutes.fill, minutes.empty)
    )
    loaf = sum(value or 0.0 for value in (minutes.shape, minutes.measure))
    return (
        best_repeats(mix, loaf, float(variances["mix"][0]), float(variances["loaf"][0]))
        if mix and loaf
        else None
    )
