"""What the scores say about the bread, attribute by attribute, and what they say about the scoring.

    result = crumb_scores(trial, "malted", against="house")
    result.attributes        # one row per attribute and comparison, the surest first
    result.assessors         # one row per assessor: how each scored beside the others

Read on in this order: `score_rows` (the scores as one table), `score_fit` (the model), `attributes`
(the comparisons), `ordered` (the check that takes scores as steps), `panel`, `assessors` and
`agreement` (the people), `profile` (volume, total, raw scores).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from ...trials import Finding, Trial, TrialError
from ...trials.fairness.pairing import Pairing, choose_pairs
from ..asking.score_fit import SCORE
from ..asking.score_rows import attribute_order, is_complete, score_rows
from ..comparison.formula_fit import FORMULA, FormulaFit, without_tied
from .attributes import (
    CANNOT,
    attribute_table,
    cells_of,
    fit_attribute,
    total_table,
    without_people,
)
from .panel import agreement_table, describe_panel
from .profile import raw_counts, volume_correlation
from .result import CrumbScores

MEANS = [
    "attribute",
    "formula",
    "mean",
    "standard_error",
    "df",
    "ci_low",
    "ci_high",
    "n_mixes",
    "n_loaves",
    "n_scores",
]


def score_crumb(
    trial: Trial,
    formula: str | None = None,
    against: str | None = None,
    attributes: Sequence[str] | None = None,
    confidence: float = 0.95,
) -> CrumbScores:
    """Return what the crumb scores of a trial show, and what they show about the people who gave
    them.

    Parameters
    ----------
    formula, against : compare this formula with that one; without them the two that there are,
        every formula with
        the card's control, or every pair where there is no control
    attributes : which attributes; all that were scored where not given

    Raises
    ------
    TrialError: no scores, an unknown formula or attribute, or no attribute that can be compared;
    says why.
    """
    pairing, tied = without_tied(trial, choose_pairs(trial, formula, against), None)
    rows = score_rows(trial, attributes)
    fits, findings = _fit_all(trial, attribute_order(trial, rows), pairing, confidence)
    cells = {name: cells_of(rows, name, fit) for name, fit in fits.items()}
    table = attribute_table(trial, fits, cells, pairing)
    people, missing = describe_panel(rows, _scale(trial, rows))
    formulas = tuple(dict.fromkeys(name for pair in pairing.pairs for name in reversed(pair)))
    order = list(dict.fromkeys(table["attribute"]))
    means = _gather(MEANS, {name: _means(fits[name], cells[name]) for name in order})
    means = means[means[FORMULA].isin(formulas)].reset_index(drop=True)
    used = rows[rows["attribute"].isin(order)]
    return CrumbScores(
        name=trial.name,
        formulas=formulas,
        confidence=confidence,
        choice=pairing.choice,
        adjustment=pairing.family,
        against=None if pairing.family == "all pairs" else pairing.pairs[0][1],
        scale=_scale(trial, rows),
        words=dict(trial.card.scores.words) if trial.card.scores else {},
        n_assessors=used["assessor"].nunique(),
        n_loaves=used["row"].nunique(),
        n_scores=len(used),
        n_mixes=max(fit.fit.n_mixes for fit in fits.values()),
        complete=is_complete(used),
        attributes=table,
        means=means,
        factors=_gather(
            ["attribute", "term", "num_df", "den_df", "f_value", "p_value"],
            {name: _factor_tests(fits[name]) for name in order},
        ),
        assessors=people.table,
        standing_apart=people.apart,
        smallest_shown=people.smallest,
        without=without_people(
            trial, fits, pairing, list(people.apart["assessor"].unique()), table
        ),
        agreement=agreement_table(used, order, confidence),
        profile=means.pivot(index="attribute", columns=FORMULA, values="mean").reindex(
            index=order, columns=list(formulas)
        ),
        volume_correlation=volume_correlation(trial, rows, order, confidence),
        total=total_table(trial, table, pairing, confidence),
        raw_counts=raw_counts(rows, trial.loaves[FORMULA], formulas, order),
        findings=(*tied, *findings, *missing),
    )


def _fit_all(
    trial: Trial, names: Sequence[str], pairing: Pairing, confidence: float
) -> tuple[dict[str, FormulaFit], list[Finding]]:
    """Fit every attribute that can be; say of the others why not. Raises TrialError when none
    can.
    """
    fits: dict[str, FormulaFit] = {}
    findings: list[Finding] = []
    for name in names:
        try:
            fits[name] = fit_attribute(trial, name, pairing, confidence)
        except TrialError as stop:
            findings += stop.findings
        except CANNOT as fault:
            findings.append(
                Finding(
                    code="attribute-not-compared",
                    severity="warning",
                    column=name,
                    message=f"{name} cannot be compared: {fault}.",
                    fix=(
                        "Score more loaves of each formula, or look whether one score was given"
                        " throughout."
                    ),
                )
            )
    if not fits:
        raise TrialError(list(dict.fromkeys(findings)))
    return fits, findings


def _means(fit: FormulaFit, cells: pd.DataFrame) -> pd.DataFrame:
    """The formulas' means, with the number of scores behind each."""
    means = fit.means()
    return means.assign(
        n_scores=means[FORMULA].map(cells[FORMULA].value_counts()).fillna(0).astype(int)
    )


def _factor_tests(fit: FormulaFit) -> pd.DataFrame:
    """An F test of every term."""
    design = fit.fit.design
    tests = [(term.name, fit.fit.f_test(design.term_hypothesis(term))) for term in design.terms]
    return pd.DataFrame(
        [(name, t.num_df, t.den_df, t.f_value, t.p_value) for name, t in tests],
        columns=["term", "num_df", "den_df", "f_value", "p_value"],
    )


def _scale(trial: Trial, rows: pd.DataFrame) -> tuple[float, float, float]:
    """Lowest score, highest score, step: the card's, or those that were used."""
    if trial.card.scores:
        return trial.card.scores.low, trial.card.scores.high, trial.card.scores.step
    whole = bool((rows[SCORE] % 1 == 0).all())
    return float(rows[SCORE].min()), float(rows[SCORE].max()), 1.0 if whole else 0.5


def _gather(columns: list[str], tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """One table, with the attribute before the columns of each."""
    return pd.concat(
        [table.assign(attribute=name) for name, table in tables.items()], ignore_index=True
    )[columns]
