"""The words in and beside the pictures of the crumb scores."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .crumb_people import rows_of
from .numbers import ENGLISH, NumberStyle, listed, number

if TYPE_CHECKING:
    from ..crumb import CrumbScores

SCORE_AXIS = "Mean score (points)"
SHARE_AXIS = "Share of the scores (%)"
SEVERITY_AXIS, SPREAD_AXIS, SCATTER_AXIS = "Points above\nthe others", "Spread\n(1 = alike)", "Scatter\n(1 = usual)"
DIRECTIONS = {"harsher": "harsher", "milder": "milder", "narrower": "narrower", "wider": "wider",
              "own way": "own way"}
MOST_TOLD = 6


def profile_alt(r: CrumbScores, style: NumberStyle = ENGLISH) -> str:
    """Return what the picture of the means shows, from its numbers."""
    first = r.attributes["attribute"].iloc[0]
    means = [f"{name} {number(value, 2, style)}" for name, value in r.profile.loc[first].items()]
    order = listed(list(dict.fromkeys(r.attributes["label"]))[:MOST_TOLD])
    return ("Mean score of each formula with its likely range, one row an attribute, the surest difference on top: "
            f"{order}. In {first}: {listed(means)}.")


def raw_alt(r: CrumbScores) -> str:
    """Return what the stacked bars show."""
    counts = r.raw_counts
    best = counts.loc[counts.groupby(["attribute", "formula"], sort=False)["n"].idxmax()]
    first = best["attribute"].iloc[0]
    told = [f"{row.formula} {row.score:g}" for row in rows_of(best[best["attribute"] == first])]
    return ("Every score counted, one bar a formula and attribute, the lowest score on the left, the highest on "
            f"the right. Most frequent in {first}: {listed(told[:MOST_TOLD])}.")


def assessors_alt(r: CrumbScores) -> str:
    """Return what the picture of the assessors shows."""
    apart = list(dict.fromkeys(r.standing_apart["assessor"]))
    said = f"{listed(apart)} {'stand' if len(apart) > 1 else 'stands'} apart" if apart else "nobody stands apart"
    return f"Each assessor beside the others: severity, spread and scatter of the scores; {said}."


def key_words(words: dict[str, str]) -> str:
    """Return what the ends of the scale mean, for the key of the bars: ``1 closed … 10 very open``."""
    return " … ".join(f"{step} {meaning}" for step, meaning in words.items())
