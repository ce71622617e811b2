"""What to weigh for each dough, a page a mix, and what is made the evening before. For who
mixes.
"""

from __future__ import annotations

from ..frozen import frozen
from ..planning.result import TrialPlan, rows_of
from ..planning.weigh_out import DOUGH, WeighOut
from .levels import Levels, levels_of, mix_factors


@frozen(kw_only=True)
class WeighLine:
    """One ingredient, to the step of its scale."""

    ingredient: str
    grams: float
    scale_g: float


@frozen(kw_only=True)
class WeighPage:
    """One dough: its loaves' codes, what goes in, and the water; None where the card does not say
    enough.

    ``part`` is the preferment or soaker where this is made the evening before, else None.
    """

    day: str
    mix: str
    baker: str | None
    made: Levels
    loaves: tuple[str, ...]
    lines: tuple[WeighLine, ...]
    part: str | None = None
    water_c: float | None = None
    ice_g: float | None = None


def weigh_pages(plan: TrialPlan, weighed: WeighOut) -> tuple[WeighPage, ...]:
    """Return the pages by day: first what is made the evening before, then the doughs in mixing
    order.
    """
    water = {(row["day"], row["mix"]): row for row in rows_of(weighed.water)}
    pages: list[WeighPage] = []
    for day, loaves in plan.loaves.groupby("day", sort=False):
        ahead: list[WeighPage] = []
        doughs: list[WeighPage] = []
        for mix, of_mix in loaves.sort_values(["mix_order", "mix"]).groupby("mix", sort=False):
            table = weighed.table[(weighed.table["day"] == day) & (weighed.table["mix"] == mix)]
            for part, rows in table.groupby("part", sort=False):
                found = water.get((str(day), str(mix))) if part == DOUGH else None
                page = WeighPage(
                    day=str(day),
                    mix=str(mix),
                    baker=str(of_mix["baker"].iloc[0]) if "baker" in of_mix else None,
                    made=levels_of(of_mix.iloc[0], mix_factors(plan)),
                    loaves=tuple(map(str, of_mix["loaf"])),
                    lines=tuple(
                        WeighLine(
                            ingredient=r["ingredient"], grams=r["grams"], scale_g=r["scale_g"]
                        )
                        for r in rows_of(rows)
                    ),
                    part=None if part == DOUGH else str(part),
                    water_c=found["temp_c"] if found else None,
                    ice_g=found["ice_g"] if found else None,
                )
                (doughs if part == DOUGH else ahead).append(page)
        pages += [*ahead, *doughs]
    return tuple(pages)
