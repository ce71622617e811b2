"""Beside the attributes' own answers: how they go with volume, what makes the total, and the raw
scores counted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from scipy import special

from ...trials import Trial
from ..asking.score_fit import SCORE
from ..comparison.formula_fit import FORMULA
from ..model.units import label_units

VOLUMES = ("specific_volume", "loaf_ml")
FEWEST_MIXES = 4
FEWEST_POINTS = 3  # that differ: two always lie on a line
CORRELATION = ["attribute", "measure", "r", "ci_low", "ci_high", "n_mixes"]


def volume_correlation(
    trial: Trial, rows: pd.DataFrame, attributes: Sequence[str], confidence: float
) -> pd.DataFrame:
    """Return Pearson's r of each attribute with volume over the means of mixes, with Fisher's
    interval.

    rows : `score_rows`. Empty where the loaves have no volume, NaN with fewer than four mixes.
    Source: Fisher 1921 (Metron 1, 3-32): atanh r is near normal with variance 1/(n − 3).
    """
    loaves = trial.counted
    measure = next(
        (name for name in VOLUMES if name in loaves and loaves[name].notna().any()), None
    )
    if measure is None:
        return pd.DataFrame(columns=CORRELATION)
    mix = pd.Series(label_units(loaves).labels["mix"], loaves.index)
    found = []
    for attribute in attributes:
        score = rows[rows["attribute"] == attribute].groupby("row")[SCORE].mean()
        both = pd.DataFrame({"score": score, "volume": loaves[measure]}).dropna()
        means = both.groupby(mix.reindex(both.index)).mean()
        found.append(
            (
                attribute,
                measure,
                *correlation(means["score"], means["volume"], confidence),
                len(means),
            )
        )
    return pd.DataFrame(found, columns=CORRELATION)


def correlation(x: pd.Series, y: pd.Series, confidence: float) -> tuple[float, float, float]:
    """Return r and its interval; NaN with fewer than four pairs, or fewer than three that
    differ.
    """
    points = pd.DataFrame({"x": x, "y": y}).round(9).drop_duplicates()
    if len(x) < FEWEST_MIXES or len(points) < FEWEST_POINTS or points.nunique().min() < 2:
        return np.nan, np.nan, np.nan
    r = float(np.clip(np.corrcoef(x, y)[0, 1], -1, 1))
    half = special.ndtri((1 + confidence) / 2) / np.sqrt(len(x) - 3)
    z = np.arctanh(np.clip(r, -1 + 1e-12, 1 - 1e-12))
    return r, float(np.tanh(z - half)), float(np.tanh(z + half))


def raw_counts(
    rows: pd.DataFrame, formula_of: pd.Series, formulas: Sequence[str], attributes: Sequence[str]
) -> pd.DataFrame:
    """Return how often each formula got each score: attribute, formula, score, n, share of the
    formula's scores.
    """
    table = rows.assign(formula=rows["row"].map(formula_of).astype(str))
    table = table[table[FORMULA].isin(formulas) & table["attribute"].isin(attributes)]
    counts = table.groupby(["attribute", FORMULA, SCORE]).size().rename("n").reset_index()
    counts["share"] = counts["n"] / counts.groupby(["attribute", FORMULA])["n"].transform("sum")
    place = {name: i for i, name in enumerate([*attributes, *formulas])}
    order = counts.assign(a=counts["attribute"].map(place), f=counts[FORMULA].map(place))
    return counts.loc[order.sort_values(["a", "f", SCORE], kind="stable").index].reset_index(
        drop=True
    )


def total_parts(differences: pd.DataFrame, weights: Mapping[str, float]) -> pd.DataFrame:
    """Return what each part adds to the difference of the weighted total: weight/100 × the part's
    difference.

    differences : formula, against, attribute, difference
    """
    parts = differences[differences["attribute"].isin(weights)]
    weight = parts["attribute"].map(weights).astype(float)
    return pd.DataFrame(
        {
            "formula": parts[FORMULA],
            "against": parts["against"],
            "part": parts["attribute"],
            "weight": weight,
            "difference": parts["difference"],
            "contribution": weight * parts["difference"] / 100,
        }
    ).reset_index(drop=True)
