"""How names stand in a sentence: set apart by quotation marks wherever a reader could take them for
the sentence's own words.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

MOST_WORDS = 3

# Words that a sentence about loaves is made of: a name that holds one of them would run into it.
SENTENCE_WORDS = frozenset(
    re.findall(
        r"\S+",
        """
    a an the this that these those it its they them he she we you i who which what and or but nor so
    if as than then too also both each every either neither any all some none other another others
    one two three four five six seven eight nine ten once twice half many much more most less least
    few fewer only about with without by of in on at to from for between against within under over
    above below after before through up down off per like into is are was were be been has have had
    do does did can may must not no yes bigger smaller taller shorter heavier lighter higher lower
    airier same alike real likely settled lost scored moved matters""",
    )
)
# Words for what is counted: only a name that is no more than such a word could be taken for it.
COUNTED_WORDS = frozenset(
    re.findall(
        r"\S+", "loaf loaves mix mixes dough doughs day days formula formulas table tables points"
    )
)
_WORD = re.compile(r"[^\W\d_](?:[\w.'’]|-(?=\w))*")  # begins with a letter

_QUOTES = re.compile('[“”„"]')


def set_apart(name: object) -> str:
    """Return a name as it stands in a sentence: in quotation marks where it could be misread.

    That is a name with a number, a single letter, a word that the sentence itself is made of, any
    sign beside letters, digits, hyphens and apostrophes, more than `MOST_WORDS` words, or no sign
    at all. Quotation marks inside it become single ones.
    """
    text = str(name)
    if _is_plain(text):
        return text
    inner = _QUOTES.sub("’", text)
    return f"“{inner}”"


def set_apart_together(names: Sequence[str]) -> list[str]:
    """Return names that stand beside one another: all of them set apart where one is."""
    said = [set_apart(name) for name in names]
    if all(own == name for own, name in zip(said, names, strict=True)):
        return said
    return [f"“{_QUOTES.sub('’', name)}”" for name in names]


def _is_plain(text: str) -> bool:
    words = text.split(" ")
    small = [word.casefold() for word in words]
    return (
        len(words) <= MOST_WORDS
        and all(_WORD.fullmatch(word) and len(word) > 1 for word in words)
        and not words[-1].endswith((".", "'", "’"))
        and not SENTENCE_WORDS & {part for word in small for part in word.split("-")}
        and not (len(words) == 1 and small[0] in COUNTED_WORDS)
    )
