"""What was planned, baked and measured, and whether the records can be trusted.

Read in this order: ``columns`` (the vocabulary), ``trial`` (what a trial is), ``card``; then the
way of a file: ``files``, ``csv_text`` or ``workbook``, ``reading``, ``headers``, ``cells``,
``typed_table``, ``records``, ``loading``; ``measures`` and ``formula`` (what is calculated),
``checks``.

The public names are loaded when they are first asked for: who checks records does not wait for what
lays out plans.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .lazy_names import loaded_when_asked

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


__getattr__ = loaded_when_asked(__name__, _HOMES)
