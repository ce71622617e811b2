"""One assessor beside the others: points above them, use of the scale and scatter, each with how
well these scores know it.

Everything compares an assessor with the others on the loaves that they share, so that gaps do no
harm. Arrays are (assessors m, attributes k), NaN where an assessor shares too few loaves to be
compared.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...trials.frozen import frozen


@frozen
class AboveOthers:
    """How far each assessor scores above the panel's mean, loaf for loaf.

    points : (m, k), least squares of score on assessor and loaf. noise : their sampling variance
        (points squared).
    special : their variance from attribute to attribute among the others, sampling included; NaN
        with one attribute
    """

    points: np.ndarray
    noise: np.ndarray
    special: np.ndarray

    def together(self) -> AboveOthers:
        """Return the mean over the attributes, as one column."""
        known = np.isfinite(self.points).sum(axis=1, keepdims=True)
        with np.errstate(divide="ignore", invalid="ignore"):
            noise = (
                np.nansum(self.noise, axis=1, keepdims=True)
                / np.where(known > 0, known, np.nan) ** 2
            )
        return AboveOthers(
            mean_known(self.points, 1)[:, None], noise, self.special / np.maximum(known, 1)
        )


@frozen
class Ratio:
    """Each assessor's variance over that of the others, usual (points squared), with their degrees
    of freedom.
    """

    value: np.ndarray
    df: np.ndarray
    usual: np.ndarray
    usual_df: np.ndarray

    def together(self) -> Ratio:
        """Return the mean over the attributes, weighted by degrees of freedom, as one column."""
        known = np.isfinite(self.value)
        df, usual_df = (
            np.where(known, x, 0).sum(axis=1, keepdims=True) for x in (self.df, self.usual_df)
        )
        total = np.where(known, self.value * self.df, 0).sum(axis=1, keepdims=True)
        with np.errstate(divide="ignore", invalid="ignore"):
            return Ratio(
                np.where(df > 0, total / df, np.nan),
                df,
                mean_known(self.usual, 1)[:, None],
                usual_df,
            )


def traits(cube: np.ndarray, step: float) -> tuple[AboveOthers, Ratio, Ratio]:
    """Return points above, use of the scale and scatter of the scores (m, loaves, k); ``step``
    is the scale's, in points.

    The use of the scale is the variance over the loaves. The bread's own differences stand in it
    for everybody alike, so that it is known better than as many independent scores would tell: its
    degrees of freedom are those of the chi-square that has the moments of the noncentral one
    (Patnaik 1949, Biometrika 36, 202). Scatter is the variance about the others' picture of the
    loaves: the residual sum of squares that an assessor adds to an additive fit of assessors and
    loaves, against what the others leave without (exact where everybody scored everything, close
    where there are gaps). Rounding to whole steps leaves a variance of step²/12, so nobody's counts
    as less.
    """
    points = points_above(cube)
    cube = np.where(np.isnan(points)[:, None, :], np.nan, cube)  # who is linked to nobody is out
    scored = ~np.isnan(cube)
    n_assessors = scored.sum(axis=0)  # of each loaf
    n_linked = scored.any(axis=1).sum(axis=0)
    shared = scored & (n_assessors > 1)
    # what an additive fit of assessors and loaves leaves
    adjusted = cube - points[:, None, :]
    squares = (adjusted - mean_known(adjusted, 0)) ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        # a loaf's mean holds the assessor's own score: n / (n − 1) takes it out
        own: np.ndarray = np.nansum(squares * n_assessors / (n_assessors - 1), axis=1)
        own_df: np.ndarray = shared.sum(axis=1) - 1
        residual: np.ndarray = np.nansum(squares, axis=(0, 1))
        residual_df: np.ndarray = (np.maximum(n_assessors, 1) - 1).sum(axis=0) - n_linked + 1
        scatter = _ratio(own, own_df, residual - own, residual_df - own_df, step)
        variance: np.ndarray = np.maximum(residual / residual_df, rounding_variance(step))
        use = _use(cube, step)
        # the bread's variance in a usual assessor's, over one without: the noncentral chi-square
        bread = np.maximum(use.usual / variance, 1)
        gain = bread**2 / (2 * bread - 1)
        noise = variance / np.where(scored.any(axis=1), scored.sum(axis=1), np.nan)
    known_better = replace(use, df=use.df * gain, usual_df=use.usual_df * gain)
    return AboveOthers(points, noise, _special(points)), known_better, scatter


def rounding_variance(step: float) -> float:
    """Return the variance that rounding to whole steps leaves: that of a uniform error."""
    return step**2 / 12


def _special(points: np.ndarray) -> np.ndarray:
    """The others' mean square of assessor by attribute, (m, 1); NaN with one attribute."""
    known = np.isfinite(points)
    rest = points - mean_known(points, 1)[:, None]
    squares = np.where(known, rest - mean_known(rest, 0), 0) ** 2
    people = known.any(axis=1).sum()
    own = squares.sum(axis=1, keepdims=True) * people / max(people - 1, 1)
    own_df = known.sum(axis=1, keepdims=True) - 1
    df = known.sum() - people - known.any(axis=0).sum() + 1 - own_df
    return np.where((own_df > 0) & (df > 0), (squares.sum() - own) / np.maximum(df, 1), np.nan)


