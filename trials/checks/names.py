"""What was done to the loaf: names that are missing, or written in more than one way."""

from __future__ import annotations

import re
import string
import unicodedata
from collections.abc import Collection, Iterator, Sequence

import numpy as np
import pandas as pd

from ..columns import label
from ..reading import days
from ..tables import distinct
from ..trial import Trial
from ..words.lists import listed, on_lines
from .check import MOST_TOLD, NAMED, Spot, check
from .grouping import codes_of, tally

MISSPELLED = ("formula", "tin", "oven", "deck", "oven_place", "table", "baker")
MOST_NAMES = 100  # a column with more of them holds no kinds
# letters in a name from which one wrong letter is told from another name
SHORTEST_WORD = 5
SIGNS = {ord(sign): None for sign in string.whitespace + string.punctuation + "–—−‐’‘“”·"}
# "M01" is "M1", and "1.0" is "1"
ZEROS = re.compile(r"(?<![\d.,])0+(?=\d)|(?<=\d)\.0+(?![\w.,])")
MIX_WORDS = (
    r"(?:mix|no|nr|number|dough|batch|teig|charge|petrin|pate|masa|amasado|impasto|deeg)(.+)"
)
ROMAN = ("i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii")
BRACKETS = re.compile(r"[\[(][^\[\]()]*[\])]$")
DITTOS = frozenset(
    (
        '"',
        "''",
        "”",
        "“",
        "„",
        "″",
        "〃",
        "‘‘",
        "’’",
        "´´",
        "``",
        "ditto",
        "dito",
        "do.",
        "idem",
        "id.",
    )
)
# a misspelling is at most this part as frequent as the name that it stands for
RARE = 0.25


