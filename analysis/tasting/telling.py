"""Tests with right answers: what a count of them shows, by person where people were served more
than once.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ...trials import Trial, TrialError
from ...trials.tasting.kinds import TELLING, kind_named
from ...trials.tasting.servings import Serving
from ..methods.discrimination import GUESS, can_tell, d_prime, p_different, right_at
from ..methods.groups import p_groups_differ
from ..methods.preferences import p_turned_round
from ..methods.repeated_answers import (
    Answers,
    design_effect,
    limits,
    p_people_differ,
    p_similar_by_person,
)
from .result import TasteCounts

MOST_ANSWERS = 100_000  # more is a slip


def judge_count(
    test: str, right: int, of: int, may_tell: float | None = None, confidence: float = 0.95
) -> TasteCounts:
    """Return what ``right`` right answers of ``of`` people show, one answer each.

    Raises
    ------
    TrialError: an unknown test, counts that cannot be, or a share that is none.
    """
    test = checked_test(test)
    confidence = checked_confidence(confidence)
    if not (
        isinstance(of, int | np.integer)
        and isinstance(right, int | np.integer)
        and 0 <= right <= of
        and 0 < of <= MOST_ANSWERS
    ):
        raise TrialError.one(
            "counts-impossible",
            f"{right} right answers of {of} cannot be.",
            "Give whole numbers: the right answers, and how many people answered, 1 to"
            f" {MOST_ANSWERS}.",
        )
    once = Answers(right=np.repeat([1, 0], [right, of - right]), of=np.ones(of, dtype=int))
    return TasteCounts(
        **counted(test, once, None if may_tell is None else checked_share(may_tell), confidence)
    )


def counted(
    test: str, answers: Answers, may_tell: float | None, confidence: float
) -> dict[str, Any]:
    """Return the fields of `TasteCounts`."""
    guess = GUESS[test]
    right, of = int(answers.right.sum()), int(answers.of.sum())
    low, high = limits(answers, guess, confidence)
    different = p_different(right, of, guess)
    if test == "pair" and not answers.once_each:
        # a person may lean to one side without fail, and still be one person
        different = max(different, p_turned_round(2 * answers.right - answers.of, two_sided=False))
        low = low if different <= 1 - confidence else 0.0
    share_low, share_high = float(right_at(low, guess)), float(right_at(high, guess))
    return {
        "test": test,
        "n_assessors": len(answers.of),
        "n_servings": of,
        "right": right,
        "guess": guess,
        "confidence": confidence,
        "share_right": answers.share,
        "share_right_low": share_low,
        "share_right_high": share_high,
        "can_tell": can_tell(answers.share, guess),
        "can_tell_low": low,
        "can_tell_high": high,
        "d_prime": d_prime(test, answers.share),
        "d_prime_low": d_prime(test, share_low),
        "d_prime_high": d_prime(test, share_high),
        "p_different": different,
        "may_tell": may_tell,
        "p_similar": (
            None if may_tell is None else p_similar_by_person(answers, guess, may_tell, confidence)
        ),
        "design_effect": design_effect(answers, confidence),
        "p_people_differ": p_people_differ(answers),
        "verdict": verdict(low, high, may_tell),
    }


def verdict(low: float, high: float, may_tell: float | None) -> str:
    """Return the verdict by the limits of the share who can tell, and the share that may be able
    to.
    """
    if may_tell is None:
        return "can tell, how many unsure" if low > 0 else "not settled"
    if low >= may_tell:
        return "many can tell"
    if high < may_tell:
        return "few can tell" if low > 0 else "similar enough"
    return "can tell, how many unsure" if low > 0 else "not settled"


def by_person(servings: list[Serving]) -> tuple[Answers, list[str]]:
    """Return the right answers by person, and who that is."""
    people = sorted({s.assessor for s in servings})
    right = [sum(bool(s.right) for s in servings if s.assessor == person) for person in people]
    of = [sum(s.assessor == person for s in servings) for person in people]
    return Answers(right=np.array(right), of=np.array(of)), people


def test_row(
    trial: Trial, test: str, servings: list[Serving], may_tell: float | None, confidence: float
) -> dict[str, Any]:
    """Return one row of the tests, without its names."""
    answers, _ = by_person(servings)
    return {"n_mixes": n_mixes(trial, servings)} | counted(test, answers, may_tell, confidence)


def n_mixes(trial: Trial, servings: list[Serving]) -> int:
    """Return how many doughs were served, of the bread that had fewest."""
    mix = dict(zip(trial.loaves["loaf"].astype(str), trial.loaves["mix"].astype(str), strict=True))
    doughs: dict[str, set[str]] = {}
    for s in servings:
        for bread, loaf in zip(s.breads, s.loaves, strict=True):
            doughs.setdefault(bread, set()).add(mix.get(loaf, loaf))
    return min(len(found) for found in doughs.values())


def group_rows(servings: list[Serving]) -> list[dict[str, Any]]:
    """Return a row for each group of people, where there are several."""
    names = sorted({s.group for s in servings if s.group})
    if len(names) < 2:
        return []
    known = [s for s in servings if s.group]
    keys = sorted({(s.assessor, s.group) for s in known})
    right = np.array(
        [sum(bool(s.right) for s in known if (s.assessor, s.group) == key) for key in keys]
    )
    of = np.array([sum((s.assessor, s.group) == key for s in known) for key in keys])
    group = np.array([names.index(name) for _, name in keys])
    p_value = p_groups_differ(Answers(right=right, of=of), group)
    return [
        {
            "group": name,
            "n_assessors": int((group == i).sum()),
            "n_servings": int(of[group == i].sum()),
            "right": int(right[group == i].sum()),
            "p_value": p_value,
            "share_right": float(right[group == i].sum() / of[group == i].sum()),
        }
        for i, name in enumerate(names)
    ]


def checked_test(test: str) -> str:
    """Return the name of a test with right answers.

    Raises
    ------
    TrialError: it is none of them.
    """
    kind = kind_named(test)
    if kind is None or kind.name not in TELLING:
        raise TrialError.one(
            "test-unknown",
            f"{test!r} is no test with right answers.",
            f"Give one of: {', '.join(TELLING)}.",
        )
    return kind.name


def checked_confidence(confidence: float) -> float:
    """Return the confidence of a one-sided limit.

    Raises
    ------
    TrialError: it is none.
    """
    if not (is_number(confidence) and 0.5 <= confidence < 1):
        raise TrialError.one(
            "confidence",
            f"A confidence of {confidence} was asked for.",
            "Give a number from 0.5 to below 1, such as 0.95.",
        )
    return float(confidence)


def is_number(value: object) -> bool:
    """Return whether a value is a number, and no text or truth value."""
    return isinstance(value, int | float | np.number) and not isinstance(value, bool)


def checked_share(share: float) -> float:
    """Return a share of people between 0 and 1.

    Raises
    ------
    TrialError: it is none.
    """
    if not (is_number(share) and 0 < share < 1):
        raise TrialError.one(
            "share-impossible",
            f"{share} is no share of people who may be able to tell.",
            "Give a number between 0 and 1: 0.3 for 30 in 100.",
        )
    return float(share)
