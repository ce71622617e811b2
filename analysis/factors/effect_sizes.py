"""Marginal means, their differences, and each factor's effect as the range of its means.

A factor's effect is the widest difference between two of its marginal means that is shown, and
where none is, the widest. With two levels the interval is the difference's own; with more it is
Tukey's, or Dunnett's against a control, since the pair was picked.

Sources: marginal means, Searle, Speed and Milliken 1980 (American Statistician 34, 216-221); all
pairs, Tukey-Kramer (Kramer 1956, Biometrics 12, 307-310); against a control, Dunnett 1955 (J. Amer.
Statist. Assoc. 50, 1096-1121).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations, product
from typing import Any

import numpy as np
from scipy.special import stdtrit

from ...trials.frozen import frozen
from ..codes import Adjustment
from ..methods.multiplicity import (
    correlation_of,
    dunnett_critical,
    dunnett_p_value,
    tukey_critical,
    tukey_p_value,
)
from ..methods.ties import largest
from ..model.at_level import contrast_at_level
from ..model.coding import Number, is_line
from ..model.design import Term
from ..model.estimates import Estimate
from ..model.trial_fit import TrialFit
from ..result import DIFFERENCE, ERROR

MEANS = ["term", "level", "levels", "mean", "standard_error", "df", "ci_low", "ci_high"]
CONTRASTS = ["term", "first", "second", *DIFFERENCE, "adjustment"]
EFFECTS = ["factor", "low_level", "high_level", "size", *ERROR, "adjustment"]
Row = dict[str, Any]  # of one of these tables


@frozen
class _Cell:
    """One level or combination of levels, and its contrast L; estimable or not."""

    levels: tuple
    L: np.ndarray
    estimable: bool


def level_of(levels: Sequence[object]) -> object:
    """Return a level as it stands in the tables: itself, or a combination as a tuple."""
    return levels[0] if len(levels) == 1 else tuple(levels)


def means_of(fit: TrialFit, term: Term) -> list[Row]:
    """Return the marginal means of a term's levels; none where one cannot be estimated."""
    rows = []
    for cell in _cells(fit, term):
        row: Row = {"term": term.name, "level": level_of(cell.levels), "levels": cell.levels}
        if cell.estimable:
            mean = fit.contrast(cell.L)
            row |= {
                "mean": mean.estimate,
                "standard_error": mean.standard_error,
                "df": mean.df,
                "ci_low": mean.ci_low,
                "ci_high": mean.ci_high,
            }
        rows.append(row)
    return rows


def contrasts_of(fit: TrialFit, term: Term, control: object | None = None) -> list[Row]:
    """Return the differences between a term's means, later level less earlier.

    Two levels: the difference as it is. More: all pairs (Tukey), or all against `control` where it
    is a level (Dunnett). Combinations: the pairs that differ in one factor, adjusted as if all
    pairs had been looked at. A difference may be known where neither of its means is.
    """
    groups = _comparable(fit, _cells(fit, term))
    if len(term.factors) == 1:
        for cells in groups:
            if len(cells) > 2 and control in [cell.levels[0] for cell in cells]:
                return _against_control(fit, term, cells, control)
    pairs = [
        (later, earlier)
        for cells in groups
        for earlier, later in combinations(cells, 2)
        if _differ_in_one(later, earlier)
    ]
    n_means = sum(map(len, groups))
    return [
        {"term": term.name}
        | _difference(fit, later, earlier, n_means, _over_all(fit, term, later, earlier))
        for later, earlier in pairs
    ]


def effect_of(factor: str, contrasts: Sequence[Row]) -> Row | None:
    """Return the widest pair of a factor's levels that is told apart, with its interval.

    Where no pair is told apart, the widest that can be judged; where none can, the widest. None
    with fewer than two known means. The intervals of all pairs hold together, so that any of them
    may be picked.

    contrasts : the factor's rows (`contrasts_of`).
    """
    known = [row for row in contrasts if not math.isnan(row["difference"])]
    judged = [row for row in known if not math.isnan(row["ci_low"])]
    apart = [row for row in judged if row["ci_low"] > 0 or row["ci_high"] < 0]
    pairs = apart or judged or known
    if not pairs:
        return None
    pair = pairs[largest(abs(row["difference"]) for row in pairs)[0]]
    ends, limits = ("second", "first"), (pair["ci_low"], pair["ci_high"])
    if pair["difference"] < 0:
        ends, limits = ends[::-1], (-limits[1], -limits[0])
    own = {name: pair[name] for name in ("standard_error", "df", "p_value", "adjustment")}
    return own | {
        "factor": factor,
        "low_level": pair[ends[0]],
        "high_level": pair[ends[1]],
        "size": abs(pair["difference"]),
        "ci_low": limits[0],
        "ci_high": limits[1],
    }


