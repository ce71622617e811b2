"""Starting a trial: an empty folder with a card to fill in, or a copy of an example."""

from __future__ import annotations

import os
import shutil
import tempfile
from importlib.resources import as_file, files
from pathlib import Path

from ..card import FILE
from ..findings import TrialError

CARD = """\
# The card of a trial. A line that starts with # is a note; take the # away to fill a line in.
# Take care: raw flour and dough are not tasted; ovens, tins and steam burn; list the allergens and ask for consent
# before anyone tastes. Local food-safety rules and trained staff come first.
# Of pupils write no names, only a number for each table: reports show who baked and who scored.
title    = "{title}"
question = "Does B give a bigger loaf than A?"
measure  = "specific_volume"   # loaf volume / baked mass, mL/g
# matters  = 0.20              # smallest difference worth acting on, in the measure's unit: yours to say
# control  = "A"               # the formula that the others are held against
proof_to = "time"              # or "height", when every loaf was proofed to the same height

[factors]                      # what is changed on purpose; everything else is kept the same
formula = ["A", "B"]

# [tins.open]
# volume_ml = 1600
# [tins.lidded]
# volume_ml = 1600
# lid       = true

# [formulas.A]                 # baker's percentages; the flours add up to 100
# flour = 100
# water = 60
# salt  = 1.8
# yeast = 1.5
"""

HEADER = (
    "loaf,day,mix,formula,tin,proof_min,bake_order,oven_place,baker,dough_temp_c,dough_g,loaf_g,cool_min,"
    "measure_order,box_ml,seed_ml,height_mm,void,note\n"
)


def example_names() -> tuple[str, ...]:
    """Return the names of the example trials that come with the package."""
    folder = files("fairloaf.example_trials")
    return tuple(sorted(entry.name for entry in folder.iterdir() if entry.joinpath(FILE).is_file()))


def start_trial(folder: str | Path, like: str | None = None) -> Path:
    """Make ``folder`` with a card and an empty table of loaves, or as a copy of the example named ``like``.

    The folder is made whole or not at all. Returns its path.

    Raises
    ------
    TrialError: the folder is there already, its parent is not, or no example has that name. Nothing is written.
    """
    folder = Path(folder)
    if folder.exists() or folder.is_symlink():
        raise TrialError.one("already-there", f"{folder} is there already.",
                             "Choose another name; nothing was written.")
    if not folder.parent.is_dir():
        raise TrialError.one("no-such-folder", f"There is no folder {folder.parent}.", "Make it first.")
    if like is not None and like not in example_names():
        raise TrialError.one("no-such-example", f"There is no example {like!r}.",
                             f"Choose one of: {', '.join(example_names())}.")
    beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        if like is None:
            (beside / FILE).write_text(CARD.format(title=_toml_text(folder.name)), "utf-8")
            (beside / "loaves.csv").write_text(HEADER, "utf-8")
        else:
            with as_file(files("fairloaf.example_trials").joinpath(like)) as example:
                shutil.copytree(example, beside, dirs_exist_ok=True)
        beside.chmod(0o755)
        os.rename(beside, folder)
    except OSError as problem:
        shutil.rmtree(beside, ignore_errors=True)
        raise TrialError.one("cannot-write", f"{folder} could not be made: {problem.strerror}.",
                             "Check the disk and the folder's permissions; nothing was left behind.") from None
    return folder


def _toml_text(text: str) -> str:
    plain = "".join(letter for letter in text if letter.isprintable())
    return plain.replace("\\", "\\\\").replace('"', '\\"')
