"""Preferences and rankings: tests without a right answer."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
from scipy import special

from ...trials import Trial, TrialError
from ...trials.tasting.servings import Serving
from ..methods.agreement import page_trend
from ..methods.multiplicity import holm
from ..methods.preferences import p_turned_round
from ..methods.shuffled import Looks, looks, n_parts, pair_z, shuffled_test
from .telling import n_mixes

PREFERENCE_COLUMNS = (
    "asked",
    "formula",
    "against",
    "chose",
    "chose_other",
    "no_preference",
    "n_assessors",
    "n_mixes",
    "share",
    "p_value",
    "verdict",
)
RANKING_COLUMNS = (
    "asked",
    "n_assessors",
    "n_mixes",
    "chi2",
    "df",
    "p_value",
    "p_chi2",
    "kendall_w",
    "p_expected",
)
PAIR_COLUMNS = ("asked", "formula", "against", "difference", "p_value", "p_holm")


def preferences(
    trial: Trial, servings: list[Serving], order: dict[str, int], confidence: float
) -> pd.DataFrame:
    """Return one row for each question and pair of breads."""
    rows = []
    for asked, pair in sorted(
        {(s.asked, s.pair) for s in servings}, key=lambda q: (q[0], [order[b] for b in q[1]])
    ):
        ours = [s for s in servings if (s.asked, s.pair) == (asked, pair)]
        first, second = sorted(pair, key=lambda bread: order[bread])
        formula, against = (first, second) if second == trial.card.control else (second, first)
        rows.append(
            {
                "asked": asked,
                "formula": formula,
                "against": against,
                "n_mixes": n_mixes(trial, ours),
            }
            | _preference(ours, formula, confidence)
        )
    return pd.DataFrame(rows, columns=list(PREFERENCE_COLUMNS))


def _preference(servings: list[Serving], formula: str, confidence: float) -> dict[str, Any]:
    """Return what people preferred. Who chose none is left out and counted; people are turned
    round, not servings.
    """
    chosen = [s for s in servings if s.answer]
    chose = sum(s.bread_of(s.answer[0]) == formula for s in chosen)
    net: dict[str, int] = {}
    for s in chosen:
        net[s.assessor] = net.get(s.assessor, 0) + (1 if s.bread_of(s.answer[0]) == formula else -1)
    p_value = p_turned_round(np.array(list(net.values()), dtype=float))
    return {
        "chose": chose,
        "chose_other": len(chosen) - chose,
        "no_preference": len(servings) - len(chosen),
        "n_assessors": len({s.assessor for s in servings}),
        "p_value": p_value,
        "share": chose / len(chosen) if chosen else np.nan,
        "verdict": "preferred" if p_value <= 1 - confidence else "not settled",
    }


def rankings(trial: Trial, servings: list[Serving], order: dict[str, int]) -> pd.DataFrame:
    """Return one row for each question that people ranked by."""
    rows, breads_of = [], {}
    for asked in sorted({s.asked for s in servings}):
        ours = [s for s in servings if s.asked == asked]
        breads, table = _ranks(ours, order)
        given = _joined(table)
        found = shuffled_test(given)
        units = int(np.isfinite(table).any(axis=1).sum())
        sums = np.nansum(table, axis=0)
        complete = bool(np.isfinite(table).all())
        rows.append(
            {
                "asked": asked,
                "n_assessors": units,
                "n_mixes": n_mixes(trial, ours),
                "chi2": found.s[0],
                "df": found.df,
                "p_value": found.p_shuffled[0],
                "p_chi2": found.p_chi2[0],
                "kendall_w": found.s[0] / (units * (len(breads) - 1)) if complete else np.nan,
                "p_expected": (
                    _page(table, breads, trial.card.tasting.expected) if complete else np.nan
                ),
            }
            | {f"rank_sum_{bread}": float(total) for bread, total in zip(breads, sums, strict=True)}
        )
        breads_of[asked] = breads
    every = sorted(
        {bread for breads in breads_of.values() for bread in breads}, key=lambda bread: order[bread]
    )
    return pd.DataFrame(rows, columns=[*RANKING_COLUMNS, *(f"rank_sum_{bread}" for bread in every)])


def ranking_pairs(servings: list[Serving], order: dict[str, int]) -> pd.DataFrame:
    """Return every pair of ranked breads, in the card's order, Holm inside each question."""
    parts = []
    for asked in sorted({s.asked for s in servings}):
        breads, table = _ranks([s for s in servings if s.asked == asked], order)
        given = _joined(table)
        rows = []
        for i, j in combinations(range(len(breads)), 2):
            difference, z = pair_z(given, 0, j, i)
            rows.append((asked, breads[j], breads[i], difference, float(2 * special.ndtr(-abs(z)))))
        part = pd.DataFrame(rows, columns=list(PAIR_COLUMNS[:-1]))
        parts.append(part.assign(p_holm=holm(part["p_value"].to_numpy())))
    return (
        pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=list(PAIR_COLUMNS))
    )


def _ranks(servings: list[Serving], order: dict[str, int]) -> tuple[list[str], np.ndarray]:
    """Return the breads and everybody's ranks of them, (people, breads), the mean over a person's
    servings.
    """
    breads = sorted({bread for s in servings for bread in s.breads}, key=lambda bread: order[bread])
    people = sorted({s.assessor for s in servings})
    total, count = np.zeros((len(people), len(breads))), np.zeros((len(people), len(breads)))
    for s in servings:
        for code, rank in s.ranks.items():
            cell = people.index(s.assessor), breads.index(s.bread_of(code))
            total[cell] += rank
            count[cell] += 1
    return breads, np.divide(total, count, out=np.full_like(total, np.nan), where=count > 0)


def _joined(table: np.ndarray) -> Looks:
    """Return ranks as looks, where people join all breads.

    Raises
    ------
    TrialError: some breads were never ranked beside the others.
    """
    given = looks(table[:, :, None])
    if n_parts(given.had) > 1:
        raise not_joined("ranked")
    return given


def _page(table: np.ndarray, breads: list[str], expected: tuple[str, ...]) -> float:
    """Return Page's one-sided p for the expected order; NaN where the card has no order of just
    these breads.
    """
    if sorted(expected) != sorted(breads) or len(breads) < 3:
        return np.nan
    return page_trend(table[:, [breads.index(bread) for bread in expected]]).p_value


def not_joined(how: str) -> TrialError:
    """Return the error for breads that no person joins to the others."""
    return TrialError.one(
        "breads-not-joined",
        f"Some breads were never {how} by the same person as the others.",
        "Nothing joins them: leave these breads out, or let people have breads of both parts.",
    )
