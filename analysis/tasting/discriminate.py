"""Can people tell the breads apart, which do they prefer, how do they rank them?

    answers = judge_servings(trial, may_tell=0.3)
    answers.tests, answers.preferences, answers.rankings

Read on in this order: `trials/tasting/servings.py` (a row as a serving), `telling` (right answers),
`choosing` (preferences and rankings), `methods/` (the sums).
"""

from __future__ import annotations

from collections import Counter

import pandas as pd

from ...trials import Trial, TrialError
from ...trials.tasting.kinds import TELLING
from ...trials.tasting.servings import Serving, read_servings
from .choosing import preferences, ranking_pairs, rankings
from .result import TEST_COLUMNS, TastingAnswers
from .telling import checked_confidence, checked_share, group_rows, test_row

GROUP_COLUMNS = (
    "test",
    "asked",
    "formula",
    "against",
    "group",
    "n_assessors",
    "n_servings",
    "right",
    "share_right",
    "p_value",
)


def judge_servings(
    trial: Trial, may_tell: float | None = None, confidence: float = 0.95
) -> TastingAnswers:
    """Return what the servings in ``tasting.csv`` show.

    Parameters
    ----------
    may_tell : share of people who may be able to tell before the breads count as different; the
        card's where not
        given, and no similarity is claimed without it
    confidence : of each one-sided limit

    Raises
    ------
    TrialError: nobody tasted, or nothing that was served can be judged; a share that is none.
    """
    confidence = checked_confidence(confidence)
    may_tell = trial.card.tasting.may_tell if may_tell is None else checked_share(may_tell)
    if trial.tasting is None:
        raise TrialError.one(
            "no-tasting",
            "The trial has no tasting.csv.",
            "Write one row a serving: assessor, test, served, answer. fairloaf serve draws a plan.",
        )
    every = read_servings(trial)
    servings = [
        s
        for s in every
        if not s.left_out and not s.faults and (s.right is not None or s.none or s.answer)
    ]
    judged = [s for s in servings if s.test not in TELLING or s.right is not None]
    if not judged:
        raise nothing_tasted(every)
    order = bread_order(trial, judged)
    tests, groups = [], []
    for (test, asked, pair), ours in sorted(
        _by_question(judged).items(), key=lambda item: _place(item[0], order)
    ):
        if test in TELLING:
            formula, against = named_first(trial, pair, order)
            names = {"test": test, "asked": asked, "formula": formula, "against": against}
            tests.append(names | test_row(trial, test, ours, may_tell, confidence))
            groups += [names | row for row in group_rows(ours)]
    ranked = [s for s in judged if s.test == "ranking"]
    return TastingAnswers(
        name=trial.name,
        confidence=confidence,
        tests=pd.DataFrame(tests, columns=list(TEST_COLUMNS)),
        preferences=preferences(
            trial, [s for s in judged if s.test == "preference"], order, confidence
        ),
        rankings=rankings(trial, ranked, order),
        ranking_pairs=ranking_pairs(ranked, order),
        groups=pd.DataFrame(groups, columns=list(GROUP_COLUMNS)),
        left_out=_left_out(every),
        allergens=(
            None if trial.card.tasting.allergens is None else dict(trial.card.tasting.allergens)
        ),
    )


def nothing_tasted(servings: tuple[Serving, ...]) -> TrialError:
    """Return the error where no serving can be judged, with why."""
    why = [f"{row.n} of {row.test}: {row.reason}" for row in _left_out(servings).itertuples()]
    return TrialError.one(
        "nothing-tasted",
        f"No serving in tasting.csv can be judged ({'; '.join(why)}).",
        "A row counts when it has an answer and nothing under void; a pair needs the bread that was"
        " expected to have more, as  expected  under [tasting] on the card.",
        file="tasting.csv",
    )


def bread_order(trial: Trial, servings: list[Serving]) -> dict[str, int]:
    """Return bread → place: as the card lists the formulas, then by name."""
    listed = [str(level) for level in trial.card.factors.get("formula", ())] or list(
        trial.card.formulas
    )
    breads = sorted(
        {bread for s in servings for bread in s.breads}, key=lambda bread: (len(bread), bread)
    )
    return {
        bread: i
        for i, bread in enumerate(dict.fromkeys([*(b for b in listed if b in breads), *breads]))
    }


def named_first(trial: Trial, pair: tuple[str, ...], order: dict[str, int]) -> tuple[str, str]:
    """Return formula and against: the control is the one that the other is held against, else the
    card's first.
    """
    first, second = sorted(pair, key=lambda bread: order[bread])
    return (first, second) if second == trial.card.control else (second, first)


def _by_question(servings: list[Serving]) -> dict[tuple[str, str, tuple[str, ...]], list[Serving]]:
    """Return the servings by test, what was asked, and the breads."""
    found: dict[tuple[str, str, tuple[str, ...]], list[Serving]] = {}
    for serving in servings:
        found.setdefault((serving.test, serving.asked, serving.pair), []).append(serving)
    return found


def _place(
    question: tuple[str, str, tuple[str, ...]], order: dict[str, int]
) -> tuple[int, str, list[int]]:
    test, asked, pair = question
    return (
        TELLING.index(test) if test in TELLING else len(TELLING),
        asked,
        sorted(order[bread] for bread in pair),
    )


def _reason(serving: Serving) -> str:
    """Return why a serving is left out; "" where it counts."""
    if serving.left_out:
        return "void" if serving.void else "no answer"
    unknown = serving.test == "pair" and serving.answer and serving.right is None
    return "no bread expected" if unknown else ""


def _left_out(servings: tuple[Serving, ...]) -> pd.DataFrame:
    """Return how many servings of each test are left out, and why."""
    why = Counter((s.test, reason) for s in servings if (reason := _reason(s)))
    return pd.DataFrame(
        [(test, reason, n) for (test, reason), n in sorted(why.items())],
        columns=["test", "reason", "n"],
    )
