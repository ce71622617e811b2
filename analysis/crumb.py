"""What the scores say about the bread, attribute by attribute, and what they say about the scoring.

    result = crumb_scores(trial, "malted", against="house")
    result.attributes        # one row per attribute and comparison, the surest first
    result.assessors         # one row per assessor: severity, spread, agreement, repeatability

Read on in this order: `score_rows` (the scores as one table), `score_fit` (the model), `ordered` (the check that
takes scores as steps), `panel`, `assessors` and `agreement` (the people), `profile` (volume, total, raw scores).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from ..trials import Finding, Trial, TrialError
from ..trials.columns import CRUMB_PREFIX, label
from ..trials.pairing import Pairing, choose_pairs
from .asked import read_question
from .comparing.formula_fit import FORMULA, FormulaFit, compared_factors, fit_asked, refuse_what_is_tied
from .comparing.pair_tests import judge_pairs
from .mixed_model import NotIdentifiable, NoVariation
from .model.coding import DesignError
from .multiplicity import holm
from .plain_data import plain
from .scoring.assessors import Assessors
from .scoring.ordered import ordered_check
from .scoring.panel import agreement_table, describe_panel
from .scoring.profile import raw_counts, total_parts, volume_correlation
from .scoring.score_fit import SCORE, Models, PanelFit
from .scoring.score_rows import TOTAL, attribute_order, is_complete, loaf_scores, score_rows
from .scoring.standing_apart import Smallest

ROUNDING = 1e-9             # points; a smaller difference is none
CANNOT = (DesignError, NoVariation, NotIdentifiable)

ATTRIBUTES = ["attribute", "label", "formula", "against", "difference", "standard_error", "df", "ci_low", "ci_high",
              "p_value", "p_holm", "matters", "verdict", "way", "why", "n_mixes", "ordered_p", "ordered_way",
              "agrees"]
WITHOUT = [*ATTRIBUTES[:ATTRIBUTES.index("verdict") + 1], "verdict_with"]
MEANS = ["attribute", "formula", "mean", "standard_error", "df", "ci_low", "ci_high", "n_mixes", "n_loaves",
         "n_scores"]
TOTAL_COLUMNS = ["formula", "against", "part", "weight", "difference", "contribution", "ci_low", "ci_high",
                 "p_value", "matters", "verdict"]


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
        ordered_p (the check that takes scores as ordered steps), ordered_way ("friedman", "cumulative link",
        "none"), agrees (True, False, None where one of the two cannot tell)
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
        from .wording.crumb import crumb_sentences

        return crumb_sentences(self)

    def _repr_html_(self) -> str:
        from .report.notebook import crumb_html

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
    fits, findings = _fit_all(trial, attribute_order(trial, rows), confidence, models)
    cells = {name: _cells(rows, name, fit) for name, fit in fits.items()}
    table = _attribute_table(trial, fits, cells, pairing)
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
        without=_without(trial, fits, pairing, people, table),
        agreement=agreement_table(used, order, confidence),
        profile=means.pivot(index="attribute", columns=FORMULA, values="mean").reindex(
            index=order, columns=list(formulas)),
        volume_correlation=volume_correlation(trial, rows, order, confidence),
        total=_total(trial, table, pairing, confidence, models),
        raw_counts=raw_counts(rows, trial.loaves[FORMULA], formulas, order), findings=(*findings, *missing),
    )


def _fit_all(trial: Trial, names: Sequence[str], confidence: float, models: Models
             ) -> tuple[dict[str, FormulaFit], list[Finding]]:
    """Fit every attribute that can be; say of the others why not. Raises TrialError when none can."""
    fits: dict[str, FormulaFit] = {}
    findings: list[Finding] = []
    for name in names:
        try:
            fits[name] = _fit(trial, name, confidence, models)
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


def _fit(trial: Trial, attribute: str, confidence: float, models: Models) -> FormulaFit:
    """Fit one attribute, or the total, just as a comparison of that measure does."""
    asked = read_question(trial, f"{CRUMB_PREFIX}{attribute}", compared_factors(trial), confidence)
    panel = replace(asked.panel, models=models) if asked.panel else None
    return fit_asked(replace(asked, panel=panel), asked.table, order=3 if trial.card.three_way else 2)


def _cells(rows: pd.DataFrame, name: str, fit: FormulaFit) -> pd.DataFrame:
    """The scores that an attribute's fit rests on, repeats by their mean: row, assessor, score, formula (a text)."""
    own = rows[rows["attribute"] == name].groupby(["row", "assessor"], dropna=False, as_index=False)[SCORE].mean()
    return own.join(fit.loaves[FORMULA].astype(str), on="row", how="inner")


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


