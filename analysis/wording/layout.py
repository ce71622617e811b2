"""How a trial was laid out, in sentences and as a small table of text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from ...trials.columns import GROUPINGS
from ...trials.words.lists import capital, listed
from ...trials.words.numbers import NumberStyle, level_words, levels_inside
from ..plain_data import records

if TYPE_CHECKING:
    from ..model.layout import Layout

UNITS = {grouping.name: (grouping.one, grouping.many) for grouping in GROUPINGS} | {
    "loaf": ("loaf", "loaves")
}
MOST_COMBINATIONS = 6  # named one by one


def layout_sentences(
    layout: Layout, labels: Mapping[str, str], style: NumberStyle
) -> tuple[str, ...]:
    """Return what was applied to what, what always changed together, what was never baked, what was
    assumed.

    labels : factor → what a person reads for it, in a sentence.
    """
    return (
        _applied(layout, labels),
        *tied_lines(layout, labels),
        *_empty(layout, labels, style),
        *_assumed(layout),
    )


def layout_rows(
    layout: Layout, labels: Mapping[str, str], style: NumberStyle
) -> tuple[tuple[str, str, str], ...]:
    """Return one row a factor: what was changed, its levels, and from what to what (with how many
    there were).
    """
    return tuple(
        (
            labels.get(row["factor"], row["factor"]),
            ", ".join(level_words(level, style) for level in row["levels"]),
            f"{unit_words(row['applied_to'])} ({layout.n(row['applied_to'])})",
        )
        for row in records(layout.factors)
    )


def layout_table_text(layout: Layout, labels: Mapping[str, str], style: NumberStyle) -> str:
    """Return the layout as a small table of text."""
    rows = [("changed", "levels", "from one … to the next"), *layout_rows(layout, labels, style)]
    widths = [max(len(row[i]) for row in rows) for i in range(2)]
    return "\n".join(f"{a:<{widths[0]}}  {b:<{widths[1]}}  {c}" for a, b, c in rows)


def unit_words(unit: str, n: int = 1) -> str:
    """Return what a day, oven load, mix or loaf is called, one or many."""
    one, many = UNITS.get(unit, (unit, f"{unit}s"))
    return one if n == 1 else many


def _count(layout: Layout, unit: str) -> str:
    n = layout.n(unit)
    return f"{n} {unit_words(unit, n)}"


def _applied(layout: Layout, labels: Mapping[str, str]) -> str:
    """Which factor was changed from what to what."""
    by_unit: dict[str, list[str]] = {}
    for row in records(layout.factors):
        by_unit.setdefault(row["applied_to"], []).append(labels.get(row["factor"], row["factor"]))
    said = [
        f"{listed(names)} from {unit_words(unit)} to {unit_words(unit)} ({_count(layout, unit)})"
        for unit, names in by_unit.items()
    ]
    blocks = [_count(layout, block) for block in layout.blocks if block not in by_unit]
    within = f"; compared within {listed(blocks)}" if blocks else ""
    return f"Changed: {listed(said)}{within}."


def tied_names(layout: Layout, labels: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Return the names of what always changed together, pair by pair, where a factor is one of
    the two.
    """
    names = {unit: f"the {unit_words(unit)}" for unit in UNITS} | dict(labels)
    changed = set(layout.factors["factor"])
    return tuple(
        (names.get(a, a), names.get(b, b)) for a, b in layout.tied if a in changed or b in changed
    )


def tied_lines(layout: Layout, labels: Mapping[str, str]) -> tuple[str, ...]:
    """Return a sentence for each such pair."""
    return tuple(
        f"{capital(a)} and {b} always changed together, so they cannot be told apart."
        for a, b in tied_names(layout, labels)
    )


def _empty(layout: Layout, labels: Mapping[str, str], style: NumberStyle) -> tuple[str, ...]:
    """Combinations that were never baked, by name where they are few."""
    said = []
    for (a, b), missing in layout.empty_combinations.items():
        names = [
            levels_inside([(one, "") for one in row], style)
            for row in missing.itertuples(index=False, name=None)
        ]
        if len(names) <= MOST_COMBINATIONS:
            said.append(f"Never baked: {listed(names)}.")
        else:
            said.append(
                f"{len(names)} combinations of {labels.get(a, a)} and {labels.get(b, b)} were never"
                " baked."
            )
    return tuple(said)


def _assumed(layout: Layout) -> tuple[str, ...]:
    said = []
    if layout.mix_assumed:
        said.append(
            "No mixes were recorded, so each loaf was taken as a mix of its own. If loaves shared a"
            " dough, the answer looks surer than it is."
        )
    if "mix" in layout.relabelled:
        said.append(
            "A mix's name came back on another day or for another formula, and was taken as another"
            " mix."
        )
    said += [
        f"{n} {'loaf has' if n == 1 else 'loaves have'} no {unit_words(unit)}."
        for unit, n in layout.missing_labels.items()
    ]
    return tuple(said)
