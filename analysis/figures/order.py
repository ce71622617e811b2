"""The loaves in the order of baking, with the line of their drift."""

from __future__ import annotations

from ..baking_order import BakingOrder
from ..wording.numbers import ENGLISH, NumberStyle
from ..wording.report import drift_sentence
from .style import INK, QUIET, Picture, house_style, label_beside, looks, new_figure, scatter, value_axis


@house_style()
def loaves_in_order(order: BakingOrder, words: str, unit: str, style: NumberStyle = ENGLISH) -> Picture:
    """Draw every loaf against its place in the baking order: what factors and mixes leave over, and its drift.

    ``words`` and ``unit`` are those of the measure.
    """
    figure, axes = new_figure(height=2.5)
    loaves = order.loaves
    axes.axhline(0, color=QUIET, linewidth=0.8)
    look = looks(loaves["formula"])
    scatter(axes, loaves, "bake_order", "left_over", "formula", look)
    for formula in look:
        own = loaves[loaves["formula"] == formula]
        at = own["bake_order"].to_numpy().argmax()
        label_beside(axes, own["bake_order"].iloc[at], own["left_over"].iloc[at], str(formula), look[formula])
    first, last = loaves["bake_order"].min(), loaves["bake_order"].max()
    axes.plot([first, last], [order.line(first), order.line(last)], color=INK, linewidth=2)
    value_axis(axes, "x", "Place in the baking order", style, grid=False)
    value_axis(axes, "y", f"Left over ({unit})" if unit else "Left over", style)
    return Picture(figure, drift_sentence(order, words, unit, style))
