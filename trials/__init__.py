"""What was planned, baked and measured, and whether the records can be trusted.

Read in this order: ``columns`` (the vocabulary), ``trial`` (what a trial is), ``card``; then the
way of a file: ``files``, ``csv_text`` or ``workbook``, ``reading``, ``headers``, ``cells``,
``typed_table``, ``records``, ``loading``; ``measures`` and ``formula`` (what is calculated),
``checks``.

The public names are loaded when they are first asked for: who checks records does not wait for what
lays out plans.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .card import TrialCard
    from .findings import Finding, TrialError
    from .loading import load_trial, read_trial
    from .planning.plan import plan_trial
    from .planning.result import TrialPlan
    from .planning.timetable import bench_timetable
    from .planning.weigh_out import weigh_out
    from .trial import Trial

__all__ = [
    "Finding",
    "Trial",
    "TrialCard",
    "TrialError",
    "TrialPlan",
    "bench_timetable",
    "load_trial",
    "plan_trial",
    "read_trial",
    "weigh_out",
]

_HOMES = {
    "Finding": "findings",
    "Trial": "trial",
    "TrialCard": "card",
    "TrialError": "findings",
    "TrialPlan": "planning.result",
    "bench_timetable": "planning.timetable",
    "load_trial": "loading",
    "plan_trial": "planning.plan",
    "read_trial": "loading",
    "weigh_out": "planning.weigh_out",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f".{_HOMES[name]}", __name__), name)
