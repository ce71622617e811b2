"""Responses fitted under one arrangement, and each contrast judged the way that the rule says.

way : "reml" restricted likelihood with Kenward and Roger's test; "means" t or F on the unweighted
    means of the
    units; "bounded" variances held at zero or above; "none" no standard error can be given.
why : "positive", "between" (blocks are random, see `between_blocks`), "within" (inside the unit),
    "balanced"
    (negative, and this is the classical analysis), "crossed" (negative, with groupings that cross),
    "loaves" (nothing is shared): for "reml";
    "unbalanced" (negative and unbalanced), "edge" (no inner optimum, or nothing inside the units to
    tell their variance from the loaf's): for "means" and "bounded";
    "one unit" (more than half of a side rests on a single mix or day), "none left" (as many units
    as must be told apart), "too few" (nothing left inside the units to adjust them by),
    "no variation", "tied" (to other effects): for "none". Scores of a panel have "people" too
    (`score_fit.py`).

Everything is an array over the m responses, so that simulation judges exactly as a single trial is
judged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import replace
from functools import cached_property

import numpy as np
from scipy.special import fdtrc, stdtr

from ...trials.frozen import frozen
from ..mixed_model.fitting import NotIdentifiable, RemlFits
from ..mixed_model.together import fit_together
from .arrangement import Arrangement
from .estimability import independent_rows
from .unit_means import MeansFit, UnitMeans

# of the largest response: an estimate below is what is left of a sum that cancels out
ROUNDING = 1e-12
# of a single contrast: the fewest that any stratum has. Kenward and Roger's match of moments gives
# fewer where loaves are lost between random blocks, and then ranges without end, or where the
# variances of scores nearly cancel, and then an error that means nothing
LEAST_DF = 1.0


@frozen(kw_only=True)
class Judged:
    """A contrast or hypothesis judged for m responses; NaN where `way` is "none"."""

    estimate: np.ndarray  # of the first row
    standard_error: np.ndarray  # of the first row
    statistic: np.ndarray  # t of one row, F of a hypothesis
    num_df: int
    df: np.ndarray
    p_value: np.ndarray
    way: np.ndarray
    why: np.ndarray
    unit: str
    n_units: int
    between: tuple[str, ...] = ()  # blocks that were not compared within alone
    ignored: tuple[str, ...] = ()  # blocks that were taken as alike


def tied(num_df: int, n_loaves: int) -> Judged:
    """What is said of one contrast that cannot be told apart from other effects: no number at
    all.
    """
    nothing = np.array([np.nan])
    return Judged(
        estimate=nothing,
        standard_error=nothing,
        statistic=nothing,
        num_df=num_df,
        df=nothing,
        p_value=nothing,
        way=np.array(["none"]),
        why=np.array(["tied"]),
        unit="loaf",
        n_units=n_loaves,
    )


@frozen
class Route:
    """Which way each of m responses is judged at a unit, and why."""

    unit: str
    means: UnitMeans | None
    way: np.ndarray
    why: np.ndarray


@frozen
class ByStratum:
    """A contrast judged for m responses by the mean square of its stratum, (m,) each."""

    estimate: np.ndarray
    standard_error: np.ndarray
    df: np.ndarray


# from the fits, or from the means of a unit and their fit, to arrays (m, …) of numbers
ByReml = Callable[[RemlFits], tuple[np.ndarray, ...]]
ByMeans = Callable[[UnitMeans, MeansFit], tuple[np.ndarray, ...]]


class Fitted:
    """Responses (n, m) under one arrangement; fits are made when first asked for."""

    def __init__(self, arrangement: Arrangement, responses: np.ndarray) -> None:
        self.arrangement = arrangement
        self.responses = responses
        self._means: dict[str, MeansFit] = {}

    @cached_property
    def fits(self) -> RemlFits:
        """The unbounded fits."""
        return self.arrangement.engine.fit_many(self.responses)

    @cached_property
    def of_means(self) -> RemlFits | None:
        """The unbounded fits of the mixes' means, where random blocks want those
        (`Arrangement.of_means`).
        """
        means = self.arrangement.of_means
        return means.engine.fit_many(means.averaging.mean(self.responses)) if means else None

    @cached_property
    def bounded(self) -> RemlFits:
        """The fits with every variance held at or above zero."""
        return self.arrangement.engine.fit_many(self.responses, bounded=True)

    @cached_property
    def _least_squares(self) -> np.ndarray:
        """(p, m) coefficients that take every loaf alike, where nothing is left to judge by."""
        return np.linalg.lstsq(np.asarray(self.arrangement.design.matrix), self.responses)[0]

    @cached_property
    def _rounding(self) -> np.ndarray:
        """(m,) what is left of a sum that cancels out."""
        return ROUNDING * np.abs(self.responses).max(axis=0)

    @cached_property
    def instead(self) -> Fitted | None:
        """The same responses under the arrangement that judges where this one cannot."""
        return (
            Fitted(self.arrangement.instead, self.responses) if self.arrangement.instead else None
        )

    def contrast(self, L: np.ndarray) -> Judged:
        """Judge one contrast L (1, p) over the arrangement's own columns."""
        judged = self._contrast(L)
        return _filled_in(judged, self.instead.contrast(L)) if self.instead else judged

    def f_test(self, L: np.ndarray) -> Judged:
        """Judge a hypothesis L (q, p), its rows independent."""
        judged = self._f_test(L)
        return _filled_in(judged, self.instead.f_test(L)) if self.instead else judged

    def covariance(self, L: np.ndarray) -> np.ndarray:
        """Joint covariance (m, q, q) of contrasts L (q, p), in the way that they are tested
        together.
        """
        found = self._filled(
            self.route(independent_rows(L)),
            L,
            1,
            lambda fits: (L @ fits.covariance @ L.T,),
            lambda means, fit: (means.covariances(L, fit),),
            shape=(len(L), len(L)),
        )[0]
        if self.instead:
            return np.where(
                np.isfinite(found).all(axis=(1, 2), keepdims=True),
                found,
                self.instead.covariance(L),
            )
        return found

    def _tested(self, L: np.ndarray) -> RemlFits:
        """The fits that contrasts L (q, p) are tested by: those of means for a single one."""
        return (self.of_means if len(L) == 1 else None) or self.fits

    def _contrast(self, L: np.ndarray) -> Judged:
        route = self.route(L)
        estimate, error, df = self._filled(
            route, L, 3, lambda fits: _reml_t(fits, L), lambda means, fit: _means_t(means, fit, L)
        )
        if self.arrangement.between:
            df = np.maximum(df, LEAST_DF)
        t = np.divide(estimate, error, out=np.full_like(estimate, np.nan), where=error > 0)
        return self._judged(route, L, estimate, error, t, df, 2 * stdtr(df, -np.abs(t)))

    def _f_test(self, L: np.ndarray) -> Judged:
        route = self.route(L)
        containment = route.means.df if route.means else None
        estimate, error, f, df = self._filled(
            route,
            L,
            4,
            lambda fits: _reml_f(fits, L, containment),
            lambda means, fit: _means_f(means, fit, L),
        )
        return self._judged(route, L, estimate, error, f, df, fdtrc(len(L), df, f))

    def route(self, L: np.ndarray) -> Route:
        """Which way each response is judged for the contrasts L (q, p) together, its rows
        independent.
        """
        unit = self.arrangement.unit_of(L)
        means = self.arrangement.means(unit)
        m = self.responses.shape[1]
        if self.arrangement.instead:
            why = self._random_blocks(L)
            return Route(unit, means, np.where(why == "between", "reml", "none"), why)
        lacking = self._lacking(unit, means, L)
        if lacking:
            return Route(unit, means, np.full(m, "none"), np.full(m, lacking))
        why = self._reasons(unit, L, crossed=means is None)
        aside = "bounded" if means is None else "means"
        ways = {"unbalanced": aside, "edge": aside, "no variation": "none"}
        return Route(
            unit, means, np.array([ways.get(reason, "reml") for reason in why.tolist()]), why
        )

    def means_fit(self, unit: str) -> MeansFit:
        """The unweighted means of a unit that has such means (whose groupings do not cross)."""
        means = self.arrangement.means(unit)
        assert means is not None
        if unit not in self._means:
            self._means[unit] = means.fit(self.responses)
        return self._means[unit]

    def _reasons(self, unit: str, L: np.ndarray, crossed: bool) -> np.ndarray:
        """Why each response goes its way: (m,) codes."""
        fits, arrangement = self.fits, self.arrangement
        plain = (
            "positive"
            if unit in arrangement.groups
            else "within"
            if arrangement.groups
            else "loaves"
        )
        why = np.full(self.responses.shape[1], plain, dtype="<U12")
        at_unit = [name in arrangement.below(unit) for name in fits.names[:-1]]
        negative = fits.negative[:, at_unit].any(axis=1)
        if negative.any():
            why[negative] = (
                "balanced" if arrangement.balanced else "crossed" if crossed else "unbalanced"
            )
        lost = unit in arrangement.groups and unit not in fits.names
        why[fits.at_edge | lost | ~_usable(L @ fits.covariance @ L.T)] = "edge"
        why[fits.no_variation] = "no variation"
        return why

    def _random_blocks(self, L: np.ndarray) -> np.ndarray:
        """Why each response (m,) is judged with its blocks random, or is not."""
        fits = self._tested(L)
        why = np.full(self.responses.shape[1], "between", dtype="<U12")
        why[fits.at_edge | ~_usable(L @ fits.covariance @ L.T)] = "edge"
        why[fits.no_variation] = "no variation"
        return why

    def _lacking(self, unit: str, means: UnitMeans | None, L: np.ndarray) -> str:
        """What is missing to judge by, a code: too few units, or a single contrast that hangs on
        one of them.
        """
        n, p = self.arrangement.design.matrix.shape
        if n <= p:
            return "none left"
        if means is None:
            lost = unit in self.arrangement.groups and unit not in self.fits.names
            return "none left" if lost else ""
        at_unit = unit in self.arrangement.groups or not self.arrangement.groups
        if len(L) == 1 and at_unit and means.rests_on_one(L):
            return "one unit"
        return "none left" if means.df <= 0 else ""

    def _filled(
        self,
        route: Route,
        L: np.ndarray,
        parts: int,
        by_reml: ByReml,
        by_means: ByMeans,
        shape: tuple[int, ...] = (),
    ) -> list[np.ndarray]:
        """Each response's numbers (m, …) from the way that it goes; NaN where it goes none."""
        out = [np.full((len(route.way), *shape), np.nan) for _ in range(parts)]
        for way in ("reml", "bounded", "means"):
            chosen = route.way == way
            if not chosen.any():
                continue
            if way == "means":
                assert route.means is not None
                numbers = by_means(route.means, self.means_fit(route.unit))
            else:
                numbers = by_reml(self._tested(L) if way == "reml" else self.bounded)
            if chosen.all():
                return list(numbers)
            for into, values in zip(out, numbers, strict=True):
                into[chosen] = values[chosen]
        return out

    def _judged(
        self,
        route: Route,
        L: np.ndarray,
        estimate: np.ndarray,
        error: np.ndarray,
        statistic: np.ndarray,
        df: np.ndarray,
        p_value: np.ndarray,
    ) -> Judged:
        """Put together. No number is missing but where the way is "none"; there the estimate still
        stands.
        """
        none = ~(np.isfinite(statistic) & np.isfinite(p_value))
        way, why = route.way, route.why
        if none.any():
            failed = np.where(error == 0, "no variation", "too few")
            why = np.where(none & (way != "none"), failed, why)
            way = np.where(none, "none", way)
            if route.means:
                estimate[none] = route.means.estimates(L, self.means_fit(route.unit))[0, none]
            else:
                estimate[none] = (L @ self._least_squares[:, none])[0]
            error, statistic, df, p_value = (
                np.where(none, np.nan, part) for part in (error, statistic, df, p_value)
            )
        estimate = np.where(np.abs(estimate) < self._rounding, 0.0, estimate)
        return Judged(
            estimate=estimate,
            standard_error=error,
            statistic=statistic,
            num_df=len(L),
            df=df,
            p_value=p_value,
            way=way,
            why=why,
            unit=route.unit,
            n_units=self.arrangement.n_units(route.unit),
            between=self.arrangement.between,
            ignored=self.arrangement.ignored,
        )


