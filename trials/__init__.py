"""What was planned, baked and measured, and whether the records can be trusted.

Read in this order: ``columns`` (the vocabulary), ``trial`` (what a trial is), ``card``; then the
way of a file: ``files``, ``csv_text`` or ``workbook``, ``reading``, ``headers``, ``cells``,
``typed_table``, ``records``, ``loading``; ``measures`` and ``formula`` (what is calculated),
``checks``.
"""

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
