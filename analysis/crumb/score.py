"""What the scores say about the bread, attribute by attribute, and what they say about the scoring.

    result = crumb_scores(trial, "malted", against="house")
    result.attributes        # one row per attribute and comparison, the surest first
    result.assessors         # one row per assessor: severity, spread, agreement, repeatability

Read on in this order: `score_rows` (the scores as one table), `score_fit` (the model), `attributes` (the comparisons),
`ordered` (the check that takes scores as steps), `panel`, `assessors` and `agreement` (the people), `profile` (volume,
total, raw scores).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from ...trials import Finding, Trial, TrialError
from ...trials.fairness.pairing import Pairing, choose_pairs
from ..asking.score_fit import SCORE, Models
from ..asking.score_rows import attribute_order, is_complete, score_rows
from ..comparison.formula_fit import FORMULA, FormulaFit, refuse_what_is_tied
from ..plain_data import plain
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
from .standing_apart import Smallest

MEANS = ["attribute", "formula", "mean", "standard_error", "df", "ci_low", "ci_high", "n_mixes", "n_loaves",
         "n_scores"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CrumbScores:
    """Scores of one trial, in points of the card's scale; NaN where something could not be worked out.

    Attributes
    ----------
    name : the trial's name
    formulas : the formulas compared, in the order of the pictures
    against : the formula that the others are held against; None when every pair is compared
    choice : what was chosen for the reader (see `trials.pairing`)
    adjustment : "one pair", "all against one" (Dunnett) or "all pairs" (Tukey), inside each attribute
    confidence : of every interval, 0.95 for 95 %
    scale : lowest score, highest score, step; of the card, or of the scores where the card is silent
    words : attribute → step of the scale (text) → what it means, from the card
    n_assessors, n_loaves, n_mixes, n_scores : what the answer rests on (scores without assessors: n_assessors 0)
    complete : True when every assessor scored every loaf in every attribute
    attributes : one row per attribute and comparison, surest first: attribute, label, formula, against, difference
        (formula less against), standard_error, df, ci_low, ci_high, p_value, p_holm (Holm over all rows), matters
        (NaN where nobody said), verdict, way and why (see `judging`), n_mixes (the fewer of the two formulas'),
        together_p (F test of the attribute's formulas together), ordered_p (the same question put to the scores as
        ordered steps), ordered_way and ordered_why (see `ordered.py`), agrees (whether these two agree on whether
        the formulas differ at 1 − confidence; None where one of them cannot tell)
    means : attribute, formula, mean, standard_error, df, ci_low, ci_high, n_mixes, n_loaves, n_scores
    factors : attribute, term, num_df, den_df, f_value, p_value: a test of every factor
    assessors : assessor, n_scores, severity (points above the others), spread (share of the others' spread, 1 =
        alike), scatter (about the others' picture, 1 = usual), agreement (correlation with the others),
        repeatability (SD of repeats, points; NaN without repeats), stands_apart
    standing_apart : assessor, trait ("severity", "spread", "scatter"), direction ("harsher", "milder", "narrower",
        "wider", "own way"), attribute ("all" or one), amount (as in `assessors`), p_panel (chance of as much
        anywhere in a panel where nobody stands apart)
    smallest_shown : how far an assessor would have had to stand apart, in all attributes, to be named in 19 of 20
        such panels: severity (points), narrower, wider and scatter (shares of the others'); NaN where none would be
    without : the columns of `attributes` down to `verdict`, refitted without those who stand apart, and
        verdict_with; empty when nobody does, or when too little would be left
    agreement : attribute, n_assessors, n_loaves (scored by all of them), kendall_w, p_value, icc_2_1, icc_2_k and
        weighted_kappa (two assessors only), each with _low and _high
    profile : means as a wide table, attribute × formula, in the order of `attributes`
    volume_correlation : attribute, measure, r, ci_low, ci_high, n_mixes
    total : the weighted total and its parts, one row each per comparison: formula, against, part ("total" or an
        attribute), weight, difference, contribution to the total's difference; the total's own rows have ci_low,
        ci_high, p_value, matters, verdict. Empty when the card gives no weights.
    raw_counts : attribute, formula, score, n, share
    findings : what stands in the way of a part of the answer
    """

    name: str
    formulas: tuple[str, ...]
    against: str | None
    choice: str
    adjustment: str
    confidence: float
    scale: tuple[float, float, float]
    words: Mapping[str, Mapping[str, str]]
    n_assessors: int
    n_loaves: int
    n_mixes: int
    n_scores: int
    complete: bool
    attributes: pd.DataFrame
    means: pd.DataFrame
    factors: pd.DataFrame
    assessors: pd.DataFrame
    standing_apart: pd.DataFrame
    smallest_shown: Smallest
    without: pd.DataFrame
    agreement: pd.DataFrame
    profile: pd.DataFrame
    volume_correlation: pd.DataFrame
    total: pd.DataFrame
    raw_counts: pd.DataFrame
    findings: tuple[Finding, ...]

    @property
    def sentence(self) -> str:
        """Return the answer in one sentence."""
        return self.sentences[0]

    @property
    def sentences(self) -> tuple[str, ...]:
        """Return everything a baker should read, the answer first."""
        from ..wording.crumb import crumb_sentences

        return crumb_sentences(self)

    def _repr_html_(self) -> str:
        from ..report.notebook import crumb_html

        return crumb_html(self)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it; a number that could not be worked out is None."""
        profile = self.profile.rename_axis(columns=None).reset_index()
        sentences = list(self.sentences)
        return plain(replace(self, profile=profile)) | {"sentence": sentences[0], "sentences": sentences}


def crumb_scores(
    trial: Trial, formula: str | None = None, against: str | None = None,
    attributes: Sequence[str] | None = None, confidence: float = 0.95,
) -> CrumbScores:
    """Return what the crumb scores of a trial show, and what they show about the people who gave them.

    Parameters
    ----------
    formula, against : compare this formula with that one; without them the two that there are, every formula with
        the card's control, or every pair where there is no control
    attributes : which attributes; all that were scored where not given

    Raises
    ------
    TrialError: no scores, an unknown formula or attribute, or no attribute that can be compared; says why.
    """
    pairing = choose_pairs(trial, formula, against)
    refuse_what_is_tied(trial, pairing, None)
    rows = score_rows(trial, attributes)
    models: Models = {}
    fits, findings = _fit_all(trial, attribute_order(trial, rows), pairing, confidence, models)
    cells = {name: cells_of(rows, name, fit) for name, fit in fits.items()}
    table = attribute_table(trial, fits, cells, pairing)
    people, missing = describe_panel(rows, _scale(trial, rows))
    formulas = tuple(dict.fromkeys(name for pair in pairing.pairs for name in reversed(pair)))
    order = list(dict.fromkeys(table["attribute"]))
    means = _gather(MEANS, {name: _means(fits[name], cells[name]) for name in order})
    means = means[means[FORMULA].isin(formulas)].reset_index(drop=True)
    used = rows[rows["attribute"].isin(order)]
    return CrumbScores(
        name=trial.name, formulas=formulas, confidence=confidence, choice=pairing.choice, adjustment=pairing.family,
        against=None if pairing.family == "all pairs" else pairing.pairs[0][1], scale=_scale(trial, rows),
        words=dict(trial.card.scores.words) if trial.card.scores else {},
        n_assessors=used["assessor"].nunique(), n_loaves=used["row"].nunique(), n_scores=len(used),
        n_mixes=max(fit.fit.n_mixes for fit in fits.values()), complete=is_complete(used),
        attributes=table, means=means,
        factors=_gather(["attribute", "term", "num_df", "den_df", "f_value", "p_value"],
                        {name: _factor_tests(fits[name]) for name in order}),
        assessors=people.table, standing_apart=people.apart, smallest_shown=people.smallest,
        without=without_people(trial, fits, pairing, list(people.apart["assessor"].unique()), table),
        agreement=agreement_table(used, order, confidence),
        profile=means.pivot(index="attribute", columns=FORMULA, values="mean").reindex(
            index=order, columns=list(formulas)),
        volume_correlation=volume_correlation(trial, rows, order, confidence),
        total=total_table(trial, table, pairing, confidence, models),
        raw_counts=raw_counts(rows, trial.loaves[FORMULA], formulas, order), findings=(*findings, *missing),
    )


def _fit_all(trial: Trial, names: Sequence[str], pairing: Pairing, confidence: float, models: Models
             ) -> tuple[dict[str, FormulaFit], list[Finding]]:
    """Fit every attribute that can be; say of the others why not. Raises TrialError when none can."""
    fits: dict[str, FormulaFit] = {}
    findings: list[Finding] = []
    for name in names:
        try:
            fits[name] = fit_attribute(trial, name, pairing, confidence, models)
        except TrialError as stop:
            findings += stop.findings
        except CANNOT as fault:
            findings.append(Finding(
                code="attribute-not-compared", severity="warning", column=name,
                message=f"{name} cannot be compared: {fault}.",
                fix="Score more loaves of each formula, or look whether one score was given throughout."))
    if not fits:
        raise TrialError(list(dict.fromkeys(findings)))
    return fits, findings


def _means(fit: FormulaFit, cells: pd.DataFrame) -> pd.DataFrame:
    """The formulas' means, with the number of scores behind each."""
    means = fit.means()
    return means.assign(n_scores=means[FORMULA].map(cells[FORMULA].value_counts()).fillna(0).astype(int))


def _factor_tests(fit: FormulaFit) -> pd.DataFrame:
    """An F test of every term."""
    design = fit.fit.design
    tests = [(term.name, fit.fit.f_test(design.term_hypothesis(term))) for term in design.terms]
    return pd.DataFrame([(name, t.num_df, t.den_df, t.f_value, t.p_value) for name, t in tests],
                        columns=["term", "num_df", "den_df", "f_value", "p_value"])


def _scale(trial: Trial, rows: pd.DataFrame) -> tuple[float, float, float]:
    """Lowest score, highest score, step: the card's, or those that were used."""
    if trial.card.scores:
        return trial.card.scores.low, trial.card.scores.high, trial.card.scores.step
    whole = bool((rows[SCORE] % 1 == 0).all())
    return float(rows[SCORE].min()), float(rows[SCORE].max()), 1.0 if whole else 0.5


def _gather(columns: list[str], tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """One table, with the attribute before the columns of each."""
    return pd.concat([table.assign(attribute=name) for name, table in tables.items()], ignore_index=True)[columns]
