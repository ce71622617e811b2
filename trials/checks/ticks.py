"""Words that people ticked: of which loaf, by whom, once, and with a tick that is one."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from ..reading.headers import tidy_name
from ..tasting.looks import read_looks
from ..trial import Trial
from ..words.lists import listed, on_lines
from .check import MOST_TOLD, Spot, check, places
from .names import spelled_two_ways
from .readings import strangers
from .tasting import STOPPED, _full_names, _nobody, codes_without_loaf


@check(
    "assessor-missing",
    "error",
    "A look belongs to somebody, if only a number.",
    needs=["assessor"],
    table="words",
)
def lookers_missing(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is it known of every look who looked?"""
    yield from _nobody(words)


@check(
    "looker-names-alike",
    "error",
    "One person would be taken for two.",
    needs=["assessor"],
    table="words",
)
def lookers_alike(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every person who looked spelled in one way?"""
    yield from spelled_two_ways(words.drop_duplicates("line"), "assessor")


@check(
    "table-names-alike",
    "error",
    "One table would be taken for two.",
    needs=["table"],
    table="words",
)
def tables_alike(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every table spelled in one way?"""
    yield from spelled_two_ways(words.drop_duplicates("line"), "table")


@check(
    "code-unknown", "error", "Nobody knows which loaf was looked at.", needs=["code"], table="words"
)
def plates_unknown(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every code that was looked at a loaf in the key?"""
    from ..tasting.servings import key_of, told_of_code

    rows = codes_without_loaf(words, trial)
    if len(rows):
        said = [told_of_code(str(code), trial, key_of(trial)) for code in rows["code"]]
        rows = rows.assign(told=[told for told, _ in said])
        yield Spot(
            message=f"There is no such code in the key: {places(rows, lambda row: row['told'])}.",
            column="code",
            rows=rows["line"],
            fix=said[0][1],
        )


@check(
    "code-of-no-loaf",
    "error",
    "Nobody knows which loaf was looked at.",
    needs=["loaf"],
    table="words",
)
def looks_at_no_loaf(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every loaf that was looked at in the table of loaves?"""
    yield from strangers(words[words["loaf"].notna()], trial)


@check(
    "looked-twice",
    "error",
    "One of them is another person's, or a second look.",
    needs=["assessor"],
    table="words",
)
def looks_twice(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did everybody look at a loaf once, where no repeat is recorded?"""
    looks = read_looks(trial).drop_duplicates("line").dropna(subset=["assessor", "code"])
    keys = ["assessor", "code", *(["repeat"] if "repeat" in looks else [])]
    rows = looks[looks.duplicated(keys, keep=False)]
    if len(rows):
        told = places(rows, lambda row: f"{row['assessor']}, {row['code']}")
        yield Spot(
            message=f"The same person stands more than once with the same bread: {told}.",
            rows=rows["line"],
            column="assessor",
            fix="Correct the person or the code, or number second looks in a column  repeat.",
        )


@check("tick-unclear", "error", "Nobody can say whether the word was ticked.", table="words")
def ticks_unclear(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does every cell under a word say yes, no or not judged?"""
    cells = trial.unreadable
    cells = cells[cells["file"] == trial.files.get("words")] if len(cells) else cells
    if len(cells):
        told = places(cells, lambda row: f"{row['column']}: {row['text']!r}")
        yield Spot(
            message=f"It is not clear whether a word was ticked: {told}.",
            rows=cells["line"],
            column=str(cells["column"].iloc[0]),
            fix="Write  x  for a tick, nothing for none, and  ?  where the word was not judged.",
        )


@check(
    "word-not-on-card",
    "warning",
    "It may be another one misspelled, or was not on everybody's sheet.",
    needs=["word"],
    table="words",
)
def words_not_on_card(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every word that was ticked one that the card names?"""
    planned = [word for under in trial.card.words.values() for word in under]
    known = {tidy_name(word) for word in planned}
    strange = (
        [str(word) for word in words["word"].unique() if tidy_name(str(word)) not in known]
        if planned
        else []
    )
    if strange:
        told = listed([f'"{word}"' for word in strange[:MOST_TOLD]], more=len(strange[MOST_TOLD:]))
        yield Spot(
            message=f"Not among the card's words: {told}.",
            column=strange[0],
            fix=f"The card has {listed(planned)}: write one of these, or add it under [words].",
        )


@check(
    "names-of-people",
    "warning",
    "What people notice is personal; a number serves as well.",
    needs=["assessor"],
    table="words",
)
def names_of_lookers(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do numbers or letters stand for the people who looked?"""
    yield from _full_names(words)


@check(
    "ticked-nothing",
    "note",
    "They may have only looked, or the sheet was not copied out.",
    needs=["assessor", "tick"],
    table="words",
)
def nothing_ticked(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did everybody tick at least one word?"""
    unclear = trial.unreadable
    unclear = unclear[unclear["file"] == trial.files.get("words")] if len(unclear) else unclear
    looks = read_looks(trial)
    of_unclear = looks.loc[looks["line"].isin(unclear["line"]), "assessor"]
    looks = looks[~looks["assessor"].isin(of_unclear)]
    none = looks.groupby("assessor")["tick"].transform("sum") == 0
    n = looks.loc[none, "assessor"].nunique()
    if n:
        rows = looks.loc[none, "line"].drop_duplicates()
        who = "One person" if n == 1 else f"{n} people"
        yield Spot(
            message=f"{who} ticked no word at all, {on_lines(rows)}; they count as having looked.",
            rows=rows,
            column="assessor",
            fix="If they did not look, take the rows out or write a reason under void.",
        )


@check(
    "not-as-planned",
    "warning",
    "Looked at again and again, chance has had more than one try.",
    needs=["assessor"],
    table="words",
)
def lookers_not_as_planned(words: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Did as many people look as were planned?"""
    planned, came = trial.card.tasting.assessors, read_looks(trial)["assessor"].nunique()
    if planned and trial.tasting is None and came != planned:
        yield Spot(
            message=f"{planned} people were planned, and {came} looked: {STOPPED}",
            rows=(),
            column="assessor",
            fix="Say why wherever you tell of it; a number fixed beforehand keeps the test honest.",
        )
