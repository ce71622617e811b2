"""A sheet to work from as a PDF, set by typst in this process. Words go in as data, never as
markup.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

from ..words.characters import readable
from . import paper as sizes
from .paper import Paper
from .pdf import FONTS
from .sheet import Sheet

HERE = Path(__file__).parent
# letters; a longer one may be broken anywhere, so that no name runs out of its cell
LONGEST_WORD = 12
BREAK = "\u200b"


def sheet_pdf(sheet: Sheet, paper: Paper, made_by: str) -> bytes:
    """Return the PDF; it holds no date, and the same sheet gives the same bytes."""
    import typst

    words = readable(
        asdict(sheet) | {"made_by": made_by, "keywords": ["fairloaf sheet", sheet.mark]}
    )
    size = {
        name.lower(): value for name, value in vars(sizes).items() if name.endswith(("_MM", "_PT"))
    }
    size |= {
        "width_mm": paper.width_mm,
        "height_mm": paper.height_mm,
        "across": sizes.LABELS_ACROSS,
        "down": sizes.LABELS_DOWN,
    }
    made: bytes = typst.compile(
        str(HERE / "sheet.typ"),
        sys_inputs={"sheet": json.dumps(_breakable(words)), "size": json.dumps(size)},
        font_paths=[str(FONTS)],  # DejaVu Sans, for codes and ticks
        ignore_system_fonts=True,
        pdf_standards=["ua-1"],
    )
    return made


def _breakable(value: object) -> object:
    """Return texts, and lists and dicts of them, in which overlong words may be broken."""
    if isinstance(value, str):
        return " ".join(
            word if len(word) <= LONGEST_WORD else _broken(word) for word in value.split(" ")
        )
    if isinstance(value, dict):
        return {key: _breakable(item) for key, item in value.items()}
    return [_breakable(item) for item in value] if isinstance(value, list) else value


def _broken(word: str) -> str:
    """Return a word with places to break it: after signs that join parts, else between any two
    letters.
    """
    pieces, run = [], 0
    for letter in word:
        run = 0 if letter in "-_/.,;:" else run + 1
        pieces.append(letter + (BREAK if run == 0 or run >= LONGEST_WORD - 4 else ""))
    return "".join(pieces)
