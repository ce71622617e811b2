"""What is told of a contrast and of a hypothesis, once they have been judged by the rule."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

import numpy as np
from scipy.special import stdtrit

from ...trials.frozen import frozen
from ..codes import Way, Why
from ..mixed_model.fitting import Contrast
from .judging import Fitted, Judged


@frozen(kw_only=True)
class Estimate(Contrast):
    """A contrast judged, in the measure's unit; all NaN but the estimate where `way` is "none".

    way : how it was judged: "reml", "means", "bounded", "none" (see `judging`). why : the reason, a
        code.
    unit : what is independent for this contrast ("day", "oven_load", "mix", "loaf"); n_units : how
        many there are.
    between : blocks that are not compared within alone; ignored : blocks that are taken as alike,
        since nothing could
        be judged otherwise (see `between_blocks`).
    """

    way: Way
    why: Why
    unit: str
    n_units: int
    between: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()


@frozen(kw_only=True)
class TermTest:
    """An F test judged by the same rule; NaN where `way` is "none"."""

    f_value: float
    num_df: int
    den_df: float
    p_value: float
    way: Way
    why: Why
    unit: str
    n_units: int


@frozen(kw_only=True)
class UnitTable:
    """The units that a contrast is judged by.

    unit : what they are called. means : (units,) adjusted for what varies inside them.
    unit_of_loaf : (n,) the row of each loaf's unit.
    fixed : blocks that are compared within; between : those that are not alone (`between_blocks`).
    """

    unit: str
    means: np.ndarray
    unit_of_loaf: np.ndarray
    fixed: tuple[str, ...]
    between: tuple[str, ...]


@frozen(kw_only=True)
class ManyEstimates:
    """The same contrast, or the same F test, on many responses: arrays (m,)."""

    estimate: np.ndarray  # of the (first) contrast
    standard_error: np.ndarray  # of the (first) contrast
    df: np.ndarray  # of t, or the denominator's of F
    p_value: np.ndarray
    way: np.ndarray


def tested(fitted: Fitted, L: np.ndarray) -> Judged:
    """An F test; of one row, the square of its t."""
    if len(L) > 1:
        return fitted.f_test(L)
    judged = fitted.contrast(L)
    return replace(judged, statistic=judged.statistic**2)


def estimate_of(judged: Judged, confidence: float) -> Estimate:
    """The only response's contrast, with its interval."""
    estimate, error, df = (
        float(part[0]) for part in (judged.estimate, judged.standard_error, judged.df)
    )
    reach = float(stdtrit(df, (1 + confidence) / 2)) * error
    return Estimate(
        estimate=estimate,
        standard_error=error,
        df=df,
        t_value=float(judged.statistic[0]),
        p_value=float(judged.p_value[0]),
        ci_low=estimate - reach,
        ci_high=estimate + reach,
        confidence=confidence,
        way=cast(Way, str(judged.way[0])),
        why=cast(Why, str(judged.why[0])),
        unit=judged.unit,
        n_units=judged.n_units,
        between=judged.between,
        ignored=judged.ignored,
    )


def term_test_of(judged: Judged) -> TermTest:
    """The only response's F test."""
    return TermTest(
        f_value=float(judged.statistic[0]),
        num_df=judged.num_df,
        den_df=float(judged.df[0]),
        p_value=float(judged.p_value[0]),
        way=cast(Way, str(judged.way[0])),
        why=cast(Why, str(judged.why[0])),
        unit=judged.unit,
        n_units=judged.n_units,
    )
