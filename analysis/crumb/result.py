"""What the scores say, at full precision and without words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pandas as pd

from ...trials import Finding
from ...trials.fairness.pairing import Choice, Family
from ...trials.frozen import frozen
from ..result import Result, without_sentences
from .standing_apart import Smallest


@frozen(kw_only=True)
class CrumbScores(Result):
    """Scores of one trial, in points of the card's scale; NaN where something could not be worked
    out.

    Attributes
    ----------
    name : the trial's name
    formulas : the formulas compared, in the order of the pictures
    against : the formula that the others are held against; None when every pair is compared
    choice : what was chosen for the reader (see `trials.pairing`)
    adjustment : "one pair", "all against one" (Dunnett) or "all pairs" (Tukey), inside each
        attribute
    confidence : of every interval, 0.95 for 95 %
    scale : lowest score, highest score, step; of the card, or of the scores where the card is
        silent
    words : attribute → step of the scale (text) → what it means, from the card
    n_assessors, n_loaves, n_mixes, n_scores : what the answer rests on (scores without assessors:
        n_assessors 0)
    complete : True when every assessor scored every loaf in every attribute
    attributes : one row per attribute and comparison, surest first: attribute, label, formula,
        against, difference
        (formula less against), standard_error, df, ci_low, ci_high, p_value, p_holm (Holm over all
        rows), matters (NaN where nobody said), verdict, way and why (see `judging`), n_mixes (the
        fewer of the two formulas'), together_p (F test of the attribute's formulas together),
        ordered_p (the same question put to the scores as ordered steps), ordered_way and
        ordered_why (see `ordered.py`), agrees (whether these two agree on whether the formulas
        differ at 1 − confidence; None where one of them cannot tell)
    means : attribute, formula, mean, standard_error, df, ci_low, ci_high, n_mixes, n_loaves,
        n_scores
    factors : attribute, term, num_df, den_df, f_value, p_value: a test of every factor
    assessors : assessor, n_scores, above_others (points), use_of_scale (SD over the
        loaves, as a share of the others': 1 = alike), scatter (about the others'
        picture, 1 = usual), ranks_like_others (correlation with the others), same_loaf_twice
        (SD of repeats, points; NaN without repeats), stands_apart
    standing_apart : assessor, trait ("above_others", "use_of_scale", "scatter"), direction
        ("harsher", "milder", "narrower",
        "wider", "own way"), attribute ("all" or one), amount (as in `assessors`), p_panel (chance
        of as much anywhere in a panel where nobody stands apart)
    smallest_shown : how far an assessor would have had to stand apart, in all attributes, to be
        named in 19 of 20
        such panels: above_others (points), narrower, wider and scatter (shares of the others'); NaN
        where none would be
    without : the columns of `attributes` down to `verdict`, refitted without those who stand apart,
        and
        verdict_with; empty when nobody does, or when too little would be left
    agreement : attribute, n_assessors, n_loaves (scored by all of them), kendall_w, p_value,
        icc_2_1, icc_2_k and
        weighted_kappa (two assessors only), each with _low and _high
    profile : means as a wide table, attribute × formula, in the order of `attributes`
    volume_correlation : attribute, measure, r, ci_low, ci_high, n_mixes
    total : the weighted total and its parts, one row each per comparison: formula, against, part
        ("total" or an
        attribute), weight, difference, contribution to the total's difference; the total's own rows
        have ci_low, ci_high, p_value, matters, verdict. Empty when the card gives no weights.
    raw_counts : attribute, formula, score, n, share
    findings : what stands in the way of a part of the answer
    sentences : everything that a baker should read, the answer first; put on by `answers`
    """

    name: str
    formulas: tuple[str, ...]
    against: str | None
    choice: Choice
    adjustment: Family
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
    sentences: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """Return the answer in one sentence."""
        return self.sentences[0]

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it; a number that could not be worked out is
        None.
        """
        profile = self.profile.rename_axis(columns=None).reset_index()
        return without_sentences(replace(self, profile=profile)) | {
            "sentence": self.sentence,
            "sentences": list(self.sentences),
        }
