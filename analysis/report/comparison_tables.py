"""Tables of a comparison. Numbers stay whole here; the digits shown follow from their uncertainty."""

from __future__ import annotations

from collections.abc import Sequence

from ...trials.columns import label
from ..comparison import Comparison
from ..wording.tables import CAPTIONS, condition_status, heading
from .document import Column, Rounded, Table, places_for
from .frames import cell, level_words, table_of


def means_table(c: Comparison) -> Table:
    """Return the formulas' means with their likely ranges and what they rest on."""
    places = places_for(list(c.means["mean"]), list(c.means["standard_error"]))
    return table_of(c.means, {
        "formula": ("", None), "mean": (c.unit, places), "ci_low": (c.unit, places), "ci_high": (c.unit, places),
        "n_mixes": ("", 0), "n_loaves": ("", 0),
    }, CAPTIONS["means"].format(c.label), "Means")


def pairs_table(c: Comparison, exact: bool = False) -> Table:
    """Return every pair of formulas with its difference; ``exact`` adds standard error, df and p."""
    places = places_for(list(c.pairs["difference"]), list(c.pairs["standard_error"]))
    more = {"standard_error": (c.unit, places + 1), "df": ("", 1), "p_value": ("", 4)} if exact else {}
    return table_of(c.pairs, {
        "formula": ("", None), "against": ("", None), "difference": (c.unit, places), "ci_low": (c.unit, places),
        "ci_high": (c.unit, places), **more, "verdict": ("", None),
    }, CAPTIONS["pairs"].format(c.label), "Differences")


def levels_table(c: Comparison, exact: bool = False) -> Table:
    """Return the difference at each level of the other factors."""
    places = places_for(list(c.by_level["difference"]), list(c.by_level["standard_error"]))
    frame = c.by_level.assign(factor=[label(f).lower() for f in c.by_level["factor"]],
                              level=[level_words(v) for v in c.by_level["level"]])
    more = {"df": ("", 1), "interaction_p": ("", 4)} if exact else {}
    return table_of(frame, {
        "level": ("", None), "factor": ("", None), "difference": (c.unit, places), "ci_low": (c.unit, places),
        "ci_high": (c.unit, places), "verdict": ("", None), **more,
    }, CAPTIONS["levels"].format(c.formula, c.against), "By level")


def measures_table(comparisons: Sequence[Comparison]) -> Table:
    """Return the difference in every measure, each with the digits that it supports."""
    rows = []
    for c in comparisons:
        places = places_for([c.difference], [c.standard_error])
        shown = [Rounded(x, places) for x in (c.difference, c.ci_low, c.ci_high)]
        matters = Rounded(c.matters, places) if c.matters is not None else None
        rows.append((c.label, c.unit, *shown, matters, c.verdict))
    heads = [("label", False), ("unit", False), ("difference", True), ("ci_low", True), ("ci_high", True),
             ("matters", True), ("verdict", False)]
    return Table(CAPTIONS["measures"].format(comparisons[0].formula, comparisons[0].against),
                 tuple(Column(heading(name), is_number) for name, is_number in heads), tuple(rows), "Measures")


def fair_table(c: Comparison, only_drifted: bool = False) -> Table:
    """Return the conditions of the trial: what was changed, what was kept the same, what drifted."""
    rows = []
    frame = c.fairness.table
    for row in frame[frame["status"] == "drifted"].itertuples() if only_drifted else frame.itertuples():
        places = places_for([row.adjusted_difference], [(row.adjusted_ci_high - row.adjusted_ci_low) / 4])
        name = f"{row.label} ({row.unit})" if row.unit else row.label
        adjusted = (row.adjusted_difference, row.adjusted_ci_low, row.adjusted_ci_high)
        rows.append((name, condition_status(row.status, row.handled), cell(row.formula_value),
                     cell(row.against_value), *(Rounded(x, places) for x in adjusted)))
    heads = [("condition", False, ""), ("status", False, ""), (c.formula, True, ""), (c.against, True, ""),
             ("adjusted_difference", True, c.unit), ("ci_low", True, c.unit), ("ci_high", True, c.unit)]
    columns = tuple(Column(heading(name), number, of) for name, number, of in heads)
    return Table(CAPTIONS["fair"], columns, tuple(rows), "Fair test")


def steadiness_table(c: Comparison) -> Table:
    """Return the comparison without each mix and each day."""
    frame = c.steadiness.table
    places = places_for(list(frame["difference"]), list((frame["ci_high"] - frame["ci_low"]) / 4))
    return table_of(frame, {
        "left_out": ("", None), "kind": ("", None), "difference": (c.unit, places), "ci_low": (c.unit, places),
        "ci_high": (c.unit, places), "verdict": ("", None), "changed": ("", None),
    }, CAPTIONS["steadiness"], "Steadiness")


def settle_table(c: Comparison) -> Table | None:
    """Return how many mixes a next trial needs, for several numbers of loaves a mix."""
    if c.settle is None:
        return None
    return table_of(c.settle.options, {
        "loaves_per_mix": ("", 0), "mixes_needed": ("", 0), "more_mixes": ("", 0), "loaves_in_all": ("", 0),
    }, CAPTIONS["settle"], "Next trial")


def left_out_table(c: Comparison) -> Table:
    """Return the loaves that the answer does not use."""
    return table_of(c.left_out, {"loaf": ("", None), "line": ("", 0), "reason": ("", None)}, CAPTIONS["left out"],
                    "Left out")
