"""The measures that are worked out for every loaf, and what is said where somebody had typed one
in.
"""

from __future__ import annotations

import pandas as pd

from ..card import TrialCard
from ..columns import BY_NAME, DERIVED, MEASURES
from ..findings import Finding, NotedTable
from ..formula import flour_share
from ..words.lists import on_lines
from . import measures

# relative difference between a typed and a calculated measure that rounding does not explain
MATERIAL = 0.005


def with_derived(loaves: pd.DataFrame, card: TrialCard, file: str) -> NotedTable:
    """Return the loaves with their measures, and say where a measure that was typed in is another
    one.

    A measure that cannot be worked out from the other columns is taken as it was typed in.
    """
    typed = [column.name for column in DERIVED if column.name in loaves]
    table = with_measures(loaves.drop(columns=typed) if typed else loaves, card)
    told, findings = [], []
    for name in typed:
        if name not in table:
            table[name] = loaves[name]
            told.append(
                f"{file}: {BY_NAME[name].label.lower()} is taken as written; it cannot be worked"
                " out here."
            )
        elif finding := _disagreement(table, loaves[name], name, file):
            findings.append(finding)
    return NotedTable(frame=table, assumptions=tuple(told), findings=tuple(findings))


def _disagreement(table: pd.DataFrame, typed: pd.Series, name: str, file: str) -> Finding | None:
    rows = table.index[(typed - table[name]).abs() > MATERIAL * table[name].abs()]
    if rows.empty:
        return None
    column, first = BY_NAME[name], rows[0]
    lines = tuple(int(line) for line in table.loc[rows, "line"])
    return Finding(
        code="measure-differs",
        severity="warning",
        rows=lines,
        file=file,
        column=name,
        message=(
            f"{column.label} is not what the other columns give on {on_lines(lines)}:"
            f" {typed[first]:g} is written on line {lines[0]}, not {table[name][first]:.4g}"
            f" {column.unit}."
        ),
        why=f"The calculated one is used: {column.meaning}.",
        fix="Correct the value that is wrong, or delete the column.",
    )


def with_measures(loaves: pd.DataFrame, card: TrialCard) -> pd.DataFrame:
    """Return the loaves with every measure that their columns allow."""
    table = loaves.copy()
    if {"box_ml", "seed_ml"} <= set(table.columns):
        worked_out = measures.volume_by_displacement(table["box_ml"], table["seed_ml"])
        table["loaf_ml"] = table["loaf_ml"].fillna(worked_out) if "loaf_ml" in table else worked_out
    shares = {}
    if "formula" in table and card.formulas:
        flour = {name: flour_share(parts) for name, parts in card.formulas.items()}
        shares["flour_share"] = table["formula"].map(flour)
    for name, measure in MEASURES.items():
        parts = measure.made_from
        if parts and all(part in table or part in shares for part in parts):
            of = [shares[part] if part in shares else table[part] for part in parts]
            table[name] = getattr(measures, name)(*of)
    return table
