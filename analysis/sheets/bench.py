"""The sheets of those who bake: the run of each day and what to weigh, which name formulas."""

from __future__ import annotations

from collections.abc import Iterable

from ...trials.card import TrialCard
from ...trials.columns import label
from ...trials.planning.result import TrialPlan
from ...trials.printing.paper import CODE_MM
from ...trials.printing.sheet import Blanks, Block, Grid, Part, SheetColumn, Words
from ...trials.sheets.blind import KeyRow
from ...trials.sheets.run import OvenPlace, RunDay, RunStep
from ...trials.sheets.weigh import WeighPage
from ...trials.words.numbers import NumberStyle, level_words, typed
from ..wording import sheets as say

MOST_KEY_COLUMNS = 5  # factors with a column of their own
KEY_ROW_MM = 10.0


def run_parts(
    days: tuple[RunDay, ...],
    card: TrialCard,
    style: NumberStyle,
    why: str,
    notes: Iterable[str] = (),
) -> tuple[Part, ...]:
    """Return a part a day: the steps in clock order, the oven map, the day's cautions."""
    parts = []
    for day in days:
        timed = any(step.begins for step in day.steps)
        blocks: list[Block] = [] if timed else [Words(say.NO_TIMES.format(why))]
        blocks += [Words(note) for note in notes]
        columns = (
            *((SheetColumn(say.RUN["planned"], "strong", 17.0),) if timed else ()),
            SheetColumn("", "tick", 10.0),
            SheetColumn(say.RUN["really"], "write", 24.0),
            SheetColumn(say.RUN["what"], width_mm=46.0),
            SheetColumn(say.RUN["mix"], "strong", 12.0),
            SheetColumn(say.RUN["codes"]),
        )
        blocks.append(
            Grid(columns, tuple(_run_row(step, card, style, timed) for step in day.steps))
        )
        blocks += _oven_map(day.oven)
        blocks += [Words(words, "caution") for words in say.RUN_CAUTIONS]
        parts.append(Part(say.DAY.format(day.day), tuple(blocks)))
    return tuple(parts)


def _run_row(step: RunStep, card: TrialCard, style: NumberStyle, timed: bool) -> tuple:
    what = say.STEPS[step.step]
    if step.oven_load is not None:
        what += f", {say.LOAD.format(step.oven_load)}"
    if step.made and step.step in ("weigh", "mix"):
        what += f": {say.levels_words(step.made, card, style)}"
    if step.baker is not None:
        what += f", {say.baker(step.baker)}"
    loaves = tuple(
        (say.levels_words(levels, card, style), " ".join(codes)) for levels, codes in step.loaves
    )
    row = ("", "", what, step.mix or "", loaves or "")
    return (step.begins or "", *row) if timed else row


def _oven_map(oven: tuple[OvenPlace, ...]) -> list[Block]:
    """Return the map of the oven: a row a load and place."""
    if not oven:
        return []
    loads, places = (any(getattr(place, name) for place in oven) for name in ("oven_load", "place"))
    columns = (
        *((SheetColumn(say.RUN["load"], "strong", 16.0),) if loads else ()),
        *((SheetColumn(say.RUN["place"], "strong", 40.0),) if places else ()),
        SheetColumn(say.RUN["codes"]),
    )
    rows = tuple(
        (
            *((place.oven_load or "",) if loads else ()),
            *((place.place or "",) if places else ()),
            (("", " ".join(place.loaves)),),
        )
        for place in oven
    )
    return [Words(say.RUN["map"], "head"), Words(say.RUN["map_note"]), Grid(columns, rows)]


def weigh_parts(
    pages: tuple[WeighPage, ...], card: TrialCard, style: NumberStyle
) -> tuple[Part, ...]:
    """Return a part for the evening before each day that needs one, and a part a mix."""
    parts = []
    for day in dict.fromkeys(page.day for page in pages):
        ahead = [page for page in pages if page.day == day and page.part is not None]
        if ahead:
            blocks: list[Block] = []
            for page in ahead:
                blocks += [
                    Words(f"{say.MIX.format(page.mix).capitalize()}: {page.part}", "head"),
                    _ingredients(page, style),
                ]
            parts.append(Part(say.EVENING.format(day), tuple(blocks)))
        parts += [
            _mix_part(page, card, style) for page in pages if page.day == day and page.part is None
        ]
    return tuple(parts)


def _mix_part(page: WeighPage, card: TrialCard, style: NumberStyle) -> Part:
    """Return the page of one dough."""
    name = say.MIX.format(page.mix)
    made = say.levels_words(page.made, card, style)
    blocks: list[Block] = [
        Words(f"{name.capitalize()}: {made}" if made else name.capitalize(), "head"),
        _ingredients(page, style),
    ]
    if page.water_c is not None:
        water = say.WEIGH["water"].format(say.number(page.water_c, 0, style))
        ice = say.WEIGH["ice"].format(typed(page.ice_g, style)) if page.ice_g else ""
        blocks.append(Words(water + ice, "large"))
    blocks += [
        Words(say.WEIGH["found"]),
        Blanks(say.WEIGH_BLANKS, 26.0),
        Words(f"{say.WEIGH['loaves']}:"),
        Words(" ".join(page.loaves), "large"),
        Words(say.WEIGH["temperature"]),
        *(Words(words, "caution") for words in say.WEIGH_CAUTIONS),
    ]
    heading = f"{say.DAY.format(page.day)}, {name}" + (
        f", {say.baker(page.baker)}" if page.baker else ""
    )
    return Part(heading, tuple(blocks))


def _ingredients(page: WeighPage, style: NumberStyle) -> Grid:
    columns = (
        SheetColumn(say.WEIGH["ingredient"]),
        SheetColumn(say.WEIGH["grams"], "code", 44.0),
        SheetColumn("", "tick", 14.0),
        SheetColumn(say.WEIGH["weighed"], "write", 34.0),
    )
    return Grid(
        columns,
        tuple(
            (line.ingredient.replace("_", " "), say.grams(line.grams, line.scale_g, style), "", "")
            for line in page.lines
        ),
    )


def key_parts(rows: tuple[KeyRow, ...], plan: TrialPlan, style: NumberStyle) -> tuple[Part, ...]:
    """Return a part a day: what stands behind every code."""
    card = plan.card
    apart = 0 < len(plan.factors) <= MOST_KEY_COLUMNS
    places = [name for name, _ in rows[0].places]
    columns = (
        SheetColumn(say.KEY["code"], "code", CODE_MM),
        SheetColumn(say.KEY["mix"], "strong", 13.0),
        *(SheetColumn(label(name, card), width_mm=20.0) for name in places),
        *(
            (SheetColumn(say.with_unit(name, card)) for name in plan.factors)
            if apart
            else (SheetColumn(say.KEY["levels"]),)
        ),
    )
    parts = []
    for day in dict.fromkeys(row.day for row in rows):
        cells = tuple(
            (
                row.loaf,
                row.mix,
                *(place for _, place in row.places),
                *_key_levels(row, plan, apart, style),
            )
            for row in rows
            if row.day == day
        )
        parts.append(Part(say.DAY.format(day), (Grid(columns, cells, KEY_ROW_MM),)))
    return tuple(parts)


def _key_levels(row: KeyRow, plan: TrialPlan, apart: bool, style: NumberStyle) -> tuple[str, ...]:
    if not apart:
        return (
            "; ".join(
                f"{label(name, plan.card)}: {level_words(level, style)}"
                for name, level in row.levels
            ),
        )
    had = dict(row.levels)
    return tuple(level_words(had.get(name, ""), style) for name in plan.factors)
