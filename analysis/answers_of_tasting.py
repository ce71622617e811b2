"""What a user asks of ballots and ticked words: the room's numbers, with the sentences of `wording`
put on them. Each answer loads its own room only.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from ..trials.words.numbers import ENGLISH, NumberStyle
from .asking.a_trial import a_trial

if TYPE_CHECKING:
    from ..trials import Trial
    from .tasting.result import TasteCounts, TastersNeeded, TastingAnswers, WordsSeen


def tasting_answers(
    trial: Trial,
    may_tell: float | None = None,
    confidence: float = 0.95,
    style: NumberStyle = ENGLISH,
) -> TastingAnswers:
    """Return what the servings in ``tasting.csv`` show.

    Parameters and errors are those of `tasting.discriminate.judge_servings`.
    """
    from .tasting.discriminate import judge_servings
    from .wording.tasting import tasting_sentences

    found = judge_servings(a_trial(trial), may_tell, confidence)
    return replace(found, sentences=tasting_sentences(found, style=style))


def taste_counts(
    test: str,
    right: int,
    of: int,
    may_tell: float | None = None,
    confidence: float = 0.95,
    style: NumberStyle = ENGLISH,
) -> TasteCounts:
    """Return what ``right`` right answers of ``of`` people show, one answer each.

    Errors are those of `tasting.telling.judge_count`.
    """
    from .tasting.telling import judge_count
    from .wording.tasting import counts_sentences

    found = judge_count(test, right, of, may_tell, confidence)
    return replace(found, sentences=counts_sentences(found, style=style))


def words_seen(
    trial: Trial, by: Literal["loaf", "formula"] = "loaf", style: NumberStyle = ENGLISH
) -> WordsSeen:
    """Return what the ticks in ``words.csv`` show of the loaves, or, by formula, of dough against
    dough.

    Errors are those of `tasting.words_seen.judge_words`.
    """
    from .tasting.words_seen import judge_words
    from .wording.words import words_sentences

    found = judge_words(a_trial(trial), by)
    return replace(found, sentences=words_sentences(found, style=style))


def tasters_needed(
    test: str,
    can_tell: float | None = None,
    d_prime: float | None = None,
    may_tell: float | None = None,
    power: float = 0.8,
) -> TastersNeeded:
    """Return how many people a test needs, one serving each.

    Parameters and errors are those of `tasting.needed.count_tasters`.
    """
    from .tasting.needed import count_tasters
    from .wording.tasting import needed_sentences

    found = count_tasters(test, can_tell, d_prime, may_tell, power)
    return replace(found, sentences=needed_sentences(found))
