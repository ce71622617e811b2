"""Tables of the factors: every effect, test, mean, pair and variance, and how the trial was laid
out.
"""

from __future__ import annotations

import pandas as pd

from ...trials.printing.document import Cell, Column, Rounded, Table
from ...trials.words.numbers import NumberStyle, level_words, typed_places
from ..factors.residuals import ResidualChecks
from ..factors.result import FactorEffects, MeasuresGrid
from ..wording.codes import adjustment_words, way_words, why_words
from ..wording.layout import layout_rows
from ..wording.measures_grid import cell_words, row_words
from ..wording.tables import CAPTIONS, heading
from .frames import places, shared_places, table_of


def term_words(f: FactorEffects, term: object) -> str:
    """Return a factor, or factors together, as a person reads them."""
    return " × ".join(
        f.factor_labels.get(part, part.replace("_", " ")) for part in str(term).split(" × ")
    )


def combined(levels: pd.Series, style: NumberStyle) -> pd.Series:
    """Return levels as cells: a number as a number, combinations as text: ``60 × open``."""
    return pd.Series([_level(x, style) for x in levels], index=levels.index, dtype=object)


def _level(level: object, style: NumberStyle) -> Cell:
    if isinstance(level, int | float) and not isinstance(level, bool):
        return Rounded(float(level), typed_places(float(f"{level:.6g}")))
    parts = level if isinstance(level, tuple) else (level,)
    return " × ".join(level_words(one, style) for one in parts)


def effects_table(f: FactorEffects, style: NumberStyle) -> Table:
    """Return the factors by the size of what they did."""
    digits = shared_places(f.effects, "size")
    frame = f.effects.assign(
        factor=[term_words(f, x) for x in f.effects["factor"]],
        low_level=combined(f.effects["low_level"], style),
        high_level=combined(f.effects["high_level"], style),
        adjustment=[adjustment_words(x) for x in f.effects["adjustment"]],
    )
    return table_of(
        frame,
        {
            "factor": ("", None),
            "low_level": ("", None),
            "high_level": ("", None),
            "size": (f.unit, digits),
            "ci_low": (f.unit, digits),
            "ci_high": (f.unit, digits),
            "p_value": ("", 4),
            "adjustment": ("", None),
        },
        CAPTIONS["effects"].format(f.label),
        "Factors",
    )


def tests_table(f: FactorEffects) -> Table:
    """Return every F test with its degrees of freedom and how it was judged."""
    frame = f.tests.assign(
        term=[term_words(f, x) for x in f.tests["term"]],
        applied_to=[str(x).replace("_", " ") for x in f.tests["applied_to"]],
        way=[way_words(x) for x in f.tests["way"]],
        why=[why_words(x) for x in f.tests["why"]],
    )
    return table_of(
        frame,
        {
            "term": ("", None),
            "num_df": ("", 0),
            "den_df": ("", 1),
            "f_value": ("", 2),
            "p_value": ("", 4),
            "p_holm": ("", 4),
            "applied_to": ("", None),
            "n_units": ("", 0),
            "way": ("", None),
            "why": ("", None),
        },
        CAPTIONS["tests"].format(f.label),
        "Tests",
    )


def factor_means_table(f: FactorEffects, style: NumberStyle) -> Table:
    """Return the marginal mean of every level and combination of levels."""
    digits = shared_places(f.means, "mean")
    frame = f.means.assign(
        term=[term_words(f, x) for x in f.means["term"]], level=combined(f.means["level"], style)
    )
    return table_of(
        frame,
        {
            "level": ("", None),
            "term": ("", None),
            "mean": (f.unit, digits),
            "standard_error": (f.unit, digits + 1),
            "df": ("", 1),
            "ci_low": (f.unit, digits),
            "ci_high": (f.unit, digits),
        },
        CAPTIONS["factor means"].format(f.label),
        "Factor means",
    )


def contrasts_table(f: FactorEffects, style: NumberStyle) -> Table:
    """Return every pair of levels."""
    digits = shared_places(f.contrasts)
    frame = f.contrasts.assign(
        term=[term_words(f, x) for x in f.contrasts["term"]],
        first=combined(f.contrasts["first"], style),
        second=combined(f.contrasts["second"], style),
        adjustment=[adjustment_words(x) for x in f.contrasts["adjustment"]],
    )
    return table_of(
        frame,
        {
            "first": ("", None),
            "second": ("", None),
            "term": ("", None),
            "difference": (f.unit, digits),
            "ci_low": (f.unit, digits),
            "ci_high": (f.unit, digits),
            "df": ("", 1),
            "p_value": ("", 4),
            "adjustment": ("", None),
        },
        CAPTIONS["contrasts"].format(f.label),
        "Pairs of levels",
    )


def variances_table(f: FactorEffects) -> Table:
    """Return where the scatter comes from."""
    frame = f.variances.assign(
        source=[term_words(f, x) for x in f.variances["source"]], share=100 * f.variances["share"]
    )
    return table_of(
        frame,
        {
            "source": ("", None),
            "kind": ("", None),
            "variance": (f"({f.unit})²" if f.unit else "", None),
            "share": ("%", 0),
        },
        CAPTIONS["variances"].format(f.label),
        "Variances",
    )


def layout_table(f: FactorEffects, style: NumberStyle) -> Table:
    """Return what each factor was applied to."""
    columns = tuple(Column(heading(name)) for name in ("factor", "levels", "applied_to"))
    return Table(
        CAPTIONS["layout"], columns, layout_rows(f.layout, f.factor_labels, style), "Layout"
    )


def units_table(f: FactorEffects) -> Table:
    """Return how many days, oven loads, mixes and loaves there were."""
    frame = f.layout.units.assign(
        grouping=[name.replace("_", " ") for name in f.layout.units["grouping"]],
        reason=[reason.replace("_", " ") for reason in f.layout.units["reason"]],
    )
    return table_of(
        frame,
        {"grouping": ("", None), "n": ("", 0), "role": ("", None), "reason": ("", None)},
        CAPTIONS["units"],
        "Units",
    )


def strange_table(checks: ResidualChecks, in_unit: str) -> Table:
    """Return the loaf and the mix that lie farthest off, and whether that is strange."""
    rows = tuple(
        (
            s.label,
            s.unit,
            Rounded(s.residual, places([s.residual], [])),
            s.standardised,
            s.n,
            s.p_value,
            "yes" if s.strange else "no",
        )
        for s in checks.strange
    )
    columns = (
        Column(heading("label_of_unit")),
        Column(heading("unit_of_trial")),
        Column(heading("residual"), True, in_unit),
        Column(heading("standardised"), True, "", 2),
        Column(heading("n"), True, "", 0),
        Column(heading("p_value"), True, "", 4),
        Column(heading("strange")),
    )
    return Table(CAPTIONS["residuals"], columns, rows, "Farthest off")


def grid_table(g: MeasuresGrid, style: NumberStyle) -> Table:
    """Return what each factor did to each measure: a row a factor, a column a measure."""
    shown = [name for name in g.measures if name not in g.not_answered]
    columns = (
        Column(heading("factor")),
        *(Column(g.labels[name], unit=g.units[name]) for name in shown),
    )
    rows = tuple(
        (row_words(g, factor, style), *(cell_words(g, factor, name, style) for name in shown))
        for factor in g.factors
    )
    return Table(CAPTIONS["grid"], columns, rows, "Factors by measures")
