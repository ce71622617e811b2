"""The workbook that the records are typed into: loaves, readings and scores, without formula, tin
or place.
"""

from __future__ import annotations

from collections.abc import Iterable

from ..card import TrialCard
from ..columns import BY_NAME, READINGS, SCORES, Column
from ..planning.result import TrialPlan
from ..printing.book import BookColumn, BookSheet
from ..reading.headers import words
from .blind import VOLUME_READINGS, in_measuring_order, measure_sheet
from .score import score_pages

LOAVES = ("dough_temp_c", "dough_g", "loaf_g", "height_mm", "cool_min")
MOST_STEPS = 25  # of a scale that is offered as a list; fractions in it are no numbers everywhere


def book_sheets(
    plan: TrialPlan, void_reasons: tuple[str, ...], headers: Iterable[str] = ()
) -> tuple[BookSheet, ...]:
    """Return the sheets: loaves and readings in measuring order, scores by assessor where the card
    has a scale.

    ``headers`` are those of the table that the workbook takes the place of; the baker's own among
    them stay.
    """
    sheets = [_loaves(plan, void_reasons, tuple(headers)), _readings(plan)]
    if plan.card.scores is not None and plan.card.scores.attributes:
        sheets.append(_scores(plan))
    return tuple(sheets)


def _loaves(plan: TrialPlan, void_reasons: tuple[str, ...], headers: tuple[str, ...]) -> BookSheet:
    """Return one row a loaf, in measuring order."""
    asked = measure_sheet(plan)
    names = [name for name in LOAVES if name not in plan.loaves]
    names += [
        name
        for name in plan.card.columns
        if name in BY_NAME and name in ("box_ml", "seed_ml", "loaf_ml")
    ]
    given = {*names, *asked.own, *plan.loaves, *plan.card.columns.values()}
    kept = [text for text in headers if text not in given and not _known(text)]
    columns = (
        _id("loaf", plan.card),
        *(_number(BY_NAME[name], plan.card) for name in names),
        *(BookColumn(header=plan.card.columns.get(name, name), number=True) for name in asked.own),
        *(BookColumn(header=text, number=True) for text in dict.fromkeys(kept)),
        BookColumn(header=_header(BY_NAME["void"], plan.card), choices=void_reasons, wide=True),
        BookColumn(header=_header(BY_NAME["note"], plan.card), wide=True),
    )
    codes = [code for _, some in in_measuring_order(plan) for code in some]
    return BookSheet(
        name="loaves",
        columns=columns,
        rows=tuple((code, *[None] * (len(columns) - 1)) for code in codes),
    )


def _readings(plan: TrialPlan) -> BookSheet:
    """Return a row a reading: of the volume, or of the empty box and the seed left over."""
    by_name = {column.name: column for column in READINGS}
    names = ("box_ml", "seed_ml") if measure_sheet(plan).by_seed else ("loaf_ml",)
    columns = (
        _id("loaf"),
        BookColumn(header=by_name["repeat"].label, number=True, locked=True),
        *(_number(by_name[name]) for name in names),
        BookColumn(header=by_name["note"].label, wide=True),
    )
    rows = tuple(
        (code, repeat, *[None] * (len(columns) - 2))
        for _, some in in_measuring_order(plan)
        for code in some
        for repeat in range(1, VOLUME_READINGS + 1)
    )
    return BookSheet(name="readings", columns=columns, rows=rows)


def _scores(plan: TrialPlan) -> BookSheet:
    """Return a row an assessor and loaf, in the order of scoring, a column an attribute."""
    scores, by_name = plan.card.scores, {column.name: column for column in SCORES}
    assert scores is not None
    steps = [
        scores.low + i * scores.step
        for i in range(round((scores.high - scores.low) / scores.step) + 1)
    ]
    listed = len(steps) <= MOST_STEPS and all(step.is_integer() for step in steps)
    choices = tuple(steps) if listed else ()
    pages = score_pages(plan)
    known = scores.assessors is not None
    columns = (
        BookColumn(header=by_name["assessor"].label, locked=known),
        _id("loaf"),
        BookColumn(header=by_name["order"].label, number=True, locked=known),
        *(
            BookColumn(
                header=attribute, number=True, low=scores.low, high=scores.high, choices=choices
            )
            for attribute in scores.attributes
        ),
        BookColumn(header=by_name["note"].label, wide=True),
    )
    empty = [None] * (len(columns) - 3)
    rows = tuple(
        (str(page.assessor), code, place, *empty)
        for page in pages
        for place, code in enumerate(page.loaves, 1)
    )
    if not known:
        rows = tuple(
            (None, code, None, *empty) for _, some in in_measuring_order(plan) for code in some
        )
    return BookSheet(name="scores", columns=columns, rows=rows)


def _known(header: str) -> bool:
    """Return whether a header is one of the vocabulary's, so that the workbook has it, or hides it
    on purpose.
    """
    spelled = {
        words(text)
        for column in BY_NAME.values()
        for text in (column.name, column.label, *column.spellings)
    }
    return words(header.partition("(")[0]) in spelled


def _id(name: str, card: TrialCard | None = None) -> BookColumn:
    return BookColumn(header=_header(BY_NAME[name], card), locked=True)


def _number(column: Column, card: TrialCard | None = None) -> BookColumn:
    return BookColumn(header=_header(column, card), number=True, low=column.low, high=column.high)


def _header(column: Column, card: TrialCard | None = None) -> str:
    """Return the card's header for a column, else the vocabulary's words with its unit."""
    if card is not None and column.name in card.columns:
        return card.columns[column.name]
    return f"{column.label} ({column.unit})" if column.unit else column.label
