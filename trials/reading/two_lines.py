"""Headers of two lines: a title over several columns, and below it what sets them apart.

"Weight (g)" over "plain" and "honey" is "Weight (g) plain" and "Weight (g) honey"; "plain" over
"Weight (g)" and "Volume (mL)" likewise. They are joined only where one line alone would not do.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

from ..columns import RECORDED
from ..findings import Finding
from ..frozen import frozen
from .grid import Grid
from .headers import read_header
from .units import find_unit

FEWEST_TITLES = 2  # one title over all columns is the table's, and no part of their headers
_NUMBER = re.compile(r"[\d.,\s%-]+")


@frozen(kw_only=True)
class TwoLines:
    """A header of two lines: the row of the lower one, and the joined texts, a column each; no
    texts where it is not clear which belong together.
    """

    row: int
    texts: tuple[str, ...]

    @property
    def is_clear(self) -> bool:
        """Return whether it is clear which texts belong together."""
        return bool(self.texts)


def two_lines(grid: Grid, top: int, known: Callable[[str], bool]) -> TwoLines | None:
    """Return the header of two lines that a grid has at its header row or the row above it; None
    where one line will do.
    """
    lines = [_texts(grid, row) for row in range(max(top - 1, 0), min(top + 2, len(grid.cells)))]
    here = lines[min(top, 1)]
    if top and len(set(filled := [text for text in here if text])) < len(filled):
        upper, lower, row = lines[0], here, top
    elif top + 1 < len(grid.cells) and _hangs_over(here, lines[-1]):
        upper, lower, row = here, lines[-1], top + 1
    else:
        return None
    titles = _titles(upper)
    if len(set(titles) - {""}) < FEWEST_TITLES or not _are_labels(upper, lower, titles):
        return None
    joined = tuple(
        _joined(title, text, known, lower) for title, text in zip(titles, lower, strict=True)
    )
    kept = [text for text in joined if text]
    twice = {text for text in lower if text and lower.count(text) > 1}
    is_clear = len(set(map(str.casefold, kept))) == len(kept) and not any(map(_is_a_label, twice))
    return TwoLines(row=row, texts=joined if is_clear else ())


def unclear(file: str, lines: Sequence[int]) -> Finding:
    """Return the error for a header of two lines that could be joined in more ways than one."""
    return Finding(
        code="header-two-lines",
        severity="error",
        rows=tuple(lines),
        file=file,
        message=(
            f"Lines {lines[0]} and {lines[1]} of {file} seem to be a header of two lines, and which"
            " texts of them belong together is not clear."
        ),
        why="A column that is taken for another gives wrong answers.",
        fix=(
            "Write each header in one line, such as  Weight plain (g); put tables that stand side"
            " by side below one another, with a column that says which is which."
        ),
    )


def _texts(grid: Grid, row: int) -> list[str]:
    return [" ".join(text.split()) for text in grid.cells.iloc[row]]


def _hangs_over(upper: Sequence[str], lower: Sequence[str]) -> bool:
    """Return whether there are texts below the gaps behind a title."""
    first = next((place for place, text in enumerate(upper) if text), len(upper))
    return any(not up and low for up, low in zip(upper[first:], lower[first:], strict=True))


def _titles(upper: Sequence[str]) -> list[str]:
    """Return the title over each column: its own, or the one before it."""
    titles, last = [], ""
    for text in upper:
        last = text or last
        titles.append(last)
    return titles


def _are_labels(upper: Sequence[str], lower: Sequence[str], titles: Sequence[str]) -> bool:
    """Return whether the lower line holds labels: texts, or 1, 2, 3 … under each of the titles and
    nothing under a title of one column.
    """
    filled = [text for text in lower if text]
    numbers = [text for text in filled if _NUMBER.fullmatch(text)]
    if len(filled) < FEWEST_TITLES or all(find_unit(text.strip("()[]")) for text in filled):
        return False
    if not numbers:
        return True
    spans = {
        title: [low for own, low in zip(titles, lower, strict=True) if own == title and low]
        for title in set(titles)
    }
    counted = [span for span in spans.values() if span]
    return all(
        len(span) > 1 and span == [str(n) for n in range(1, len(span) + 1)] for span in counted
    )


def _joined(title: str, text: str, known: Callable[[str], bool], lower: Sequence[str]) -> str:
    """Return the header of one column: both texts, or the one that says it all."""
    if not text or text.casefold() == title.casefold():
        return title
    both = f"{title} {text}".strip()
    return text if known(text) and lower.count(text) == 1 and not known(both) else both


def _is_a_label(text: str) -> bool:
    """Return whether a text names a loaf's label, which two columns hold in two tables only."""
    meant = read_header(text, RECORDED)
    return bool(meant and meant.column and meant.column.kind == "text")
