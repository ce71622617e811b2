"""What the factors did to one measure or to several, at full precision and without words."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

import pandas as pd

from ...trials.frozen import frozen
from ..comparison.fair_test import FairTest
from ..model.layout import Layout
from ..model.term_analysis import NotSeparable
from ..plain_data import records
from ..result import Result, without_sentences
from .curves import Curve
from .residuals import ResidualChecks
from .unreplicated import Unreplicated


@frozen(kw_only=True)
class FactorSizes(Result):
    """How far each factor moved one measure. Numbers are in the measure's unit, at full precision.

    Attributes
    ----------
    measure, label, label_inside, unit : the column analysed, what a person reads for it, by itself
        and inside a sentence, its unit ("" where it
        has none)
    factors, confidence : what was analysed
    factor_labels, factor_units : factor → what a person reads for it ("proof time"), and its unit
        ("min" or "")
    matters : smallest difference of the measure worth acting on; None where nobody said
    never_varied : factors of the card that had one level only in these loaves
    tests : one row a term, main effects before interactions: term, num_df, den_df, f_value,
        p_value, p_holm (Holm
        across the factors, and across the interactions), applied_to (the unit that it is judged
        against: "day", "oven_load", "mix", "loaf"), way and why (`judging.py`; "none" and "lenth"
        with one loaf a combination), n_units. NaN where the trial cannot judge the term.
    means : one row a level or combination of levels: term, level ("malted × open"), levels (tuple),
        mean,
        standard_error, df, ci_low, ci_high. NaN where the mean cannot be estimated. The intervals
        are for the loaves of these days: days are held fixed.
    effects : one row a factor, largest first: factor, low_level, high_level (the two levels
        farthest apart of those
        that are told apart; where none are, farthest apart of all), size, standard_error, df,
        ci_low, ci_high, p_value, adjustment ("none": the difference's own interval; "Tukey",
        "Dunnett": of several pairs, as in `contrasts`; "Lenth": Lenth's margin, one loaf a
        combination). No row for a factor of which nothing can be said.
    interactions : one row an interaction that was tested: term, p_value, p_holm, there (p_value
        below
        1 − confidence: each on its own, so that a main effect is not read alone where it should not
        be)
    """

    measure: str
    label: str
    label_inside: str
    unit: str
    matters: float | None
    factors: tuple[str, ...]
    factor_labels: Mapping[str, str]
    factor_units: Mapping[str, str]
    never_varied: tuple[str, ...]
    confidence: float
    tests: pd.DataFrame
    means: pd.DataFrame
    effects: pd.DataFrame
    interactions: pd.DataFrame

    @property
    def not_judged(self) -> tuple[str, ...]:
        """Return the factors of which nothing shows how sure their effect is."""
        judged = set(self.effects.loc[self.effects["ci_low"].notna(), "factor"])
        return tuple(name for name in self.factors if name not in judged)


@frozen(kw_only=True, slots=False)
class FactorEffects(FactorSizes):
    """What each factor did to one measure: its size, and everything that stands behind and beside
    it.

    Attributes
    ----------
    n_loaves, n_mixes : how many were used
    contrasts : term, first, second (levels), difference (first less second), standard_error, df,
        ci_low, ci_high,
        p_value, adjustment ("none", "Tukey", "Dunnett"). Combinations only for interactions that
        are there: the pairs that differ in one factor.
    variances : one row a source: source ("day", "mix", "loaf" or a term), kind ("scatter",
        "factor"), variance
        (may be negative), share (of the positive ones' sum)
    curves : numeric factors with three or more values
    layout : what was applied to what
    left_out_terms : interactions that the trial cannot bear (the rule: `bearing.py`)
    not_separable : effects that are tied to others, wholly or partly
    left_out : loaves not used: line, loaf, reason ("void: …", "lid", "no specific_volume", "no
        tin", …), from_terms
        ("all", or "all but tin" for loaves that fill a lidded tin)
    unreplicated : effects and Lenth's limits when no combination was baked twice; then tests hold
        no F
    residual_checks : did the model hold; None when nothing is left to judge by
    stood_apart : one row a factor whose effect is settled and condition in which its two levels
        stood visibly apart: factor, and the columns of `FairTest.table`, of high_level and
        low_level
    sentences : everything that a baker should read, the answer first; put on by `answers`
    """

    n_loaves: int
    n_mixes: int
    contrasts: pd.DataFrame
    variances: pd.DataFrame
    curves: tuple[Curve, ...]
    layout: Layout
    left_out_terms: tuple[str, ...]
    not_separable: tuple[NotSeparable, ...]
    left_out: pd.DataFrame
    unreplicated: Unreplicated | None
    residual_checks: ResidualChecks | None
    stood_apart: pd.DataFrame
    sentences: tuple[str, ...] = ()

    @cached_property
    def undone(self) -> pd.DataFrame:
        """Return the rows of ``stood_apart`` that undo the verdict on the factor's effect
        (``FairTest.undone``).
        """
        apart = self.stood_apart
        found = [
            FairTest(table=rows, findings=()).undone(
                effect["ci_low"], effect["ci_high"], self.matters
            )
            for effect in records(self.effects)
            if len(rows := apart[apart["factor"] == effect["factor"]])
        ]
        return pd.concat(found) if any(len(rows) for rows in found) else apart[:0]

    @cached_property
    def inseparable(self) -> pd.DataFrame:
        """Return the rows of ``stood_apart`` that nothing can tell from the factor's effect
        (``FairTest.inseparable``).
        """
        return FairTest(table=self.stood_apart, findings=()).inseparable

    @property
    def sentence(self) -> str:
        """Return the answer in one sentence."""
        return self.sentences[0]

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        return without_sentences(self) | {
            "layout": self.layout.to_dict(),
            "sentence": self.sentence,
            "sentences": list(self.sentences),
        }


@frozen(kw_only=True)
class MeasuresGrid(Result):
    """What each factor did to each measure.

    Attributes
    ----------
    labels, labels_inside, units : measure → what a person reads for it, by itself and inside a
        sentence, and its unit; factor_labels, factor_units
        likewise
    ends : factor → its first and last level, between which `direction` runs; none for a
        category with more
        than two levels
    grid : one row a factor and measure: factor, measure, low_level, high_level (with the lowest and
        the highest
        mean), size (their difference, the measure's unit), ci_low, ci_high, adjustment and p_value
        (as in `FactorSizes.effects`), p_holm (across the factors, of the F test), matters (NaN
        where nobody said), verdict (`verdict.py`), direction ("up" or "down": where the measure
        went from the factor's first level, the control, to its last; "" where no effect is shown or
        a category has more than two levels), wanted ("better" or "worse" by the card; "" where it
        does not say)
    interactions : measure, term, p_value: those that are there
    not_answered : measure → why it could not be analysed
    desirability : one row a combination of levels: the factors' columns, one column "d <measure>"
        each, overall;
        best first. None where the card gives no targets.
    sentences : what a baker reads, put on by `answers`
    """

    measures: tuple[str, ...]
    factors: tuple[str, ...]
    confidence: float
    labels: dict[str, str]
    labels_inside: dict[str, str]
    units: dict[str, str]
    factor_labels: dict[str, str]
    factor_units: dict[str, str]
    ends: dict[str, tuple[object, object]]
    grid: pd.DataFrame
    interactions: pd.DataFrame
    not_answered: dict[str, str]
    desirability: pd.DataFrame | None
    sentences: tuple[str, ...] = ()
