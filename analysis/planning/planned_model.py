"""A plan's loaves as the analysis will see them: terms, blocks, the pair of levels that is hardest
to tell apart.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...trials.frozen import frozen
from ...trials.planning.result import TrialPlan
from ..asking.question import degrees
from ..methods.multiplicity import dunnett_critical, tukey_critical
from ..methods.power import own_critical
from ..mixed_model.assumed import Assumed, at_variances
from ..mixed_model.fitting import NotIdentifiable
from ..model.arrangement import Arrangement
from ..model.bearing import choose_terms
from ..model.coding import is_line
from ..model.design import interactions
from ..model.judging import Fitted
from ..model.layout import Layout, find_layout
from ..model.mix_rule import TrialModel
from ..model.term_analysis import tied_to_main_effects

ORDER = 2
# grouping → the field of [variation] that it varies by
GROUPS = {"mix": "mix", "oven_load": "load"}
Variances = Mapping[str, NDArray]  # "mix", "load", "loaf" → variances (m,)


@frozen
class Hardest:
    """The pair of a factor's levels with the largest standard error, under its own arrangement of
    blocks.
    """

    factor: str
    unit: str
    n_units: int
    arrangement: Arrangement
    L: NDArray  # (1, P) over the arrangement's columns
    standard_error: NDArray  # (m,)
    df: NDArray  # (m,)
    judged: str
    n_means: int
    correlation: NDArray | None

    def critical(self, df: float, confidence: float) -> float:
        """Return how many standard errors the interval will reach."""
        if self.judged == "Tukey":
            return tukey_critical(confidence, df, self.n_means)
        if self.judged == "Dunnett" and self.correlation is not None:
            return dunnett_critical(confidence, df, self.correlation)
        return own_critical(df, confidence)


class PlannedModel:
    """The model that the finished trial will be fitted with."""

    def __init__(self, loaves: pd.DataFrame, factors: Sequence[str], control: str | None) -> None:
        self.control = control
        self.factors = tuple(factors)
        self._judged_noise: dict[Arrangement, Fitted] = {}
        layout = find_layout(loaves, factors)
        numbers = degrees(loaves, factors)
        wanted = interactions(factors, min(ORDER, len(factors)))
        terms, _ = choose_terms(loaves, wanted, layout, numbers)
        model = TrialModel.of(loaves, terms, numbers)
        hidden = {tie.term for tie in tied_to_main_effects(model.design)} | {
            tie.term for tie in model.design.ties
        }
        kept = tuple(term for term in terms if len(term.factors) == 1 or term.name not in hidden)
        self.model = model if len(kept) == len(terms) else TrialModel.of(loaves, kept, numbers)

    def hardest(self, factor: str, variances: Variances) -> Hardest | None:
        """Return the pair of levels with the largest standard error, or None where nothing judges
        the factor.
        """
        rows, judged = self._contrasts(factor)
        at_variances: dict[Arrangement, Assumed | None] = {}
        found = []
        for row in rows:
            pair = self._judged(factor, row[None], variances, at_variances)
            if pair is None:
                return None
            found.append(pair)
        worst = max(found, key=lambda pair: round(float(pair.standard_error[0]), 12))
        n_means = len(self._levels(factor))
        return Hardest(
            factor=factor,
            unit=worst.unit,
            n_units=worst.n_units,
            arrangement=worst.arrangement,
            L=worst.L,
            standard_error=worst.standard_error,
            df=worst.df,
            judged=judged,
            n_means=n_means,
            correlation=(
                self._correlation(rows, worst.arrangement, variances)
                if judged == "Dunnett"
                else None
            ),
        )

    def _levels(self, factor: str) -> list[object]:
        """Return a factor's levels; of a straight line its ends."""
        levels = list(self.model.design.levels[factor])
        coding = self.model.design.codings[factor]
        return [levels[0], levels[-1]] if is_line(coding) else levels

    def _contrasts(self, factor: str) -> tuple[NDArray, str]:
        """Return the contrasts that will be reported, and how they will be adjusted."""
        at = {level: self.model.design.at({factor: level}) for level in self._levels(factor)}
        if len(at) == 2:
            low, high = at.values()
            return np.array([high - low]), "t"
        if factor == "formula" and self.control in at:
            return (
                np.array(
                    [row - at[self.control] for level, row in at.items() if level != self.control]
                ),
                "Dunnett",
            )
        return np.array([b - a for a, b in combinations(at.values(), 2)]), "Tukey"

    def _judged(
        self,
        factor: str,
        L: NDArray,
        variances: Variances,
        at_variances: dict[Arrangement, Assumed | None],
    ) -> Hardest | None:
        arrangement = self.model.arrangement_for(L)
        if arrangement is None:
            return None
        reduced = arrangement.design.reduced(L)
        unit = arrangement.unit_of(reduced)
        if arrangement not in at_variances:
            at_variances[arrangement] = assumed_at(arrangement, variances, self.model.layout)
        assumed = at_variances[arrangement]
        if assumed is None or (
            unit in arrangement.groups and unit not in assumed.model.reduced.names
        ):
            return None
        if self._noise(arrangement).contrast(reduced).way[0] == "none":
            return None
        error, df = assumed.contrast(reduced[0])
        return Hardest(
            factor=factor,
            unit=unit,
            n_units=arrangement.n_units(unit),
            arrangement=arrangement,
            L=reduced,
            standard_error=error,
            df=df,
            judged="t",
            n_means=2,
            correlation=None,
        )

    def _noise(self, arrangement: Arrangement) -> Fitted:
        """Return noise judged under an arrangement, once: whether the rule for contrasts gives an
        interval.
        """
        if arrangement not in self._judged_noise:
            noise = np.random.default_rng(1).standard_normal((len(arrangement.design.matrix), 1))
            self._judged_noise[arrangement] = Fitted(arrangement, noise)
        return self._judged_noise[arrangement]

    def _correlation(
        self, rows: NDArray, arrangement: Arrangement, variances: Variances
    ) -> NDArray | None:
        assumed = assumed_at(arrangement, variances, self.model.layout)
        if assumed is None:
            return None
        covariance = assumed.covariance(arrangement.design.reduced(rows))[0]
        spread = np.sqrt(np.diag(covariance))
        return np.asarray(covariance / np.outer(spread, spread))


