"""A plan in pictures: which mix when, and the bake day along the clock."""

from __future__ import annotations

from string import ascii_uppercase
from typing import TYPE_CHECKING, Any

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.ticker import FuncFormatter, MultipleLocator

from ...trials.planning.timetable import hh_mm
from ...trials.words.numbers import NumberStyle, level_words
from ..wording.plans import layout_alt, mix_words, timetable_alt
from .names import short_names
from .style import (
    COLOURS,
    EDGE_COLOURS,
    INK,
    LINE,
    LINE_IN,
    QUIET,
    SMALL_PT,
    Look,
    Picture,
    house_style,
    legend_columns,
    looks,
    new_figure,
    row_axis,
)

if TYPE_CHECKING:
    from ...trials.planning.result import TrialPlan
    from ...trials.planning.timetable import Timetable

ROW_IN = 0.62
MOST_KINDS = len(ascii_uppercase)
BARS = ("weigh", "mix", "shape", "oven", "measure")


@house_style()
def plan_layout(plan: TrialPlan, *, style: NumberStyle) -> Picture:
    """Draw a row a day (and baker) and a box a mix in the order of mixing, with a letter for what
    it is made to.

    Marks under a letter are its loaves in the order of baking, by the first factor that differs
    inside mixes.
    """
    factors = [name for name in plan.made_per if name in plan.mixes]
    inside = [name for name in plan.made_per if name not in plan.mixes]
    words = {
        row["mix"]: mix_words(row, factors, plan.card, style)
        for row in plan.mixes.to_dict("records")
    }
    kinds = sorted(set(words.values()) - {""})
    named = {
        kind: ascii_uppercase[i] if len(kinds) <= MOST_KINDS else str(i + 1)
        for i, kind in enumerate(kinds)
    }
    look = looks(kinds or [""])
    keys = ["day", "baker"] if "baker" in plan.mixes else ["day"]
    rows = list(plan.mixes.groupby(keys, sort=False))
    marks = looks(plan.card.factors[inside[0]]) if inside else {}
    key = [
        *(f"{letter} = {kind}" for kind, letter in named.items()),
        *(level_words(level, style) for level in marks),
    ]
    columns = legend_columns(key)
    figure, axes = new_figure(
        height=0.5 + ROW_IN * len(rows) + LINE_IN * (-(-len(key) // columns) + 1)
    )
    for i, (_, mixes) in enumerate(rows):
        for row in mixes.to_dict("records"):
            kind = words[row["mix"]]
            loaves = plan.loaves[plan.loaves["mix"] == row["mix"]].sort_values("bake_order")
            levels = list(loaves[inside[0]]) if inside else [None] * len(loaves)
            _draw_mix(
                axes,
                row["mix_order"] - 1,
                i,
                named.get(kind, ""),
                look[kind],
                [marks.get(v) for v in levels],
            )
    row_axis(
        axes,
        [
            ", ".join(f"{name} {value}" for name, value in zip(keys, at, strict=True))
            for at, _ in rows
        ],
    )
    axes.set_xlim(-0.05, int(plan.mixes["mix_order"].max()))
    axes.set_xticks([])
    axes.set_xlabel("order of mixing →")
    axes.spines["bottom"].set_visible(False)
    handles = [Line2D([], [], linestyle="none") for _ in named]
    handles += [Line2D([], [], **own.dots(5)) for own in marks.values()]
    if key:
        figure.legend(
            handles,
            short_names(key, 56, 1),
            loc="outside upper center",
            ncols=columns,
            handletextpad=0.3,
            labelspacing=0.3,
        )
    return Picture(figure, layout_alt(plan, style))


def _draw_mix(
    axes: Axes, x: float, y: float, letter: str, look: Look, loaves: list[Look | None]
) -> None:
    """One mix: its letter in a box, and its loaves as marks below."""
    axes.add_patch(
        Rectangle(
            (x + 0.03, y - 0.4),
            0.94,
            0.8,
            facecolor="white",
            edgecolor=look.colour,
            linewidth=1.6,
            linestyle=look.dash,
        )
    )
    axes.text(
        x + 0.5,
        y - 0.14,
        letter,
        ha="center",
        va="center",
        fontsize=SMALL_PT,
        fontweight="bold",
        color=look.word_colour,
    )
    for i, mark in enumerate(loaves):
        at = x + 0.1 + 0.8 * (i + 0.5) / len(loaves)
        style: dict[str, Any] = (
            mark.dots(4)
            if mark
            else {"linestyle": "none", "marker": "o", "markersize": 3.5, "color": QUIET}
        )
        axes.plot([at], [y + 0.2], **style)


@house_style()
def plan_timetable(timetable: Timetable, day: str) -> Picture | None:
    """Draw one bake day along the clock, a row a mix; None where there is no timetable."""
    own = timetable.steps[timetable.steps["day"] == day]
    if own.empty:
        return None
    bars = _bars(own)
    rows = sorted({row for row, *_ in bars}, key=_in_order)
    figure, axes = new_figure(height=0.9 + 0.36 * len(rows))
    style = {name: (COLOURS[i], EDGE_COLOURS[i]) for i, name in enumerate(BARS)}
    for row, kind, begins, ends in bars:
        fill, edge = style[kind]
        filled = BARS.index(kind) % 2 == 0
        axes.add_patch(
            Rectangle(
                (begins, rows.index(row) - 0.3),
                ends - begins,
                0.6,
                edgecolor=edge,
                linewidth=1.4,
                facecolor=fill if filled else "white",
                zorder=3,
            )
        )
    for i, name in enumerate(rows):
        of = [(begins, ends) for row, _, begins, ends in bars if row == name]
        axes.plot(
            [min(b for b, _ in of), max(e for _, e in of)],
            [i, i],
            color=LINE,
            linewidth=2,
            zorder=1,
        )
    row_axis(axes, rows)
    axes.set_xlim(min(b for *_, b, _ in bars) - 3, max(e for *_, e in bars) + 3)
    axes.xaxis.set_major_locator(MultipleLocator(60))
    axes.xaxis.set_major_formatter(FuncFormatter(lambda minutes, _: hh_mm(int(minutes))))
    axes.grid(True, axis="x")
    shown = [kind for kind in BARS if any(kind == bar for _, bar, *_ in bars)]
    handles = [
        Rectangle(
            (0, 0),
            1,
            1,
            edgecolor=style[kind][1],
            linewidth=1.4,
            facecolor=style[kind][0] if BARS.index(kind) % 2 == 0 else "white",
        )
        for kind in shown
    ]
    figure.legend(
        handles,
        shown,
        loc="outside upper center",
        ncols=len(shown),
        handlelength=1.2,
        columnspacing=1.2,
        labelcolor=INK,
    )
    return Picture(figure, timetable_alt(timetable, day))


def plan_pictures(plan: TrialPlan, timetable: Timetable, style: NumberStyle) -> dict[str, bytes]:
    """Return the pictures of a plan as files: name → SVG."""
    first = str(plan.loaves["day"].iloc[0])
    drawn = {
        "plan_layout.svg": plan_layout(plan, style=style),
        "plan_timetable.svg": plan_timetable(timetable, first),
    }
    return {
        name: picture.svg().encode("utf-8")
        for name, picture in drawn.items()
        if picture is not None
    }


def _bars(steps: pd.DataFrame) -> list[tuple[str, str, int, int]]:
    """Return (row, kind of step, begins, ends) in minutes: each mix's steps, its time in the oven,
    and measuring.
    """
    of_loaf: dict[str, str] = {}
    bars: list[tuple[str, str, int, int]] = []
    entered: dict[str, int] = {}
    for row in steps.to_dict("records"):
        begins, ends = _minutes(row["begins"]), _minutes(row["ends"])
        codes = row["loaves"] or ()
        if row["step"] in ("weigh", "mix", "shape"):
            of_loaf |= dict.fromkeys(codes, f"mix {row['mix']}")
            bars.append((f"mix {row['mix']}", row["step"], begins, ends))
        elif row["step"] == "in":
            entered |= dict.fromkeys(codes, begins)
        elif row["step"] == "out":
            stays = {(of_loaf[code], entered[code]) for code in codes}
            bars += [(mix, "oven", since, ends) for mix, since in sorted(stays)]
        else:
            bars.append(("all loaves", "measure", begins, ends))
    return bars


def _in_order(row: str) -> tuple[bool, int]:
    """Mixes by their number, what is done with all loaves last."""
    number = row.removeprefix("mix ")
    return not number.isdigit(), int(number) if number.isdigit() else 0


def _minutes(clock: str) -> int:
    hours, minutes = clock.split(":")
    return 60 * int(hours) + int(minutes)
