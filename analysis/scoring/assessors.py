"""How each assessor scores beside the others, and who stands apart.

Everything compares one assessor with the others on the loaves that they share, so that gaps do no harm.

Who stands apart is told by a t-test of each assessor against the others, with their spread moderated by how far
practised people lie apart (`TRAITS`), as in Smyth 2004 (Stat. Appl. Genet. Mol. Biol. 3, article 3), and
Bonferroni over everything that is looked at, so that a panel in which nobody stands apart is left in peace about 19
times in 20. The constants were chosen by simulation; tests/benchmarks/test_assessor_finding.py prints what they
achieve.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import special

FEWEST_ASSESSORS = 4
PANEL_CHANCE = 0.05          # of naming anybody in a panel where nobody stands apart
LEAST_SEVERITY = 0.1         # share of the scale's width below which severity is not worth a word (common practice)
OVERALL_SHARE = 0.75         # of the chance, spent on all attributes together; the rest on single ones


@dataclass(frozen=True, slots=True)
class Trait:
    """One way of standing apart.

    natural : how far practised people lie apart, as a standard deviation (severity: in widths of the scale; the
        others: of the logarithm of a ratio). On the published bread panel (tests/reference/bread_panel.csv) it is
        0.07, 0.17 and 0.07. weight : how many assessors' worth of looking that number counts for.
    share : of the chance of a false alarm; low, high : what it is called below and above the others.
    """

    natural: float
    weight: float
    share: float
    low: str | None
    high: str | None


TRAITS = {
    "severity": Trait(natural=1 / 30, weight=2, share=1 / 2, low="harsher", high="milder"),
    "spread": Trait(natural=0.15, weight=8, share=1 / 4, low="narrower", high="wider"),
    "scatter": Trait(natural=0.15, weight=8, share=1 / 4, low=None, high="own way"),
}
APART_COLUMNS = ["assessor", "trait", "direction", "attribute", "amount", "p_panel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessors:
    """The people behind the scores.

    table : assessor, n_scores, severity (points above the others' mean), spread (their SD over the loaves as a
        share of the others'), scatter (SD about the others' picture of the loaves, as a share of what is usual),
        agreement (correlation with the others' picture), repeatability (SD of one loaf scored again, points),
        stands_apart
    apart : one row a trait of an assessor who stands apart: assessor, trait, direction, attribute ("all" or one),
        amount (as in the table), p_panel (chance of as much anywhere in a panel where nobody stands apart)
    unlinked : assessors who share too few loaves with the others to be compared
    """

    table: pd.DataFrame
    apart: pd.DataFrame
    unlinked: tuple[str, ...]


def describe_assessors(scores: pd.DataFrame, width: float, step: float) -> Assessors:
    """Describe the assessors of a panel.

    scores : one row a score: assessor, loaf, attribute, score (points); the same cell twice is a repeat.
    width, step : of the scale, in points.
    """
    names, attributes, cube = score_cube(scores)
    traits = _traits(cube, step)
    apart = _who_stands_apart(names, attributes, cube, width, step)
    overall = {trait: _nanmean(values, axis=1) for trait, values in traits.items()}
    table = pd.DataFrame({
        "assessor": names,
        "n_scores": scores["assessor"].astype(str).value_counts().reindex(names).to_numpy(),
        "severity": overall["severity"] * len(names) / max(len(names) - 1, 1),
        "spread": np.exp(overall["spread"]),
        "scatter": np.exp(overall["scatter"] - np.nanmedian(overall["scatter"])) if len(names) > 1 else np.nan,
        "agreement": _agreement(cube),
        "repeatability": _repeatability(scores).reindex(names).to_numpy(),
    })
    table["stands_apart"] = table["assessor"].isin(apart["assessor"])
    unlinked = tuple(np.array(names)[np.isnan(overall["severity"])])
    return Assessors(table=table, apart=apart, unlinked=unlinked)


def score_cube(scores: pd.DataFrame) -> tuple[list[str], list[str], np.ndarray]:
    """Return assessors, attributes and scores (assessors, loaves, attributes): repeats averaged, gaps NaN."""
    codes = [pd.factorize(scores[column].astype(str), sort=True) for column in ("assessor", "loaf", "attribute")]
    shape = tuple(len(names) for _, names in codes)
    cell = np.ravel_multi_index(tuple(code for code, _ in codes), shape)
    size = int(np.prod(shape))
    count = np.bincount(cell, minlength=size)
    total = np.bincount(cell, weights=scores["score"].to_numpy(float), minlength=size)
    cube = np.where(count > 0, total / np.maximum(count, 1), np.nan).reshape(shape)
    return list(codes[0][1]), list(codes[2][1]), cube


def severities(cube: np.ndarray) -> np.ndarray:
    """Return how many points each assessor scores above the panel's mean, loaf for loaf: (m, attributes).

    Least squares of score on assessor and loaf; NaN for an assessor whose loaves nobody else scored.
    """
    return np.stack([_effects(cube[:, :, a]) for a in range(cube.shape[2])], axis=1)


def _effects(table: np.ndarray) -> np.ndarray:
    """Assessors' effects (m,) in an additive fit of one attribute (m, loaves), centred; NaN where not linked."""
    from scipy.sparse.csgraph import connected_components

    seen = ~np.isnan(table)
    share = seen / np.maximum(seen.sum(axis=0), 1)
    links = np.diag(seen.sum(axis=1)) - share @ seen.T          # normal equations, the loaves' effects taken out
    part = connected_components(links != 0, directed=False)[1]
    main = (part == np.bincount(part).argmax()) & seen.any(axis=1)
    about = np.where(seen, table - _nanmean(table, axis=0), 0).sum(axis=1)
    effects = np.linalg.lstsq(links, about, rcond=1e-10)[0]
    return np.where(main & (main.sum() > 1), effects - effects[main].mean(), np.nan)


def _traits(cube: np.ndarray, step: float) -> dict[str, np.ndarray]:
    """Each trait of each assessor (m, attributes): severity in points, log spread and log scatter."""
    severity = severities(cube)
    adjusted = cube - np.where(np.isnan(severity), 0, severity)[:, None, :]
    own, others = _centred(cube, adjusted)
    least = step**2 / 12                     # variance of rounding to whole steps: nobody's spread counts as less
    df = _df(cube)
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = np.maximum(np.nansum(own**2, axis=1) / df, least)
        scatter = np.maximum(np.nansum((own - others) ** 2, axis=1) / df, least)
        usual = np.maximum(_variance_of_others(cube), least)
        return {"severity": severity, "spread": np.log(spread / usual) / 2, "scatter": np.log(scatter) / 2}


def _df(cube: np.ndarray) -> np.ndarray:
    """Loaves scored less one (m, attributes); NaN where there is none."""
    df = (~np.isnan(cube)).sum(axis=1) - 1.0
    return np.where(df > 0, df, np.nan)


def _centred(cube: np.ndarray, adjusted: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each assessor's scores, and the others' mean of those loaves, about their means: (m, loaves, attributes)."""
    seen = ~np.isnan(cube)
    known = np.where(seen, adjusted, 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        picture = (known.sum(axis=0) - known) / (seen.sum(axis=0) - seen)
    both = seen & np.isfinite(picture)
    own, others = np.where(both, cube, np.nan), np.where(both, picture, np.nan)
    return (own - _nanmean(own, axis=1)[:, None, :], others - _nanmean(others, axis=1)[:, None, :])


def _variance_of_others(cube: np.ndarray) -> np.ndarray:
    """Mean variance of the others' scores over the loaves that an assessor scored: (m, attributes)."""
    seen = (~np.isnan(cube)).astype(float)
    known = np.where(np.isnan(cube), 0, cube)
    n, total, squares = (np.einsum("ola,jla->oja", x, seen) for x in (seen, known, known**2))
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = np.where(n > 1, (squares - total**2 / n) / (n - 1), np.nan)
    variance[np.arange(len(cube)), np.arange(len(cube))] = np.nan
    return _nanmean(variance, axis=0)


def _agreement(cube: np.ndarray) -> np.ndarray:
    """Correlation of each assessor with the others' mean, within attributes and over all of them: (m,)."""
    severity = severities(cube)
    own, others = _centred(cube, cube - np.where(np.isnan(severity), 0, severity)[:, None, :])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.nansum(own * others, axis=(1, 2)) / np.sqrt(
            np.nansum(own**2, axis=(1, 2)) * np.nansum(others**2, axis=(1, 2)))


def _repeatability(scores: pd.DataFrame) -> pd.Series:
    """SD of an assessor's scores of the same loaf and attribute, pooled; no entry without repeats."""
    named = scores.assign(assessor=scores["assessor"].astype(str))
    cells = named.groupby(["assessor", "loaf", "attribute"])["score"]
    about = pd.DataFrame({"squares": cells.var(ddof=0) * cells.size(), "df": cells.size() - 1})
    pooled = about.groupby(level="assessor").sum()
    pooled = pooled[pooled["df"] > 0]
    return (pooled["squares"] / pooled["df"]) ** 0.5


def _who_stands_apart(names: list[str], attributes: list[str], cube: np.ndarray, width: float,
                      step: float) -> pd.DataFrame:
    """Name those who stand apart; then look again among the rest, whom they may have hidden."""
    found: list[pd.DataFrame] = []
    rest = np.arange(len(names))
    while len(rest) >= FEWEST_ASSESSORS:
        rows = _apart_among(attributes, cube[rest], width, step)
        if rows.empty:
            break
        found.append(rows.assign(assessor=[names[rest[i]] for i in rows["place"]]))
        rest = np.delete(rest, rows["place"].unique())
    return pd.concat(found, ignore_index=True)[APART_COLUMNS] if found else pd.DataFrame(columns=APART_COLUMNS)


def _apart_among(attributes: list[str], cube: np.ndarray, width: float, step: float) -> pd.DataFrame:
    """One look at a panel: the rows of those whose chance, corrected for all that was looked at, is small."""
    m, _, k = cube.shape
    rows = []
    uncertain = special.polygamma(1, _df(cube) / 2) / 4         # sampling variance of a log standard deviation
    for name, values in _traits(cube, step).items():
        trait = TRAITS[name]
        natural = (trait.natural * (width if name == "severity" else 1)) ** 2
        single, whole = (0.0, 0.0) if name == "severity" else (uncertain, _nanmean(uncertain, axis=1)[:, None] / k)
        looks = [(["all"], _nanmean(values, axis=1)[:, None], whole, OVERALL_SHARE if k > 1 else 1.0)]
        if k > 1:
            looks.append((attributes, values, single, (1 - OVERALL_SHARE) / k))
        for scope, x, noise, share in looks:
            away, p_low, p_high = _against_others(x, natural + noise, trait.weight)
            rows += _named(name, scope, away, p_low, p_high, m / (trait.share * share), width)
    return pd.DataFrame(rows, columns=["place", *APART_COLUMNS[1:]])


def _against_others(x: np.ndarray, natural: np.ndarray | float, weight: float) -> tuple[np.ndarray, ...]:
    """Distance from the others' mean, and its chance below and above, column by column of x (m, columns)."""
    known = np.isfinite(x)
    n = known.sum(axis=0)
    centred = np.where(known, x - _nanmean(x, axis=0), 0)
    others = (centred.sum(axis=0) - centred) / np.maximum(n - 1, 1)
    squares = (centred**2).sum(axis=0) - centred**2 - (n - 1) * others**2
    df = weight + np.maximum(n - 2, 0)
    variance = (weight * natural + np.maximum(squares, 0)) / df
    away = np.where(known & (n >= FEWEST_ASSESSORS), centred - others, np.nan)
    t = away / np.sqrt(variance * (1 + 1 / np.maximum(n - 1, 1)))
    return away, special.stdtr(df, t), special.stdtr(df, -t)


def _named(name: str, scope: list[str], away: np.ndarray, p_low: np.ndarray, p_high: np.ndarray, looked_at: float,
           width: float) -> list[tuple[int, str, str, str, float, float]]:
    """Rows (place, trait, direction, attribute, amount, p_panel) of those who stand apart in one trait."""
    trait = TRAITS[name]
    sides = [(trait.low, p_low), (trait.high, p_high)]
    both = sum(direction is not None for direction, _ in sides)
    rows = []
    for direction, p in sides:
        p_panel = p * both * looked_at
        for place, column in np.argwhere(p_panel < PANEL_CHANCE):
            amount = away[place, column]
            if direction is None or (name == "severity" and abs(amount) < LEAST_SEVERITY * width):
                continue
            shown = amount if name == "severity" else np.exp(amount)
            rows.append((int(place), name, direction, scope[column], float(shown), float(p_panel[place, column])))
    return rows


def _nanmean(values: np.ndarray, axis: int) -> np.ndarray:
    """Mean over what is known; NaN, without a warning, where nothing is."""
    known = np.isfinite(values)
    count = known.sum(axis=axis)
    return np.where(count > 0, np.where(known, values, 0).sum(axis=axis) / np.maximum(count, 1), np.nan)
