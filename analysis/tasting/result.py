"""What ballots and ticked words show, as frozen results; `answers_of_tasting` puts the sentences
on.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pandas as pd

from ...trials.frozen import frozen
from ..plain_data import plain
from ..result import Result

VERDICTS = (
    "many can tell",
    "can tell, how many unsure",
    "few can tell",
    "similar enough",
    "not settled",
)

TEST_COLUMNS = (
    "test",
    "asked",
    "formula",
    "against",
    "n_assessors",
    "n_servings",
    "n_mixes",
    "right",
    "guess",
    "share_right",
    "share_right_low",
    "share_right_high",
    "can_tell",
    "can_tell_low",
    "can_tell_high",
    "d_prime",
    "d_prime_low",
    "d_prime_high",
    "p_different",
    "may_tell",
    "p_similar",
    "design_effect",
    "p_people_differ",
    "verdict",
)


@frozen(kw_only=True)
class TasteCounts(Result):
    """What so many right answers of so many people show.

    Attributes
    ----------
    test : "triangle", "duo-trio", "tetrad", "three-choice" or "pair"
    n_assessors, n_servings : people, and their servings; right : right answers; guess : share right
        by guessing
    share_right, can_tell, d_prime : right answers, people who can tell (pd), sensory distance
        (standard deviations of
        one perception); each with _low and _high, one-sided limits at ``confidence``. d_prime is
        infinite where all answers are right
    p_different : chance of at least so many right answers if everybody guesses
    may_tell : the share that may be able to tell, as it was agreed; None where nobody said
    p_similar : chance of at most so many right answers if ``may_tell`` could tell; None without it
    design_effect : how many answers count as one stranger's; NaN where all or none are right
    p_people_differ : chance of people as different as these if all are alike; NaN where each
        answered once
    verdict : one of VERDICTS
    """

    test: str
    n_assessors: int
    n_servings: int
    right: int
    guess: float
    confidence: float
    share_right: float
    share_right_low: float
    share_right_high: float
    can_tell: float
    can_tell_low: float
    can_tell_high: float
    d_prime: float
    d_prime_low: float
    d_prime_high: float
    p_different: float
    may_tell: float | None
    p_similar: float | None
    design_effect: float
    p_people_differ: float
    verdict: str
    sentences: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """Return the answer in one sentence."""
        return self.sentences[0]


@frozen(kw_only=True)
class TastingAnswers(Result):
    """What the servings of a trial show. Nobody is named or ranked.

    Attributes
    ----------
    name : the trial's name; confidence : of every limit, one-sided
    tests : one row a test, question and pair of breads: test, asked, formula, against, n_assessors,
        n_servings,
        n_mixes (doughs of the formula that had fewer), and the fields of `TasteCounts`
    preferences : asked, formula, against (the control, else the card's first), chose, chose_other,
        no_preference,
        n_assessors, n_mixes, share (of those who chose), p_value (two-sided, person by person),
        verdict
    rankings : asked, n_assessors, chi2, df, p_value (shuffled inside people), p_chi2, kendall_w,
        p_expected (Page,
        one-sided, for the card's expected order; NaN without one), n_mixes, rank_sum_<formula>
    ranking_pairs : asked, formula, against, difference (of rank sums, more is more), p_value,
        p_holm
    groups : test, asked, formula, against, group, n_assessors, n_servings, right, share_right,
        p_value
    left_out : test, reason ("void", "no answer"), n
    allergens : formula → allergens as the card names them, "" for every formula; None where nobody
        named them
    """

    name: str
    confidence: float
    tests: pd.DataFrame
    preferences: pd.DataFrame
    rankings: pd.DataFrame
    ranking_pairs: pd.DataFrame
    groups: pd.DataFrame
    left_out: pd.DataFrame
    allergens: dict[str, tuple[str, ...]] | None
    sentences: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """Return the answer in one sentence."""
        return self.sentences[0]


@frozen(kw_only=True)
class WordsSeen(Result):
    """What the words that people ticked say of the breads. Nobody is named or ranked.

    Attributes
    ----------
    name : the trial's name; by : "loaf" or "formula"; unit : who counts, "assessor", or "table"
        where people sat at
        tables; n_assessors, n_units, n_looks : people, units and looks
    loaves : loaf, formula, mix, n_looks, ticks, in the loaves' order
    words : the told ones first, then by their statistic: word, heading, n_assessors, ticks, q
        (Cochran's), df, p_value
        (breads shuffled inside people), p_adjusted (step-down over the words), p_chi2, same_answer
        (plain agreement), by_chance, kappa (_low, _high; jackknife), tells_apart (p_adjusted at
        most 0.05)
    pairs : word, loaf, against, formula, against_formula, only_first, only_second, p_value
        (McNemar's mid-p, turned
        round person by person), p_holm (inside the word), differs; for words that tell apart, in
        the loaves' order
    p_together : of all words at once
    shares, counts : word × loaf, share and number of people who ticked
    twins : one loaf under two codes: loaf, code, against_code, n_units, same_answer (share of
        answers that are the
        same), same_elsewhere (the same share between different loaves)
    formulas : with by="formula": word, formula, against, doughs, against_doughs, difference (of
        shares, dough by
        dough), p_value (formulas relabelled among doughs within days), smallest_p; empty otherwise
    """

    name: str
    by: str
    unit: str
    n_assessors: int
    n_units: int
    n_looks: int
    loaves: pd.DataFrame
    words: pd.DataFrame
    pairs: pd.DataFrame
    p_together: float
    shares: pd.DataFrame
    counts: pd.DataFrame
    twins: pd.DataFrame
    formulas: pd.DataFrame
    sentences: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """Return the answer in one sentence."""
        return self.sentences[0]

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it; a number that could not be worked out is
        None.
        """
        data: dict[str, Any] = plain(
            replace(self, shares=self.shares.reset_index(), counts=self.counts.reset_index())
        )
        return data


@frozen(kw_only=True)
class TastersNeeded(Result):
    """How many people a test needs.

    Attributes
    ----------
    test : the test; aim : "different" or "similar enough"
    can_tell : share of people who can tell, in truth; d_prime : the sensory distance with the same
        share right
    may_tell : for "similar enough", the share that is to be excluded; None otherwise
    power : wanted; alpha : chance of a wrong answer
    needed : people from which the power stays; first : the first number that reaches it. None above
        5,000
    table : n_assessors, right (that show it: at least so many for "different", at most otherwise),
        power, around the
        numbers needed
    """

    test: str
    aim: str
    can_tell: float
    d_prime: float
    may_tell: float | None
    power: float
    alpha: float
    needed: int | None
    first: int | None
    table: pd.DataFrame
    sentences: tuple[str, ...] = ()

    @property
    def sentence(self) -> str:
        """Return the answer in one sentence."""
        return self.sentences[0]
