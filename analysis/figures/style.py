"""The one visual language of every picture: colours, shapes, sizes, words beside marks, and the way to SVG.

How a picture is made::

    @house_style()
    def loaves_by_mix(result: Comparison, style: NumberStyle = ENGLISH) -> Picture:
        figure, axes = new_figure(height=3.2)
        look = looks(["house", "malted"])["malted"]
        axes.plot(x, y, **look.dots())
        zone(axes, -0.2, 0.2, "too small to matter")
        value_axis(axes, "x", "Specific volume (mL/g)", style)
        return Picture(figure, alt="Each dot is a loaf. …")

Seaborn gives the theme and draws the dots; the figure is built of matplotlib's objects, never with pyplot. Texts
are drawn as they stand: no mathematics in dollar signs. Levels stand in rows from top to bottom where they can, so
that long names fit and a phone can show them.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Hashable, Iterable, Mapping, Sequence
from contextlib import ContextDecorator
from dataclasses import dataclass
from html import escape
from textwrap import wrap
from typing import Any, cast

import matplotlib
import pandas as pd
import seaborn as sns
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.ticker import Formatter

from ..wording.characters import readable
from ..wording.numbers import ENGLISH, NumberStyle, number

# Okabe and Ito 2008, "Color Universal Design", in an order of our own: the darkest first, so that the first four
# stand out from white by 3 : 1 or more. The yellow is left out: it cannot be seen on white paper.
BLUE, VERMILION, GREEN, PURPLE, ORANGE, SKY = "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9"
INK = "#2B2118"           # words and axes
QUIET = "#665A4E"         # second words; 6 : 1 on white
LINE = "#D9CFC2"          # grid
ZONE = "#EFE6D6"          # the differences that do not matter
COLOURS = (BLUE, VERMILION, GREEN, PURPLE, ORANGE, SKY)
WORD_COLOURS = ("#00557F", "#9C4400", "#006B4E", "#8A3D69", "#7A5400", "#1B6489")   # 4.5 : 1 on white and on ZONE
MARKERS = ("o", "D", "^", "s", "v", "P")
DASHES = ("-", (0, (5, 2)), (0, (1.5, 1.5)), (0, (6, 2, 1.5, 2)), (0, (3, 1)), (0, (8, 3)))

WIDTH_IN = 4.8            # a phone shows it at seven tenths, with letters of about 10 px
WORD_PT, SMALL_PT = 10.5, 9.5

_SETTINGS: dict[Any, Any] = sns.axes_style("ticks") | {
    "font.family": "sans-serif", "font.sans-serif": ["DejaVu Sans"], "font.size": WORD_PT,
    "axes.labelsize": WORD_PT, "axes.titlesize": WORD_PT, "axes.titleweight": "bold", "axes.titlelocation": "left",
    "xtick.labelsize": SMALL_PT, "ytick.labelsize": SMALL_PT, "legend.fontsize": SMALL_PT, "legend.frameon": False,
    "text.color": INK, "axes.labelcolor": INK, "axes.edgecolor": QUIET, "xtick.color": QUIET, "ytick.color": QUIET,
    "xtick.labelcolor": INK, "ytick.labelcolor": INK, "grid.color": LINE, "grid.linewidth": 0.8,
    "axes.linewidth": 0.8, "lines.linewidth": 1.8, "lines.markersize": 6.5, "patch.force_edgecolor": False,
    "figure.facecolor": "none", "axes.facecolor": "none",
    "svg.fonttype": "none", "text.parse_math": False,
}


def house_style() -> ContextDecorator:
    """Return what every function that draws is decorated with: settings hold inside it and nowhere else."""
    return cast(ContextDecorator, matplotlib.rc_context(_SETTINGS))


@dataclass(frozen=True, slots=True)
class Look:
    """How one level (a formula, a tin, an assessor) is drawn in every picture; no meaning hangs on colour alone."""

    colour: str
    word_colour: str
    marker: str
    filled: bool
    dash: Any

    @property
    def face(self) -> str:
        """The colour inside a mark."""
        return self.colour if self.filled else "white"

    def dots(self, size: float = 6.5) -> dict[str, Any]:
        """Return the settings for marks without a line, as ``axes.plot`` takes them."""
        return {"linestyle": "none", "marker": self.marker, "markersize": size, "color": self.colour,
                "markerfacecolor": self.face, "markeredgecolor": self.colour,
                "markeredgewidth": 1.5}

    def line(self) -> dict[str, Any]:
        """Return the settings for a line without marks."""
        return {"color": self.colour, "linestyle": self.dash, "marker": "none"}


def looks(levels: Iterable[Hashable]) -> dict[Hashable, Look]:
    """Return level → its look, by its place in the order: the control first, then as the card lists them.

    Shapes and fills run on where the six colours start again.
    """
    found: dict[Hashable, Look] = {}
    for level in levels:
        i = len(found)
        turn = i // len(COLOURS)
        found.setdefault(level, Look(
            colour=COLOURS[i % len(COLOURS)], word_colour=WORD_COLOURS[i % len(COLOURS)],
            marker=MARKERS[(i + turn) % len(MARKERS)], filled=i % 2 == 0, dash=DASHES[i % len(DASHES)],
        ))
    return found


def new_figure(height: float = 3.2, width: float = WIDTH_IN, rows: int = 1, columns: int = 1,
               **share: Any) -> tuple[Figure, Any]:
    """Return a figure (inches) and its axes: one Axes, or an array (rows, columns) of them when there are more.

    ``share`` goes to ``Figure.subplots`` (sharex, sharey, width_ratios …). Everything is kept inside the picture.
    """
    figure = Figure(figsize=(width, height), layout="constrained")
    several = rows * columns > 1
    axes = figure.subplots(rows, columns, squeeze=not several, **share)
    sns.despine(figure)
    return figure, axes


def scatter(axes: Axes, table: pd.DataFrame, x: str, y: str, by: str, look: Mapping[Any, Look],
            size: float = 5.5, alpha: float = 0.85) -> None:
    """Draw every row of a table with all three values as a dot, in the look of its level in the column ``by``."""
    table = table.dropna(subset=[x, y, by])
    if table.empty:
        return
    sns.scatterplot(table, x=x, y=y, hue=by, style=by, ax=axes, legend=False, s=size**2, linewidth=1.5, alpha=alpha,
                    palette={level: own.face for level, own in look.items()},
                    markers={level: own.marker for level, own in look.items()},
                    edgecolor=[look[level].colour for level in table[by]], zorder=2)
    axes.set(xlabel="", ylabel="")


def value_axis(axes: Axes, which: str, words: str, style: NumberStyle = ENGLISH, grid: bool = True) -> None:
    """Give an axis of numbers (``which`` is "x" or "y") its words, its grid and the reader's decimal mark."""
    axis = axes.xaxis if which == "x" else axes.yaxis
    axis.set_label_text(wrapped(words, 44))
    axis.set_major_formatter(_ReaderNumbers(style))
    if grid:
        axis.grid(True)


