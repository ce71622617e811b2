"""Tables of servings and of ticked words."""

from __future__ import annotations

from ...trials.printing.document import Table
from ..tasting.result import TastingAnswers, WordsSeen
from ..wording.tables import CAPTIONS
from .frames import table_of


def telling_table(r: TastingAnswers, exact: bool = False) -> Table:
    """Return what was answered in the tests with right answers."""
    more = (
        {
            "design_effect": ("", 2),
            "p_people_differ": ("", 3),
            "d_prime": ("", 2),
            "d_prime_low": ("", 2),
            "d_prime_high": ("", 2),
            "p_different": ("", 4),
            "may_tell": ("", 2),
            "p_similar": ("", 4),
        }
        if exact
        else {}
    )
    return table_of(
        r.tests,
        {
            "test": ("", None),
            "asked": ("", None),
            "formula": ("", None),
            "against": ("", None),
            "n_assessors": ("", 0),
            "n_servings": ("", 0),
            "right": ("", 0),
            "can_tell": ("", 2),
            "can_tell_low": ("", 2),
            "can_tell_high": ("", 2),
            **more,
            "verdict": ("", None),
        },
        CAPTIONS["tasting tests"],
        "Tasting",
    )


def preferences_table(r: TastingAnswers) -> Table:
    """Return what was preferred."""
    return table_of(
        r.preferences,
        {
            "asked": ("", None),
            "formula": ("", None),
            "against": ("", None),
            "chose": ("", 0),
            "chose_other": ("", 0),
            "no_preference": ("", 0),
            "p_value": ("", 4),
            "verdict": ("", None),
        },
        CAPTIONS["preferences"],
        "Preferences",
    )


def ranking_table(r: TastingAnswers) -> Table:
    """Return the pairs of ranked breads."""
    return table_of(
        r.ranking_pairs,
        {
            "asked": ("", None),
            "formula": ("", None),
            "against": ("", None),
            "difference": ("", 1),
            "p_value": ("", 4),
            "p_holm": ("", 4),
        },
        CAPTIONS["ranking"],
        "Ranking",
    )


def words_table(r: WordsSeen) -> Table:
    """Return what each word shows."""
    return table_of(
        r.words,
        {
            "word": ("", None),
            "heading": ("", None),
            "ticks": ("", 0),
            "q": ("", 2),
            "df": ("", 0),
            "p_value": ("", 4),
            "p_adjusted": ("", 4),
            "same_answer": ("", 2),
            "by_chance": ("", 2),
            "kappa": ("", 2),
            "kappa_low": ("", 2),
            "kappa_high": ("", 2),
            "tells_apart": ("", None),
        },
        CAPTIONS["words"],
        "Words",
    )


def word_pairs_table(r: WordsSeen) -> Table:
    """Return the pairs of loaves for the words that tell apart."""
    return table_of(
        r.pairs,
        {
            "word": ("", None),
            "loaf": ("", None),
            "against": ("", None),
            "formula": ("", None),
            "against_formula": ("", None),
            "only_first": ("", 0),
            "only_second": ("", 0),
            "p_value": ("", 4),
            "p_holm": ("", 4),
            "differs": ("", None),
        },
        CAPTIONS["word pairs"],
        "Word pairs",
    )