def fit_ahead(several: Iterable[Fitted]) -> None:
    """Make the unbounded fits of several arrangements, of one response each, in one climb."""
    waiting = []
    for fitted in {id(each): each for each in several if "fits" not in vars(each)}.values():
        with suppress(NotIdentifiable):  # said where it is asked for
            waiting.append((fitted, fitted.arrangement.engine))
    found = fit_together(
        [engine for _, engine in waiting], [fitted.responses for fitted, _ in waiting]
    )
    for (fitted, _), fits in zip(waiting, found, strict=True):
        fitted.fits = fits


def _filled_in(judged: Judged, other: Judged) -> Judged:
    """The first; where its way is "none", the other, with its unit when that is so of every
    response.
    """
    none = judged.way == "none"
    estimate, error, statistic, df, p_value, way, why = (
        np.where(none, getattr(other, name), getattr(judged, name))
        for name in ("estimate", "standard_error", "statistic", "df", "p_value", "way", "why")
    )
    unit, n_units = (other.unit, other.n_units) if none.all() else (judged.unit, judged.n_units)
    return replace(
        judged,
        estimate=estimate,
        standard_error=error,
        statistic=statistic,
        df=df,
        p_value=p_value,
        way=way,
        why=why,
        unit=unit,
        n_units=n_units,
    )