def reference_values(fit: TrialFit, factor: str) -> tuple:
    """Return the levels at which means are given: those baked, three of a number that enters as a
    curve, or the ends of a straight line.
    """
    coding = fit.design.codings[factor]
    if not isinstance(coding, Number):
        return coding.levels
    low, high = coding.levels[0], coding.levels[-1]
    if is_line(coding):
        return float(low), float(high)
    return float(low), float(low + high) / 2, float(high)


def _cells(fit: TrialFit, term: Term) -> list[_Cell]:
    every = list(product(*(reference_values(fit, factor) for factor in term.factors)))
    L = np.array([fit.design.at(dict(zip(term.factors, levels, strict=True))) for levels in every])
    return [
        _Cell(levels, row, bool(known))
        for levels, row, known in zip(every, L, fit.design.estimable(L), strict=True)
    ]


def _comparable(fit: TrialFit, cells: list[_Cell]) -> list[list[_Cell]]:
    """Return the cells in groups of two or more within which every difference can be estimated."""
    groups: list[list[_Cell]] = []
    for cell in cells:
        first = [group[0] for group in groups]
        apart = np.array([cell.L - one.L for one in first])
        known = fit.design.estimable(apart) if first else np.zeros(0, dtype=bool)
        for group, found in zip(groups, known, strict=True):
            if found:
                group.append(cell)
                break
        else:
            groups.append([cell])
    return [group for group in groups if len(group) > 1]


def _differ_in_one(a: _Cell, b: _Cell) -> bool:
    return sum(x != y for x, y in zip(a.levels, b.levels, strict=True)) == 1


def _over_all(fit: TrialFit, term: Term, first: _Cell, second: _Cell) -> np.ndarray | None:
    """L of the same two levels over all levels of the term's other factors; None for a factor by
    itself.
    """
    if len(term.factors) == 1:
        return None
    at = next(i for i, (a, b) in enumerate(zip(first.levels, second.levels, strict=True)) if a != b)
    a, b = (fit.design.at({term.factors[at]: cell.levels[at]}) for cell in (first, second))
    return a - b


def _difference(
    fit: TrialFit, first: _Cell, second: _Cell, n_means: int, over_all: np.ndarray | None = None
) -> Row:
    """One pair among all pairs of `n_means` means (Tukey-Kramer, each with its own df).

    over_all : L of which this pair is one level (`at_level.py`).
    """
    L = first.L - second.L
    found = fit.contrast(L) if over_all is None else contrast_at_level(fit, L, over_all)
    adjusted = n_means > 2
    factor, p_value = _tukey(found, n_means) if adjusted else (_own_critical(found), found.p_value)
    return _row(found, first, second, factor, p_value, "Tukey" if adjusted else "none")


def _row(
    found: Estimate,
    first: _Cell,
    second: _Cell,
    critical: float,
    p_value: float,
    adjustment: Adjustment,
) -> Row:
    half = critical * found.standard_error
    return {
        "first": level_of(first.levels),
        "second": level_of(second.levels),
        "difference": found.estimate,
        "standard_error": found.standard_error,
        "df": found.df,
        "ci_low": found.estimate - half,
        "ci_high": found.estimate + half,
        "p_value": p_value,
        "adjustment": adjustment,
    }


def _own_critical(found: Estimate) -> float:
    return float(stdtrit(found.df, (1 + found.confidence) / 2))


def _tukey(found: Estimate, n_means: int) -> tuple[float, float]:
    """Critical value and p-value; NaN where the pair has no standard error."""
    if not found.standard_error > 0:
        return np.nan, np.nan
    critical = _tukey_critical(found.confidence, round(found.df, 6), n_means)
    return critical, tukey_p_value(found.t_value, found.df, n_means)


@lru_cache(maxsize=256)
def _tukey_critical(confidence: float, df: float, n_means: int) -> float:
    """Many pairs of one trial share their df: the root is found once."""
    return tukey_critical(confidence, df, n_means)


def _against_control(fit: TrialFit, term: Term, cells: list[_Cell], control: object) -> list[Row]:
    """Every level less the control, jointly (Dunnett), with the contrasts' own correlation and
    df.
    """
    base = next(cell for cell in cells if cell.levels[0] == control)
    others = [cell for cell in cells if cell is not base]
    correlation = correlation_of(fit.covariance_of(np.array([cell.L - base.L for cell in others])))
    rows = []
    for cell in others:
        found = fit.contrast(cell.L - base.L)
        known = found.standard_error > 0
        critical = dunnett_critical(found.confidence, found.df, correlation) if known else np.nan
        p_value = dunnett_p_value(found.t_value, found.df, correlation) if known else np.nan
        rows.append({"term": term.name} | _row(found, cell, base, critical, p_value, "Dunnett"))
    return rows
