"""The pictures of crumb scores: means with their ranges, every score counted, the assessors side by
side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd
import seaborn as sns
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from ...trials.words.numbers import NumberStyle, number
from ..crumb.result import CrumbScores
from ..wording.crumb_pictures import (
    DIRECTIONS,
    POINTS_AXIS,
    SCATTER_AXIS,
    SCORE_AXIS,
    SHARE_AXIS,
    USE_AXIS,
    assessors_alt,
    attribute_labels,
    key_words,
    profile_alt,
    raw_alt,
)
from .names import lines_of, wrapped
from .style import (
    INK,
    LINE,
    LINE_IN,
    MOST_IN,
    QUIET,
    SMALL_PT,
    Picture,
    factor_looks,
    house_style,
    legend_in,
    level_legend,
    looks,
    new_figure,
    row_axis,
    scatter,
    value_axis,
)

# height of one formula's mark, between attributes
BREAD_IN, GAP_IN = 0.17, 0.16
BAR_IN, HEAD_IN, KEY_IN = 0.27, 0.13, 0.13  # height of a bar, above a heading, of the scale
# what stands around the profile, and around the bars
FRAME_IN, KEY_FRAME_IN = 0.75, 1.05
ASSESSOR_IN = 0.32
NAME_WIDTH, HEAD_WIDTH = 20, 36  # letters in a line of a name, of a heading
LETTER = 2.7  # share of a bar, in %, that a letter takes
# with more steps than this the scores are drawn in ten classes
MOST_STEPS = 12
CRUST = ("#FBF3E2", "#E3BC86", "#B3722F", "#6A3A12", "#2E1606")

Colour = tuple[float, float, float]  # red, green, blue, each from 0 to 1


@house_style()
def attribute_profile(
    r: CrumbScores, style: NumberStyle, names: Sequence[str] | None = None
) -> Picture:
    """Draw each formula's mean and likely range, one row an attribute, the surest difference on
    top.

    names : some of the attributes, one part of `profile_parts`; all where not given
    """
    names, look = list(r.profile.index if names is None else names), looks(r.formulas)
    pitch = _pitch(r)
    figure, axes = new_figure(height=FRAME_IN + legend_in(look) + pitch * len(names))
    for i in range(1, len(names), 2):
        axes.axhspan(i - 0.5, i + 0.5, facecolor=LINE, alpha=0.35, linewidth=0, zorder=0)
    for j, formula in enumerate(r.formulas):
        own = r.means[(r.means["formula"] == formula) & r.means["attribute"].isin(names)]
        rows = (
            own["attribute"].map(names.index) + (j - (len(r.formulas) - 1) / 2) * BREAD_IN / pitch
        )
        axes.hlines(
            rows, own["ci_low"], own["ci_high"], color=look[formula].colour, linewidth=2, zorder=4
        )
        axes.plot(own["mean"], rows, zorder=5, **look[formula].dots(6))
    labels = attribute_labels(r)
    row_axis(axes, [labels[name] for name in names], lines=3)
    _stay_on_scale(axes, r)
    value_axis(axes, "x", SCORE_AXIS, style)
    level_legend(figure, look)
    return Picture(figure, profile_alt(r, names, style))


def profile_parts(r: CrumbScores, most_in: float = MOST_IN) -> list[list[str]]:
    """Return the attributes of each picture, where none may be higher than this; one attribute at
    least.
    """
    room = most_in - FRAME_IN - legend_in(r.formulas)
    return _parts([(name, _pitch(r)) for name in r.profile.index], room)


def _pitch(r: CrumbScores) -> float:
    """The height of one attribute in the profile."""
    return (
        max(
            BREAD_IN * len(r.formulas),
            LINE_IN * lines_of(list(attribute_labels(r).values()), lines=3),
        )
        + GAP_IN
    )


def _parts(heights: Sequence[tuple[str, float]], room: float) -> list[list[str]]:
    """Share names with their heights out, in order, over parts that fit the room."""
    parts: list[list[str]] = [[]]
    used = 0.0
    for name, height in heights:
        if parts[-1] and used + height > room:
            parts.append([])
            used = 0.0
        parts[-1].append(name)
        used += height
    return parts


def _stay_on_scale(axes: Axes, r: CrumbScores) -> None:
    """Show the part of the scale that the means and ranges use, and never beyond its ends."""
    low, high, _ = r.scale
    ends = r.means[["mean", "ci_low", "ci_high"]].to_numpy(float)
    ends = ends[np.isfinite(ends)]
    room = 0.03 * (high - low)
    if len(ends) and high > low:
        axes.set_xlim(max(ends.min() - room, low - room), min(ends.max() + room, high + room))


@house_style()
def raw_scores(r: CrumbScores, style: NumberStyle, names: Sequence[str] | None = None) -> Picture:
    """Draw every score counted: one bar a formula and attribute, from the lowest score to the
    highest.

    names : some of the attributes, one part of `raw_parts`; all where not given
    """
    names = list(r.profile.index if names is None else names)
    classes, bar_in = _classes(r), _bar_in(r)
    colours = sns.blend_palette(CRUST, len(classes))
    figure, axes = new_figure(height=KEY_FRAME_IN + sum(_block_in(r, name) for name in names))
    at, rows = 0.0, dict[tuple[str, str], float]()
    for name in names:
        head = _head(r, name)
        axes.annotate(
            head,
            (0, at + HEAD_IN),
            fontsize=SMALL_PT,
            color=INK,
            va="top",
            ha="left",
            fontweight="bold",
            annotation_clip=False,
        )
        at += HEAD_IN + LINE_IN * len(head.split("\n")) + 0.03
        rows |= {(name, formula): at + (i + 0.5) * bar_in for i, formula in enumerate(r.formulas)}
        at += bar_in * len(r.formulas)
    _stacked_bars(axes, r.raw_counts, rows, classes, colours, style)
    row_axis(axes, [formula for _, formula in rows], list(rows.values()), NAME_WIDTH)
    axes.set(ylim=(at + 0.05, 0), xlim=(0, 100))
    value_axis(axes, "x", SHARE_AXIS, style, grid=False)
    _scale_key(axes, classes, colours, style)
    return Picture(figure, raw_alt(r, names, style))


def raw_parts(r: CrumbScores, most_in: float = MOST_IN) -> list[list[str]]:
    """Return the attributes of each picture of the scores, where none may be higher than this."""
    return _parts([(name, _block_in(r, name)) for name in r.profile.index], most_in - KEY_FRAME_IN)


def _bar_in(r: CrumbScores) -> float:
    return max(BAR_IN, LINE_IN * lines_of(r.formulas, NAME_WIDTH))


def _block_in(r: CrumbScores, name: str) -> float:
    """The height of an attribute's heading and bars."""
    return HEAD_IN + LINE_IN * len(_head(r, name).split("\n")) + 0.03 + _bar_in(r) * len(r.formulas)


