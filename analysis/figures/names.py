"""Names in pictures: broken into short lines, and cut so that no two of a picture look alike."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import takewhile
from textwrap import wrap


def wrapped(name: str, width: int = 18, lines: int = 2) -> str:
    """Return a name broken into short lines, its own lines kept, cut with … where it is longer than
    these.
    """
    pieces = [piece for line in name.split("\n") for piece in wrap(line, width)]
    if len(pieces) > lines:
        pieces[lines - 1] = pieces[lines - 1][: width - 2].rstrip() + " …"
    return "\n".join(pieces[:lines])


def short_names(names: Sequence[str], width: int = 20, lines: int = 2) -> list[str]:
    """Return each name ``wrapped``; where the cut would make two look alike, they lose their common
    beginning.
    """
    short = {name: wrapped(name, width, lines) for name in names}
    for alike in set(short.values()):
        group = [name for name in short if short[name] == alike]
        start = _where_they_part(group)
        if len(group) > 1 and start > len("… "):
            rest = short_names([f"… {name[start:]}" for name in group], width, lines)
            short |= dict(zip(group, rest, strict=True))
    return [short[name] for name in names]


def _where_they_part(names: Sequence[str]) -> int:
    """The place of the first word that is not the same in all names, or of the first letter inside
    one long word.
    """
    letter = sum(
        1 for _ in takewhile(lambda letters: len(set(letters)) == 1, zip(*names, strict=False))
    )
    word = names[0].rfind(" ", 0, letter) + 1
    return word if word > len("… ") else letter


def lines_of(names: Sequence[str], width: int = 20, lines: int = 2) -> int:
    """Return how many lines the longest of these names takes in ``short_names``."""
    return max((name.count("\n") + 1 for name in short_names(names, width, lines)), default=1)
