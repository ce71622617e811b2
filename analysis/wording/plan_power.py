"""What a plan can show, in words: the answer first, then factor by factor."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from ...trials.words.lists import capital
from ...trials.words.numbers import NumberStyle, amount, decimals, number
from .differences import difference_unit
from .layout import unit_words
from .sheets import factor_words

if TYPE_CHECKING:
    from ..planning.result import PlanPower

CHANCES = {
    0.5: "every second time",
    0.75: "three times in four",
    0.8: "four times in five",
    0.9: "nine times in ten",
}
SOURCES = {
    "call": "the standard deviations that were given",
    "past trial": "the scatter of the past trial",
    "card": "the standard deviations on the card",
    "rough": "a rough rule of thumb (mixes and loaves each vary by 3 %)",
    "rough share": "a rough rule of thumb (mixes and loaves each vary by 3 %)",
}
UNITS = {"load": "oven_load"}


def power_sentence(p: PlanPower, style: NumberStyle) -> str:
    """Return the answer: what will be shown, against what matters, and the days that would do."""
    row = _first(p)
    if math.isnan(row.smallest_difference):
        return f"{_nothing(p, row)} {_days(p)}".strip()
    said = (
        f"{capital(_units(row))} will show {_size(p, row.smallest_difference, style)} {_often(p)}"
    )
    if p.source == "rough share":
        return (
            f"{said}. Nobody has said how much {p.label_inside} varies: write it under "
            " [variation]  on the card, in its own unit, or name a past trial with  --like ; then"
            " the chance to see what matters is told."
        )
    if p.matters is None:
        return (
            f"{said}. Nobody has said what difference matters: say it as  matters  on the card, and"
            " the days needed are told."
        )
    matters = _size(p, p.matters, style)
    if p.days_needed is not None and p.days_needed <= p.days:
        return f"{said}; you said that {matters} matters: these {p.days} days will do."
    rows: list[Any] = list(p.factors.itertuples())
    short = [one for one in rows if not one.power >= p.power]
    if short and all(one.factor != row.factor for one in short):
        return (
            f"{said}, enough for the {matters} that you said matters; {_names(short)} would take"
            f" more. {_days(p)}"
        )
    return f"{said}; you said that {matters} matters: {_days(p)}"


def power_lines(p: PlanPower, style: NumberStyle) -> list[str]:
    """Return what follows: every factor, mixes against loaves, and what was assumed."""
    lines = ["What it can show"]
    lines += [f"  {_factor_line(p, row, style)}" for row in p.factors.itertuples()]
    lines += _table_lines(p, style)
    if p.best_loaves_a_mix is not None:
        loaves = "1 loaf" if p.best_loaves_a_mix == 1 else f"{p.best_loaves_a_mix} loaves"
        lines.append(f"  For the minutes that they take, {loaves} of a mix show the most.")
    lines.append(f"  {_assumed(p, style)}")
    return lines


def _first(p: PlanPower) -> Any:
    """Return the factor that the answer leads with: the first that is made per mix, or the first of
    all.
    """
    rows = list(p.factors.itertuples())
    return next((row for row in rows if row.unit == "mix"), rows[0])


def _units(row: Any) -> str:
    per, rest = divmod(int(row.n_units), int(row.n_levels))
    name = UNITS.get(row.unit, row.unit)
    return (
        f"{per} {unit_words(name, per)} of each"
        if not rest
        else f"{int(row.n_units)} {unit_words(name, 2)} in all"
    )


def _often(p: PlanPower) -> str:
    return CHANCES.get(round(p.power, 4), f"{100 * p.power:.0f} times in 100")


def _size(p: PlanPower, value: float, style: NumberStyle) -> str:
    return amount(value, difference_unit(p.unit), decimals(value, value), style)


def _days(p: PlanPower) -> str:
    if p.matters is None:
        return ""
    if p.days_needed is None:
        return f"not even {p.most_days} days would do."
    lucky = ""
    if p.days_needed_if_unlucky is not None and p.days_needed_if_unlucky > p.days_needed:
        lucky = f" ({p.days_needed_if_unlucky} if the past trial was lucky)"
    return f"{p.days_needed} {unit_words('day', p.days_needed)} would do{lucky}."


def _nothing(p: PlanPower, row: Any) -> str:
    return (
        f"This plan can show nothing of {_factor(row)}, however large: nothing is left"
        " to judge it by. Make mixes again, on more days."
    )


def _factor(row: Any) -> str:
    """Return a factor's name inside a sentence."""
    return factor_words(row.factor)[0].lower()


def _names(rows: list[Any]) -> str:
    return ", ".join(_factor(row) for row in rows)


def _factor_line(p: PlanPower, row: Any, style: NumberStyle) -> str:
    name = capital(_factor(row))
    if math.isnan(row.smallest_difference):
        return f"{name}: nothing, however large; no repeat is left to judge it by."
    parts = [
        f"{name}: {_size(p, row.smallest_difference, style)} {_often(p)}, judged {row.unit} against"
        f" {row.unit}"
    ]
    if row.judged == "Lenth":
        parts.append("by what most effects are like (Lenth), as nothing is baked twice")
    elif not math.isnan(row.half_width):
        parts.append(
            "likely range about"
            f" ±{number(row.half_width, decimals(row.half_width, row.half_width), style)}"
        )
    if not math.isnan(row.power):
        parts.append(f"chance to show what matters {100 * row.power:.0f} in 100")
    if not math.isnan(row.assurance):
        parts.append(
            f"{100 * row.assurance:.0f} in 100 when allowed for what the past trial leaves unsure"
        )
    return "; ".join(parts) + "."


def _table_lines(p: PlanPower, style: NumberStyle) -> list[str]:
    """Return the smallest difference by mixes and loaves: one line a number of mixes."""
    table = p.mixes_and_loaves
    if table.empty:
        return []
    loaves = list(dict.fromkeys(table["loaves_a_mix"]))
    lines = [
        "  Smallest difference shown, by mixes of each and loaves of a mix:",
        "    mixes  " + "".join(f"{n:>8}" for n in loaves),
    ]
    for mixes, own in table.groupby("mixes"):
        sizes = own.set_index("loaves_a_mix")["smallest_difference"]
        cells = "".join(
            f"{number(sizes[n], 2, style):>8}" if n in sizes else " " * 8 for n in loaves
        )
        lines.append(f"    {mixes:>5}  {cells}")
    return lines


def _assumed(p: PlanPower, style: NumberStyle) -> str:
    """Return what the scatter was taken to be, and what half or twice of it would change where that
    is rough.
    """
    v = p.variation
    size = f"mixes {_size(p, v.mix or 0.0, style)}, loaves {_size(p, v.loaf or 0.0, style)}"
    said = f"Assumed: {SOURCES[p.source]} ({size})."
    if not p.source.startswith("rough") or math.isnan(p.half):
        return said
    return (
        f"{said} Were they half as large it would be {_size(p, p.half, style)}, were they twice as"
        f" large {_size(p, p.double, style)}: write your own under [variation], or name a past"
        " trial with --like."
    )
