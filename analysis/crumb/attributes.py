"""Each attribute's formulas compared, judged and checked: all of them, without some assessors, and
the total.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from ...trials import Trial, TrialError
from ...trials.columns import CRUMB_PREFIX, label
from ...trials.fairness.pairing import Pairing
from ..asking.question import read_question
from ..asking.score_fit import SCORE, PanelFit
from ..asking.score_rows import TOTAL, loaf_scores
from ..comparison.formula_fit import FORMULA, FormulaFit, compared_factors, fit_asked
from ..comparison.pair_tests import judge_pairs
from ..methods.multiplicity import holm
from ..methods.ties import rounded
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.coding import DesignError
from ..result import DIFFERENCE
from .ordered import ordered_check
from .profile import total_parts

ROUNDING = 1e-9  # points; a smaller difference is none
CANNOT = (DesignError, NoVariation, NotIdentifiable)

ATTRIBUTES = [
    "attribute",
    "label",
    "formula",
    "against",
    *DIFFERENCE,
    "p_holm",
    "matters",
    "verdict",
    "way",
    "why",
    "n_mixes",
    "together_p",
    "ordered_p",
    "ordered_way",
    "ordered_why",
    "agrees",
]
WITHOUT = [*ATTRIBUTES[: ATTRIBUTES.index("verdict") + 1], "verdict_with"]
TOTAL_COLUMNS = [
    "formula",
    "against",
    "part",
    "weight",
    "difference",
    "contribution",
    "ci_low",
    "ci_high",
    "p_value",
    "matters",
    "verdict",
]


def fit_attribute(trial: Trial, attribute: str, pairing: Pairing, confidence: float) -> FormulaFit:
    """Return the fit of one attribute, or of the total, just as a comparison of that measure does.

    Raises TrialError (nothing to compare), or one of CANNOT.
    """
    asked = read_question(trial, f"{CRUMB_PREFIX}{attribute}", compared_factors(trial), confidence)
    fit = fit_asked(asked, asked.table)
    if FORMULA not in asked.factors or not _pairs_in(fit, pairing):
        raise DesignError("the formulas that are compared were not both scored")
    return fit


def _pairs_in(fit: FormulaFit, pairing: Pairing) -> list[tuple[str, str]]:
    """The pairs whose formulas were both scored."""
    return [pair for pair in pairing.pairs if set(pair) <= set(fit.n_mixes)]


def cells_of(rows: pd.DataFrame, name: str, fit: FormulaFit) -> pd.DataFrame:
    """Return the scores that a fit rests on, repeats by their mean: row, assessor, score, formula
    (a text).
    """
    own = (
        rows[rows["attribute"] == name]
        .groupby(["row", "assessor"], dropna=False, as_index=False)[SCORE]
        .mean()
    )
    return own.join(fit.loaves[FORMULA].astype(str), on="row", how="inner")


def attribute_table(
    trial: Trial,
    fits: Mapping[str, FormulaFit],
    cells: Mapping[str, pd.DataFrame],
    pairing: Pairing,
) -> pd.DataFrame:
    """Return every attribute's comparisons, judged, checked and sorted by how sure the difference
    is, then by its size.
    """
    alpha = 1 - next(iter(fits.values())).fit.confidence
    tables = []
    for name, fit in fits.items():
        table = _judged(trial, name, fit, pairing)
        pairs = list(zip(table[FORMULA], table["against"], strict=True))
        check = ordered_check(
            cells[name], sorted({formula for pair in pairs for formula in pair}), 1 - alpha
        )
        together = _together(fit, pairs) if table["p_value"].notna().any() else np.nan
        both_tell = np.isfinite(together) and np.isfinite(check.p_value)
        agrees = (together < alpha) == (check.p_value < alpha) if both_tell else None
        tables.append(
            table.assign(
                together_p=together,
                ordered_p=check.p_value,
                ordered_way=check.way,
                ordered_why=check.why,
                agrees=pd.Series([agrees] * len(table), dtype=object),
            )
        )
    table = pd.concat(tables, ignore_index=True)
    table["p_holm"] = holm(table["p_value"].to_numpy(float))
    table["surest"] = table.groupby("attribute")["p_value"].transform("min")
    table["closeness"] = -table["difference"].abs()
    order = ["surest", "p_value", "closeness"]
    return table.sort_values(order, kind="stable", key=rounded, ignore_index=True)[ATTRIBUTES]


def _together(fit: FormulaFit, pairs: Sequence[tuple[str, str]]) -> float:
    """The p-value that the formulas of these pairs do not differ at all."""
    return fit.fit.f_test(np.array([fit.row(*pair) for pair in pairs])).p_value


def _judged(trial: Trial, name: str, fit: FormulaFit, pairing: Pairing) -> pd.DataFrame:
    """One attribute's comparisons by the rule and the card's smallest difference that matters."""
    matters = trial.card.matters_for(f"{CRUMB_PREFIX}{name}")
    pairs = _pairs_in(fit, pairing)
    table = judge_pairs(fit, pairs, pairing.family, matters)
    table["difference"] = table["difference"].mask(table["difference"].abs() < ROUNDING, 0.0)
    return table.assign(
        attribute=name,
        label=_label(trial, name),
        matters=np.nan if matters is None else matters,
        n_mixes=[min(fit.n_mixes[formula] for formula in pair) for pair in pairs],
    )


def _label(trial: Trial, name: str) -> str:
    """What a person reads for an attribute: the card's words, or its name with a capital."""
    said = trial.card.measures.get(f"{CRUMB_PREFIX}{name}")
    if said and said.label:
        return said.label
    return label(f"{CRUMB_PREFIX}{name}").removeprefix("Crumb ").capitalize()


