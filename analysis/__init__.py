"""What the records show: comparisons, factor effects, crumb scores, and the report.

The public names are loaded when they are first asked for, so that ``fairloaf check`` does not pay for models and
pictures.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .answers import compare_formulas, crumb_scores, factor_effects
    from .comparison.result import Comparison
    from .crumb.result import CrumbScores
    from .factors.result import FactorEffects
    from .report import write_report
    from .sheets import write_sheets

__all__ = [
    "Comparison", "CrumbScores", "FactorEffects", "compare_formulas", "crumb_scores", "factor_effects",
    "write_report", "write_sheets",
]

_HOMES = {
    "Comparison": "comparison.result", "compare_formulas": "answers",
    "CrumbScores": "crumb.result", "crumb_scores": "answers",
    "FactorEffects": "factors.result", "factor_effects": "answers",
    "write_report": "report",
    "write_sheets": "sheets",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f".{_HOMES[name]}", __name__), name)