def _attribute_table(trial: Trial, fits: Mapping[str, FormulaFit], cells: Mapping[str, pd.DataFrame],
                     pairing: Pairing) -> pd.DataFrame:
    """Every attribute's comparisons, judged, checked and sorted by how sure the difference is."""
    tables = []
    for name, fit in fits.items():
        table = _judged(trial, name, fit, pairing)
        checks = [ordered_check(cells[name], pair) for pair in zip(table[FORMULA], table["against"], strict=True)]
        tables.append(table.assign(ordered_p=[p for p, _ in checks], ordered_way=[way for _, way in checks]))
    table = pd.concat(tables, ignore_index=True)
    table["p_holm"] = holm(table["p_value"].to_numpy(float))
    alpha = 1 - next(iter(fits.values())).fit.confidence
    table["agrees"] = [None if np.isnan(p) or np.isnan(q) else bool((p < alpha) == (q < alpha))
                       for p, q in zip(table["p_value"], table["ordered_p"], strict=True)]
    table["surest"] = table.groupby("attribute")["p_value"].transform("min")
    return table.sort_values(["surest", "p_value"], kind="stable", ignore_index=True)[ATTRIBUTES]


def _judged(trial: Trial, name: str, fit: FormulaFit, pairing: Pairing) -> pd.DataFrame:
    """One attribute's comparisons by the rule and the card's smallest difference that matters."""
    matters = trial.card.matters_for(f"{CRUMB_PREFIX}{name}")
    pairs = [pair for pair in pairing.pairs if set(pair) <= set(fit.n_mixes)]
    table = judge_pairs(fit, pairs, pairing.family, matters)
    table["difference"] = table["difference"].mask(table["difference"].abs() < ROUNDING, 0.0)
    return table.assign(attribute=name, label=_label(trial, name), matters=np.nan if matters is None else matters,
                        n_mixes=[min(fit.n_mixes[formula] for formula in pair) for pair in pairs])


def _label(trial: Trial, name: str) -> str:
    """What a person reads for an attribute: the card's words, or its name with a capital."""
    said = trial.card.measures.get(f"{CRUMB_PREFIX}{name}")
    if said and said.label:
        return said.label
    return label(f"{CRUMB_PREFIX}{name}").removeprefix("Crumb ").capitalize()


def _scale(trial: Trial, rows: pd.DataFrame) -> tuple[float, float, float]:
    """Lowest score, highest score, step: the card's, or those that were used."""
    if trial.card.scores:
        return trial.card.scores.low, trial.card.scores.high, trial.card.scores.step
    whole = bool((rows[SCORE] % 1 == 0).all())
    return float(rows[SCORE].min()), float(rows[SCORE].max()), 1.0 if whole else 0.5


def _without(trial: Trial, fits: Mapping[str, FormulaFit], pairing: Pairing, people: Assessors, table: pd.DataFrame
             ) -> pd.DataFrame:
    """The same comparisons without those who stand apart."""
    gone = list(people.apart["assessor"].unique())
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
    whole = table[["attribute", FORMULA, "against", "verdict"]].rename(columns={"verdict": "verdict_with"})
    return whole.merge(found, on=["attribute", FORMULA, "against"])[WITHOUT]


def _left(fitted: FormulaFit, gone: Sequence[str]) -> FormulaFit | None:
    """The same terms fitted to what the other assessors scored; None without a panel."""
    fit = fitted.fit
    if not isinstance(fit, PanelFit):
        return None
    rest = fit.panel.without(gone)
    loaves = fitted.loaves.assign(**{fit.measure: loaf_scores(rest.scores)}).dropna(subset=[fit.measure])
    again = rest.fit(loaves, fit.measure, fitted.terms, numbers=fitted.numbers, confidence=fit.confidence)
    return replace(fitted, fit=again, loaves=loaves)


def _total(trial: Trial, table: pd.DataFrame, pairing: Pairing, confidence: float, models: Models) -> pd.DataFrame:
    """The weighted total, judged as any attribute, with what its parts add to the difference."""
    weights = trial.card.scores.weights if trial.card.scores else {}
    if not weights or not set(weights) <= set(table["attribute"]):
        return pd.DataFrame(columns=TOTAL_COLUMNS)
    try:
        whole = _judged(trial, TOTAL, _fit(trial, TOTAL, confidence, models), pairing)
    except (*CANNOT, TrialError):
        return pd.DataFrame(columns=TOTAL_COLUMNS)
    whole = whole.assign(part=TOTAL, weight=100.0, contribution=whole["difference"])
    return pd.concat([whole, total_parts(table, weights)], ignore_index=True)[TOTAL_COLUMNS]


def _gather(columns: list[str], tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """One table, with the attribute before the columns of each."""
    return pd.concat([table.assign(attribute=name) for name, table in tables.items()], ignore_index=True)[columns]