def _use(cube: np.ndarray, step: float) -> Ratio:
    """Variance over the loaves beside the others' over the same loaves."""
    scored = (~np.isnan(cube)).astype(float)
    scores = np.where(scored > 0, cube, 0)
    # of each other assessor o over the loaves that assessor j scored, attribute by attribute
    n, total, of_squares = (
        np.einsum("ola,jla->oja", values, scored) for values in (scored, scores, scores**2)
    )
    squares: np.ndarray = of_squares - total**2 / np.maximum(n, 1)
    df: np.ndarray = np.maximum(n - 1, 0)
    own, own_df = np.einsum("iia->ia", squares), np.einsum("iia->ia", df)
    return _ratio(own, own_df, squares.sum(axis=0) - own, df.sum(axis=0) - own_df, step)


def _ratio(
    own: np.ndarray, own_df: np.ndarray, others: np.ndarray, others_df: np.ndarray, step: float
) -> Ratio:
    """One sum of squares over the other, each by its degrees of freedom and no less than what
    rounding leaves.
    """
    known = (own_df > 0) & (others_df > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        own_variance = np.maximum(own / own_df, rounding_variance(step))
        usual = np.maximum(others / others_df, rounding_variance(step))
    return Ratio(
        value=np.where(known, own_variance / usual, np.nan),
        df=np.where(known, own_df, np.nan),
        usual=np.where(known, usual, np.nan),
        usual_df=np.where(known, others_df, np.nan),
    )


def points_above(cube: np.ndarray) -> np.ndarray:
    """Return how many points each assessor scores above the panel's mean, loaf for loaf: (m, k).

    Least squares of score on assessor and loaf; NaN for an assessor whose loaves nobody else
    scored.
    """
    return np.stack([_effects(cube[:, :, a]) for a in range(cube.shape[2])], axis=1)


def _effects(table: np.ndarray) -> np.ndarray:
    """Assessors' effects (m,) in an additive fit of one attribute (m, loaves), centred; NaN where
    not linked.
    """
    scored = ~np.isnan(table)
    share = scored / np.maximum(scored.sum(axis=0), 1)
    # normal equations, the loaves' effects taken out
    links = np.diag(scored.sum(axis=1)) - share @ scored.T
    linked = links != 0
    # through one another, then through those, and so on
    for _ in range(len(table).bit_length()):
        linked = linked @ linked
    together = linked.sum(axis=1)  # how many each can be compared with, itself among them
    if together.max() < 2:
        return np.full(len(table), np.nan)
    about = np.where(scored, table - mean_known(table, 0), 0).sum(axis=1)
    effects = np.linalg.lstsq(links, about, rcond=1e-10)[0]
    # where a panel falls into parts as large as one another, each is held against its own mean
    centred = effects - (linked @ effects) / np.maximum(together, 1)
    return np.where(together == together.max(), centred, np.nan)


def mean_known(values: np.ndarray, axis: int) -> np.ndarray:
    """Return the mean over what is known; NaN, without a warning, where nothing is."""
    known = np.isfinite(values)
    count = known.sum(axis=axis)
    return np.where(
        count > 0, np.where(known, values, 0).sum(axis=axis) / np.maximum(count, 1), np.nan
    )
