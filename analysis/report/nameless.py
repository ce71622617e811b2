"""A trial without anybody's name, for what hangs on a wall: codes for people, and no column that
nobody asked about.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

import pandas as pd

from ...trials import Trial
from ...trials.columns import BY_NAME, CRUMB_PREFIX

PEOPLE = ("table", "baker", "assessor")
LEFT_OUT = "left out"  # stands for the reason of a void loaf
TABLES = ("loaves", "scores", "tasting", "words")
_CODE = re.compile(
    r"[a-z]{0,2}[ .#-]?\d{0,3}"
    r"|(table|group|team|baker|assessor|taster|person|tisch|gruppe|groupe|mesa|grupo|tavolo|gruppo"
    r"|tafel|groep)[ .#-]?\w{1,2}",
    re.IGNORECASE,
)


def nameless(trial: Trial) -> Trial:
    """Return the trial with codes for everybody who baked, scored or tasted, and without remarks
    and unknown columns.

    What is a code already ("table 3", "B2") stays. Findings and assumptions say the codes, too.
    """
    codes = _codes(trial)
    asked = {*trial.factors, *trial.card.measures, trial.card.measure, "line"}
    kept = [
        name
        for name in trial.loaves
        if name in asked or name in BY_NAME or str(name).startswith(CRUMB_PREFIX)
    ]
    loaves = _coded(trial.loaves[kept], codes)
    if "void" in loaves:
        reasons = {repr(reason): LEFT_OUT for reason in trial.void["void"].unique()}
        codes = reasons | codes  # a reason may hold a name
        loaves = loaves.assign(void=loaves["void"].where(loaves["void"].isna(), LEFT_OUT))
    return replace(
        trial,
        loaves=loaves,
        scores=_or_none(trial.scores, codes),
        tasting=_or_none(trial.tasting, codes),
        words=_or_none(trial.words, codes),
        headers={name: text for name, text in trial.headers.items() if name in loaves},
        findings=tuple(
            replace(found, message=_said(found.message, codes), fix=_said(found.fix, codes))
            for found in trial.findings
        ),
        assumptions=tuple(_said(words, codes) for words in trial.assumptions),
    )


def _codes(trial: Trial) -> dict[str, str]:
    """Return name → code for every person, numbered as they come."""
    codes: dict[str, str] = {}
    for kind in PEOPLE:
        names = [str(name) for name in _people(trial, kind)]
        taken = {name.casefold() for name in names}
        numbers = (n for n in range(1, 10_000) if f"{kind} {n}" not in taken)
        codes |= {
            name: f"{kind} {next(numbers)}"
            for name in names
            if not _CODE.fullmatch(name) and name not in codes
        }
    return codes


def _people(trial: Trial, kind: str) -> Iterable[object]:
    columns = [
        table[kind]
        for name in TABLES
        if (table := getattr(trial, name)) is not None and kind in table
    ]
    return dict.fromkeys(name for column in columns for name in column.dropna())


def _or_none(table: pd.DataFrame | None, codes: Mapping[str, str]) -> pd.DataFrame | None:
    return None if table is None else _coded(table, codes)


def _coded(table: pd.DataFrame, codes: Mapping[str, str]) -> pd.DataFrame:
    """Return a table with codes for names, without remarks."""
    people = {
        kind: table[kind].map(lambda name: codes.get(str(name), name))
        for kind in PEOPLE
        if kind in table
    }
    return table.assign(**people).drop(columns="note", errors="ignore")


def _said(words: str, codes: Mapping[str, str]) -> str:
    """Return words with codes in the place of names."""
    for name, code in codes.items():
        words = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", code, words)
    return words
