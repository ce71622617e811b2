"""What a user asks for: each room's numbers, with the sentences of `wording` put on them. Each
answer loads its own room only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from ..trials.words.numbers import ENGLISH, NumberStyle
from .asking.a_trial import a_trial
from .one_thread import in_one_thread

if TYPE_CHECKING:
    from ..trials import Trial
    from ..trials.kitchen import Variation
    from ..trials.planning.result import TrialPlan
    from .comparison.result import Comparison
    from .crumb.result import CrumbScores
    from .factors.result import FactorEffects, MeasuresGrid
    from .planning.result import PlanPower


@in_one_thread
def compare_formulas(
    trial: Trial,
    formula: str | None = None,
    against: str | None = None,
    measure: str | None = None,
    matters: float | None = None,
    confidence: float = 0.95,
    style: NumberStyle = ENGLISH,
) -> Comparison:
    """Return how far one formula lies from another, whether that is real, and whether it matters.

    Parameters and errors are those of `comparison.compare.compare`.
    """
    from .comparison.compare import compare
    from .wording.comparison import answer

    found = compare(a_trial(trial), formula, against, measure, matters, confidence)
    return replace(found, sentence=answer(found, style=style))


@in_one_thread
def factor_effects(
    trial: Trial,
    measure: str | None = None,
    factors: Sequence[str] | None = None,
    three_way: bool = False,
    confidence: float = 0.95,
    style: NumberStyle = ENGLISH,
) -> FactorEffects:
    """Return what each factor did to a measure (the card's measure and factors where none are
    named).

    Errors are those of `factors.analyse.analyse_factors`.
    """
    from .factors.analyse import analyse_factors
    from .wording.factors import factor_sentences

    found = analyse_factors(a_trial(trial), measure, factors, three_way, confidence)
    return replace(found, sentences=factor_sentences(found, style=style))


@in_one_thread
def measures_grid(
    trial: Trial,
    measures: Sequence[str] | None = None,
    factors: Sequence[str] | None = None,
    confidence: float = 0.95,
    style: NumberStyle = ENGLISH,
) -> MeasuresGrid:
    """Return the effect of each factor on each measure of the card (all derived measures where it
    is silent).

    Errors are those of `factors.measures_grid.grid_of_measures`.
    """
    from .factors.measures_grid import grid_of_measures
    from .wording.measures_grid import grid_sentences

    found = grid_of_measures(a_trial(trial), measures, factors, confidence)
    return replace(found, sentences=grid_sentences(found, style=style))


@in_one_thread
def crumb_scores(
    trial: Trial,
    formula: str | None = None,
    against: str | None = None,
    attributes: Sequence[str] | None = None,
    confidence: float = 0.95,
    style: NumberStyle = ENGLISH,
) -> CrumbScores:
    """Return what the scores say about the breads, and about the scoring.

    Parameters and errors are those of `crumb.score.score_crumb`.
    """
    from .crumb.score import score_crumb
    from .wording.crumb import crumb_sentences

    found = score_crumb(a_trial(trial), formula, against, attributes, confidence)
    return replace(found, sentences=crumb_sentences(found, style=style))


@in_one_thread
def plan_power(
    plan: TrialPlan,
    *,
    variation: Variation | None = None,
    like: Trial | None = None,
    power: float = 0.8,
    confidence: float = 0.95,
    trials: int = 2000,
    style: NumberStyle = ENGLISH,
) -> PlanPower:
    """Return what a plan can show: each factor's smallest difference, and the days that what
    matters would take.

    Parameters and errors are those of `planning.what_it_shows.what_it_shows`.
    """
    from .planning.what_it_shows import what_it_shows
    from .wording.plan_power import power_sentence

    found = what_it_shows(
        plan, variation=variation, like=like, power=power, confidence=confidence, trials=trials
    )
    return replace(found, sentence=power_sentence(found, style=style))
