"""One loaf a combination, two levels a factor: effects, Lenth's limits, half-normal scores,
aliases, curvature.

With no combination baked twice there is no repeat to judge by. The many small effects serve
instead.

Sources: half-normal plot, Daniel 1959 (Technometrics 1, 311-341); pseudo standard error, Lenth 1989
(Technometrics 31, 469-473); aliases of a fraction, Box and Hunter 1961 (Technometrics 3, 311-351);
curvature from centre points, Montgomery, Design and Analysis of Experiments, 8th ed., section 6.8.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from scipy.special import ndtri, stdtr, stdtrit

from ...trials.frozen import frozen
from ..methods.ties import rounded
from ..model.coding import ordered_levels
from ..model.layout import Layout

LEAST_EFFECTS = 3  # fewer cannot say what is noise
LEAST_FACTORS = 3  # two factors leave their interaction to judge by
MOST_FACTORS = 15  # every product of factors is looked at


@frozen(kw_only=True)
class Curvature:
    """Centre points against the corners, in the measure's unit; NaN from `standard_error` on with
    one centre loaf.

    Positive `estimate`: the corners' mean lies above the centre's.
    """

    estimate: float
    standard_error: float
    df: float
    p_value: float
    ci_low: float
    ci_high: float
    n_corners: int
    n_centre: int


@frozen(kw_only=True)
class Limits:
    """Lenth's pseudo standard error and margins, the measure's unit; NaN with fewer than three
    effects.
    """

    s0: float
    pse: float
    df: float
    margin: float
    simultaneous_margin: float


@frozen(kw_only=True)
class Unreplicated:
    """A two-level trial with one loaf a combination.

    Attributes
    ----------
    effects : one row an effect that can be estimated, in order of size, largest first:
        term ("formula × tin"), aliases (tuple of terms that this effect cannot be told from; a
        leading − means with the opposite sign), effect (mean at the high
        level less mean at the low, the measure's unit), absolute, half_normal (quantile (i − ½)/m
        of the half-normal distribution), p_value (of effect / PSE on Lenth's df, each on its own),
        beyond ("simultaneous" | "margin" | "no" | "unjudged"), unit ("loaf", or the grouping that
        the effect is tied to: "day", "mix").
    low, high : factor → level coded −1, +1
    fraction : 1 for a full factorial, 0.5 for a half fraction …
    defining_words : products of factors that never changed in the trial, such as ("A × B × C × D",)
    limits : Lenth's margins, from the effects that are tied to no grouping
    curvature : None without centre points
    """

    effects: pd.DataFrame
    low: Mapping[str, object]
    high: Mapping[str, object]
    fraction: float
    defining_words: tuple[str, ...]
    limits: Limits
    confidence: float
    curvature: Curvature | None


def unreplicated_effects(
    table: pd.DataFrame,
    measure: str,
    factors: Sequence[str],
    *,
    unit: str = "loaf",
    groupings: Mapping[str, np.ndarray] | None = None,
    confidence: float = 0.95,
) -> Unreplicated | None:
    """Return the effects of a two-level trial with one row a combination, or None when the table is
    anything else.

    table : one row a loaf (or a mix, where every factor was applied to the mix: then `unit` is
        "mix"), nothing
        missing; pandas Categoricals keep their order of levels. Rows at the middle of factors that
        are all numbers with three evenly spaced values are centre points.
    groupings : "day", "mix" … → label of each row, coarsest first. An effect that never changes
        inside a grouping
        is tied to it and gets no limits.
    """
    corners = _find_corners(table, factors)
    if corners is None:
        return None
    response = table[measure].to_numpy(float)
    at_corners = {
        name: np.asarray(labels)[corners.rows] for name, labels in (groupings or {}).items()
    }
    effects = _effects(corners, response[corners.rows], factors)
    units = [_unit(column, at_corners, unit) for column in effects.pop("column")]
    if None in units:
        return None
    effects["unit"] = units
    limits = lenth(effects.loc[effects["unit"] == unit, "effect"].to_numpy(), confidence)
    return Unreplicated(
        effects=_with_limits(effects, effects["unit"] == unit, limits),
        low=corners.low,
        high=corners.high,
        fraction=len(corners.rows) / 2 ** len(factors),
        defining_words=tuple(
            _name(word, factors) for word in sorted(corners.words, key=_order) if word
        ),
        confidence=confidence,
        curvature=_curvature(response, corners, confidence),
        limits=limits,
    )


def find_unreplicated(
    loaves: pd.DataFrame,
    measure: str,
    factors: Sequence[str],
    layout: Layout,
    confidence: float = 0.95,
) -> Unreplicated | None:
    """Return the effects of three or more two-level factors with one loaf, or one mix, a
    combination; else None.

    Where every factor was applied to the mix, the means of mixes take the place of the loaves.
    """
    if len(factors) < LEAST_FACTORS:
        return None
    groupings = {name: layout.labels[name].to_numpy() for name in layout.kept}
    if "mix" not in groupings or any(
        layout.applied_to(factor) not in ("mix", "day") for factor in factors
    ):
        return unreplicated_effects(
            loaves, measure, factors, groupings=groupings, confidence=confidence
        )
    first = dict.fromkeys(factors, "first")
    mixes = loaves.groupby(groupings["mix"]).agg({measure: "mean", **first})
    rows = np.unique(groupings["mix"], return_index=True)[1]
    coarser = {name: labels[rows] for name, labels in groupings.items() if name != "mix"}
    return unreplicated_effects(
        mixes, measure, factors, unit="mix", groupings=coarser, confidence=confidence
    )


def lenth(effects: np.ndarray, confidence: float = 0.95) -> Limits:
    """Return Lenth's pseudo standard error and margins of effects (m,); NaN with fewer than three.

    s0 = 1.5 median |c|, PSE = 1.5 median of the |c| below 2.5 s0, on m/3 df (Lenth 1989, equations
    1 to 4).
    """
    m = len(effects)
    if m < LEAST_EFFECTS:
        return Limits(s0=np.nan, pse=np.nan, df=np.nan, margin=np.nan, simultaneous_margin=np.nan)
    absolute = np.abs(effects)
    s0 = 1.5 * float(np.median(absolute))
    below = absolute[absolute < 2.5 * s0] if s0 > 0 else absolute
    pse = 1.5 * float(np.median(below))
    single = (1 + confidence) / 2
    together = (1 + confidence ** (1 / m)) / 2
    return Limits(
        s0=s0,
        pse=pse,
        df=m / 3,
        margin=float(stdtrit(m / 3, single)) * pse,
        simultaneous_margin=float(stdtrit(m / 3, together)) * pse,
    )


@frozen
class _Corners:
    """A regular two-level trial: which rows are its corners, their codes −1 and +1, and its centre
    points.

    words : the products of factors that never change, as bit masks over the factors; 0, the empty
        product,
        included.
    """

    codes: np.ndarray
    rows: np.ndarray
    centre_rows: np.ndarray
    low: dict[str, object]
    high: dict[str, object]
    words: tuple[int, ...]


def _find_corners(table: pd.DataFrame, factors: Sequence[str]) -> _Corners | None:
    """Return the corners when they are a full factorial or a regular fraction, each once; None
    otherwise.
    """
    if not 2 <= len(factors) <= MOST_FACTORS:
        return None
    levels = {factor: ordered_levels(table[factor]) for factor in factors}
    centre = _centre_rows(table, levels)
    ends = {factor: (found[0], found[-1]) for factor, found in levels.items()}
    if any(len(found) != 2 for found in levels.values()) and not centre.any():
        return None
    corners = table.loc[~centre, list(factors)]
    if (
        not all(corners[factor].isin(ends[factor]).all() for factor in factors)
        or corners.duplicated().any()
    ):
        return None
    codes = np.column_stack(
        [np.where(corners[factor] == ends[factor][1], 1, -1) for factor in factors]
    )
    words = _constant_products(codes)
    if len(corners) < 4 or len(words) * len(corners) != 2 ** len(factors):
        return None
    return _Corners(
        codes=codes,
        rows=np.flatnonzero(~centre),
        centre_rows=np.flatnonzero(centre),
        low={f: low for f, (low, _) in ends.items()},
        high={f: high for f, (_, high) in ends.items()},
        words=words,
    )


def _centre_rows(table: pd.DataFrame, levels: Mapping[str, tuple]) -> np.ndarray:
    """Which rows stand at the middle of every factor; none unless all are numbers with an even
    middle value.
    """
    middle = {
        factor: found[1]
        for factor, found in levels.items()
        if len(found) == 3 and _evenly_spaced(found)
    }
    if len(middle) < len(levels):
        return np.zeros(len(table), dtype=bool)
    return np.logical_and.reduce(
        [(table[factor] == value).to_numpy() for factor, value in middle.items()]
    )


def _evenly_spaced(levels: tuple) -> bool:
    if not all(isinstance(level, int | float) for level in levels):
        return False
    low, middle, high = levels
    return abs(middle - (low + high) / 2) <= 1e-9 * (high - low)


def _constant_products(codes: np.ndarray) -> tuple[int, ...]:
    """Bit masks of the products of columns that are the same in every row, the empty product (0)
    first.
    """
    return tuple(
        word for word in range(2 ** codes.shape[1]) if len(np.unique(_product(codes, word))) == 1
    )


def _product(codes: np.ndarray, word: int) -> np.ndarray:
    chosen = [j for j in range(codes.shape[1]) if word >> j & 1]
    return codes[:, chosen].prod(axis=1)


def _order(word: int) -> tuple[int, tuple[int, ...]]:
    """Sort key of an effect: main effects first, then in the order of the factors."""
    positions = tuple(j for j in range(word.bit_length()) if word >> j & 1)
    return len(positions), positions


def _name(word: int, factors: Sequence[str]) -> str:
    return " × ".join(factor for j, factor in enumerate(factors) if word >> j & 1)


def _effects(corners: _Corners, response: np.ndarray, factors: Sequence[str]) -> pd.DataFrame:
    """One row an effect that can be told from the mean: term, aliases, effect, absolute, column of
    codes.
    """
    rows, seen = [], set(corners.words)
    for word in sorted(range(2 ** len(factors)), key=_order):
        if word in seen:
            continue
        column = _product(corners.codes, word)
        others = sorted((word ^ defining for defining in corners.words if defining), key=_order)
        seen |= {word, *others}
        signs = ["−" if column @ _product(corners.codes, other) < 0 else "" for other in others]
        effect = float(column @ response) / (len(column) / 2)
        rows.append(
            {
                "term": _name(word, factors),
                "aliases": tuple(
                    sign + _name(other, factors) for sign, other in zip(signs, others, strict=True)
                ),
                "effect": effect,
                "absolute": abs(effect),
                "column": column,
            }
        )
    return pd.DataFrame(rows)


def _unit(column: np.ndarray, groupings: Mapping[str, np.ndarray], unit: str) -> str | None:
    """The coarsest grouping inside which this effect never changes, else the row; None when it is
    half tied.
    """
    for name, labels in groupings.items():
        sums = pd.Series(column).groupby(labels).agg(["sum", "size"])
        if (sums["sum"].abs() == sums["size"]).all():
            return name
        if (sums["sum"] != 0).any():
            return None
    return unit


def _with_limits(effects: pd.DataFrame, judged: pd.Series, limits: Limits) -> pd.DataFrame:
    """The effects by size, with their half-normal quantiles and what lies beyond the margins."""
    m = int(judged.sum())
    rank = rounded(effects.loc[judged, "absolute"]).rank(method="first")
    effects["half_normal"] = ndtri(0.5 + 0.5 * (rank - 0.5) / m)
    beyond = np.select(
        [
            ~judged | np.isnan(limits.margin),
            effects["absolute"] > limits.simultaneous_margin,
            effects["absolute"] > limits.margin,
        ],
        ["unjudged", "simultaneous", "margin"],
        "no",
    )
    effects["beyond"] = beyond
    with np.errstate(divide="ignore", invalid="ignore"):
        effects["p_value"] = np.where(
            judged, 2 * stdtr(limits.df, -effects["absolute"] / limits.pse), np.nan
        )
    return effects.sort_values("absolute", ascending=False, kind="stable", key=rounded).reset_index(
        drop=True
    )


def _curvature(response: np.ndarray, corners: _Corners, confidence: float) -> Curvature | None:
    """Corners' mean less centre's, judged by the repeats at the centre (Montgomery, 8th ed.,
    section 6.8).
    """
    n, m = len(corners.rows), len(corners.centre_rows)
    if m == 0:
        return None
    centre = response[corners.centre_rows]
    estimate = float(response[corners.rows].mean() - centre.mean())
    df = m - 1.0
    error = float(np.sqrt(centre.var(ddof=1) * (1 / n + 1 / m))) if m > 1 else np.nan
    half = float(stdtrit(df, (1 + confidence) / 2)) * error if m > 1 else np.nan
    p_value = float(2 * stdtr(df, -abs(estimate) / error)) if error > 0 else np.nan
    return Curvature(
        estimate=estimate,
        standard_error=error,
        df=df,
        p_value=p_value,
        ci_low=estimate - half,
        ci_high=estimate + half,
        n_corners=n,
        n_centre=m,
    )
