"""Scores taken as ordered steps: a check that does not care how far one step lies from the next.

Where every assessor scored the same loaves: Friedman's test by assessor, ties corrected (ISO 8587). Elsewhere: the
cumulative-link model, with and without the formula; assessors are fixed, or random from about 20 on. Neither knows
of mixes and days: they speak of the scores, not of the next bake.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import pandas as pd
from scipy import special

from ..comparing.formula_fit import FORMULA
from ..layout import MANY_BLOCKS
from .agreement import friedman
from .cumulative_link import cumulative_link
from .cumulative_random import cumulative_link_random
from .score_fit import SCORE

Way = Literal["friedman", "cumulative link", "none"]
FEWEST_ASSESSORS = 3


def ordered_check(rows: pd.DataFrame, formulas: Sequence[str]) -> tuple[float, Way]:
    """Return the p-value that these formulas are scored alike, and the test that it comes from.

    rows : score, assessor (missing: the loaf's only score), row, formula (a text). NaN and "none" where there is no
        test.
    """
    own = rows[rows[FORMULA].isin(formulas)]
    if own[FORMULA].nunique() < 2 or own[SCORE].nunique() < 2:
        return np.nan, "none"
    if own["assessor"].notna().all():
        means = own.pivot_table(index="assessor", columns=FORMULA, values=SCORE).to_numpy(float)
        loaves = own.groupby("assessor")["row"].nunique()
        if len(means) >= FEWEST_ASSESSORS and np.isfinite(means).all() and (loaves == own["row"].nunique()).all():
            p_value = friedman(means).p_value
            return (p_value, "friedman") if np.isfinite(p_value) else (np.nan, "none")
    p_value = _without_formula(own)
    return (p_value, "cumulative link") if np.isfinite(p_value) else (np.nan, "none")


def _without_formula(rows: pd.DataFrame) -> float:
    """Likelihood-ratio p-value of the formula, beside the assessors."""
    assessors = rows["assessor"].astype(object).fillna("").astype(str)
    formula, none = _dummies(rows[FORMULA]), pd.DataFrame(index=rows.index)
    if assessors.nunique() >= MANY_BLOCKS:
        full, less = (cumulative_link_random(rows[SCORE], x, assessors).link for x in (formula, none))
    else:
        fixed = _dummies(assessors)
        full, less = (cumulative_link(rows[SCORE], pd.concat([x, fixed], axis=1)) for x in (formula, none))
    # What the formulas add to the assessors: nothing where each assessor scored one formula only.
    df = _rank(pd.concat([formula, _dummies(assessors)], axis=1)) - _rank(_dummies(assessors))
    if df == 0:
        return np.nan
    return float(special.chdtrc(df, max(2 * (full.log_likelihood - less.log_likelihood), 0.0)))


def _rank(columns: pd.DataFrame) -> int:
    """Rank of these columns beside an intercept."""
    return int(np.linalg.matrix_rank(columns.assign(intercept=1.0).to_numpy(float)))


def _dummies(labels: pd.Series) -> pd.DataFrame:
    """Columns of 0 and 1, the first level left out."""
    return pd.get_dummies(labels, drop_first=True, dtype=float)