def _head(r: CrumbScores, name: str) -> str:
    """An attribute, and what the steps of its scale mean: beside it, or below where that is too
    long.
    """
    words, means = attribute_labels(r)[name], key_words(dict(r.words.get(name, {})))
    if len(words) + len(means) < HEAD_WIDTH:
        return f"{words}  ({means})" if means else words
    return f"{wrapped(words, HEAD_WIDTH)}\n{wrapped(means, HEAD_WIDTH)}".rstrip()


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


def _stacked_bars(
    axes: Axes,
    counts: pd.DataFrame,
    rows: dict[tuple[str, str], float],
    classes: list[tuple[float, float]],
    colours: list[Colour],
    style: NumberStyle,
) -> None:
    """Draw a bar in each row (attribute, formula), its parts labelled with their scores where there
    is room.
    """
    place = {key: i for i, key in enumerate(rows)}
    keys = pd.Series(zip(counts["attribute"], counts["formula"], strict=True), index=counts.index)
    own = counts[keys.isin(rows)]
    widths = np.zeros((len(rows), len(classes)))
    np.add.at(
        widths, (keys[own.index].map(place), _class_of(own["score"], classes)), 100 * own["share"]
    )
    starts, at = np.cumsum(widths, axis=1) - widths, np.array(list(rows.values()))
    for i, (ends, colour) in enumerate(zip(classes, colours, strict=True)):
        width, start, name = widths[:, i], starts[:, i], _class_name(ends, style)
        there = width > 0
        axes.barh(
            at[there],
            width[there],
            left=start[there],
            height=BAR_IN * 0.82,
            color=colour,
            edgecolor=INK,
            linewidth=0.5,
        )
        for j in np.flatnonzero(width >= LETTER * (len(name) + 0.8)):
            axes.text(
                start[j] + width[j] / 2,
                at[j],
                name,
                ha="center",
                va="center",
                fontsize=SMALL_PT,
                color=_ink_on(colour),
            ).set_in_layout(False)


