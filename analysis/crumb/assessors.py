"""How each assessor scores beside the others; who stands apart is told by `standing_apart`."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ...trials.frozen import frozen
from .standing_apart import Smallest, who_stands_apart
from .traits import mean_known, traits


@frozen(kw_only=True)
class Assessors:
    """The people behind the scores.

    table : assessor, n_scores, above_others (points above the others' mean), use_of_scale
        (their SD over the loaves as a share of the others'), scatter (SD about the others'
        picture of the loaves, as a share of the others'), ranks_like_others (correlation with
        the others' picture), same_loaf_twice (SD of one loaf scored again, points), stands_apart
    apart : one row a trait of an assessor who stands apart: assessor, trait, direction, attribute
        ("all" or one),
        amount (as in the table), p_panel (chance of as much anywhere in a panel where nobody stands
        apart)
    smallest : how far somebody would have had to stand apart for these scores to show it
    unlinked : assessors who share too few loaves with the others to be compared
    """

    table: pd.DataFrame
    apart: pd.DataFrame
    smallest: Smallest
    unlinked: tuple[str, ...]


def describe_assessors(scores: pd.DataFrame, width: float, step: float) -> Assessors:
    """Describe the assessors of a panel.

    scores : one row a score: assessor, loaf, attribute, score (points); the same cell twice is a
        repeat.
    width, step : of the scale, in points.
    """
    names, attributes, cube = score_cube(scores)
    apart, smallest = who_stands_apart(names, attributes, cube, width, step)
    above, use, scatter = traits(cube, step)
    points = above.together().points[:, 0]
    table = pd.DataFrame(
        {
            "assessor": names,
            "n_scores": scores["assessor"].astype(str).value_counts().reindex(names).to_numpy(),
            "above_others": points * len(names) / max(len(names) - 1, 1),
            "use_of_scale": np.sqrt(use.together().value[:, 0]),
            "scatter": np.sqrt(scatter.together().value[:, 0]),
            "ranks_like_others": _ranks_like_others(cube, above.points),
            "same_loaf_twice": _same_loaf_twice(scores).reindex(names).to_numpy(),
        }
    )
    table["stands_apart"] = table["assessor"].isin(apart["assessor"])
    unlinked = tuple(np.array(names)[np.isnan(points)])
    return Assessors(table=table, apart=apart, smallest=smallest, unlinked=unlinked)


def score_cube(scores: pd.DataFrame) -> tuple[list[str], list[str], np.ndarray]:
    """Return assessors, attributes and scores (assessors, loaves, attributes): repeats averaged,
    gaps NaN.
    """
    codes = [
        pd.factorize(scores[column].astype(str), sort=True)
        for column in ("assessor", "loaf", "attribute")
    ]
    shape = tuple(len(names) for _, names in codes)
    cell = np.ravel_multi_index(tuple(code for code, _ in codes), shape)
    size = int(np.prod(shape))
    count = np.bincount(cell, minlength=size)
    total = np.bincount(cell, weights=scores["score"].to_numpy(float), minlength=size)
    cube = np.where(count > 0, total / np.maximum(count, 1), np.nan).reshape(shape)
    return list(codes[0][1]), list(codes[2][1]), cube


def _ranks_like_others(cube: np.ndarray, above: np.ndarray) -> np.ndarray:
    """Correlation of each assessor with the others' mean, within attributes and over all of them:
    (m,).
    """
    own, others = _centred(cube, cube - np.where(np.isnan(above), 0, above)[:, None, :])
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.nansum(own * others, axis=(1, 2)) / np.sqrt(
            np.nansum(own**2, axis=(1, 2)) * np.nansum(others**2, axis=(1, 2))
        )


def _same_loaf_twice(scores: pd.DataFrame) -> pd.Series:
    """SD of an assessor's scores of the same loaf and attribute, pooled; no entry without
    repeats.
    """
    named = scores.assign(assessor=scores["assessor"].astype(str))
    cells = named.groupby(["assessor", "loaf", "attribute"])["score"]
    about = pd.DataFrame({"squares": cells.var(ddof=0) * cells.size(), "df": cells.size() - 1})
    pooled = about.groupby(level="assessor").sum()
    pooled = pooled[pooled["df"] > 0]
    return (pooled["squares"] / pooled["df"]) ** 0.5


def _centred(cube: np.ndarray, adjusted: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Each assessor's scores, and the others' mean of those loaves, about their means: (m, loaves,
    attributes).
    """
    seen = ~np.isnan(cube)
    known = np.where(seen, adjusted, 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        picture = (known.sum(axis=0) - known) / (seen.sum(axis=0) - seen)
    both = seen & np.isfinite(picture)
    own, others = np.where(both, cube, np.nan), np.where(both, picture, np.nan)
    return (own - mean_known(own, 1)[:, None, :], others - mean_known(others, 1)[:, None, :])
