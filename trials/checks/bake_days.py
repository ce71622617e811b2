"""Bake days: written in two ways, or far from the others, as with day and month exchanged."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from itertools import combinations, pairwise

import pandas as pd

from ..reading import days
from ..tables import distinct
from ..trial import Trial
from ..words.lists import listed, on_lines
from .check import MOST_TOLD, Spot, check
from .names import MOST_NAMES

MOST_DAYS = 2000  # days that are compared: more than any trial has
LEAST_DAYS = 2  # days beside the odd one
SHORT_GAP, FAR = 7, 2  # days between bakes; a far day is so many usual gaps away
LONG_GAP = 2 * 366  # days; a trial that rests longer is another one
IN_TWO_WAYS = re.compile(r"(?<!\d)(\d{1,2})[/-]\d{1,2}[/-]\d{2}")  # 03/04/26: March or April
YEARS = range(1950, 2051)


@check(
    "day-two-ways",
    "error",
    "One day would be taken for two, and its mixes for more than there were.",
    needs=["day"],
    void_too=True,
    after=["names-alike"],
)
def days_written_two_ways(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every bake day written in one way (as a date, a day of the week or a number)?"""
    texts = texts_of(loaves)[:MOST_DAYS]
    alike: dict[tuple[str, int, int], list[str]] = {}
    for text in texts:
        for key in days.keys(text):
            alike.setdefault(key, []).append(text)
    pairs = dict.fromkeys(
        (one, other)
        for group in alike.values()
        if len(group) < MOST_NAMES
        for one, other in combinations(group, 2)
        if days.same_day(one, other)
    )
    if pairs:
        told = listed(
            [f'"{one}" and "{other}"' for one, other in list(pairs)[:MOST_TOLD]],
            more=max(len(pairs) - MOST_TOLD, 0),
        )
        rows = loaves.loc[loaves["day"].isin([other for _, other in pairs]), "line"]
        yield Spot(
            message=f"One bake day seems to be written in two ways, {told}, on {on_lines(rows)}.",
            column="day",
            rows=rows,
            fix="Write every day in one way, such as 2026-03-01.",
        )
        return
    kinds: dict[str, list[str]] = {}
    for text in texts:
        kinds.setdefault(days.kind_of(text), []).append(text)
    if len(kinds) > 1 and ("date" in kinds or {"day of the week", "number"} <= kinds.keys()):
        few = min(kinds.values(), key=len)
        rows = loaves.loc[loaves["day"].isin(few), "line"]
        said = listed([f'"{group[0]}"' for group in kinds.values()])
        yield Spot(
            message=(
                f"Bake days are written in ways that cannot be held together: {said}; the rarer on "
                f"{on_lines(rows)}."
            ),
            column="day",
            rows=rows,
            fix="Write every day in one way, such as 2026-03-01.",
        )


@check(
    "day-and-month",
    "warning",
    "A mix on a day of its own is compared with nothing that was baked beside it.",
    needs=["day"],
    after=["day-two-ways", "names-alike"],
)
def days_and_months_exchanged(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Would a bake day far from the others lie among them with day and month exchanged, or in
    their year?
    """
    texts = texts_of(loaves)
    for read in (dates_as(texts, day_first=True), dates_as(texts, day_first=False)):
        found = [(text, meant) for text in read if (meant := among_others(text, read))]
        if len(found) == 1:
            text, (how, now) = found[0]
            rows = loaves.loc[loaves["day"] == text, "line"]
            yield Spot(
                message=(
                    f"The day {text} on {on_lines(rows)} is far from the others; {how}"
                    f" ({now:%Y-%m-%d}) it would lie among them."
                ),
                column="day",
                rows=rows,
                fix="Look at the bench sheet; leave it if it is right.",
            )
            return


@check(
    "day-years-away",
    "warning",
    "A bake on a day of its own is compared with nothing that was baked beside it.",
    needs=["day"],
    after=["day-two-ways", "names-alike", "day-and-month"],
)
def days_years_away(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does no bake day lie years from the others, or in a year far off?"""
    texts = texts_of(loaves)
    either = dates_as(texts, day_first=True) or dates_as(texts, day_first=False)
    read = sorted((date, text) for text, date in either.items())
    far = [text for date, text in read if date.year not in YEARS]
    gaps = [(later[0] - earlier[0]).days for earlier, later in pairwise(read)]
    if not far and max(gaps, default=0) > LONG_GAP:
        place = gaps.index(max(gaps)) + 1
        parts = [{text for _, text in part} for part in (read[:place], read[place:])]
        far = sorted(min(parts, key=lambda part: int(loaves["day"].isin(part).sum())))
    if far:
        rows = loaves.loc[loaves["day"].isin(far), "line"]
        told = listed(far[:MOST_TOLD], more=len(far[MOST_TOLD:]))
        beside = "the others" if len(far) < len(texts) else "today"
        days_lie = "bake day lies" if len(far) == 1 else "bake days lie"
        yield Spot(
            message=f"{len(far)} {days_lie} years from {beside}: {told}, {on_lines(rows)}.",
            column="day",
            rows=rows,
            fix="Look at the bench sheet; leave it if it is right.",
        )


def texts_of(loaves: pd.DataFrame) -> list[str]:
    """Return every bake day as it was written, once."""
    return [str(text) for text in distinct(loaves["day"])]


def dates_as(texts: list[str], *, day_first: bool) -> dict[str, datetime.date]:
    """Return text → date, 03/04/2026 read in one way throughout; nothing where one is no date, or
    none in this way.
    """
    read = {}
    for text in texts:
        found = [
            datetime.date(date.year, date.month, date.day) for date in days.dates(text) if date.year
        ]
        if ways := IN_TWO_WAYS.search(text):
            found = [
                date for date in found if (date.day if day_first else date.month) == int(ways[1])
            ]
        if not found:
            return {}
        read[text] = found[0]
    return read


def among_others(text: str, read: dict[str, datetime.date]) -> tuple[str, datetime.date] | None:
    """Return how a far day is to be read, and the date it then is, where it would lie among the
    others; else None.
    """
    day = read[text]
    others = sorted(date for other, date in read.items() if other != text)
    if len(others) < LEAST_DAYS:
        return None
    usual = max([(later - earlier).days for earlier, later in pairwise(others)] + [SHORT_GAP])
    if min(abs((day - date).days) for date in others) <= FAR * usual:
        return None
    meant = []
    if day.day <= 12 and day.day != day.month:
        meant.append(("with day and month exchanged", datetime.date(day.year, day.day, day.month)))
    year = others[0].year
    if year == others[-1].year != day.year and (day.month, day.day) != (2, 29):
        meant.append((f"in {year}", day.replace(year=year)))
    near = (
        (how, date)
        for how, date in meant
        if (others[0] - date).days <= usual and (date - others[-1]).days <= usual
    )
    return next(near, None)
