"""The loaves in the order of baking, with the line of their drift."""

from __future__ import annotations

from collections.abc import Iterable

from ...trials.words.numbers import NumberStyle
from ..factors.baking_order import BakingOrder
from ..wording.report import drift_sentence
from .style import (
    INK,
    QUIET,
    Picture,
    house_style,
    legend_in,
    level_legend,
    looks,
    new_figure,
    scatter,
    value_axis,
)


@house_style()
def loaves_in_order(
    order: BakingOrder, words: str, unit: str, style: NumberStyle, formulas: Iterable[str] = ()
) -> Picture:
    """Draw every loaf against its place in the baking order: what factors and mixes leave over, and
    its drift.

    ``words`` and ``unit`` are those of the measure; ``formulas`` their order in the other pictures,
    for equal looks.
    """
    loaves = order.loaves
    there = dict.fromkeys(loaves["formula"])
    look = {name: own for name, own in looks([*formulas, *there]).items() if name in there}
    figure, axes = new_figure(height=2.4 + legend_in(look))
    axes.axhline(0, color=QUIET, linewidth=0.8)
    scatter(axes, loaves, "bake_order", "left_over", "formula", look)
    if len(look) > 1:
        level_legend(figure, look)
    first, last = loaves["bake_order"].min(), loaves["bake_order"].max()
    axes.plot([first, last], [order.line(first), order.line(last)], color=INK, linewidth=2)
    value_axis(axes, "x", "Place in the baking order", style, grid=False)
    axes.xaxis.get_major_locator().set_params(integer=True)
    value_axis(axes, "y", f"Left over ({unit})" if unit else "Left over", style)
    return Picture(figure, drift_sentence(order, words, unit, style))
