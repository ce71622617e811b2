"""Pictures of the factors: effects by size, combinations, curves, single runs, scatter, residuals."""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes

from ..effects.curves import Curve
from ..effects.residuals import ResidualChecks
from ..effects.unreplicated import Unreplicated
from ..factors import FactorEffects
from ..wording import factor_pictures as words
from ..wording.factors import factor_words, level_words
from ..wording.numbers import ENGLISH, NumberStyle
from .style import (
    BLUE,
    INK,
    QUIET,
    SMALL_PT,
    VERMILION,
    Picture,
    house_style,
    interval,
    label_beside,
    looks,
    new_figure,
    row_axis,
    scatter,
    value_axis,
    wrapped,
    zone,
)

ROW_IN = 0.55               # height of a row
SHOWN, NOT_SHOWN = looks(["shown", "not shown"]).values()


@house_style()
def effects_by_size(f: FactorEffects, style: NumberStyle = ENGLISH) -> Picture:
    """Draw every factor's effect with its interval, largest on top, beside the difference that matters."""
    figure, axes = new_figure(height=1.2 + ROW_IN * len(f.effects))
    names = [words.effect_row(f, row["factor"], row["high_level"], row["low_level"])
             for row in f.effects.to_dict("records")]
    axes.axvline(0, color=QUIET, linewidth=0.8)
    for i, row in enumerate(f.effects.to_dict("records")):
        look = SHOWN if row["ci_low"] > 0 else NOT_SHOWN
        interval(axes, row["ci_low"], row["ci_high"], row["size"], i, look)
    if f.matters is not None:
        zone(axes, -f.matters, f.matters, words.TOO_SMALL)
    row_axis(axes, [wrapped(name, 20, 3) for name in names])
    value_axis(axes, "x", words.size_axis(f), style)
    return Picture(figure, words.effects_alt(f, style))


@house_style()
def combination_means(f: FactorEffects, term: str, style: NumberStyle = ENGLISH) -> Picture:
    """Draw the means of two factors' combinations: a line for each level of one, along the levels of the other.

    A number goes along the axis; otherwise the factor with more levels does.
    """
    means = f.means[(f.means["term"] == term) & f.means["mean"].notna()]
    along, lines = _along_and_lines(term.split(" × "), means)
    place = term.split(" × ").index(along)
    table = means.assign(along=[levels[place] for levels in means["levels"]],
                         line=[levels[1 - place] for levels in means["levels"]])
    figure, axes = new_figure(height=3.2)
    positions = _positions(list(dict.fromkeys(table["along"])))
    for level, look in looks(dict.fromkeys(table["line"])).items():
        own = table[table["line"] == level]
        x = [positions[value] for value in own["along"]]
        axes.errorbar(x, own["mean"], yerr=[own["mean"] - own["ci_low"], own["ci_high"] - own["mean"]],
                      ecolor=look.colour, elinewidth=1, capsize=3, **look.line() | look.dots(7) | {
                          "linestyle": look.dash})
        label_beside(axes, x[-1], own["mean"].iloc[-1], level_words(f, lines, _text(level)), look)
    axes.set_xticks(list(positions.values()), [_text(value) for value in positions])
    axes.margins(x=0.18)
    axes.set_xlabel(words.with_unit(words.capital(factor_words(f, along)), f.factor_units.get(along, "")))
    value_axis(axes, "y", words.with_unit(f.label, f.unit), style)
    return Picture(figure, words.means_alt(f, term, style))


@house_style()
def curve_with_band(curve: Curve, f: FactorEffects, style: NumberStyle = ENGLISH) -> Picture:
    """Draw the line or curve with its pointwise band over the baked range, the levels' means, the best setting."""
    figure, axes = new_figure(height=3.2)
    line = curve.fitted
    axes.fill_between(line["value"], line["ci_low"], line["ci_high"], color=BLUE, alpha=0.18, linewidth=0)
    axes.plot(line["value"], line["mean"], color=BLUE)
    means = f.means[f.means["term"] == curve.factor]
    axes.plot([levels[0] for levels in means["levels"]], means["mean"], **SHOWN.dots(7))
    best = curve.best
    if best is not None and best.where == "inside":
        _mark_best(axes, best.estimate, best.ci_low, best.ci_high)
    value_axis(axes, "x", words.with_unit(words.capital(factor_words(f, curve.factor)),
                                          f.factor_units.get(curve.factor, "")), style)
    value_axis(axes, "y", words.with_unit(f.label, f.unit), style)
    return Picture(figure, words.curve_alt(curve, f, style))


