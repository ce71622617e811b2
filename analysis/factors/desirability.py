"""Overall desirability: how near each combination of levels comes to what the card wants of several
measures at once.

Source: Derringer and Suich 1980 (J. Quality Technology 12, 214-219), all weights 1: each measure's
mean becomes a share from 0 (not acceptable) to 1 (as wanted), and the shares are multiplied and
rooted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product

import numpy as np
import pandas as pd

from ...trials import Trial
from ...trials.card import Measure
from ..asking.question import read_question
from ..methods.ties import rounded
from ..model.term_analysis import analyse_terms
from .effect_sizes import reference_values


def says_enough(measure: Measure) -> bool:
    """Return whether the card says enough: what is best, and the end or ends where a loaf is not
    acceptable.
    """
    needed = {
        "higher": (measure.too_low,),
        "lower": (measure.too_high,),
        None: (measure.too_low, measure.too_high),
    }[measure.better]
    return measure.best is not None and None not in needed


def desirability(value: np.ndarray, measure: Measure) -> np.ndarray:
    """Return the share wanted of each value: 1 at ``best``, 0 at ``too_low`` or ``too_high``
    and beyond, straight between.

    Higher wanted: 1 from ``best`` on; lower wanted: 1 up to it.
    """
    value = np.asarray(value, dtype=float)
    shares = [np.ones_like(value)]
    if measure.better != "lower":
        shares.append(_rising(value, measure.too_low, measure.best))
    if measure.better != "higher":
        shares.append(_rising(-value, _minus(measure.too_high), _minus(measure.best)))
    return np.minimum.reduce(shares)


def overall(shares: np.ndarray) -> np.ndarray:
    """Return the geometric mean of the measures' shares, (k, measures) → (k,); 0 where one of them
    is 0.
    """
    with np.errstate(divide="ignore"):
        return np.exp(np.log(shares).mean(axis=1))


def desirability_table(
    trial: Trial, measures: Mapping[str, Measure], factors: Sequence[str]
) -> pd.DataFrame:
    """Return one row a combination of levels, best first: its levels, "d <measure>" each, and
    overall.

    Means are those of the loaves as they were baked, lidded ones included. NaN where a mean cannot
    be estimated.
    """
    columns: dict[str, pd.Series] = {}
    for name, wanted in measures.items():
        means = _means(trial, name, factors)
        columns[f"d {name}"] = pd.Series(desirability(means.to_numpy(), wanted), index=means.index)
    table = pd.DataFrame(columns)
    table["overall"] = overall(table.to_numpy())
    return table.sort_values("overall", ascending=False, kind="stable", key=rounded).reset_index()


def _minus(value: float | None) -> float | None:
    return None if value is None else -value


def _rising(value: np.ndarray, none: float | None, full: float | None) -> np.ndarray:
    """0 at `none`, 1 at `full`, straight between and level beyond."""
    assert none is not None
    assert full is not None
    return np.clip((value - none) / (full - none), 0.0, 1.0)


def _means(trial: Trial, measure: str, factors: Sequence[str]) -> pd.Series:
    """The mean of every combination of levels, by combination."""
    asked = read_question(trial, measure, factors, 0.95)
    fit = analyse_terms(
        asked.table,
        measure,
        asked.factors,
        asked.layout,
        order=2,
        numbers=asked.numbers,
        confidence=asked.confidence,
        fit_terms=asked.fit,
    ).fit
    every = list(product(*(reference_values(fit, factor) for factor in asked.factors)))
    rows = [
        fit.contrast(fit.design.at(dict(zip(asked.factors, levels, strict=True)))).estimate
        for levels in every
    ]
    return pd.Series(rows, index=pd.MultiIndex.from_tuples(every, names=asked.factors))
