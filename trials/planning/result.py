"""What a plan is: every loaf's dough, day, places and code, and how they were drawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from pathlib import Path
from typing import Any, Literal

import pandas as pd

from ..card import TrialCard
from ..findings import Finding
from ..frozen import frozen
from ..kitchen import Unit

Layout = Literal[
    "complete days",
    "balanced incomplete days",
    "two-level factorial",
    "two-level fraction",
    "chosen by exchange",
]
Inside = Literal["loaves alike", "complete mixes", "chosen by exchange"]
Loads = Literal["none", "whole mixes", "mixes inside loads", "mixes divided over loads"]
ORDERS = ("mix_order", "bake_order", "measure_order")


@frozen(kw_only=True)
class TrialPlan:
    """A randomised layout. The same card and seed give the same plan on every machine.

    Attributes
    ----------
    card : what was asked; its kitchen holds the limits as the baker wrote them
    seed : of the generator (NumPy's PCG64); draws : how often the plan was drawn until the
        fair-test checks were silent
    loaves : one row a loaf, by day, mix and baking order: loaf (a blind code), day, baker, mix,
        mix_order,
        oven_load, oven_place, bake_order, measure_order, and a column a factor. Labels are text
        ("1", "2", …; mixes and oven loads are numbered through the trial), orders whole numbers
        that start at 1 on every day (mix_order: for every baker). baker, oven_load and oven_place
        are there only where they apply.
    mixes : one row a mix: day, baker, mix, mix_order, (oven_load), and the factors that a mix has
        one level of
    layout : how mixes are dealt to days (and bakers); inside : how loaves are dealt within mixes
    loads : how loads of the oven stand to mixes
    centre_points : mixes with every number half-way, one a day, or 0
    made_per : factor → what it is changed with
    tied : groups of effects, and "day", that cannot be told apart; effects are joined by " × "
    balance : factor, against ("mix order", "day", "oven place", …), spread (most less least of the
        counts),
        promised (the spread that no better plan could go below)
    restrictions : what the draw was held to, a sentence each
    earlier_seeds : of plans that this one replaces, oldest first
    findings : warnings and notes
    """

    card: TrialCard
    seed: int
    draws: int
    loaves: pd.DataFrame
    mixes: pd.DataFrame
    layout: Layout
    inside: Inside
    loads: Loads
    made_per: Mapping[str, Unit]
    tied: tuple[tuple[str, ...], ...] = ()
    balance: pd.DataFrame = field(
        default_factory=lambda: pd.DataFrame(columns=["factor", "against", "spread", "promised"])
    )
    centre_points: int = 0
    restrictions: tuple[str, ...] = ()
    earlier_seeds: tuple[int, ...] = ()
    folder: Path | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def factors(self) -> tuple[str, ...]:
        """Return the factors' names, in the card's order."""
        return tuple(self.made_per)

    def save(self, folder: str | Path | None = None, again: bool = False) -> tuple[Path, ...]:
        """Write the plan into a folder, the one it was planned in where none is given, and return
        the files.

        ``plan.csv`` is the key, ``plan.json`` tells how it was drawn, ``loaves.csv`` is there to be
        filled in.

        Raises
        ------
        TrialError: loaves are recorded there, a plan is there and ``again`` was not said, or
        nothing can be written.
        """
        from .saving import save_plan

        return save_plan(self, Path(folder if folder is not None else self.folder or "."), again)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        return {
            "title": self.card.title,
            "seed": self.seed,
            "draws": self.draws,
            "layout": self.layout,
            "inside": self.inside,
            "loads": self.loads,
            "centre_points": self.centre_points,
            "made_per": dict(self.made_per),
            "tied": [list(group) for group in self.tied],
            "restrictions": list(self.restrictions),
            "earlier_seeds": list(self.earlier_seeds),
            "balance": rows_of(self.balance),
            "mixes": rows_of(self.mixes),
            "loaves": rows_of(self.loaves),
            "findings": [finding.to_dict() for finding in self.findings],
        }


def mixes_of(loaves: pd.DataFrame, made_per: Mapping[str, Unit], loads: Loads) -> pd.DataFrame:
    """Return one row a mix, with the columns of which a mix has one value."""
    units: tuple[Unit, ...] = (
        ("day", "mix") if loads == "mixes divided over loads" else ("day", "mix", "load")
    )
    kept = [
        "day",
        "baker",
        "mix",
        "mix_order",
        *([] if loads == "mixes divided over loads" else ["oven_load"]),
    ]
    kept += [name for name, unit in made_per.items() if unit in units]
    return loaves.drop_duplicates("mix")[[name for name in kept if name in loaves]].reset_index(
        drop=True
    )


def rows_of(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return a table as a list of rows of plain values; what is missing is None."""
    columns = {
        str(name): [None if pd.isna(v) else v for v in table[name].tolist()] for name in table
    }
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
