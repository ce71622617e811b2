"""Servings and the key: codes that lead to a loaf, cups as the test asks, answers among them,
people as planned.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ..columns import NO_NAMES
from ..trial import Trial
from ..words.lists import on_lines
from .chance import chi_square_tail
from .check import Spot, check, places
from .names import spelled_two_ways
from .readings import strangers

if TYPE_CHECKING:
    from ..tasting.servings import Serving

# servings from which places are judged, and the chance below which they are uneven
FEWEST, RARE = 12, 0.01
STOPPED = "was it stopped when it looked good?"


def served(trial: Trial) -> tuple[Serving, ...]:
    """Return every serving; what reads them is loaded where somebody tasted."""
    from ..tasting.servings import read_servings

    return read_servings(trial)


def _faulty(trial: Trial, code: str, opening: str) -> Iterator[Spot]:
    """Yield one spot for all rows with this fault."""
    found = [(s.line, fault) for s in served(trial) for fault in s.faults if fault.code == code]
    if found:
        rows = pd.DataFrame(
            {"line": [line for line, _ in found], "told": [fault.told for _, fault in found]}
        )
        yield Spot(
            message=f"{opening}: {places(rows, lambda row: row['told'])}.",
            rows=rows["line"],
            fix=" ".join(dict.fromkeys(fault.fix for _, fault in found)),
        )


@check(
    "code-twice",
    "error",
    "Nobody can say which loaf was in the cup.",
    needs=["code", "loaf"],
    table="codes",
)
def codes_of_two_loaves(codes: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every code that of one loaf?"""
    rows = codes[codes.groupby("code")["loaf"].transform("nunique") > 1]
    if len(rows):
        told = places(rows, lambda row: f"{row['code']}, loaf {row['loaf']}")
        yield Spot(
            message=f"A code stands for two loaves: {told}.",
            column="code",
            rows=rows["line"],
            fix="Give every loaf codes of its own; look at the tray list.",
        )