@house_style()
def half_normal_plot(single: Unreplicated, f: FactorEffects, style: NumberStyle = ENGLISH) -> Picture:
    """Draw the effects of single runs against half-normal quantiles, Lenth's margins across (Daniel 1959)."""
    figure, axes = new_figure(height=3.6)
    effects = single.effects[single.effects["half_normal"].notna()]
    for margin, name in ((single.limits.margin, words.LIKELY_REAL),
                         (single.limits.simultaneous_margin, words.REAL_TOGETHER)):
        if np.isfinite(margin) and margin < 2 * effects["absolute"].max():
            axes.axvline(margin, color=QUIET, linestyle=(0, (4, 2)), linewidth=1)
            axes.annotate(name, (margin, 0), xycoords=("data", "axes fraction"), xytext=(3, 3), rotation=90,
                          textcoords="offset points", va="bottom", fontsize=SMALL_PT, color=QUIET)
    for row in effects.to_dict("records"):
        large = row["beyond"] in ("margin", "simultaneous")
        axes.plot([row["absolute"]], [row["half_normal"]], **(SHOWN if large else NOT_SHOWN).dots(7))
        if large:
            label_beside(axes, row["absolute"], row["half_normal"], factor_words(f, row["term"]), SHOWN, "left")
    axes.set_xlim(left=0)
    axes.set_ylim(bottom=0)
    value_axis(axes, "x", words.with_unit("Size of the effect", f.unit), style)
    value_axis(axes, "y", words.QUANTILE_AXIS, style)
    return Picture(figure, words.half_normal_alt(single, f))


@house_style()
def sources_of_variation(f: FactorEffects, style: NumberStyle = ENGLISH) -> Picture:
    """Draw each source's share of the variation: factors filled, scatter hatched."""
    table = f.variances
    figure, axes = new_figure(height=1.1 + 0.42 * len(table))
    for i, row in enumerate(table.to_dict("records")):
        factor = row["kind"] == "factor"
        axes.barh(i, 100 * row["share"], height=0.62, color=BLUE if factor else "white", edgecolor=BLUE if factor
                  else VERMILION, hatch="" if factor else "////", linewidth=1.2)
    row_axis(axes, [words.source_words(f, name) for name in table["source"]])
    value_axis(axes, "x", words.SHARE_AXIS, style)
    return Picture(figure, words.sources_alt(f, style))


@house_style()
def residuals_of(checks: ResidualChecks, unit: str, measure_words: str, style: NumberStyle = ENGLISH) -> Picture:
    """Draw the standardised residuals of loaves or mixes: against what was fitted, and against normal quantiles.

    ``unit`` is "loaf" or "mix"; ``measure_words`` the measure with its unit.
    """
    table = checks.loaves if unit == "loaf" else checks.mixes
    figure, ((left, right),) = new_figure(height=3.0, columns=2, sharey=True)
    farthest = next((s for s in checks.strange if s.unit == unit), None)
    table = table.assign(kind="residual")
    shown = ((left, "fitted", words.fitted_axis(measure_words)), (right, "normal_quantile", words.NORMAL_AXIS))
    for axes, column, text in shown:
        axes.axhline(0, color=QUIET, linewidth=0.8)
        scatter(axes, table, column, "standardised", "kind", {"residual": NOT_SHOWN}, size=5, alpha=1)
        _mark_farthest(axes, table, column, unit, farthest.label if farthest else None)
        value_axis(axes, "x", wrapped(text, 24, 3), style)
        axes.margins(y=0.12)
    ends = [float(table["normal_quantile"].min()), float(table["normal_quantile"].max())]
    right.plot(ends, ends, color=INK, linewidth=1)
    value_axis(left, "y", words.STANDARDISED_AXIS, style)
    return Picture(figure, words.residuals_alt(unit, len(table), checks.strange))


def _along_and_lines(factors: list[str], means: pd.DataFrame) -> tuple[str, str]:
    """Which factor goes along the axis, and which makes the lines."""
    levels = [[row[i] for row in means["levels"]] for i in range(2)]
    numbers = [all(isinstance(level, float) for level in column) for column in levels]
    counts = [len(set(column)) for column in levels]
    first = numbers[0] > numbers[1] or (numbers[0] == numbers[1] and counts[0] >= counts[1])
    return (factors[0], factors[1]) if first else (factors[1], factors[0])


def _positions(values: list) -> dict[object, float]:
    """Where a level stands: numbers at their value, others evenly."""
    if all(isinstance(value, float) for value in values):
        return {value: value for value in values}
    return {value: float(i) for i, value in enumerate(values)}


def _text(level: object) -> str:
    return f"{level:g}" if isinstance(level, float) else str(level)


def _mark_best(axes: Axes, at: float, low: float, high: float) -> None:
    """The best setting as a mark on the lower edge, its interval as a bar."""
    across = axes.get_xaxis_transform()
    if np.isfinite(low):
        axes.plot([low, high], [0.03, 0.03], transform=across, color=VERMILION, linewidth=3, solid_capstyle="butt")
    axes.plot([at], [0.03], transform=across, **NOT_SHOWN.dots(9))


def _mark_farthest(axes: Axes, table: pd.DataFrame, column: str, unit: str, label: str | None) -> None:
    """The name of the unit that lies farthest off, beside its mark."""
    own = table[table[unit].astype(str) == label] if label is not None else table.iloc[:0]
    if len(own):
        side = "above" if own["standardised"].iloc[0] > 0 else "below"
        label_beside(axes, own[column].iloc[0], own["standardised"].iloc[0], str(label), side=side)
