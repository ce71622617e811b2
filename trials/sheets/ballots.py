"""What stands on ballots, sheets of words, the tray list and the key of a tasting: codes, and no
word of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..frozen import frozen
from ..planning.serving import ServingPlan
from ..printing.book import BookColumn, BookSheet
from ..tasting.kinds import ASKING

NOT_YET = "not tasted yet"  # under void, so that nothing counts before it is filled in
NOT_LOOKED = "not looked yet"


@frozen(kw_only=True)
class Serving:
    """One serving of one person: the reference's code, if there is one, and the codes in serving
    order.
    """

    repeat: str
    reference: str
    codes: tuple[str, ...]


@frozen(kw_only=True)
class Ballot:
    """One person's page: their servings of one test; what they are asked for, "" where it is to
    be written in by hand.
    """

    assessor: str
    test: str
    asked: str
    servings: tuple[Serving, ...]


@frozen(kw_only=True)
class WordSheet:
    """One person's sheet of words: codes across in their order, headings with their words in an
    order of their own.
    """

    assessor: str
    repeat: str
    codes: tuple[str, ...]
    headings: tuple[tuple[str, tuple[str, ...]], ...]


def ballots(plan: ServingPlan, asked: str = "") -> tuple[Ballot, ...]:
    """Return a page for every person, who is asked for this."""
    return tuple(
        Ballot(
            assessor=who,
            test=plan.test,
            asked=asked if plan.test in ASKING else "",
            servings=tuple(
                Serving(
                    repeat=row["repeat"],
                    reference=row["reference"],
                    codes=tuple(row["served"].split()),
                )
                for row in plan.rows
                if row["assessor"] == who
            ),
        )
        for who in dict.fromkeys(row["assessor"] for row in plan.rows)
    )


def word_sheets(plan: ServingPlan, words: Mapping[str, Sequence[str]]) -> tuple[WordSheet, ...]:
    """Return a sheet for every person and look; the order of headings is drawn for each."""
    rng = np.random.Generator(np.random.PCG64([plan.seed, len(words), plan.assessors]))
    headings = [(heading, tuple(under)) for heading, under in words.items()]
    return tuple(
        WordSheet(
            assessor=row["assessor"],
            repeat=row["repeat"],
            codes=tuple(row["served"].split()),
            headings=tuple(headings[i] for i in rng.permutation(len(headings))),
        )
        for row in plan.rows
    )


def tasting_book(plan: ServingPlan, asked: str = "") -> BookSheet:
    """Return the empty records of a tasting: a row a serving, void until it is filled in.

    Where a test asks for something, it stands in a column of its own, open where it is not known.
    """
    asks = plan.test in ASKING
    rows = tuple(
        (
            row["assessor"],
            plan.test,
            row["served"],
            None,
            *((asked or None,) if asks else ()),
            row["reference"] or None,
            row["repeat"],
            NOT_YET,
            None,
        )
        for row in plan.rows
    )
    columns = (
        BookColumn(header="assessor", locked=True),
        BookColumn(header="test", locked=True),
        BookColumn(header="served", locked=True, wide=True),
        BookColumn(header="answer", wide=True),
        *((BookColumn(header="asked", locked=bool(asked), wide=True),) if asks else ()),
        BookColumn(header="reference", locked=True),
        BookColumn(header="repeat", locked=True),
        BookColumn(header="void", wide=True),
        BookColumn(header="note", wide=True),
    )
    return BookSheet(name="tasting", columns=columns, rows=rows)


def words_book(plan: ServingPlan, words: Mapping[str, Sequence[str]]) -> BookSheet:
    """Return the empty records of a looking: a row a person and plate, void until it is filled
    in.
    """
    every = [word for under in words.values() for word in under]
    columns = (
        BookColumn(header="assessor", locked=True),
        BookColumn(header="code", locked=True),
        BookColumn(header="order of looking", locked=True),
        BookColumn(header="repeat", locked=True),
        *(BookColumn(header=word, choices=("x", "?")) for word in every),
        BookColumn(header="void", wide=True),
        BookColumn(header="note", wide=True),
    )
    rows = tuple(
        (row["assessor"], code, str(place), row["repeat"], *[None] * len(every), NOT_LOOKED, None)
        for row in plan.rows
        for place, code in enumerate(row["served"].split(), 1)
    )
    return BookSheet(name="words", columns=columns, rows=rows)