@check("code-of-no-loaf", "error", "The code leads to nothing.", needs=["loaf"], table="codes")
def codes_of_no_loaf(codes: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every loaf in the key in the table of loaves?"""
    yield from strangers(codes, trial)


@check(
    "test-unknown",
    "error",
    "Without the test nobody knows what a right answer is.",
    table="tasting",
)
def tests_unknown(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is it known of every serving which test it was?"""
    yield from _faulty(trial, "test-unknown", "It is not known which test it was")


@check(
    "assessor-missing",
    "error",
    "An answer belongs to somebody, if only a number.",
    needs=["assessor"],
    table="tasting",
)
def tasters_missing(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is it known of every serving who tasted?"""
    yield from _nobody(tasting)


@check(
    "taster-names-alike",
    "error",
    "One person would be taken for two.",
    needs=["assessor"],
    table="tasting",
)
def tasters_alike(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every taster spelled in one way?"""
    yield from spelled_two_ways(tasting, "assessor")


@check(
    "group-names-alike",
    "error",
    "One group would be taken for two.",
    needs=["group"],
    table="tasting",
)
def groups_alike(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every group of people spelled in one way?"""
    yield from spelled_two_ways(tasting, "group")


@check("code-unknown", "error", "Nobody knows which loaf was in the cup.", table="tasting")
def codes_unknown(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every code that was served a loaf in the key?"""
    yield from _faulty(trial, "code-unknown", "There is no such code in the key")


@check("served-number", "error", "The chance of a lucky guess is another one.", table="tasting")
def cups_of_another_number(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Were as many cups served as the test has?"""
    yield from _faulty(trial, "served-number", "The number of cups is wrong")


@check("served-wrong", "error", "Such a serving has no right answer.", table="tasting")
def cups_of_the_wrong_breads(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do the cups hold the breads that the test asks for?"""
    yield from _faulty(trial, "served-wrong", "The cups do not make the test")
    odd = [s for s in served(trial) if s.test == "three-choice" and not s.left_out and s.odd]
    for pair in dict.fromkeys((s.asked, s.pair) for s in odd):
        ours = [s for s in odd if (s.asked, s.pair) == pair]
        usual = Counter(s.odd for s in ours).most_common(1)[0][0]
        rows = [s.line for s in ours if s.odd != usual]
        if rows:
            yield Spot(
                message=(
                    "In a three-choice test the bread that has more is served once and the other"
                    f" twice; on {on_lines(rows)} it is the other way round."
                ),
                column="served",
                rows=rows,
                fix=(
                    "Correct the codes, or call the test a triangle if people were asked for the"
                    " odd one."
                ),
            )


@check(
    "answer-not-served", "error", "The answer is a slip, or that of another row.", table="tasting"
)
def answers_not_served(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every answer among the cups?"""
    yield from _faulty(trial, "answer-not-served", "The answer was not among the cups")


@check(
    "answer-number", "error", "Two answers where one is asked for are no answer.", table="tasting"
)
def answers_of_another_number(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every answer as many codes as the test asks for?"""
    yield from _faulty(
        trial, "answer-number", "The answer has another number of codes than the test asks for"
    )


@check(
    "answer-missing",
    "warning",
    "It is left out and counted: people who do not answer are often unsure.",
    table="tasting",
)
def answers_missing(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did everybody answer?"""
    yield from _faulty(
        trial, "answer-missing", "There is no answer, so that the serving is left out"
    )


@check(
    "served-twice",
    "error",
    "One of them is another person's, or a second serving.",
    table="tasting",
)
def servings_twice(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Was everybody served a test once, where no repeat is recorded?"""
    given = [s for s in served(trial) if s.breads and not s.void]
    keys = [(s.assessor, s.test, s.asked, s.pair, s.repeat) for s in given]
    often = {key for key, n in Counter(keys).items() if n > 1}
    rows = pd.DataFrame(
        [
            (s.line, s.assessor or "nobody", s.test)
            for s, key in zip(given, keys, strict=True)
            if key in often
        ],
        columns=["line", "who", "test"],
    )
    if len(rows):
        told = places(rows, lambda row: f"{row['who']}, {row['test']}")
        yield Spot(
            message=f"The same person stands more than once with the same test: {told}.",
            rows=rows["line"],
            column="assessor",
            fix="Correct the person, or number second servings in a column  repeat.",
        )


@check(
    "expected-missing",
    "warning",
    "Such an answer is neither right nor wrong, and is left out.",
    table="tasting",
)
def expected_bread_missing(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does the card say which bread of a pair was expected to have more?"""
    rows = [
        s.line
        for s in served(trial)
        if s.test == "pair" and s.answer and not s.faults and s.right is None
    ]
    if rows:
        yield Spot(
            message=(
                "The card does not say which bread of the pair was expected to have more,"
                f" {on_lines(rows)}."
            ),
            rows=rows,
            fix=(
                'Write on the card, under [tasting],  expected = "…"  as it was expected'
                " beforehand."
            ),
        )


@check(
    "places-uneven",
    "warning",
    "People who guess often choose the middle or the first cup.",
    table="tasting",
)
def places_uneven(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did the cup that is right stand in each place equally often?"""
    from ..tasting.kinds import KINDS

    servings = [s for s in served(trial) if s.breads and not s.left_out]
    for test in ("triangle", "three-choice", "duo-trio", "pair", "preference"):
        ours = [s for s in servings if s.test == test]
        counts = np.bincount([_place(s) for s in ours], minlength=KINDS[test].cups or 0)
        if counts.sum() >= FEWEST:
            expected = counts.sum() / len(counts)
            if chi_square_tail(len(counts) - 1, ((counts - expected) ** 2 / expected).sum()) < RARE:
                what = {
                    "triangle": "the odd cup",
                    "three-choice": "the odd cup",
                    "duo-trio": "the reference's bread",
                }
                told = ", ".join(str(n) for n in counts)
                yield Spot(
                    message=(
                        f"In the {test} test {what.get(test, 'the first bread')} stood in the"
                        f" places from first to last {told} times."
                    ),
                    column="served",
                    rows=[s.line for s in ours],
                    fix=(
                        "Serve every order equally often next time; fairloaf serve draws such a"
                        " plan."
                    ),
                )


def _place(serving: Serving) -> int:
    """Return where the cup stood that is right, or that of the first bread."""
    right = serving.odd or serving.reference or serving.pair[0]
    return serving.breads.index(right)


@check(
    "names-of-people",
    "warning",
    "Answers about taste are personal; a number serves as well.",
    needs=["assessor"],
    table="tasting",
)
def names_of_tasters(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do numbers or letters stand for the people who tasted?"""
    yield from _full_names(tasting)


@check(
    "not-as-planned",
    "warning",
    "Looked at again and again, chance has had more than one try.",
    table="tasting",
)
def people_not_as_planned(tasting: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did as many people taste as were planned?"""
    planned, came = (
        trial.card.tasting.assessors,
        len({s.assessor for s in served(trial) if s.assessor and not s.void}),
    )
    if planned and came not in (0, planned):
        yield Spot(
            message=f"{planned} people were planned, and {came} tasted: {STOPPED}",
            rows=(),
            column="assessor",
            fix="Say why wherever you tell of it; a number fixed beforehand keeps the test honest.",
        )


def _nobody(table: pd.DataFrame) -> Iterator[Spot]:
    """Yield a spot for rows without a person."""
    rows = table.loc[table["assessor"].isna() | (table["assessor"] == ""), "line"].drop_duplicates()
    if len(rows):
        yield Spot(
            message=f"It is not said who it was on {on_lines(rows)}.",
            column="assessor",
            rows=rows,
            fix="Fill in the person's number from the ballot, in every row.",
        )


def _full_names(table: pd.DataFrame) -> Iterator[Spot]:
    """Yield a spot for people who stand with first and last name, without repeating the names."""
    rows = table.loc[
        table["assessor"].map(_is_full_name, na_action="ignore").eq(True), "line"
    ].drop_duplicates()
    if len(rows):
        yield Spot(
            message=f"People seem to stand with first and last name on {on_lines(rows)}.",
            column="assessor",
            rows=rows,
            fix="Write a number or a letter for each person, and keep the list of names elsewhere.",
        )


def _is_full_name(text: str) -> bool:
    parts = str(text).replace(",", " ").split()
    return len(parts) in (2, 3) and all(
        re.fullmatch(r"[^\W\d_][\w'’.-]+", part)
        and part[0].isupper()
        and part.casefold() not in NO_NAMES
        for part in parts
    )


def codes_without_loaf(table: pd.DataFrame, trial: Trial) -> pd.DataFrame:
    """Return the rows, one a line, whose code the key does not have."""
    from ..tasting.servings import key_of

    key = key_of(trial)
    given = table[table["code"].notna() & (table["code"] != "")].drop_duplicates("line")
    return given[~given["code"].astype(str).isin(key)]
