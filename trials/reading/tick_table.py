"""From the rows of ``words.csv`` to ticks: one row a look and word."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from ..card import TrialCard
from ..columns import WORDS
from ..findings import NotedTable
from ..frozen import frozen
from ..trial import no_unreadable_cells
from .headers import tidy_name
from .raw_table import RawTable
from .score_table import no_column
from .typed_table import TypedTable

TICKED = frozenset({"x", "1", "yes", "y", "true", "✓", "✔", "☑", "✗", "☒", "+", "1.0"})
NOT_TICKED = frozenset({"", "0", "no", "n", "false", "-", "–", "—", "☐", "0.0"})
NOT_JUDGED = "?"
OWN = {column.name for column in WORDS}


@frozen(kw_only=True)
class Ticks(NotedTable):
    """The ticks; ``unreadable`` has the cells that say neither yes nor no."""

    unreadable: pd.DataFrame


def headers_of_words(headers: Sequence[str], card: TrialCard) -> dict[str, str]:
    """Return a name → header for every header that is a word on the card: "order" may be one."""
    words = {tidy_name(word) for under in card.words.values() for word in under}
    return {
        f"word {tidy_name(text)}": text for text in headers if text and tidy_name(text) in words
    }


def long_words(raw: RawTable, typed: TypedTable, card: TrialCard) -> Ticks:
    """Return ``line, assessor, …, word, tick`` from a column a word, or from one column of words,
    or from both.
    """
    spelled = {tidy_name(word): word for under in card.words.values() for word in under}
    kept = [h.name for h in typed.headers if h.name in OWN - {"words"} and h.column]
    missing = [name for name in ("assessor",) if name not in kept] + (
        [] if {"code", "loaf"} & set(kept) else ["code"]
    )
    looks = typed.frame[["line", *kept]].assign(row=np.arange(len(typed.frame)))
    if missing:
        told = tuple(no_column(raw.file, name, "words") for name in missing)
        return Ticks(
            frame=looks[:0]
            .assign(word="", tick=np.nan, **dict.fromkeys(missing, ""))
            .drop(columns="row"),
            unreadable=no_unreadable_cells(),
            findings=told,
        )
    columns = [h for h in typed.headers if not (h.name in OWN and h.column) and h.text]
    texts = {spelled.get(tidy_name(h.text), h.text): raw.cells[h.place].to_numpy() for h in columns}
    listed = next(
        (raw.cells[h.place].to_numpy() for h in typed.headers if h.name == "words" and h.column),
        None,
    )
    texts |= _from_lists(listed, spelled, len(looks)) if listed is not None else {}
    ticks = {
        word: np.array([_tick(text) for text in cells], dtype=float)
        for word, cells in texts.items()
    }
    frames = [
        looks.assign(word=word, tick=np.where(ticks[word] < 0, np.nan, ticks[word]))
        for word in ticks
    ]
    frame = (
        pd.concat(frames, ignore_index=True) if frames else looks.assign(word="", tick=np.nan)[:0]
    )
    frame = frame.sort_values("row", kind="stable").drop(columns="row").reset_index(drop=True)
    odd = [
        {"file": raw.file, "line": int(raw.lines[row]), "column": word, "text": texts[word][row]}
        for word, values in ticks.items()
        for row in np.flatnonzero(values < 0)
    ]
    unreadable = pd.DataFrame(odd, columns=["file", "line", "column", "text"], dtype=object)
    return Ticks(frame=frame, unreadable=unreadable if odd else no_unreadable_cells())


def _tick(text: str) -> float:
    """Return 1, 0, NaN where the word was not judged, or −1 where the text says none of these."""
    plain = text.strip().casefold()
    if plain in TICKED:
        return 1.0
    if plain in NOT_TICKED:
        return 0.0
    return np.nan if plain == NOT_JUDGED else -1.0


def _from_lists(cells: np.ndarray, spelled: Mapping[str, str], n: int) -> dict[str, np.ndarray]:
    """Return word → "x" or "" from cells such as "sour; chewy", the card's words first."""
    found = [
        [
            spelled.get(tidy_name(part), part.strip())
            for part in re.split(r"[;\n]", text)
            if tidy_name(part)
        ]
        for text in cells
    ]
    every = dict.fromkeys([*spelled.values(), *(word for words in found for word in words)])
    return {
        word: np.array(["x" if word in words else "" for words in found], dtype=object)
        for word in every
    }
