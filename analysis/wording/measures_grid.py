"""What a baker reads of several measures at once: factor by factor, what went up, down, better and
worse.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ...trials.words.lists import capital, listed
from ...trials.words.numbers import (
    NumberStyle,
    amount,
    level_inside,
    level_words,
    number,
    range_decimals,
)
from ..methods.ties import largest
from ..plain_data import records
from .differences import difference_unit
from .report import row_verdict_label
from .verdicts import likely

if TYPE_CHECKING:
    from ..factors.result import MeasuresGrid


def grid_sentences(g: MeasuresGrid, style: NumberStyle) -> tuple[str, ...]:
    """Return a sentence a factor, then what works together, what was not answered, the most wanted
    combination.
    """
    return (
        *(_factor_sentence(g, factor, style) for factor in g.factors),
        *_together(g),
        *_unanswered(g),
        *_most_wanted(g, style),
    )


def grid_text(g: MeasuresGrid, style: NumberStyle) -> str:
    """Return the grid as a small table of text: a row a factor, a column a measure, then the
    sentences.
    """
    shown = [name for name in g.measures if name not in g.not_answered]
    head = [
        "",
        *(
            f"{g.labels[name]}{f' ({difference_unit(g.units[name])})' if g.units[name] else ''}"
            for name in shown
        ),
    ]
    rows = [
        [row_words(g, factor, style), *(cell_words(g, factor, name, style) for name in shown)]
        for factor in g.factors
    ]
    widths = [max(len(row[i]) for row in [head, *rows]) for i in range(len(head))]
    lines = [
        "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in [head, *rows]
    ]
    return "\n".join([*lines, "", *grid_sentences(g, style)])


def row_words(g: MeasuresGrid, factor: str, style: NumberStyle) -> str:
    """Return a row's name: ``formula, house → malted``, the direction in which a measure goes up or
    down.
    """
    name = g.factor_labels.get(factor, factor)
    if factor not in g.ends:
        return name
    first, last = g.ends[factor]
    unit = g.factor_units.get(factor, "")
    ends = level_words(first, style), level_words(last, style, unit)
    return f"{name}, {' → '.join(ends)}"


def cell_words(g: MeasuresGrid, factor: str, measure: str, style: NumberStyle) -> str:
    """Return one cell: ``up 0.41, better (matters)``; a dash where nothing can be said."""
    rows = _cells(g, factor, measure)
    if not rows:
        return "–"
    row = rows[0]
    if math.isnan(row["ci_low"]):
        return "cannot be judged"
    size = number(row["size"], _places(row), style)
    if not row["ci_low"] > 0:
        return f"no effect shown ({_called(row)})"
    way = row["direction"] or " above ".join(
        level_words(row[end], style) for end in ("high_level", "low_level")
    )
    told = ", ".join(part for part in (f"{way} {size}", row["wanted"]) if part)
    return f"{told} ({_called(row)})"


def _called(row: Any) -> str:
    return row_verdict_label(row["verdict"], row["matters"])


def _cells(g: MeasuresGrid, factor: str, measure: str | None = None) -> list[dict[str, Any]]:
    own = g.grid[g.grid["factor"] == factor]
    own = own if measure is None else own[own["measure"] == measure]
    return records(own)


def _places(row: Mapping[str, Any]) -> int:
    return range_decimals(row["ci_low"], row["ci_high"], row["size"])


def _factor_sentence(g: MeasuresGrid, factor: str, style: NumberStyle) -> str:
    """``Formula: malted above house in specific volume by 0.41 mL/g (likely …); …; not shown for
    bake loss.``
    """
    rows = _cells(g, factor)
    shown = [_moved(g, factor, row, style) for row in rows if row["ci_low"] > 0]
    still = [_inside(g, row["measure"]) for row in rows if row["ci_low"] <= 0]
    unjudged = [_inside(g, row["measure"]) for row in rows if math.isnan(row["ci_low"])]
    said = [
        *shown,
        *([f"nothing shown for {listed(still, 'or')}"] if still else []),
        *([f"cannot be judged for {listed(unjudged, 'or')}"] if unjudged else []),
    ]
    name = capital(g.factor_labels.get(factor, factor))
    return f"{name}: {'; '.join(said)}." if said else f"{name}: nothing can be said."


def _moved(g: MeasuresGrid, factor: str, row: Mapping[str, Any], style: NumberStyle) -> str:
    measure, places = row["measure"], _places(row)
    unit = g.factor_units.get(factor, "")
    high, low = (level_inside(row[end], style, unit) for end in ("high_level", "low_level"))
    by = amount(row["size"], difference_unit(g.units[measure]), places, style)
    wanted = {"better": ", which is wanted", "worse": ", which is not wanted"}.get(
        row["wanted"], ""
    )
    return (
        f"{_inside(g, measure)} {high} above {low} by {by} "
        f"({likely(row['ci_low'], row['ci_high'], places, style)}){wanted}"
    )


def _together(g: MeasuresGrid) -> tuple[str, ...]:
    said = []
    for measure, term in zip(g.interactions["measure"], g.interactions["term"], strict=True):
        names = [g.factor_labels.get(part, part) for part in term.split(" × ")]
        said.append(f"{listed(names)} in {_inside(g, measure)}")
    return (f"Work together, so do not read them alone: {'; '.join(said)}.",) if said else ()


def _unanswered(g: MeasuresGrid) -> tuple[str, ...]:
    return tuple(
        f"{g.labels[name]} was not answered: {why}" for name, why in g.not_answered.items()
    )


def _most_wanted(g: MeasuresGrid, style: NumberStyle) -> tuple[str, ...]:
    """The combination of levels with the highest overall desirability."""
    if g.desirability is None or g.desirability["overall"].isna().all():
        return ()
    tied = [g.desirability.iloc[place].to_dict() for place in largest(g.desirability["overall"])]
    best = tied[0]["overall"]
    combinations = [
        ", ".join(
            level_words(one[name], style, g.factor_units.get(name, ""))
            for name in g.factors
            if name in one
        )
        for one in tied
    ]
    if best == 0:
        return (
            (
                "No combination meets all that the card wants: each is beyond what is acceptable in"
                " some measure."
            ),
        )
    return (
        (
            f"Nearest to all that the card wants: {' or '.join(combinations)}, with an overall"
            f" desirability of {number(best, 2, style)} (1 is all as wanted, 0 not acceptable;"
            " Derringer and Suich)."
        ),
    )


def _inside(g: MeasuresGrid, measure: str) -> str:
    """Return a measure's label inside a sentence."""
    return g.labels_inside[measure]
