"""The words in and beside the pictures of the crumb scores."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ...trials.columns import CRUMB_PREFIX, inside
from ...trials.words.lists import listed
from ...trials.words.naming import set_apart
from ...trials.words.numbers import NumberStyle, level_words, number

if TYPE_CHECKING:
    from ..crumb.result import CrumbScores

SCORE_AXIS = "Mean score (points)"
SHARE_AXIS = "Share of the scores (%)"
POINTS_AXIS, USE_AXIS, SCATTER_AXIS = (
    "Points above\nthe others",
    "Use of the scale\n(1 = alike)",
    "Scatter\n(1 = usual)",
)
DIRECTIONS = {
    "harsher": "harsher",
    "milder": "milder",
    "narrower": "narrower",
    "wider": "wider",
    "own way": "own way",
}
MOST_TOLD = 6


def attribute_labels(r: CrumbScores) -> dict[str, str]:
    """Return attribute → what a person reads for it, the surest first."""
    return dict(zip(r.attributes["attribute"], r.attributes["label"], strict=True))


def profile_alt(r: CrumbScores, names: Sequence[str], style: NumberStyle) -> str:
    """Return what the picture of the means of these attributes shows, from its numbers."""
    labels = attribute_labels(r)
    means = [
        f"{set_apart(name)} {number(value, 2, style)}"
        for name, value in r.profile.T[names[0]].items()
    ]
    ranges = " with its likely range" if r.means["ci_low"].notna().any() else ""
    return (
        f"Mean score of each formula{ranges}, one row an attribute, the surest difference on top: "
        f"{_told([labels[name] for name in names])}. {labels[names[0]]}: {listed(means)}."
    )


def raw_alt(r: CrumbScores, names: Sequence[str], style: NumberStyle) -> str:
    """Return what the stacked bars of these attributes show."""
    labels = attribute_labels(r)
    first = r.raw_counts[r.raw_counts["attribute"] == names[0]]
    told = [
        f"{set_apart(formula)} {listed([level_words(float(score), style) for score in often])}"
        for formula, own in first.groupby("formula", sort=False)
        if len(often := own.loc[own["n"] == own["n"].max(), "score"].tolist())
    ]
    return (
        "Every score counted, one bar a formula and attribute, the lowest score on the left, the"
        f" highest on the right: {_told([labels[name] for name in names])}. Most frequent in"
        f" {inside(CRUMB_PREFIX + names[0], labels[names[0]])}: {listed(told)}."
    )


def surest_note(shown: int, of: int) -> str:
    """Return the caption of a picture of some attributes, or none where it shows all."""
    if shown == of:
        return ""
    return (
        f"The {f'{shown} ' if shown > 1 else ''}surest of {of} attributes; the report for the file"
        " shows all."
    )


def _told(labels: list[str]) -> str:
    """The first few names, and how many more there are."""
    more = [f"{len(labels) - MOST_TOLD} more"] if len(labels) > MOST_TOLD else []
    return listed([*labels[:MOST_TOLD], *more])


def assessors_alt(r: CrumbScores) -> str:
    """Return what the picture of the assessors shows."""
    apart = list(dict.fromkeys(r.standing_apart["assessor"]))
    said = (
        f"{listed([set_apart(who) for who in apart])} {'stand' if len(apart) > 1 else 'stands'}"
        " apart"
        if apart
        else "nobody stands apart"
    )
    return (
        "Each assessor beside the others: points above the others, use of the scale and scatter;"
        f" {said}."
    )


def key_words(words: dict[str, str]) -> str:
    """Return what the ends of the scale mean, for the key of the bars: ``1 closed … 10 very
    open``.
    """
    return " … ".join(f"{step} {meaning}" for step, meaning in words.items())
