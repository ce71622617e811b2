"""Scores taken as ordered steps: a check that does not care how far one step lies from the next.

All formulas that are compared are tested together, as the F test beside it does, so that the two
ask one question however many pairs there are; ISO 8587 too has the overall test before any pair.
Where every assessor scored the same loaves: Friedman's test by assessor, ties corrected (ISO 8587).
Elsewhere, and where the assessors are so few that Friedman's test could never show anything: the
likelihood-ratio test of the cumulative-link model with and without the formulas, assessors random.
Neither knows of mixes and days: they speak of the scores, not of the next bake.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import pandas as pd
from scipy import special

from ...trials.frozen import frozen
from ..asking.score_fit import SCORE
from ..comparison.formula_fit import FORMULA
from ..methods.agreement import friedman
from ..methods.cumulative_link import ConvergenceError, CumulativeLink, cumulative_link
from ..methods.cumulative_random import cumulative_link_random

Way = Literal["friedman", "cumulative link", "none"]
Why = Literal["", "one score", "tied", "no convergence"]


@frozen
class OrderedCheck:
    """The p-value that the formulas are scored alike, and the test that it comes from.

    NaN where way is "none"; why is then "one score" (throughout), "tied" (no assessor scored
    formulas side by side) or "no convergence" (of the cumulative-link model).
    """

    p_value: float
    way: Way
    why: Why = ""


def ordered_check(
    rows: pd.DataFrame, formulas: Sequence[str], confidence: float = 0.95
) -> OrderedCheck:
    """Return the check of these formulas together.

    rows : score, assessor (missing: the loaf's only score), row, formula (a text).
    confidence : Friedman's test is not used where it could not reach 1 − confidence.
    """
    own = rows[rows[FORMULA].isin(formulas)]
    if own[FORMULA].nunique() < 2 or own[SCORE].nunique() < 2:
        return OrderedCheck(np.nan, "none", "one score")
    if _is_complete(own):
        means = own.pivot_table(index="assessor", columns=FORMULA, values=SCORE).to_numpy(float)
        m, k = means.shape
        # its p-value if all ranked alike
        if special.chdtrc(k - 1, m * (k - 1)) < 1 - confidence:
            p_value = friedman(means).p_value
            return (
                OrderedCheck(p_value, "friedman")
                if np.isfinite(p_value)
                else OrderedCheck(1.0, "friedman")
            )
    return _likelihood_ratio(own)


def _is_complete(rows: pd.DataFrame) -> bool:
    """Whether assessors are known and all of them scored the same loaves."""
    loaves = rows.groupby("assessor")["row"].nunique()
    return bool(rows["assessor"].notna().all() and (loaves == rows["row"].nunique()).all())


def _likelihood_ratio(rows: pd.DataFrame) -> OrderedCheck:
    """The cumulative-link model with and without the formulas."""
    formula, assessor = (
        _dummies(rows[FORMULA]),
        rows["assessor"].astype(object).fillna("").astype(str),
    )
    df = formula.shape[1]
    if _rank(pd.concat([formula, _dummies(assessor)], axis=1)) < df + _rank(_dummies(assessor)):
        return OrderedCheck(np.nan, "none", "tied")
    try:
        full, less = (
            _fit(rows[SCORE], columns, assessor).log_likelihood
            for columns in (formula, formula.iloc[:, :0])
        )
    except ConvergenceError:
        return OrderedCheck(np.nan, "none", "no convergence")
    return OrderedCheck(float(special.chdtrc(df, max(2 * (full - less), 0.0))), "cumulative link")


def _fit(score: pd.Series, columns: pd.DataFrame, assessor: pd.Series) -> CumulativeLink:
    if assessor.nunique() < 2:
        return cumulative_link(score, columns)
    return cumulative_link_random(score, columns, assessor).link


def _rank(columns: pd.DataFrame) -> int:
    """Rank of these columns beside an intercept, which does not count."""
    return int(np.linalg.matrix_rank(columns.assign(intercept=1.0).to_numpy(float))) - 1


def _dummies(labels: pd.Series) -> pd.DataFrame:
    """Columns of 0 and 1, the first level left out."""
    return pd.get_dummies(labels, drop_first=True, dtype=float)
