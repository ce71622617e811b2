"""The people behind a trial's scores: who they are, what they left out, and how far they agree."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from ...trials import Finding
from ..asking.score_fit import SCORE
from ..methods.agreement import cohen_kappa, friedman, intraclass
from .assessors import Assessors, describe_assessors
from .standing_apart import APART_COLUMNS, Smallest

MOST_NAMED = 5
AGREEMENT = [
    "attribute",
    "n_assessors",
    "n_loaves",
    "kendall_w",
    "p_value",
    *(
        name + end
        for name in ("icc_2_1", "icc_2_k", "weighted_kappa")
        for end in ("", "_low", "_high")
    ),
]


def describe_panel(
    rows: pd.DataFrame, scale: tuple[float, float, float]
) -> tuple[Assessors, list[Finding]]:
    """The assessors, and what is missing of them."""
    panel = rows.dropna(subset=["assessor"])
    low, high, step = scale
    if panel.empty:
        return (
            Assessors(
                table=pd.DataFrame(columns=["assessor"]),
                apart=pd.DataFrame(columns=APART_COLUMNS),
                smallest=Smallest(),
                unlinked=(),
            ),
            [],
        )
    people = describe_assessors(panel.rename(columns={"row": "loaf"}), max(high - low, step), step)
    return people, [*_gaps(panel), *_unlinked(people)]


def _gaps(panel: pd.DataFrame) -> list[Finding]:
    """Say how many scores a full panel would have had more, and of whom."""
    cells = panel[["assessor", "row", "attribute"]].drop_duplicates()
    full = cells["row"].nunique() * cells["attribute"].nunique()
    short = full - cells["assessor"].value_counts()
    short = short[short > 0].sort_values(kind="stable", ascending=False)
    if short.empty:
        return []
    more = " …" if len(short) > MOST_NAMED else ""
    named = ", ".join(f"{who} {n}" for who, n in short.head(MOST_NAMED).items()) + more
    return [
        Finding(
            code="scores-missing",
            severity="note",
            column="score",
            message=(
                f"{short.sum()} of {full * cells['assessor'].nunique()} scores are missing:"
                f" {named}."
            ),
            why="Assessors are compared on the loaves that they share, so gaps cost certainty.",
            fix="Let everybody score every loaf where it can be done.",
        )
    ]


def _unlinked(people: Assessors) -> list[Finding]:
    return (
        [
            Finding(
                code="assessor-not-linked",
                severity="warning",
                column="assessor",
                message=(
                    f"{who} scored no loaf that the others scored, so whether {who} scores"
                    " high or low cannot be told from the bread."
                ),
                fix="Give everybody at least a few loaves in common.",
            )
            for who in people.unlinked
        ]
        if len(people.table) > 1
        else []
    )


def agreement_table(rows: pd.DataFrame, names: Sequence[str], confidence: float) -> pd.DataFrame:
    """How well the assessors agree on the loaves that all of them scored."""
    found = []
    for name in names:
        own = rows[(rows["attribute"] == name) & rows["assessor"].notna()]
        if own["assessor"].nunique() < 2:
            continue
        wide = own.pivot_table(index="row", columns="assessor", values=SCORE).dropna()
        n, m = wide.shape
        if n < 3:
            found.append((name, m, n, *[np.nan] * 11))
            continue
        test, icc = friedman(wide.to_numpy().T), intraclass(wide.to_numpy(), confidence)
        kappa = (
            cohen_kappa(_cross_table(wide), weighted=True, confidence=confidence)
            if m == 2
            else None
        )
        found.append(
            (
                name,
                m,
                n,
                test.kendall_w,
                test.p_value,
                icc.icc_2_1.value,
                icc.icc_2_1.ci_low,
                icc.icc_2_1.ci_high,
                icc.icc_2_k.value,
                icc.icc_2_k.ci_low,
                icc.icc_2_k.ci_high,
                *((kappa.value, kappa.ci_low, kappa.ci_high) if kappa else [np.nan] * 3),
            )
        )
    return pd.DataFrame(found, columns=AGREEMENT)


def _cross_table(wide: pd.DataFrame) -> np.ndarray:
    """Counts of two assessors' scores, one row and column a step that either of them used."""
    steps = np.unique(wide.to_numpy())
    counts = np.zeros((len(steps), len(steps)))
    np.add.at(counts, tuple(np.searchsorted(steps, wide.to_numpy()).T), 1)
    return counts
