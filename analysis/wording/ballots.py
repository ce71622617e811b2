"""What stands in words on ballots, sheets of words, tray lists and keys. Nothing on a ballot says
what was baked.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from ...trials.words.lists import listed
from .tasting import CAUTIONS

KINDS = {
    "ballots": "Ballot",
    "word_sheets": "Words",
    "tray_list": "Tray list: keep from those who taste",
    "key": "Key: keep from those who taste",
}
PERSON, SERVING, PART = "Person {}", "Serving {}", "Cups"
BALLOT = {
    "place": "In this order",
    "code": "Code",
    "answer": "Answer",
    "rank": "Place (1 = least)",
    "comment": "Comment",
    "asked": "Asked for:",
    "reference": "Reference, taste it first: {}",
    "pair": "Tick the two that belong together.",
    "one": "Tick one. If you are not sure, guess.",
    "prefer": "Tick one, or none.",
    "none": "none",
    "order": "Number them, 1 for the least. Two may share a number.",
}
WORDS = {
    "heading": "",
    "word": "Word",
    "how": (
        "Look at the breads in the order of the codes, from left to right. Tick "
        "every word that fits. Write ? where you cannot tell. Work alone."
    ),
    "comment": "Comment (with the code):",
}
TRAY = {
    "person": "Person",
    "serving": "Serving",
    "reference": "Reference",
    "cups": "Cups, in this order (loaf, code)",
}
KEY = {"code": "Code", "loaf": "Loaf", "formula": "Formula", "mix": "Mix"}
NO_ALLERGENS = "These breads have no allergens, as whoever baked them says; ask if you are unsure."


def ballot_cautions(allergens: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """Return the cautions of a ballot: allergens of all breads together, so that no code is given
    away.
    """
    every = list(dict.fromkeys(name for parts in allergens.values() for name in parts))
    return (
        f"Allergens in these breads: {listed(every)}." if every else NO_ALLERGENS,
        *CAUTIONS[1:],
    )


def served_text(paths: Sequence[Path], n_cups: int, assessors: int, seed: int) -> str:
    """Return what the command line prints after a tasting was planned."""
    lines = [
        f"{assessors} people, {n_cups} codes, drawn with seed {seed}.",
        *(f"File: {path}" for path in paths),
        "Once filled in, tasting.xlsx, words.xlsx and codes.csv belong beside the trial's loaves; a"
        " row counts when the reason under void is taken out.",
    ]
    return "\n".join(lines)