def assumed_at(arrangement: Arrangement, variances: Variances, layout: Layout) -> Assumed | None:
    """Return the arrangement's model at these variances; None where it has nothing to judge by.

    What a grouping that is no part of the model varies by falls to the one that it is the same as,
    or else to the next finer one, in the end to the loaf; a fixed block takes it away.
    """
    try:
        model = arrangement.engine
    except NotIdentifiable:
        return None
    names = model.reduced.names
    theta: dict[str, NDArray] = {name: np.zeros_like(variances["loaf"]) for name in names}
    theta["residual"] = variances["loaf"].copy()
    for grouping, what in GROUPS.items():
        if grouping in names:
            theta[grouping] = theta[grouping] + variances[what]
        elif grouping in layout.labels and grouping not in arrangement.fixed:
            same = layout.left_out.get(grouping, "").removeprefix("same as ")
            finer = (
                same
                if same in names
                else "mix"
                if grouping != "mix" and "mix" in names
                else "residual"
            )
            if same not in arrangement.fixed:
                theta[finer] = theta[finer] + variances[what]
    return at_variances(model, theta)


def simulated_errors(
    labels: pd.DataFrame, variances: Variances, trials: int, seed: int = 1
) -> NDArray:
    """Return errors (loaves, trials) of oven loads, mixes and loaves with these variances (the
    first of each).
    """
    random = np.random.default_rng(seed)
    errors = np.sqrt(variances["loaf"][0]) * random.standard_normal((len(labels), trials))
    for grouping, what in GROUPS.items():
        if grouping in labels:
            codes = pd.factorize(labels[grouping])[0]
            errors += (
                np.sqrt(variances[what][0])
                * random.standard_normal((codes.max() + 1, trials))[codes]
            )
    return errors


def loaves_on(plan: TrialPlan, days: int) -> pd.DataFrame:
    """Return the plan's loaves on more or fewer days: its days over and over, with labels of their
    own.
    """
    own = list(dict.fromkeys(plan.loaves["day"]))
    parts = []
    for turn in range(days):
        part = plan.loaves[plan.loaves["day"] == own[turn % len(own)]]
        labels = {
            name: [f"{turn}/{label}" for label in part[name]]
            for name in ("mix", "oven_load")
            if name in part
        }
        parts.append(part.assign(day=str(turn + 1), **labels))
    return pd.concat(parts, ignore_index=True)