def without_people(
    trial: Trial,
    fits: Mapping[str, FormulaFit],
    pairing: Pairing,
    gone: Sequence[str],
    table: pd.DataFrame,
) -> pd.DataFrame:
    """Return the comparisons of `attribute_table` without these assessors; empty where nothing is
    left to judge.
    """
    tables = []
    for name, fit in fits.items() if gone else ():
        try:
            rest = _left(fit, gone)
            tables += [] if rest is None else [_judged(trial, name, rest, pairing)]
        except CANNOT:
            continue
    if not tables:
        return pd.DataFrame(columns=WITHOUT)
    found = pd.concat(tables, ignore_index=True)
    found["p_holm"] = holm(found["p_value"].to_numpy(float))
    whole = table[["attribute", FORMULA, "against", "verdict"]].rename(
        columns={"verdict": "verdict_with"}
    )
    return whole.merge(found, on=["attribute", FORMULA, "against"])[WITHOUT]


def _left(fitted: FormulaFit, gone: Sequence[str]) -> FormulaFit | None:
    """The same terms fitted to what the other assessors scored; None where there is none."""
    fit = fitted.fit
    if not isinstance(fit, PanelFit):
        return None
    rest = fit.panel.without(gone)
    if rest.scores.empty:
        return None
    loaves = fitted.loaves.assign(**{fit.measure: loaf_scores(rest.scores)}).dropna(
        subset=[fit.measure]
    )
    again = rest.fit(
        loaves, fit.measure, fitted.terms, numbers=fitted.numbers, confidence=fit.confidence
    )
    return replace(fitted, fit=again, loaves=loaves)


def total_table(
    trial: Trial, table: pd.DataFrame, pairing: Pairing, confidence: float
) -> pd.DataFrame:
    """Return the weighted total, judged as any attribute, with what its parts add to the
    difference.
    """
    weights = trial.card.scores.weights if trial.card.scores else {}
    if not weights or not set(weights) <= set(table["attribute"]):
        return pd.DataFrame(columns=TOTAL_COLUMNS)
    try:
        whole = _judged(trial, TOTAL, fit_attribute(trial, TOTAL, pairing, confidence), pairing)
    except (*CANNOT, TrialError):
        return pd.DataFrame(columns=TOTAL_COLUMNS)
    whole = whole.assign(part=TOTAL, weight=100.0, contribution=whole["difference"])
    return pd.concat([whole, total_parts(table, weights)], ignore_index=True)[TOTAL_COLUMNS]
