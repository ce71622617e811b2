"""Tables of a comparison. Numbers stay whole here; the digits shown follow from their
uncertainty.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pandas as pd

from ...trials.columns import label, unit
from ...trials.printing.document import Cell, Column, Rounded, Table
from ...trials.words.numbers import NumberStyle, level_words, typed_places
from ..comparison.result import Comparison, Difference
from ..wording.codes import left_out_words
from ..wording.comparison import undone_by
from ..wording.differences import difference_unit
from ..wording.report import undone_label, verdict_label
from ..wording.tables import CAPTIONS, condition_status, heading
from .frames import cell, places, shared_places, table_of


def means_table(c: Comparison) -> Table:
    """Return the formulas' means with their likely ranges and what they rest on."""
    digits = shared_places(c.means, "mean")
    return table_of(
        c.means,
        {
            "formula": ("", None),
            "mean": (c.unit, digits),
            "ci_low": (c.unit, digits),
            "ci_high": (c.unit, digits),
            "n_mixes": ("", 0),
            "n_loaves": ("", 0),
        },
        CAPTIONS["means"].format(c.label),
        "Means",
    )


def pairs_table(c: Comparison, exact: bool = False) -> Table:
    """Return every pair of formulas with its difference; ``exact`` adds standard error, df and
    p.
    """
    digits = shared_places(c.pairs)
    more = (
        {"standard_error": (c.unit, digits + 1), "df": ("", 1), "p_value": ("", 4)} if exact else {}
    )
    told = (c.pairs["formula"] == c.formula) & (c.pairs["against"] == c.against)
    rows = called(c.pairs, c)
    rows.loc[told, "verdict"] = _own_verdict(c)
    return table_of(
        rows,
        {
            "formula": ("", None),
            "against": ("", None),
            "difference": (c.unit, digits),
            "ci_low": (c.unit, digits),
            "ci_high": (c.unit, digits),
            **more,
            "verdict": ("", None),
        },
        CAPTIONS["pairs"].format(c.label),
        "Differences",
    )


def called(frame: pd.DataFrame, c: Comparison) -> pd.DataFrame:
    """Return a table with its verdicts as people read them."""
    return frame.assign(
        verdict=[verdict_label(one, c.matters is not None) for one in frame["verdict"]]
    )


def _own_verdict(c: Comparison | Difference) -> str:
    """Return how a comparison's own verdict is called, and what undoes it."""
    undone = undone_by(c) if isinstance(c, Comparison) else []
    return undone_label(verdict_label(c.verdict, c.matters is not None), undone)


def levels_table(c: Comparison, style: NumberStyle, exact: bool = False) -> Table:
    """Return the difference at each level of the other factors."""
    digits = shared_places(c.by_level)
    by = c.by_level
    levels = [
        level_words(level, style, unit(factor))
        for factor, level in zip(by["factor"], by["level"], strict=True)
    ]
    frame = by.assign(factor=[label(factor).lower() for factor in by["factor"]], level=levels)
    more = {"df": ("", 1), "interaction_p": ("", 4)} if exact else {}
    return table_of(
        called(frame, c),
        {
            "level": ("", None),
            "factor": ("", None),
            "difference": (c.unit, digits),
            "ci_low": (c.unit, digits),
            "ci_high": (c.unit, digits),
            "verdict": ("", None),
            **more,
        },
        CAPTIONS["levels"].format(c.formula, c.against),
        "By level",
    )


def measures_table(comparisons: Sequence[Comparison | Difference]) -> Table:
    """Return the difference in every measure, each with the digits that it supports."""
    rows = []
    for c in comparisons:
        own = places([c.difference, c.ci_low, c.ci_high], [(c.ci_high - c.ci_low) / 2])
        shown = [Rounded(x, own) for x in (c.difference, c.ci_low, c.ci_high)]
        matters = None if c.matters is None else Rounded(c.matters, typed_places(c.matters))
        called_so = _own_verdict(c)
        rows.append((c.label, difference_unit(c.unit), *shown, matters, called_so))
    heads = [
        ("label", False),
        ("unit", False),
        ("difference", True),
        ("ci_low", True),
        ("ci_high", True),
        ("matters", True),
        ("verdict", False),
    ]
    return Table(
        CAPTIONS["measures"].format(comparisons[0].formula, comparisons[0].against),
        tuple(Column(heading(name), is_number) for name, is_number in heads),
        tuple(rows),
        "Measures",
    )


def fair_table(c: Comparison, only_unlike: bool = False) -> Table:
    """Return the conditions of the trial: what was changed, kept the same, drifted, and the
    adjusted differences.

    ``only_unlike`` keeps those in which the formulas stood visibly apart.
    """
    frame = c.fairness.table[c.fairness.apart] if only_unlike else c.fairness.table
    columns = (
        Column(heading("condition")),
        Column(heading("status")),
        Column(c.formula),
        Column(c.against),
        *(
            Column(heading(name), True, c.unit)
            for name in ("adjusted_difference", "ci_low", "ci_high")
        ),
    )
    return Table(
        CAPTIONS["fair"], columns, tuple(_fair_row(row) for row in frame.itertuples()), "Fair test"
    )


def _fair_row(row: Any) -> tuple[Cell, ...]:
    name = f"{row.label} ({row.unit})" if row.unit else row.label
    adjusted = (row.adjusted_difference, row.adjusted_ci_low, row.adjusted_ci_high)
    digits = places(adjusted, [(row.adjusted_ci_high - row.adjusted_ci_low) / 2])
    return (
        name,
        condition_status(row.status, row.handled),
        _condition(row.formula_value),
        _condition(row.against_value),
        *(Rounded(x, digits) for x in adjusted),
    )


def _condition(value: object) -> Cell:
    known = cell(value)
    return Rounded(known, places([known], [])) if isinstance(known, float | int) else known


def steadiness_table(c: Comparison) -> Table:
    """Return the comparison without each mix and each day."""
    digits = shared_places(c.steadiness.table)
    return table_of(
        called(c.steadiness.table, c),
        {
            "left_out": ("", None),
            "kind": ("", None),
            "difference": (c.unit, digits),
            "ci_low": (c.unit, digits),
            "ci_high": (c.unit, digits),
            "verdict": ("", None),
            "changed": ("", None),
        },
        CAPTIONS["steadiness"],
        "Steadiness",
    )


def settle_table(c: Comparison) -> Table | None:
    """Return how many mixes a next trial needs, for several numbers of loaves a mix."""
    if c.settle is None:
        return None
    return table_of(
        c.settle.options,
        {
            "loaves_per_mix": ("", 0),
            "mixes_needed": ("", 0),
            "more_mixes": ("", 0),
            "loaves_in_all": ("", 0),
        },
        CAPTIONS["settle"],
        "Next trial",
    )


def left_out_table(c: Comparison) -> Table:
    """Return the loaves that the answer does not use."""
    frame = c.left_out.assign(reason=[left_out_words(x) for x in c.left_out["reason"]])
    return table_of(
        frame,
        {"loaf": ("", None), "line": ("", 0), "reason": ("", None)},
        CAPTIONS["left out"],
        "Left out",
    )
