"""What was planned, baked and measured, and whether the records can be trusted.

Read in this order: ``columns`` (the vocabulary), ``trial`` (what a trial is), ``card``, ``reading`` and
``loading`` (from files to a trial), ``measures`` and ``formula`` (what is calculated), ``checks``.
"""

from .card import TrialCard
from .loading import load_trial, read_trial
from .trial import Finding, Trial, TrialError

__all__ = ["Finding", "Trial", "TrialCard", "TrialError", "load_trial", "read_trial"]
