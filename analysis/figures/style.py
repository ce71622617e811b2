"""The one visual language of every picture: colours, shapes, sizes, words beside marks, and the way
to SVG.

How a picture is made::

    @house_style()
    def loaves_by_mix(result: Comparison, style: NumberStyle) -> Picture:
        figure, axes = new_figure(height=3.2)
        look = looks(["house", "malted"])["malted"]
        axes.plot(x, y, **look.dots())
        zone(axes, -0.2, 0.2, "too small to matter")
        value_axis(axes, "x", "Specific volume (mL/g)", style)
        return Picture(figure, alt="Each dot is a loaf. …")

Seaborn gives the theme and draws the dots; the figure is built of matplotlib's objects, never with
pyplot. Texts are drawn as they stand: no mathematics in dollar signs. Levels stand in rows from top
to bottom where they can, so that long names fit and a phone can show them: letters of SMALL_PT, the
smallest, are 9 px high there. Names that are too long are cut so that no two of a picture look
alike.
"""

from __future__ import annotations

import hashlib
import io
import math
import re
import warnings
from collections.abc import Hashable, Iterable, Mapping, Sequence
from contextlib import ContextDecorator
from html import escape
from typing import Any, cast

import matplotlib
import pandas as pd
import seaborn as sns
from matplotlib import rcParamsDefault
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import Formatter, MaxNLocator

from ...trials.frozen import frozen
from ...trials.words.characters import readable
from ...trials.words.numbers import NumberStyle, number, typed_places
from .names import short_names, wrapped

# Okabe and Ito 2008, "Color Universal Design", in an order of our own: the darkest first, so that
# the first four stand out from white by 3 : 1 or more. The yellow is left out: it cannot be seen on
# white paper.
BLUE, VERMILION, GREEN, PURPLE, ORANGE, SKY = (
    "#0072B2",
    "#D55E00",
    "#009E73",
    "#CC79A7",
    "#E69F00",
    "#56B4E9",
)
INK = "#2B2118"  # words and axes
CRUST = "#85400F"  # what stands out and is no formula
QUIET = "#665A4E"  # second words; 6 : 1 on white
LINE = "#D9CFC2"  # grid
ZONE = "#EFE6D6"  # the differences that do not matter
COLOURS = (BLUE, VERMILION, GREEN, PURPLE, ORANGE, SKY)
# of lines and edges, 3 : 1 on white
EDGE_COLOURS = (BLUE, VERMILION, GREEN, "#BA6595", "#A87400", "#2985B8")
# 4.5 : 1 on white and on ZONE
WORD_COLOURS = ("#00557F", "#9C4400", "#006B4E", "#8A3D69", "#7A5400", "#1B6489")
MARKERS = ("o", "D", "^", "s", "v", "P")
# what is no formula: browns, 5 : 1 on white, and marks that no formula has
FACTOR_COLOURS = (INK, CRUST, QUIET, "#7A5A1E")
FACTOR_MARKERS = ("h", "X", "p", "8", "d", "<")
DASHES = ("-", (0, (5, 2)), (0, (1.5, 1.5)), (0, (6, 2, 1.5, 2)), (0, (3, 1)), (0, (8, 3)))

WIDTH_IN = 4.2  # 302.4 pt, shown 352 px wide by a phone and some 110 mm wide on paper
MOST_IN = 10.2  # of a picture's height: a page of A4 shows no more at that width
LINE_IN = 0.165  # height of a line of small words
WORD_PT, SMALL_PT = 10.5, 9.5

# from the library's own settings, whatever a reader has set for pictures of their own
_PLAIN = {name: value for name, value in rcParamsDefault.items() if not name.startswith("backend")}
_SETTINGS: dict[Any, Any] = {
    **_PLAIN,
    **sns.axes_style("ticks"),
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": WORD_PT,
    "axes.labelsize": WORD_PT,
    "axes.titlesize": WORD_PT,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "xtick.labelsize": SMALL_PT,
    "ytick.labelsize": SMALL_PT,
    "legend.fontsize": SMALL_PT,
    "legend.frameon": False,
    "text.color": INK,
    "axes.labelcolor": INK,
    "axes.edgecolor": QUIET,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "grid.color": LINE,
    "grid.linewidth": 0.8,
    "axes.linewidth": 0.8,
    "lines.linewidth": 1.8,
    "lines.markersize": 6.5,
    "patch.force_edgecolor": False,
    "figure.facecolor": "none",
    "axes.facecolor": "none",
    "svg.fonttype": "none",
    "text.parse_math": False,
}


