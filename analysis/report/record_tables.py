"""Tables of what was recorded: formulas, findings, and each loaf."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from ...trials import Finding, Trial
from ...trials.columns import label, unit
from ...trials.formula import bakers_percentages, hydration
from ...trials.printing.document import Cell, Column, Table
from ...trials.words.numbers import decimals, typed_places
from ..wording.tables import CAPTIONS, HYDRATION, SUM, heading, ingredient_words
from .frames import table_of


def formulas_table(formulas: Mapping[str, Mapping[str, float]]) -> Table:
    """Return the formulas side by side in baker's percentages, with their sum and the water for 100
    of flour.
    """
    shares = {name: bakers_percentages(parts) for name, parts in formulas.items()}
    ingredients = dict.fromkeys(part for parts in shares.values() for part in parts)
    rows: list[tuple[Cell, ...]] = [
        (ingredient_words(part), *(shares[name].get(part) for name in shares))
        for part in ingredients
    ]
    rows.append((SUM, *(sum(parts.values()) for parts in shares.values())))
    rows.append((HYDRATION, *(hydration(parts) for parts in formulas.values())))
    heads = (Column(heading("ingredient")), *(Column(name, True, "%", 1) for name in shares))
    return Table(CAPTIONS["formulas"], heads, tuple(rows), "Formulas")


def findings_table(findings: Sequence[Finding]) -> Table:
    """Return what the checks found, where, and what to do."""
    rows = tuple((f.severity, f.message, ", ".join(map(str, f.rows)), f.fix) for f in findings)
    columns = tuple(Column(heading(name)) for name in ("severity", "message", "rows", "fix"))
    return Table(CAPTIONS["findings"], columns, rows, "Findings")


def loaves_table(trial: Trial, measures: Sequence[str]) -> Table:
    """Return each loaf with its place in the layout, its measures, and why it was left out."""
    loaves = trial.loaves
    names = ["loaf", "day", "mix", "oven_load", *trial.factors, *measures, "void", "note"]
    kept = [name for name in dict.fromkeys(names) if name in loaves and loaves[name].notna().any()]
    columns = {name: (unit(name, trial.card), recorded_places(loaves[name])) for name in kept}
    table = table_of(loaves, columns, CAPTIONS["loaves"], "Each loaf")
    heads = tuple(
        Column(label(name, trial.card), column.is_number, column.unit, column.places)
        for name, column in zip(kept, table.columns, strict=True)
    )
    return Table(table.caption, heads, table.rows, table.sheet)


def recorded_places(values: pd.Series) -> int | None:
    """Return the decimals that a column was recorded with, three significant digits at most; None
    for texts.
    """
    if values.dtype.kind != "f":
        return None
    known = values.dropna().abs()
    return max(0, min(max(map(typed_places, known), default=0), decimals(0.0, float(known.max()))))