@check(
    "label-missing",
    "error",
    "Without it nobody can say what the loaf is to be compared with.",
    after=["row-of-totals"],
)
def labels_missing(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is it known of every loaf which formula, mix, day and planned level it had?"""
    for name in dict.fromkeys(["formula", "mix", "day", *trial.card.factors]):
        if name in loaves:
            missing = loaves[name].isna().to_numpy()
            if missing.any() and not missing.all():
                rows = loaves.loc[missing, "line"]
                yield Spot(
                    message=f"The {said(name)} is missing on {on_lines(rows)}.",
                    column=name,
                    rows=rows,
                    fix=(
                        "Fill it in from the bench sheet, or give a reason under void if nobody"
                        " knows."
                    ),
                )


@check("ditto-mark", "error", "The sign would be taken for a name of its own.", void_too=True)
def dittos(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does every cell say what it means, without a ditto mark?"""
    for name in (name for name in ("loaf", *named_columns(loaves, trial)) if name in loaves):
        marks = [text for text in distinct(loaves[name]) if str(text).strip().casefold() in DITTOS]
        if marks:
            rows = loaves.loc[loaves[name].isin(marks), "line"]
            yield Spot(
                message=f"There is a ditto mark under {name} on {on_lines(rows)}.",
                column=name,
                rows=rows,
                fix="Write out what it repeats.",
            )


@check(
    "names-alike",
    "error",
    "The two spellings would be compared as if they were two things.",
    void_too=True,
)
def names_spelled_two_ways(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every name spelled in one way (capitals, spaces, signs and leading zeros aside)?"""
    for name in named_columns(loaves, trial):
        yield from spelled_two_ways(loaves, name, trial.card.factors.get(name, ()))


@check(
    "names-close",
    "warning",
    "If it is a slip of the pen, loaves of one kind are counted as two kinds.",
    void_too=True,
)
def names_one_letter_apart(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does a rare name look like a frequent one with a wrong letter, or a remark in brackets?"""
    yield from remarks_in_brackets(loaves)
    for name in MISSPELLED:
        if name not in loaves or name in trial.card.factors:
            continue
        column = loaves[name]
        often = np.bincount(codes_of(column)[column.notna()])
        if not ((often > 0) & (often <= RARE * often.max(initial=0))).any():
            continue
        counts = tally(column).head(MOST_NAMES)
        for rare in counts.index[counts <= RARE * counts.max()]:
            usual = next(
                (
                    other
                    for other in counts.index[counts >= counts[rare] / RARE]
                    if one_letter_apart(fold(rare), fold(other))
                ),
                None,
            )
            if usual is not None:
                rows = loaves.loc[loaves[name] == rare, "line"]
                yield Spot(
                    message=f'The {said(name)} "{rare}" on {on_lines(rows)} looks like "{usual}".',
                    column=name,
                    rows=rows,
                    fix=f'Write "{usual}" if that is meant; otherwise leave it.',
                )


def remarks_in_brackets(loaves: pd.DataFrame) -> Iterator[Spot]:
    """Yield a spot for mixes that bear another's name and something in brackets: "h1 (a)" beside
    "h1".
    """
    names = [str(name) for name in distinct(loaves["mix"])] if "mix" in loaves else []
    with_remark = [name for name in names if name.endswith((")", "]"))]
    bare = {fold(name): name for name in names}
    pairs = {name: bare.get(fold(BRACKETS.sub("", name))) for name in with_remark}
    pairs = {name: usual for name, usual in pairs.items() if usual not in (None, name)}
    if pairs:
        rows = loaves.loc[loaves["mix"].isin(list(pairs)), "line"]
        told = [f'"{name}" looks like "{usual}"' for name, usual in list(pairs.items())[:MOST_TOLD]]
        yield Spot(
            message=f"Mix {listed(told, more=len(pairs) - len(told))}, on {on_lines(rows)}.",
            column="mix",
            rows=rows,
            fix="Write the remark under note if it is one dough; leave it if each was mixed.",
            why="Loaves of one dough, counted as two doughs, make an answer too sure.",
        )


def spelled_two_ways(
    table: pd.DataFrame, column: str, meant: Collection[object] = ()
) -> Iterator[Spot]:
    """Yield a spot for names that differ only in what is easily written differently; ``meant`` are
    told apart.
    """
    names = distinct(table[column])
    short_names = fold_all(names)
    if column == "mix":
        short_names = numbers_as_digits([without_mix_word(name) for name in short_names])
    if len(set(short_names)) == len(short_names):
        return
    folded = pd.Series(np.array(short_names, dtype=object), index=pd.Index(names, dtype=object))
    alike = folded[folded.duplicated(keep=False)]
    shown = alike.unique()[:MOST_TOLD]
    for short in shown:
        twins = alike.index[alike == short]
        usual, *others = tally(table.loc[table[column].isin(twins), column]).index
        if not set(twins) <= set(meant):
            rows = table.loc[table[column].isin(others), "line"]
            told = listed(
                [f'"{other}"' for other in others[:MOST_TOLD]], more=len(others[MOST_TOLD:])
            )
            yield Spot(
                message=f'The {said(column)} "{usual}" is also written {told} on {on_lines(rows)}.',
                column=column,
                rows=rows,
                fix=f'Write "{usual}" throughout, or two names that differ.',
            )
    rest = alike[~alike.isin(shown)]
    if len(rest):
        rows = table.loc[table[column].isin(rest.index), "line"]
        yield Spot(
            message=(
                f"{rest.nunique()} more names under {column} are written in more than one way, on "
                f"{on_lines(rows)}."
            ),
            column=column,
            rows=rows,
            fix="Write each name in one way.",
        )


def without_mix_word(name: str) -> str:
    """Return a folded name of a mix without what says that it is one: "m1" and "no1" are "1",
    "mixh1" is "h1", "mixone" is "one".
    """
    if re.match(r"m\d", name):
        return name[1:]
    found = re.fullmatch(MIX_WORDS, name)
    rest = found[1] if found else ""
    is_its_own = rest in days.NUMBER_WORDS or re.match(r"[a-z]?\d|(?:[a-z]|[ivx]+)$", rest)
    return rest if is_its_own else name


def numbers_as_digits(names: Sequence[str]) -> list[str]:
    """Return folded names of mixes, "one" and "i" as "1": Roman numerals where no mix bears another
    letter.
    """
    words = {name for name in names if not any(sign.isdigit() for sign in name)}
    numbers = {
        name: str(days.NUMBER_WORDS[plain])
        for name in words
        if (plain := days.plain(name)) in days.NUMBER_WORDS
    }
    if words - numbers.keys() <= set(ROMAN):
        numbers = {name: str(ROMAN.index(name) + 1) for name in words & set(ROMAN)} | numbers
    return [numbers.get(name, name) for name in names]


def named_columns(loaves: pd.DataFrame, trial: Trial) -> list[str]:
    """Return the columns that hold names: those of the vocabulary and the trial's own factors."""
    names = dict.fromkeys([*NAMED, *trial.factors])
    return [name for name in names if name in loaves and loaves[name].dtype.kind not in "fiub"]


def said(column: str) -> str:
    """Return a column's name inside a sentence."""
    return label(column).lower()


def fold(name: object) -> str:
    """Return a name without what is easily written differently: capitals, spaces, signs, width of
    letters, and what nobody sees.
    """
    text = str(name).casefold()
    if not text.isascii():
        text = unicodedata.normalize("NFKC", text).casefold()
        text = "".join(sign for sign in text if unicodedata.category(sign) != "Cf")
    return ZEROS.sub("", text).translate(SIGNS) or str(name)


def fold_all(names: Sequence[object]) -> list[str]:
    """Return every name folded: all at once, since a long trial has many."""
    words = [str(name) for name in names]
    together = "\0".join(words)
    if together.isascii():
        folded = ZEROS.sub("", together.casefold()).translate(SIGNS).split("\0")
        if len(folded) == len(words):
            return [short or word for short, word in zip(folded, words, strict=True)]
    return [fold(name) for name in names]


def one_letter_apart(one: str, other: str) -> bool:
    """Return whether two words differ by one letter: another one, one too few, or two neighbours
    exchanged.

    Digits do not count: "batch 11" and "batch 12" are two names.
    """
    if min(len(one), len(other)) < SHORTEST_WORD or abs(len(one) - len(other)) > 1 or one == other:
        return False
    start = next(
        (i for i, (a, b) in enumerate(zip(one, other, strict=False)) if a != b),
        min(len(one), len(other)),
    )
    a, b = one[start:], other[start:]
    if any(letter.isdigit() for letter in a[:1] + b[:1]):
        return False
    return a[1:] == b[1:] or a[1:] == b or a == b[1:] or (a[:2] == b[:2][::-1] and a[2:] == b[2:])
