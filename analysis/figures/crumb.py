"""The pictures of crumb scores: means with their ranges, every score counted, the assessors side by side."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import seaborn as sns
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from ..crumb import CrumbScores
from ..wording.crumb_pictures import (
    DIRECTIONS,
    SCATTER_AXIS,
    SCORE_AXIS,
    SEVERITY_AXIS,
    SHARE_AXIS,
    SPREAD_AXIS,
    assessors_alt,
    key_words,
    profile_alt,
    raw_alt,
)
from ..wording.numbers import ENGLISH, NumberStyle, number
from .style import (
    INK,
    LINE,
    QUIET,
    SMALL_PT,
    Look,
    Picture,
    house_style,
    looks,
    new_figure,
    row_axis,
    scatter,
    value_axis,
    wrapped,
)

BREAD_IN, GAP_IN, FRAME_IN = 0.17, 0.24, 0.95       # height of one formula's mark, between attributes, around
BAR_IN, HEAD_IN, KEY_IN = 0.27, 0.30, 0.13
ASSESSOR_IN = 0.30
LEAST_LABELLED = 0.075                              # share of a bar that its number needs
MOST_STEPS = 12                                     # with more steps than this the scores are drawn in ten classes
CRUST = ("#FBF3E2", "#E3BC86", "#B3722F", "#6A3A12", "#2E1606")

Colour = tuple[float, float, float]                 # red, green, blue, each from 0 to 1


@house_style()
def attribute_profile(r: CrumbScores, style: NumberStyle = ENGLISH) -> Picture:
    """Draw each formula's mean and likely range, one row an attribute, the surest difference on top."""
    names, look = list(r.profile.index), looks(r.formulas)
    pitch = BREAD_IN * len(r.formulas) + GAP_IN
    figure, axes = new_figure(height=FRAME_IN + pitch * len(names) + _legend_lines(r.formulas) * 0.2)
    labels = r.attributes.drop_duplicates("attribute").set_index("attribute")
    for i, name in enumerate(names):
        if i % 2:
            axes.axhspan(i - 0.5, i + 0.5, facecolor=LINE, alpha=0.35, linewidth=0, zorder=0)
        for j, formula in enumerate(r.formulas):
            offset = (j - (len(r.formulas) - 1) / 2) * BREAD_IN / pitch
            own = r.means[(r.means["attribute"] == name) & (r.means["formula"] == formula)]
            for row in own.itertuples():
                _mean(axes, row.mean, row.ci_low, row.ci_high, i + offset, look[formula])
    row_axis(axes, [str(labels.loc[name, "label"]) for name in names])
    _stay_on_scale(axes, r)
    value_axis(axes, "x", SCORE_AXIS, style)
    _formula_legend(figure, r.formulas, look)
    return Picture(figure, profile_alt(r, style))


def _mean(axes: Axes, mean: float, low: float, high: float, at: float, look: Look) -> None:
    """Draw a mean, with its range where there is one."""
    if np.isfinite(low):
        axes.plot([low, high], [at, at], color=look.colour, linewidth=2, solid_capstyle="butt", zorder=4)
    axes.plot([mean], [at], zorder=5, **look.dots(6))


def _stay_on_scale(axes: Axes, r: CrumbScores) -> None:
    """Show the part of the scale that the means and ranges use, and never beyond its ends."""
    low, high, _ = r.scale
    ends = r.means[["mean", "ci_low", "ci_high"]].to_numpy(float)
    ends = ends[np.isfinite(ends)]
    room = 0.03 * (high - low)
    if len(ends) and high > low:
        axes.set_xlim(max(ends.min() - room, low - room), min(ends.max() + room, high + room))


