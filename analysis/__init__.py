"""What the records show: comparisons, factor effects, crumb scores, and the report.

The public names are loaded when they are first asked for, so that ``fairloaf check`` does not pay
for models and pictures.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..trials.lazy_names import loaded_when_asked

if TYPE_CHECKING:
    from ..trials.planning.serving import ServingPlan, plan_servings
    from .answers import compare_formulas, crumb_scores, factor_effects, plan_power
    from .answers_of_tasting import taste_counts, tasters_needed, tasting_answers, words_seen
    from .comparison.result import Comparison
    from .crumb.result import CrumbScores
    from .factors.result import FactorEffects
    from .planning.result import PlanPower
    from .report import write_report
    from .sheets import write_sheets
    from .tasting.result import TasteCounts, TastersNeeded, TastingAnswers, WordsSeen

__all__ = [
    "Comparison",
    "CrumbScores",
    "FactorEffects",
    "PlanPower",
    "ServingPlan",
    "TasteCounts",
    "TastersNeeded",
    "TastingAnswers",
    "WordsSeen",
    "compare_formulas",
    "crumb_scores",
    "factor_effects",
    "plan_power",
    "plan_servings",
    "taste_counts",
    "tasters_needed",
    "tasting_answers",
    "words_seen",
    "write_report",
    "write_sheets",
]

_HOMES = {
    "Comparison": "comparison.result",
    "compare_formulas": "answers",
    "crumb_scores": "answers",
    "factor_effects": "answers",
    "CrumbScores": "crumb.result",
    "FactorEffects": "factors.result",
    "PlanPower": "planning.result",
    "plan_power": "answers",
    "write_report": "report",
    "write_sheets": "sheets",
    "ServingPlan": ".trials.planning.serving",
    "plan_servings": ".trials.planning.serving",
    "TasteCounts": "tasting.result",
    "TastersNeeded": "tasting.result",
    "TastingAnswers": "tasting.result",
    "WordsSeen": "tasting.result",
    "taste_counts": "answers_of_tasting",
    "tasters_needed": "answers_of_tasting",
    "tasting_answers": "answers_of_tasting",
    "words_seen": "answers_of_tasting",
}


__getattr__ = loaded_when_asked(__name__, _HOMES)