def house_style() -> ContextDecorator:
    """Return what every function that draws is decorated with: settings hold inside it and nowhere
    else.
    """
    return cast(ContextDecorator, matplotlib.rc_context(_SETTINGS))


@frozen
class Look:
    """How one level (a formula, a tin, an assessor) is drawn in every picture; no meaning hangs on
    colour alone.
    """

    colour: str  # of lines and edges
    fill: str  # inside a mark
    word_colour: str
    marker: str
    dash: Any

    def dots(self, size: float = 6.5) -> dict[str, Any]:
        """Return the settings for marks without a line, as ``axes.plot`` takes them."""
        return {
            "linestyle": "none",
            "marker": self.marker,
            "markersize": size,
            "color": self.colour,
            "markerfacecolor": self.fill,
            "markeredgecolor": self.colour,
            "markeredgewidth": 1.5,
        }

    def line(self) -> dict[str, Any]:
        """Return the settings for a line without marks."""
        return {"color": self.colour, "linestyle": self.dash, "marker": "none"}


def looks(levels: Iterable[Hashable]) -> dict[Hashable, Look]:
    """Return level → its look, by its place in the order: the control first, then as the card lists
    them.

    Shapes and fills run on where the six colours start again.
    """
    found: dict[Hashable, Look] = {}
    for level in levels:
        i = len(found)
        turn = i // len(COLOURS)
        found.setdefault(
            level,
            Look(
                colour=EDGE_COLOURS[i % len(COLOURS)],
                fill="white" if i % 2 else COLOURS[i % len(COLOURS)],
                word_colour=WORD_COLOURS[i % len(COLOURS)],
                marker=MARKERS[(i + turn) % len(MARKERS)],
                dash=DASHES[i % len(DASHES)],
            ),
        )
    return found