def _legend_lines(formulas: Sequence[str]) -> int:
    return -(-len(formulas) // _legend_columns(formulas))


def _legend_columns(formulas: Sequence[str]) -> int:
    longest = max(len(wrapped(str(name), lines=1)) for name in formulas)
    return max(1, min(len(formulas), 40 // (longest + 4)))


def _formula_legend(figure: Figure, formulas: Sequence[str], look: dict) -> None:
    marks = [Line2D([], [], **look[name].dots(6)) for name in formulas]
    figure.legend(marks, [wrapped(str(name), lines=1) for name in formulas], loc="outside upper center",
                  ncols=_legend_columns(formulas), handletextpad=0.2, columnspacing=1.2)


@house_style()
def raw_scores(r: CrumbScores, style: NumberStyle = ENGLISH) -> Picture:
    """Draw every score counted: one bar a formula and attribute, from the lowest score to the highest."""
    names = list(r.profile.index)
    classes = _classes(r)
    colours = sns.blend_palette(CRUST, len(classes))
    height = sum(HEAD_IN + BAR_IN * len(r.formulas) for _ in names)
    figure, axes = new_figure(height=height + FRAME_IN + 0.35)
    labels = r.attributes.drop_duplicates("attribute").set_index("attribute")["label"]
    ticks, at = {}, 0.0
    for name in names:
        axes.annotate(_head(r, name, str(labels[name])), (0, at + HEAD_IN * 0.62), fontsize=SMALL_PT, color=INK,
                      va="center", ha="left", fontweight="bold", annotation_clip=False)
        at += HEAD_IN
        for formula in r.formulas:
            own = r.raw_counts[(r.raw_counts["attribute"] == name) & (r.raw_counts["formula"] == formula)]
            _stacked_bar(axes, own, classes, colours, at + BAR_IN / 2, style)
            ticks[at + BAR_IN / 2] = wrapped(str(formula), 14, 1)
            at += BAR_IN
    axes.set_yticks(list(ticks), list(ticks.values()))
    axes.tick_params(axis="y", length=0)
    axes.set(ylim=(at + 0.05, 0), xlim=(0, 100))
    sns.despine(ax=axes, left=True)
    value_axis(axes, "x", SHARE_AXIS, style, grid=False)
    _scale_key(axes, classes, colours, style)
    return Picture(figure, raw_alt(r))


def _head(r: CrumbScores, name: str, words: str) -> str:
    means = key_words(dict(r.words.get(name, {})))
    return f"{words}  ({means})" if means and len(words) + len(means) < 44 else words


def _classes(r: CrumbScores) -> list[tuple[float, float]]:
    """Lowest and highest score of every step of the scale; ten classes where the steps are many."""
    low, high, step = r.scale
    steps = np.unique(np.r_[np.arange(low, high + step / 2, step), r.raw_counts["score"]])
    if len(steps) <= MOST_STEPS:
        return [(value, value) for value in steps.tolist()]
    edges = np.linspace(steps[0], steps[-1], 11)
    return list(zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True))


def _class_of(scores: pd.Series, classes: list[tuple[float, float]]) -> np.ndarray:
    lows = np.array([low for low, _ in classes])
    return np.searchsorted(lows, scores.to_numpy(float), side="right") - 1


def _class_name(ends: tuple[float, float], style: NumberStyle) -> str:
    low, high = ends
    text = number(low, 0 if low % 1 == 0 else 1, style)
    return text if low == high else f"{text}–{number(high, 0 if high % 1 == 0 else 1, style)}"


def _stacked_bar(axes: Axes, own: pd.DataFrame, classes: list[tuple[float, float]], colours: list[Colour],
                 at: float, style: NumberStyle) -> None:
    """Draw one bar, its parts labelled with their scores where there is room."""
    shares = np.bincount(_class_of(own["score"], classes), weights=own["share"], minlength=len(classes))
    left = 0.0
    for share, ends, colour in zip(shares, classes, colours, strict=True):
        if share == 0:
            continue
        axes.barh(at, 100 * share, left=left, height=BAR_IN * 0.82, color=colour, edgecolor=INK, linewidth=0.5)
        words = _class_name(ends, style)
        if share >= LEAST_LABELLED * max(len(words) / 2, 0.7):
            axes.text(left + 50 * share, at, words, ha="center", va="center", fontsize=SMALL_PT - 1,
                      color=_ink_on(colour))
        left += 100 * share


def _ink_on(colour: Colour) -> str:
    """Dark words on light, light words on dark."""
    red, green, blue = colour
    return INK if 0.299 * red + 0.587 * green + 0.114 * blue > 0.5 else "white"


def _scale_key(axes: Axes, classes: list[tuple[float, float]], colours: list[Colour], style: NumberStyle) -> None:
    """Draw the scale as a strip of its steps above the bars; rows are measured in inches."""
    width = 100 / len(classes)
    for i, (ends, colour) in enumerate(zip(classes, colours, strict=True)):
        axes.add_patch(Rectangle((i * width, -KEY_IN), width, KEY_IN, facecolor=colour, edgecolor=INK,
                                 linewidth=0.5, clip_on=False))
        axes.annotate(_class_name(ends, style), ((i + 0.5) * width, -KEY_IN), ha="center", va="bottom",
                      xytext=(0, 2), textcoords="offset points", fontsize=SMALL_PT - 1, color=QUIET,
                      annotation_clip=False)


@house_style()
def assessors_side_by_side(r: CrumbScores, style: NumberStyle = ENGLISH) -> Picture:
    """Draw each assessor's severity, spread and scatter beside the others', and name what stands apart."""
    people = r.assessors.reset_index(drop=True)
    people["row"] = range(len(people))
    figure, row = new_figure(height=FRAME_IN + ASSESSOR_IN * len(people), rows=1, columns=3, sharey=True)
    look = looks([False, True])        # whether an assessor stands apart
    parts = [("severity", SEVERITY_AXIS, 0.0), ("spread", SPREAD_AXIS, 1.0), ("scatter", SCATTER_AXIS, 1.0)]
    row = row[0]
    for axes, (trait, words, usual) in zip(row, parts, strict=True):
        axes.axvline(usual, color=INK, linewidth=1)
        said = r.standing_apart[r.standing_apart["trait"] == trait].drop_duplicates("assessor")
        named = dict(zip(said["assessor"], said["direction"], strict=True))
        people["apart"] = people["assessor"].isin(named)
        scatter(axes, people, trait, "row", "apart", look, size=7, alpha=1)
        for person in people[people["apart"]].to_dict("records"):
            axes.annotate(DIRECTIONS[named[person["assessor"]]], (person[trait], person["row"]), xytext=(0, 6),
                          textcoords="offset points", ha="center", va="bottom", fontsize=SMALL_PT - 1,
                          color=look[True].word_colour)
        _room(axes, people[trait].to_numpy(float), usual)
        axes.locator_params(axis="x", nbins=4)
        value_axis(axes, "x", "", style)
        axes.set_title(words, fontsize=SMALL_PT, fontweight="normal")
    row_axis(row[0], people["assessor"].astype(str))
    for axes in row[1:]:
        axes.tick_params(axis="y", length=0)
    sns.despine(figure, left=True)
    return Picture(figure, assessors_alt(r))


def _room(axes: Axes, values: np.ndarray, usual: float) -> None:
    """Leave room for words at both sides, and never show a range so narrow that trifles look large."""
    reach = max(np.nanmax(np.abs(values - usual), initial=0.0) * 1.4, 0.6)
    axes.set_xlim(max(usual - reach, 0.0) if usual else -reach, usual + reach)
