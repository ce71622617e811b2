"""The blind sheets: what is measured on each loaf, the labels; and the key that opens them."""

from __future__ import annotations

import pandas as pd

from ..card import TrialCard
from ..columns import BY_NAME
from ..frozen import frozen
from ..planning.result import TrialPlan
from .levels import Levels, levels_of

VOLUME_READINGS = 3
LABELS_A_LOAF = 2  # one for the board, one for the rack


@frozen(kw_only=True)
class MeasureDay:
    """The codes of a day in measuring order."""

    day: str
    loaves: tuple[str, ...]


@frozen(kw_only=True)
class MeasureSheet:
    """What is written down of each loaf.

    ``by_seed``: volume is read as the seed left over around the loaf, with the empty box before and
    after. ``own`` are measures of the card that are not among the usual ones.
    """

    days: tuple[MeasureDay, ...]
    by_seed: bool
    own: tuple[str, ...]


@frozen(kw_only=True)
class KeyRow:
    """What stands behind a code."""

    loaf: str
    day: str
    mix: str
    places: tuple[tuple[str, str], ...]
    levels: Levels


def measure_sheet(plan: TrialPlan) -> MeasureSheet:
    """Return what is measured, by day, in measuring order."""
    days = tuple(MeasureDay(day=day, loaves=codes) for day, codes in in_measuring_order(plan))
    return MeasureSheet(days=days, by_seed=reads_seed(plan.card), own=own_measures(plan))


def in_measuring_order(plan: TrialPlan) -> list[tuple[str, tuple[str, ...]]]:
    """Return (day, codes in the order in which they are measured), which says nothing of mix or
    formula.
    """
    ordered = plan.loaves.sort_values("measure_order", kind="stable")
    days = [str(day) for day in dict.fromkeys(plan.loaves["day"])]
    return [(day, tuple(map(str, ordered.loc[ordered["day"] == day, "loaf"]))) for day in days]


def reads_seed(card: TrialCard) -> bool:
    """Return whether the card names headers for the seed box, so that volume is read by
    displacement.
    """
    return bool({"box_ml", "seed_ml"} & set(card.columns))


def own_measures(plan: TrialPlan) -> tuple[str, ...]:
    """Return the card's measures that are recorded as they are and are not among the vocabulary's
    columns.
    """
    named = dict.fromkeys(
        [*([plan.card.measure] if plan.card.measure else []), *plan.card.measures]
    )
    return tuple(
        name
        for name in named
        if name not in BY_NAME and name not in plan.loaves and not name.startswith("crumb_")
    )


def label_days(plan: TrialPlan) -> list[tuple[str, tuple[str, ...]]]:
    """Return (day, each code as often as it gets a label), in measuring order."""
    return [
        (day, tuple(code for code in codes for _ in range(LABELS_A_LOAF)))
        for day, codes in in_measuring_order(plan)
    ]


def key_rows(plan: TrialPlan) -> tuple[KeyRow, ...]:
    """Return what stands behind every code, by day, in the order of the codes."""
    days = [str(day) for day in dict.fromkeys(plan.loaves["day"])]
    rows = [
        KeyRow(
            loaf=str(row["loaf"]),
            day=str(row["day"]),
            mix=str(row["mix"]),
            places=tuple(
                (name, str(row[name]))
                for name in ("baker", "oven_load", "oven_place")
                if name in row and pd.notna(row[name])
            ),
            levels=levels_of(row, plan.factors),
        )
        for _, row in plan.loaves.iterrows()
    ]
    return tuple(sorted(rows, key=lambda row: (days.index(row.day), row.loaf)))
