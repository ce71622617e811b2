"""What the scores say about the bread, attribute by attribute, and what they say about the scoring.

    result = crumb_scores(trial, "malted", against="house")
    result.attributes        # one row per attribute and comparison, the surest first
    result.assessors         # one row per assessor: severity, spread, agreement, repeatability
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from ..trials import Finding, Trial


@dataclass(frozen=True, slots=True, kw_only=True)
class CrumbScores:
    """Scores of one trial, in points of the card's scale; NaN where something could not be worked out.

    Attributes
    ----------
    name : the trial's name
    formulas : the formulas compared, in the order of the pictures
    against : the formula that the others are held against; None when every pair is compared
    confidence : of every interval, 0.95 for 95 %
    scale : lowest score, highest score, step
    words : step of the scale (text) → what it means, from the card
    n_assessors, n_loaves, n_mixes, n_scores : what the answer rests on (no assessor column: n_assessors is 0)
    complete : True when every assessor scored every loaf in every attribute
    attributes : one row per attribute and comparison, surest first: attribute, label, formula, against, difference
        (formula minus against), standard_error, df, ci_low, ci_high, p_value, p_holm (Holm over all rows), matters
        (NaN where nobody said), verdict, way and why (how the difference was judged), n_mixes,
        ordered_p (the check that takes scores as ordered steps), ordered_way ("friedman", "cumulative link",
        "none"), agrees (True, False, None where there is no check)
    means : attribute, formula, mean, standard_error, df, ci_low, ci_high, n_loaves, n_scores
    factors : attribute, term, num_df, den_df, f_value, p_value: a test of every factor
    assessors : assessor, n_scores, severity (points above the others), spread (share of the others' spread, 1 =
        alike), agreement (correlation with the others), repeatability (SD of repeats, points; NaN without
        repeats), stands_apart (True or False)
    standing_apart : assessor, trait ("severity", "spread", "agreement"), direction ("harsher", "milder",
        "narrower", "wider", "own way"), attribute ("all" or its name), amount, p_panel (chance of as much in a
        panel where nobody stands apart)
    without : the columns of `attributes` down to `verdict`, refitted without those who stand apart, plus
        verdict_with; empty when nobody does
    agreement : one row per attribute: attribute, n_assessors, n_loaves, kendall_w, p_value, then icc_2_1, icc_2_k
        with their _low and _high, weighted_kappa (two assessors only)
    profile : means of `means` once more as a wide table, attribute × formula, in the order of `attributes`
    volume_correlation : attribute, measure, r, ci_low, ci_high, n_mixes
    total : the weighted total taken apart: one row per part and comparison: formula, against, part, weight,
        difference, contribution; empty when the card gives no weights
    raw_counts : attribute, formula, score, n, share: for the stacked bars
    findings : what stands in the way of a part of the answer
    sentences : the answer in words, most important first
    """

    name: str
    formulas: tuple[str, ...]
    against: str | None
    confidence: float
    scale: tuple[float, float, float]
    words: dict[str, str]
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
    without: pd.DataFrame
    agreement: pd.DataFrame
    profile: pd.DataFrame
    volume_correlation: pd.DataFrame
    total: pd.DataFrame
    raw_counts: pd.DataFrame
    findings: tuple[Finding, ...]
    sentences: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain data that JSON can hold; a number that could not be worked out is None."""
        raise NotImplementedError


def crumb_scores(
    trial: Trial, formula: str | None = None, against: str | None = None,
    attributes: Sequence[str] | None = None, confidence: float = 0.95,
) -> CrumbScores:
    """Return what the crumb scores of a trial show, and what they show about the people who gave them.

    Parameters
    ----------
    formula, against : compare this formula with that one; without them every formula with the card's control, or
        every pair where there is no control
    attributes : which attributes, all that were scored where not given

    Raises
    ------
    TrialError: no scores, an unknown formula or attribute, fewer than two formulas scored.
    """
    raise NotImplementedError
