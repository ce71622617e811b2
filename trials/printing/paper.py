"""The sizes of paper, and what fits on it: everything on a sheet to write on is measured from here,
in millimetres.
"""

from __future__ import annotations

from ..frozen import frozen

ROW_MM = 13.0  # a row to write in, with a pencil and floury fingers
CELL_MM = 24.0  # a cell to write a number in
CODE_HEAD_MM = 16.0  # a column of ticks under a code of three digits
CODE_MM = 25.0  # a cell for a code of four digits
LABEL_MM = 37.0  # the height of a label to cut out
TEXT_PT, CODE_PT, CODE_HEAD_PT, LABEL_PT = 11.0, 22.0, 16.0, 40.0
SIDE_MM, TOP_MM, BOTTOM_MM = 8.0, 19.0, 8.0  # margins; the top one holds the sheet's name
LABELS_ACROSS, LABELS_DOWN = 3, 7


@frozen
class Paper:
    """One size of paper, upright."""

    name: str
    width_mm: float
    height_mm: float

    @property
    def inside_mm(self) -> float:
        """Return the width between the margins."""
        return self.width_mm - 2 * SIDE_MM


# ISO 216; ANSI/ASME Y14.1 (8.5 × 11 inches)
PAPERS = {"a4": Paper("a4", 210.0, 297.0), "letter": Paper("letter", 215.9, 279.4)}


def cells_across(paper: Paper, taken_mm: float) -> int:
    """Return how many cells to write in fit beside what takes ``taken_mm`` of the width."""
    return int((paper.inside_mm - taken_mm + 1e-6) // CELL_MM)
