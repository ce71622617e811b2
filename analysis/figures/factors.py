"""Pictures of the factors: effects by size, combinations, curves, single runs, scatter,
residuals.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from ...trials.words.numbers import NumberStyle
from ..factors.curves import BestSetting, Curve
from ..factors.residuals import ResidualChecks
from ..factors.result import FactorEffects
from ..factors.unreplicated import Unreplicated
from ..wording import factor_pictures as words
from ..wording.factors import factor_words, term_level
from .names import lines_of, short_names, wrapped
from .style import (
    CRUST,
    INK,
    LINE_IN,
    QUIET,
    SMALL_PT,
    Look,
    Picture,
    factor_looks,
    house_style,
    interval,
    label_beside,
    labels_apart,
    legend_in,
    level_legend,
    looks,
    new_figure,
    row_axis,
    scatter,
    value_axis,
    zone,
)

WIDTH = 26  # letters in a line of a row's name
# rows of the sources of variation; what is smaller is added up in one more
MOST_SOURCES = 8
SHOWN, NOT_SHOWN = factor_looks(["shown", "not shown"]).values()


@house_style()
def effects_by_size(f: FactorEffects, style: NumberStyle) -> Picture:
    """Draw every factor's effect with its interval, largest on top, beside the difference that
    matters.
    """
    rows = f.effects.to_dict("records")
    names = [_effect_name(f, row, style) for row in rows]
    figure, axes = new_figure(height=1.1 + len(rows) * (0.08 + LINE_IN * lines_of(names, WIDTH, 4)))
    axes.axvline(0, color=QUIET, linewidth=0.8)
    for i, row in enumerate(rows):
        interval(
            axes,
            row["ci_low"],
            row["ci_high"],
            row["size"],
            i,
            SHOWN if row["ci_low"] > 0 else NOT_SHOWN,
        )
    if f.matters is not None:
        zone(axes, -f.matters, f.matters, words.TOO_SMALL)
    row_axis(axes, names, width=WIDTH, lines=4)
    value_axis(axes, "x", words.size_axis(f), style, width=26)
    return Picture(figure, words.effects_alt(f, style))


def _effect_name(f: FactorEffects, row: dict, style: NumberStyle) -> str:
    """A factor and its two levels, below one another where they are long."""
    factor, high, low = row["factor"], row["high_level"], row["low_level"]
    high, low = (term_level(f, factor, level, style) for level in (high, low))
    levels = words.above(high, low)
    if len(levels) > WIDTH:
        levels = words.above(
            short_names([high, low], WIDTH, 1)[0], short_names([high, low], WIDTH - 6, 1)[1], "\n"
        )
    return f"{words.capital(factor_words(f, factor))}:\n{levels}"


@house_style()
def combination_means(f: FactorEffects, term: str, style: NumberStyle) -> Picture:
    """Draw the means of two factors' combinations: a line for each level of one, along the levels
    of the other.

    A number goes along the x axis. Where both factors are words, the one with more levels stands in
    rows.
    """
    means = f.means[(f.means["term"] == term) & f.means["mean"].notna()]
    along, lines = _along_and_lines(term.split(" × "), means)
    place = term.split(" × ").index(along)
    table = means.assign(
        along=[levels[place] for levels in means["levels"]],
        line=[levels[1 - place] for levels in means["levels"]],
    )
    drawn = looks if lines == "formula" else factor_looks
    look = drawn(dict.fromkeys(table["line"]))
    draw = _along_numbers if all(isinstance(value, float) for value in table["along"]) else _in_rows
    figure = draw(
        f,
        table,
        along,
        {term_level(f, lines, name, style): own for name, own in look.items()},
        style,
    )
    return Picture(figure, words.means_alt(f, term, style))


def _along_numbers(
    f: FactorEffects, table: pd.DataFrame, along: str, look: dict[str, Look], style: NumberStyle
) -> Figure:
    """Lines along an axis of numbers, their names at their ends."""
    figure, axes = new_figure(height=max(3.2, 0.9 + 2.2 * LINE_IN * len(look)))
    ends = []
    for (_, own), (name, one) in zip(table.groupby("line", sort=False), look.items(), strict=True):
        axes.errorbar(own["along"], own["mean"], yerr=_reach(own), **_line(one))
        ends.append((own["along"].iloc[-1], own["mean"].iloc[-1], name, one))
    axes.set_xticks(sorted(set(table["along"])))
    names = short_names([name for _, _, name, _ in ends])
    axes.margins(x=0.02, y=0.08)
    labels_apart(
        axes, [(x, y, name, one, "right") for (x, y, _, one), name in zip(ends, names, strict=True)]
    )
    axes.set_xlabel(
        words.with_unit(words.capital(factor_words(f, along)), f.factor_units.get(along, ""))
    )
    value_axis(axes, "y", words.with_unit(f.label, f.unit), style)
    return figure


def _in_rows(
    f: FactorEffects, table: pd.DataFrame, along: str, look: dict[str, Look], style: NumberStyle
) -> Figure:
    """Levels in rows, the lines down through them, named above."""
    rows = list(dict.fromkeys(table["along"]))
    step = max(2 * LINE_IN + 0.1, LINE_IN * (0.7 * len(look) + 1))
    figure, axes = new_figure(height=0.75 + step * len(rows) + legend_in(look))
    for i, ((_, own), one) in enumerate(
        zip(table.groupby("line", sort=False), look.values(), strict=True)
    ):
        shift = (i - (len(look) - 1) / 2) * 0.08 / step
        at = [rows.index(level) + shift for level in own["along"]]
        axes.errorbar(own["mean"], at, xerr=_reach(own), **_line(one))
    level_legend(figure, look, lines=True)
    row_axis(axes, [term_level(f, along, level, style) for level in rows])
    value_axis(axes, "x", words.with_unit(f.label, f.unit), style)
    return figure


def _reach(own: pd.DataFrame) -> list[pd.Series]:
    return [own["mean"] - own["ci_low"], own["ci_high"] - own["mean"]]


def _line(look: Look) -> dict[str, Any]:
    return (
        {"ecolor": look.colour, "elinewidth": 1, "capsize": 3}
        | look.dots(7)
        | look.line()
        | {"marker": look.marker}
    )


@house_style()
def curve_with_band(curve: Curve, f: FactorEffects, style: NumberStyle) -> Picture:
    """Draw the line or curve with its pointwise band over the baked range, the levels' means, the
    best setting.
    """
    figure, axes = new_figure(height=3.2)
    line = curve.fitted
    axes.fill_between(
        line["value"], line["ci_low"], line["ci_high"], color=CRUST, alpha=0.18, linewidth=0
    )
    axes.plot(line["value"], line["mean"], color=CRUST)
    means = f.means[f.means["term"] == curve.factor]
    axes.plot([levels[0] for levels in means["levels"]], means["mean"], **SHOWN.dots(7))
    best = curve.best
    if best is not None and best.where == "inside":
        _mark_best(axes, best, words.best_words(curve, f, style))
    value_axis(
        axes,
        "x",
        words.with_unit(
            words.capital(factor_words(f, curve.factor)), f.factor_units.get(curve.factor, "")
        ),
        style,
    )
    value_axis(axes, "y", words.with_unit(f.label, f.unit), style)
    return Picture(figure, words.curve_alt(curve, f, style))


@house_style()
def half_normal_plot(single: Unreplicated, f: FactorEffects, style: NumberStyle) -> Picture:
    """Draw the effects of single runs against half-normal quantiles, Lenth's margins across (Daniel
    1959).
    """
    figure, axes = new_figure(height=3.6)
    effects = single.effects[single.effects["half_normal"].notna()]
    for margin, name in (
        (single.limits.margin, words.LIKELY_REAL),
        (single.limits.simultaneous_margin, words.REAL_TOGETHER),
    ):
        if np.isfinite(margin) and margin < 2 * effects["absolute"].max():
            axes.axvline(margin, color=QUIET, linestyle=(0, (4, 2)), linewidth=1)
            axes.annotate(
                name,
                (margin, 0),
                xycoords=("data", "axes fraction"),
                xytext=(3, 3),
                rotation=90,
                textcoords="offset points",
                va="bottom",
                fontsize=SMALL_PT,
                color=QUIET,
            )
    middle, named = effects["absolute"].max() / 2, []
    for row in effects.to_dict("records"):
        large = row["beyond"] in ("margin", "simultaneous")
        at = (row["absolute"], row["half_normal"])
        axes.plot(*at, **(SHOWN if large else NOT_SHOWN).dots(7))
        if large:
            side = "left" if at[0] > middle else "right"
            named.append((*at, wrapped(factor_words(f, row["term"]), WIDTH), SHOWN, side))
    axes.set_xlim(left=0)
    axes.set_ylim(0, 1.12 * effects["half_normal"].max())
    labels_apart(axes, named)
    value_axis(axes, "x", words.with_unit("Size of the effect", f.unit), style)
    value_axis(axes, "y", words.QUANTILE_AXIS, style)
    return Picture(figure, words.half_normal_alt(single, f))


@house_style()
def sources_of_variation(f: FactorEffects, style: NumberStyle) -> Picture:
    """Draw each source's share of the variation: factors filled, scatter hatched, many small ones
    added up.
    """
    rows = words.sources(f, MOST_SOURCES)
    figure, axes = new_figure(height=0.8 + 0.36 * len(rows))
    for i, (_, share, kind) in enumerate(rows):
        filled = kind == "factor"
        axes.barh(
            i,
            100 * share,
            height=0.62,
            color=CRUST if filled else "white",
            hatch="" if filled else "////",
            edgecolor=CRUST if filled else QUIET,
            linewidth=1.2,
        )
    row_axis(axes, [name for name, _, _ in rows], width=WIDTH)
    value_axis(axes, "x", words.SHARE_AXIS, style)
    return Picture(figure, words.sources_alt(f, MOST_SOURCES, style))


@house_style()
def residuals_of(
    checks: ResidualChecks, unit: str, measure_words: str, style: NumberStyle
) -> Picture:
    """Draw the standardised residuals of loaves or mixes: against what was fitted, and against
    normal quantiles.

    ``unit`` is "loaf" or "mix"; ``measure_words`` the measure with its unit.
    """
    table = checks.loaves if unit == "loaf" else checks.mixes
    figure, ((left, right),) = new_figure(height=3.0, columns=2, sharey=True)
    table = table.assign(kind="residual")
    shown = (
        (left, "fitted", words.fitted_axis(measure_words)),
        (right, "normal_quantile", words.NORMAL_AXIS),
    )
    for axes, column, text in shown:
        axes.axhline(0, color=QUIET, linewidth=0.8)
        scatter(
            axes, table, column, "standardised", "kind", {"residual": NOT_SHOWN}, size=5, alpha=1
        )
        value_axis(axes, "x", text, style, width=24, most=4)
        axes.margins(y=0.12)
    ends = [float(table["normal_quantile"].min()), float(table["normal_quantile"].max())]
    right.plot(ends, ends, color=INK, linewidth=1)
    for farthest in (s for s in checks.strange if s.unit == unit):
        _name_farthest(left, table, unit, farthest.label)
    value_axis(left, "y", words.STANDARDISED_AXIS, style)
    return Picture(figure, words.residuals_alt(unit, len(table), checks.strange))


def _along_and_lines(factors: list[str], means: pd.DataFrame) -> tuple[str, str]:
    """Which factor goes along the axis, and which makes the lines."""
    levels = [[row[i] for row in means["levels"]] for i in range(2)]
    numbers = [all(isinstance(level, float) for level in column) for column in levels]
    counts = [len(set(column)) for column in levels]
    first = numbers[0] > numbers[1] or (numbers[0] == numbers[1] and counts[0] >= counts[1])
    return (factors[0], factors[1]) if first else (factors[1], factors[0])


def _mark_best(axes: Axes, best: BestSetting, words: str) -> None:
    """The best setting as a mark on the lower edge, with words, its interval as a bar."""
    across = axes.get_xaxis_transform()
    if np.isfinite(best.ci_low):
        axes.plot(
            [best.ci_low, best.ci_high],
            [0.05, 0.05],
            transform=across,
            color=CRUST,
            linewidth=3,
            solid_capstyle="butt",
        )
    axes.plot([best.estimate], [0.05], transform=across, **NOT_SHOWN.dots(9))
    low, high = axes.get_xlim()
    side = 1 if best.estimate < (low + high) / 2 else -1
    axes.annotate(
        words,
        (best.estimate, 0.05),
        xycoords=across,
        xytext=(8 * side, 3),
        textcoords="offset points",
        ha="left" if side > 0 else "right",
        va="bottom",
        fontsize=SMALL_PT,
        color=NOT_SHOWN.word_colour,
    )


def _name_farthest(axes: Axes, table: pd.DataFrame, unit: str, label: str) -> None:
    """The name of the loaf or mix that lies farthest off, beside its mark, on the side that has
    more room.
    """
    for x, y in table.loc[table[unit].astype(str) == label, ["fitted", "standardised"]].to_numpy(
        float
    ):
        side = "left" if x > (table["fitted"].min() + table["fitted"].max()) / 2 else "right"
        label_beside(axes, x, y, wrapped(label, 14, 1), side=side)