def factor_looks(levels: Iterable[Hashable]) -> dict[Hashable, Look]:
    """Return level → its look for what is no formula: in the browns of the page, with marks of its
    own, so that nobody takes a tin or a factor for a bread.
    """
    found: dict[Hashable, Look] = {}
    for level in levels:
        i = len(found)
        colour = FACTOR_COLOURS[i % len(FACTOR_COLOURS)]
        found.setdefault(
            level,
            Look(
                colour=colour,
                fill="white" if i % 2 else colour,
                word_colour=colour,
                marker=FACTOR_MARKERS[(i + i // len(FACTOR_COLOURS)) % len(FACTOR_MARKERS)],
                dash=DASHES[i % len(DASHES)],
            ),
        )
    return found


def new_figure(
    height: float = 3.2, width: float = WIDTH_IN, rows: int = 1, columns: int = 1, **share: Any
) -> tuple[Figure, Any]:
    """Return a figure (inches) and its axes: one Axes, or an array (rows, columns) of them when
    there are more.

    ``share`` goes to ``Figure.subplots`` (sharex, sharey, width_ratios …). Everything is kept
    inside the picture.
    """
    figure = Figure(figsize=(width, height), layout="constrained")
    several = rows * columns > 1
    axes = figure.subplots(rows, columns, squeeze=not several, **share)
    sns.despine(figure)
    return figure, axes


def scatter(
    axes: Axes,
    table: pd.DataFrame,
    x: str,
    y: str,
    by: str,
    look: Mapping[Any, Look],
    size: float = 5.5,
    alpha: float = 0.85,
) -> None:
    """Draw every row of a table with all three values as a dot, in the look of its level in the
    column ``by``.
    """
    table = table.dropna(subset=[x, y, by])
    if table.empty:
        return
    sns.scatterplot(
        table,
        x=x,
        y=y,
        hue=by,
        style=by,
        ax=axes,
        legend=False,
        s=size**2,
        linewidth=1.5,
        alpha=alpha,
        palette={level: own.fill for level, own in look.items()},
        markers={level: own.marker for level, own in look.items()},
        edgecolor=[look[level].colour for level in table[by]],
        zorder=2,
    )
    axes.set(xlabel="", ylabel="")


def value_axis(
    axes: Axes,
    which: str,
    words: str,
    style: NumberStyle,
    grid: bool = True,
    width: int = 32,
    most: int = 6,
) -> None:
    """Give an axis of numbers (``which`` is "x" or "y") its words, its grid and the reader's
    decimal mark.

    ``width`` is the most letters in a line of the words, ``most`` the most numbers along the axis.
    """
    axis = axes.xaxis if which == "x" else axes.yaxis
    axis.set_label_text(wrapped(words, width, 3))
    axis.set_major_locator(MaxNLocator(most - 1, steps=[1, 2, 2.5, 5, 10]))
    axis.set_major_formatter(_ReaderNumbers(style))
    if grid:
        axis.grid(True)


class _ReaderNumbers(Formatter):
    """Writes the numbers of one axis with the reader's decimal mark, all with as many decimals as
    one needs.
    """

    def __init__(self, style: NumberStyle) -> None:
        self.style = style

    def __call__(self, value: float, pos: int | None = None) -> str:
        return number(value, None, self.style)

    def format_ticks(self, values: Sequence[float]) -> list[str]:
        places = max(map(typed_places, values), default=0)
        return [number(value, places, self.style) for value in values]


def row_axis(
    axes: Axes,
    names: Sequence[str],
    at: Sequence[float] | None = None,
    width: int = 20,
    lines: int = 2,
) -> None:
    """Turn the y axis into one named row a name, the first on top, without ticks.

    Row i lies at y = i, or at ``at[i]`` with the limits left as they are.
    """
    axes.set_yticks(range(len(names)) if at is None else at, short_names(names, width, lines))
    if at is None:
        axes.set_ylim(len(names) - 0.5, -0.5)
    axes.tick_params(axis="y", length=0)
    sns.despine(ax=axes, left=True)


def zone(axes: Axes, low: float, high: float, words: str = "") -> None:
    """Shade the differences that do not matter, from low to high along x, with words above."""
    axes.axvspan(
        low,
        high,
        facecolor=ZONE,
        edgecolor="#B9A98F",
        linewidth=0.8,
        linestyle=(0, (4, 2)),
        zorder=0,
    )
    axes.annotate(
        wrapped(words, 26),
        ((low + high) / 2, 1),
        xycoords=("data", "axes fraction"),
        xytext=(0, 3),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=SMALL_PT,
        color=QUIET,
    )


def interval(axes: Axes, low: float, high: float, middle: float, row: float, look: Look) -> None:
    """Draw an interval as a bar with end strokes in one row, its middle as a large mark."""
    axes.plot(
        [low, high], [row, row], color=look.colour, linewidth=3, solid_capstyle="butt", zorder=4
    )
    axes.plot(
        [low, high],
        [row, row],
        linestyle="none",
        marker="|",
        markersize=12,
        markeredgewidth=1.8,
        color=look.colour,
        zorder=4,
    )
    axes.plot([middle], [row], zorder=5, **look.dots(10))


def label_beside(
    axes: Axes,
    x: float,
    y: float,
    words: str,
    look: Look | None = None,
    side: str = "right",
    gap: float = 7,
) -> None:
    """Write words directly beside a mark, in place of a legend; ``side`` is right or left."""
    away, align = (gap, "left") if side == "right" else (-gap, "right")
    axes.annotate(
        words,
        (x, y),
        xytext=(away, 0),
        textcoords="offset points",
        ha=align,
        va="center",
        fontsize=SMALL_PT,
        color=look.word_colour if look else INK,
        annotation_clip=False,
    )


def labels_apart(axes: Axes, marks: Iterable[tuple[float, float, str, Look, str]]) -> None:
    """Write words beside marks (x, y, words, look, "left" or "right"), moved up or down so that
    none overlap.

    The axes' limits are set, and its height is the figure's but for what stands below it.
    """
    low, high = axes.get_ylim()
    inch = (high - low) / (axes.figure.get_figheight() - 0.8)  # type: ignore[union-attr]
    marks = sorted(marks, key=lambda mark: mark[1])
    heights = [inch * LINE_IN * (words.count("\n") + 1) for _, _, words, _, _ in marks]
    places = [y for _, y, _, _, _ in marks]
    for i in range(1, len(places)):
        places[i] = max(places[i], places[i - 1] + (heights[i - 1] + heights[i]) / 2)
    ceiling = high
    for i in reversed(range(len(places))):
        places[i] = min(places[i], ceiling - heights[i] / 2)
        ceiling = places[i] - heights[i] / 2
    for (x, _, words, look, side), y in zip(marks, places, strict=True):
        label_beside(axes, x, y, words, look, side, gap=9)


def level_legend(figure: Figure, look: Mapping[Any, Look], lines: bool = False) -> None:
    """Name levels above a picture by their marks (and lines), where names beside the marks would be
    in the way.

    It is ``legend_in(look)`` inches high.
    """
    names = _legend_names(look)
    marks = [
        Line2D([], [], **own.line() | own.dots(6) | ({"linestyle": own.dash} if lines else {}))
        for own in look.values()
    ]
    figure.legend(
        marks,
        names,
        loc="outside upper center",
        ncols=legend_columns(names),
        handletextpad=0.4,
        columnspacing=1.2,
        handlelength=2.2 if lines else 1.0,
        labelspacing=0.3,
    )


def legend_in(levels: Iterable[Any]) -> float:
    """Return the height of the legend of these levels, in inches."""
    names = _legend_names(levels)
    return 0.1 + LINE_IN * math.ceil(len(names) / legend_columns(names))


def _legend_names(levels: Iterable[Any]) -> list[str]:
    return short_names([str(level) for level in levels], 40, 1)


def legend_columns(names: Sequence[str]) -> int:
    """Return how many of these names stand beside one another in a legend."""
    return max(1, min(len(names), 48 // (max(map(len, names), default=0) + 5)))


@frozen
class Picture:
    """A drawn figure and the sentence, made from its numbers, that says what it shows."""

    figure: Figure
    alt: str

    def svg(self) -> str:
        """Return the picture as an SVG element, the same text each time."""
        return to_svg(self.figure, self.alt)


# What matplotlib writes that a page does not want: the prolog, a style for the whole page, ids that
# repeat.
_PROLOG = re.compile(r"^.*?(?=<svg )", re.DOTALL)
_METADATA = re.compile(r"\s*<metadata>.*?</metadata>", re.DOTALL)
_PAGE_STYLE = re.compile(r"\s*<defs>\s*<style type=\"text/css\">.*?</style>\s*</defs>", re.DOTALL)
_GROUP_ID = re.compile(r"<g id=\"[^\"]*\"")
# from coordinates, down to their last bit
_MADE_ID = re.compile(r" id=\"([a-z][0-9a-f]{10})\"")


def to_svg(figure: Figure, alt: str) -> str:
    """Return the figure as one ``<svg>`` element with text as text, an accessible name and no date.

    The same figure and sentence give the same bytes. Ids are made from ``alt``, so that pictures on
    one page do not share them. Characters that XML does not allow are left out.
    """
    page = io.StringIO()
    bare = {"Date": None, "Creator": None, "Format": None, "Type": None}
    with matplotlib.rc_context(_SETTINGS | {"svg.hashsalt": alt}), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        warnings.filterwarnings("ignore", message="constrained_layout not applied")
        FigureCanvasSVG(figure).print_svg(page, metadata=bare)
    # laid out once: a second drawing would move everything by a hair
    figure.set_layout_engine("none")
    svg = page.getvalue()
    for unwanted in (_PROLOG, _METADATA, _PAGE_STYLE):
        svg = unwanted.sub("", svg)
    svg = readable(_GROUP_ID.sub("<g", svg))
    for n, made in enumerate(dict.fromkeys(_MADE_ID.findall(svg))):
        svg = svg.replace(made, made[0] + hashlib.sha256(f"{n} {alt}".encode()).hexdigest()[:10])
    name = f'<svg role="img" aria-label="{escape(readable(alt))}" stroke-linejoin="round" '
    return svg.replace("<svg ", name, 1).strip()