def _ink_on(colour: Colour) -> str:
    """Dark words on light, light words on dark."""
    red, green, blue = colour
    return INK if 0.299 * red + 0.587 * green + 0.114 * blue > 0.5 else "white"


def _scale_key(
    axes: Axes, classes: list[tuple[float, float]], colours: list[Colour], style: NumberStyle
) -> None:
    """Draw the scale as a strip of its steps above the bars, as many of them numbered as have room;
    in inches.
    """
    width = 100 / len(classes)
    names = [_class_name(ends, style) for ends in classes]
    every = math.ceil((max(map(len, names)) * LETTER + 1) / width)
    for i, (name, colour) in enumerate(zip(names, colours, strict=True)):
        axes.add_patch(
            Rectangle(
                (i * width, -KEY_IN),
                width,
                KEY_IN,
                facecolor=colour,
                edgecolor=INK,
                linewidth=0.5,
                clip_on=False,
            )
        )
        if i % every == 0:
            axes.annotate(
                name,
                ((i + 0.5) * width, -KEY_IN),
                ha="center",
                va="bottom",
                xytext=(0, 2),
                textcoords="offset points",
                fontsize=SMALL_PT,
                color=QUIET,
                annotation_clip=False,
            )


@house_style()
def assessors_side_by_side(r: CrumbScores, style: NumberStyle) -> Picture:
    """Draw each assessor's points, use of the scale and scatter beside the others', and name
    what stands apart.
    """
    people = r.assessors.reset_index(drop=True)
    people["row"] = range(len(people))
    figure, row = new_figure(
        height=FRAME_IN + ASSESSOR_IN * len(people), rows=1, columns=3, sharey=True
    )
    look = factor_looks([False, True])  # whether an assessor stands apart
    parts = [
        ("above_others", POINTS_AXIS, 0.0),
        ("use_of_scale", USE_AXIS, 1.0),
        ("scatter", SCATTER_AXIS, 1.0),
    ]
    row = row[0]
    for axes, (trait, words, usual) in zip(row, parts, strict=True):
        axes.axvline(usual, color=INK, linewidth=1)
        said = r.standing_apart[r.standing_apart["trait"] == trait].drop_duplicates("assessor")
        named = dict(zip(said["assessor"], said["direction"], strict=True))
        people["apart"] = people["assessor"].isin(named)
        scatter(axes, people, trait, "row", "apart", look, size=7, alpha=1)
        for person in people[people["apart"]].to_dict("records"):
            below = person[trait] < usual  # the words stay inside, on the side of the others
            axes.annotate(
                DIRECTIONS[named[person["assessor"]]],
                (person[trait], person["row"]),
                va="bottom",
                xytext=(-5 if below else 5, 4),
                textcoords="offset points",
                fontsize=SMALL_PT,
                ha="left" if below else "right",
                color=look[True].word_colour,
            )
        _room(axes, people[trait].to_numpy(float), usual)
        value_axis(axes, "x", "", style, most=4)
        axes.set_title(words, fontsize=SMALL_PT, fontweight="normal")
    row_axis(row[0], list(people["assessor"].astype(str)), width=18)
    for axes in row[1:]:
        axes.tick_params(axis="y", length=0)
    sns.despine(figure, left=True)
    return Picture(figure, assessors_alt(r))


def _room(axes: Axes, values: np.ndarray, usual: float) -> None:
    """Leave room for words at both sides, and never show a range so narrow that trifles look
    large.
    """
    reach = max(np.nanmax(np.abs(values - usual), initial=0.0) * 1.4, 0.6)
    axes.set_xlim(max(usual - reach, 0.0) if usual else -reach, usual + reach)
