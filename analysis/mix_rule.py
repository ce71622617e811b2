"""The rule for judging a contrast when loaves share a mix: what it is compared with, and how.

    trial = fit_trial(loaves, "specific_volume", terms)       # drops loaves without the measure, and lists them
    L = trial.design.at({"formula": "malted"}) - trial.design.at({"formula": "house"})
    trial.contrast(L)                                          # an Estimate
    trial.f_test(trial.design.term_hypothesis(Term(("formula",))))

The rule: days and oven loads are fixed blocks, random only when there are many incomplete ones or when the
contrast cannot be estimated otherwise. Mix variance positive: REML with Kenward-Roger. Negative and balanced:
the same, which is the classical split-plot analysis. Negative and unbalanced, or stuck at the edge: t or F on the
unweighted mix means. Contrasts inside mixes: unbounded REML with Kenward-Roger throughout.
Calibrated by simulation: tests/benchmarks/test_calibration.py.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from .design import Design, Term
from .layout import Layout

# way: how a contrast was judged
#   "reml"          restricted likelihood with Kenward-Roger, all variances as estimated
#   "means"         t or F on the unweighted means of the units (mixes, days)
#   "bounded"       variances held at zero or above, Kenward-Roger: conservative
#   "none"          no standard error can be given (see why)
# why: the reason for that way
#   "positive"      the unit's variance is estimated at or above zero
#   "balanced"      it is negative, but the layout is balanced: this is the classical analysis
#   "within"        the contrast lies inside the unit and is compared loaf against loaf
#   "loaves"        no loaves share anything: ordinary least squares
#   "unbalanced"    negative and unbalanced
#   "edge"          the fit has no inner optimum
#   "one unit"      a side of the contrast rests on one mix (day) only: nothing to judge it by
#   "tied"          the contrast cannot be told apart from another effect


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A contrast judged: in the measure's unit; NaN where `way` is "none".

    unit : what is independent for this contrast ("day", "oven_load", "mix", "loaf"); n_units : how many there are.
    """
    estimate: float
    standard_error: float
    df: float
    t_value: float
    p_value: float
    ci_low: float
    ci_high: float
    confidence: float
    way: str
    why: str
    unit: str
    n_units: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TermTest:
    """An F test judged by the same rule; NaN where `way` is "none"."""
    f_value: float
    num_df: float
    den_df: float
    p_value: float
    way: str
    why: str
    unit: str
    n_units: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ManyEstimates:
    """The same contrast on many responses: arrays (m,)."""
    estimate: np.ndarray
    standard_error: np.ndarray
    df: np.ndarray
    p_value: np.ndarray
    way: np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialFit:
    """One measure of one trial, fitted.

    design : terms without blocks, to make contrasts with. layout : of the loaves that were used.
    left_out : one row a loaf not used: loaf (index label), reason ("no specific_volume", "no tin").
    """
    measure: str
    design: Design
    layout: Layout
    confidence: float
    left_out: pd.DataFrame

    @property
    def variances(self) -> dict[str, float]:
        """Estimated variances ("mix", "residual", …), the measure's unit squared; may be negative."""
        raise NotImplementedError

    @property
    def n_loaves(self) -> int: raise NotImplementedError

    @property
    def n_mixes(self) -> int: raise NotImplementedError

    def contrast(self, L: np.ndarray) -> Estimate:
        """Judge one contrast L (P,) over `design.column_names`."""
        raise NotImplementedError

    def f_test(self, L: np.ndarray) -> TermTest:
        """Judge a hypothesis L (q, P); rows that depend on others are fine."""
        raise NotImplementedError

    def covariance_of(self, L: np.ndarray) -> np.ndarray:
        """Joint covariance (q, q) of several contrasts, for Tukey and Dunnett: same way as their F test."""
        raise NotImplementedError

    def residuals(self) -> pd.DataFrame:
        """One row a loaf: fitted, residual (inside its mix), standardised, and the labels of its units."""
        raise NotImplementedError

    def unit_residuals(self, unit: str = "mix") -> pd.DataFrame:
        """One row a mix (day): its mean's distance from what the terms and blocks say, standardised."""
        raise NotImplementedError


def fit_trial(loaves: pd.DataFrame, measure: str, terms: Sequence[Term], *,
              numbers: Mapping[str, int] | None = None, confidence: float = 0.95) -> TrialFit:
    """Fit one measure; loaves without it, or without a factor of the terms, are left out and listed.

    Raises DesignError: unknown column, fewer than two levels, or nothing left.
    """
    raise NotImplementedError


def contrast_many(loaves: pd.DataFrame, responses: np.ndarray, terms: Sequence[Term], L: np.ndarray, *,
                  numbers: Mapping[str, int] | None = None) -> ManyEstimates:
    """One contrast on many responses (n, m) of the same loaves: for simulation and randomisation."""
    raise NotImplementedError