def _usable(covariance: np.ndarray) -> np.ndarray:
    """(m,) where a covariance (m, q, q) is one: the adjusted one need not be, close to the edge."""
    if covariance.shape[1] == 1:
        return (covariance[:, 0, 0] > 0) & np.isfinite(covariance[:, 0, 0])
    known = np.isfinite(covariance).all(axis=(1, 2))
    usable = known.copy()
    usable[known] = np.linalg.eigvalsh(covariance[known])[:, 0] > 0
    return usable


def _reml_t(fits: RemlFits, L: np.ndarray) -> tuple[np.ndarray, ...]:
    """Estimate, standard error and df; NaN where the adjusted variance is none."""
    with np.errstate(invalid="ignore"):
        return fits.contrast(L[0])


def _reml_f(fits: RemlFits, L: np.ndarray, containment_df: float | None) -> tuple[np.ndarray, ...]:
    """First row's estimate and standard error, F and its df (containment df where the scale is
    absurd).
    """
    estimate, error, _ = _reml_t(fits, L)
    f, scale, df, refused = fits.f_parts(fits.hypothesis(L))
    if containment_df is not None:
        df = np.where(refused & np.isfinite(df), containment_df, df)
    return estimate, error, f * scale, df


def by_strata(arrangement: Arrangement, L: np.ndarray, responses: np.ndarray) -> ByStratum | None:
    """One contrast L (1, p) of responses (n, m) by the classical analysis of its stratum, without a
    fit; None where that is not what the rule for contrasts comes to.

    In a balanced arrangement the unbounded fit is that analysis (see `Arrangement.balanced`), so
    that estimates, standard errors and df are the same.
    """
    unit = arrangement.unit_of(L)
    means = arrangement.means(unit)
    if means is None or means.df <= 0 or arrangement.instead or not arrangement.balanced:
        return None
    if unit in arrangement.groups and means.rests_on_one(L):
        return None
    return ByStratum(*_means_t(means, means.fit(responses), L))


def _means_t(means: UnitMeans, fit: MeansFit, L: np.ndarray) -> tuple[np.ndarray, ...]:
    return (
        means.estimates(L, fit)[0],
        np.sqrt(means.covariances(L, fit)[:, 0, 0]),
        means.df_of(L, fit),
    )


def _means_f(means: UnitMeans, fit: MeansFit, L: np.ndarray) -> tuple[np.ndarray, ...]:
    """As `_reml_f`, with the residual df between units; NaN where the means do not vary at all."""
    estimates, covariances = means.estimates(L, fit).T, means.covariances(L, fit)
    varies = _usable(covariances)
    f = np.full(len(estimates), np.nan)
    solved = np.linalg.solve(covariances[varies], estimates[varies][:, :, None])[:, :, 0]
    f[varies] = np.sum(estimates[varies] * solved, axis=1) / len(L)
    return estimates[:, 0], np.sqrt(covariances[:, 0, 0]), f, np.full(len(f), float(means.df))