class _ReaderNumbers(Formatter):
    """Writes the numbers of one axis with the reader's decimal mark, all with as many decimals as one needs."""

    def __init__(self, style: NumberStyle) -> None:
        self.style = style

    def __call__(self, value: float, pos: int | None = None) -> str:
        return number(value, None, self.style)

    def format_ticks(self, values: Sequence[float]) -> list[str]:
        places = max((len(f"{value:.6f}".rstrip("0").partition(".")[2]) for value in values), default=0)
        return [number(value, places, self.style) for value in values]


def row_axis(axes: Axes, names: Iterable[str]) -> None:
    """Turn the y axis into one row a name, the first on top, without ticks; row i lies at y = i."""
    names = [wrapped(name) for name in names]
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(len(names) - 0.5, -0.5)
    axes.tick_params(axis="y", length=0)
    sns.despine(ax=axes, left=True)


def wrapped(name: str, width: int = 18, lines: int = 2) -> str:
    """Return a name broken into short lines, cut with … where it is longer than these."""
    pieces = wrap(name, width)
    if len(pieces) > lines:
        pieces[lines - 1] = pieces[lines - 1][: width - 2].rstrip() + " …"
    return "\n".join(pieces[:lines])


def zone(axes: Axes, low: float, high: float, words: str = "", along: str = "x") -> None:
    """Shade the differences that do not matter, from low to high along an axis, with words in its upper end."""
    span = axes.axvspan if along == "x" else axes.axhspan
    span(low, high, facecolor=ZONE, edgecolor="#B9A98F", linewidth=0.8, linestyle=(0, (4, 2)), zorder=0)
    if words and along == "x":
        axes.annotate(words, ((low + high) / 2, 1), xycoords=("data", "axes fraction"), xytext=(0, 3),
                      textcoords="offset points", ha="center", va="bottom", fontsize=SMALL_PT, color=QUIET)
    elif words:
        axes.annotate(words, (1, high), xycoords=("axes fraction", "data"), xytext=(-2, -2),
                      textcoords="offset points", ha="right", va="top", fontsize=SMALL_PT, color=QUIET)


