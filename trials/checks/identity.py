"""Which loaf is it: numbers that are missing or stand twice, and what void means."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pandas as pd

from ..reading.answers import is_tick, says_it_counts
from ..trial import Trial
from ..words.lists import listed, on_lines
from .check import MOST_TOLD, Spot, check, places

MOST_LINES = 3  # of one number that stands more than once
RARE = 0.25  # part of the loaves beyond which "1-3" is a way to name one loaf
SEVERAL = (
    r"(\D*)(\d{1,6})\s*(?:[-–+&/,;]|to|bis|and|und|y|e|et|en|à|au|al|tot|t/m)\s*(\D*?)(\d{1,6})"
)


@check(
    "loaf-missing",
    "error",
    "A loaf without a number cannot be traced, scored or corrected.",
    needs=["loaf"],
    void_too=True,
)
def loaves_without_number(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every loaf a number?"""
    rows = loaves.loc[loaves["loaf"].isna(), "line"]
    if len(rows):
        yield Spot(
            message=f"There is no loaf number on {on_lines(rows)}.",
            column="loaf",
            rows=rows,
            fix="Write the number that was on the loaf's label.",
        )


@check(
    "loaf-twice",
    "error",
    "One of them is another loaf, or one loaf was entered twice and counts double.",
    needs=["loaf"],
    void_too=True,
)
def loaf_numbers_twice(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every loaf's number used once?"""
    names = loaves.loc[loaves["loaf"].duplicated(), "loaf"].dropna().unique()
    if not len(names):
        return
    again = loaves[loaves["loaf"].isin(names)]
    told = [
        f"{name} on {on_lines(again.loc[again['loaf'] == name, 'line'], MOST_LINES)}"
        for name in names[:MOST_TOLD]
    ]
    yield Spot(
        message=(
            "The same loaf number stands more than once:"
            f" {listed(told, more=len(names) - len(told))}."
        ),
        column="loaf",
        rows=again["line"],
        fix="Give each loaf its own number, or delete the row that was entered twice.",
    )


@check(
    "loaf-of-several",
    "warning",
    "One row counts as one loaf; what was measured on several is no measurement of each.",
    needs=["loaf"],
    void_too=True,
)
def loaves_on_one_row(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every row one loaf, and not several?"""
    texts = loaves["loaf"].dropna().astype(str)
    found = {place: two for place, text in texts.items() if (two := two_numbers(text))}
    several = [place for place, (first, last) in found.items() if first < last]
    if several and len(found) <= RARE * len(texts):
        rows = loaves.loc[several]
        yield Spot(
            message=f"Several loaves on one row: {places(rows, lambda row: row['loaf'])}.",
            column="loaf",
            rows=rows["line"],
            fix=(
                "Write a row for each loaf, with what was measured on it; leave it if that is the"
                " name of one loaf."
            ),
        )


@check(
    "void-not-a-reason",
    "error",
    "Any text under void leaves the loaf out of every answer.",
    needs=["void"],
    void_too=True,
)
def voids_without_reason(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does the void column hold reasons, and nothing where the loaf counts?"""
    given = loaves.loc[loaves["void"].notna(), ["line", "void"]]
    rows = given[
        [
            is_tick(text) or says_it_counts(text) or not text.strip("-– ")
            for text in given["void"].astype(str)
        ]
    ]
    if len(rows):
        yield Spot(
            message=(
                f"Under void stands no reason on {places(rows, lambda row: repr(row['void']))}."
            ),
            column="void",
            rows=rows["line"],
            fix=(
                "Leave the cell empty for a loaf that counts; write the reason for one that does"
                " not."
            ),
        )


@check("nothing-counted", "error", "There is nothing left to compare.", void_too=True)
def nothing_counted(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does any loaf count?"""
    if loaves.empty:
        yield Spot(
            message="No loaf is recorded yet.", fix="Fill in the loaves as they are measured."
        )
    elif "void" in loaves and loaves["void"].notna().all():
        yield Spot(
            message=f"All {len(loaves)} loaves are void.",
            fix="Take the reason off those that count, or bake more.",
        )


@check(
    "loaves-void",
    "note",
    "A void loaf is kept in the records and in no answer.",
    void_too=True,
    after=["void-not-a-reason"],
)
def loaves_void(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Which loaves are void, and by which words?"""
    void = loaves[loaves["void"].notna()] if "void" in loaves else loaves.iloc[:0]
    if 0 < len(void) < len(trial.loaves):
        are = "is" if len(void) == 1 else "are"
        yield Spot(
            message=(
                f"{len(void)} of {len(trial.loaves)} loaves {are} void:"
                f" {places(void, lambda row: repr(row['void']))}."
            ),
            column="void",
            rows=void["line"],
            fix="Empty the cell if the loaf counts.",
        )


def two_numbers(text: str) -> tuple[int, int] | None:
    """Return the two numbers of a loaf's name: of "1-3", "H1 to H3" or "4 + 5"; else None."""
    found = None if text.isdigit() else re.fullmatch(SEVERAL, text.strip())
    if found is None or found[3].strip() not in ("", found[1].strip()):
        return None
    return int(found[2]), int(found[4])
