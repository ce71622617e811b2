"""The blind sheets: measuring, scoring, labels. They hold codes, and nothing that says what was
baked.
"""

from __future__ import annotations

from ...trials.card import ScoreScale, TrialCard
from ...trials.printing.paper import CELL_MM, CODE_MM, Paper, cells_across
from ...trials.printing.sheet import Blanks, Block, Grid, Labels, Part, SheetColumn, Words
from ...trials.sheets.blind import VOLUME_READINGS, MeasureSheet
from ...trials.sheets.score import MOST_AT_ONCE, ScorePage
from ...trials.words.numbers import NumberStyle
from ..wording import sheets as say


def measure_parts(sheet: MeasureSheet, card: TrialCard, paper: Paper) -> tuple[Part, ...]:
    """Return a part a day: a row a loaf, in measuring order."""
    reading = say.MEASURE["seed" if sheet.by_seed else "volume"]
    usual = [
        say.MEASURE["mass"],
        *(reading.format(i + 1) for i in range(VOLUME_READINGS)),
        say.MEASURE["height"],
        say.MEASURE["out"],
        say.MEASURE["measured"],
    ]
    across, own = cells_across(paper, CODE_MM), [say.with_unit(name, card) for name in sheet.own]
    parts = []
    for day in sheet.days:
        blocks: list[Block] = [Words(say.MEASURE["order"]), Words(say.MEASURE["apart"], "caution")]
        if sheet.by_seed:
            blocks.append(Blanks(say.BOX_BLANKS))
        blocks.append(_to_write(day.loaves, usual))
        for i in range(0, len(own), across):
            blocks += [
                Words(say.MEASURE["own"], "head"),
                _to_write(day.loaves, own[i : i + across], None),
            ]
        parts.append(Part(say.DAY.format(day.day), tuple(blocks)))
    return tuple(parts)


def _to_write(
    codes: tuple[str, ...], headings: list[str], width_mm: float | None = CELL_MM
) -> Grid:
    """Return a row a code with a cell to write in under each heading; the narrower column takes
    what is left.
    """
    code = SheetColumn(say.MEASURE["code"], "code", CODE_MM if width_mm is None else None)
    return Grid(
        (code, *(SheetColumn(h, "write", width_mm) for h in headings)),
        tuple((one, *[""] * len(headings)) for one in codes),
    )


def score_parts(
    pages: tuple[ScorePage, ...], scores: ScoreScale, paper: Paper, style: NumberStyle
) -> tuple[Part, ...]:
    """Return a part an assessor and day; allergens and consent come first."""
    across = cells_across(paper, CODE_MM)
    columns = [
        SheetColumn(
            attribute,
            "write",
            None,
            say.scale_ends(dict(scores.words.get(attribute, {})), scores.low, scores.high, style),
        )
        for attribute in scores.attributes
    ]
    parts = []
    for page in pages:
        blocks: list[Block] = [
            Blanks((say.SCORE["allergens"],), 90.0),
            Blanks((say.SCORE["consent"],), 70.0),
            Words(say.SCORE["raw"], "caution"),
            Words(say.SCORE["order"]),
        ]
        sets = page.sets or (("",) * MOST_AT_ONCE,)
        if len(sets) > 1:
            blocks.append(Words(say.SCORE["pause"]))
        for i, codes in enumerate(sets, 1):
            if len(sets) > 1:
                blocks.append(Words(say.SET.format(i), "head"))
            for j in range(0, len(columns), across):
                shown = (SheetColumn(say.SCORE["code"], "code", CODE_MM), *columns[j : j + across])
                blocks.append(
                    Grid(shown, tuple((code, *[""] * (len(shown) - 1)) for code in codes))
                )
        who = say.ASSESSOR.format(page.assessor if page.assessor is not None else "____")
        parts.append(Part(f"{say.DAY.format(page.day)}, {who}", tuple(blocks)))
    return tuple(parts)


def label_parts(days: list[tuple[str, tuple[str, ...]]]) -> tuple[Part, ...]:
    """Return a part a day: every label with its code and its day."""
    return tuple(
        Part(say.DAY.format(day), (Labels(tuple((code, say.LABEL.format(day)) for code in codes)),))
        for day, codes in days
    )