def interval(axes: Axes, low: float, high: float, middle: float, row: float, look: Look) -> None:
    """Draw an interval as a bar with end strokes in one row, its middle as a large mark."""
    axes.plot([low, high], [row, row], color=look.colour, linewidth=3, solid_capstyle="butt", zorder=4)
    axes.plot([low, high], [row, row], linestyle="none", marker="|", markersize=12, markeredgewidth=1.8,
              color=look.colour, zorder=4)
    axes.plot([middle], [row], zorder=5, **look.dots(10))


def label_beside(axes: Axes, x: float, y: float, words: str, look: Look | None = None, side: str = "right",
                 gap: float = 7) -> None:
    """Write words directly beside a mark, in place of a legend; ``side`` is right, left, above or below."""
    dx, dy, ha, va = {"right": (gap, 0, "left", "center"), "left": (-gap, 0, "right", "center"),
                      "above": (0, gap, "center", "bottom"), "below": (0, -gap, "center", "top")}[side]
    axes.annotate(wrapped(words, lines=3), (x, y), xytext=(dx, dy), textcoords="offset points", ha=ha, va=va,
                  fontsize=SMALL_PT, color=look.word_colour if look else INK, annotation_clip=False)


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawn figure and the sentence, made from its numbers, that says what it shows."""

    figure: Figure
    alt: str

    def svg(self) -> str:
        """Return the picture as an SVG element, the same text each time."""
        return to_svg(self.figure, self.alt)


# What matplotlib writes that a page does not want: the prolog, a style for the whole page, ids that repeat.
_PROLOG = re.compile(r"^.*?(?=<svg )", re.DOTALL)
_METADATA = re.compile(r"\s*<metadata>.*?</metadata>", re.DOTALL)
_PAGE_STYLE = re.compile(r"\s*<defs>\s*<style type=\"text/css\">.*?</style>\s*</defs>", re.DOTALL)
_GROUP_ID = re.compile(r"<g id=\"[^\"]*\"")


def to_svg(figure: Figure, alt: str) -> str:
    """Return the figure as one ``<svg>`` element with text as text, an accessible name and no date.

    The same figure and sentence give the same bytes. Ids are made from ``alt``, so that pictures on one page do not
    share them. Characters that XML does not allow are left out.
    """
    page = io.StringIO()
    bare = {"Date": None, "Creator": None, "Format": None, "Type": None}
    with matplotlib.rc_context(_SETTINGS | {"svg.hashsalt": alt}), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        warnings.filterwarnings("ignore", message="constrained_layout not applied")
        FigureCanvasSVG(figure).print_svg(page, metadata=bare)
    figure.set_layout_engine("none")     # laid out once: a second drawing would move everything by a hair
    svg = page.getvalue()
    for unwanted in (_PROLOG, _METADATA, _PAGE_STYLE):
        svg = unwanted.sub("", svg)
    svg = readable(_GROUP_ID.sub("<g", svg))
    name = f'<svg role="img" aria-label="{escape(readable(alt))}" stroke-linejoin="round" '
    return svg.replace("<svg ", name, 1).strip()


