"""Starting a trial: an empty folder with a card to fill in, or a copy of an example."""

from __future__ import annotations

import os
import shutil
import tempfile
from importlib.resources import as_file, files
from pathlib import Path

from ..card import FILE
from ..findings import TrialError
from ..words.for_card import toml_text
from .columns_page import PAGE, columns_page
from .whole_files import why

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

# [columns]                    # a header of your own for a column; columns.md explains each, as does  check --columns
# loaf_g = "Weight 2 (g)"

# [measures.height_mm]         # for each further measure: what is worth acting on, and which way is wanted
# matters = 5
# better  = "higher"

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

# [scores]                     # of crumb, crust and taste: columns crumb_softness …, or scores.csv
# scale      = [1, 10]
# attributes = ["openness", "softness"]
# assessors  = 6               # each gets a sheet of their own from  fairloaf sheets
# [scores.words.openness]
# 1  = "dense"
# 10 = "airy"

# [tasting]                    # can people tell?  fairloaf serve  draws the plates and prints the ballots
# test      = "triangle"       # or duo-trio, tetrad, three-choice, pair, preference, ranking
# may_tell  = 0.3              # as many as 30 in 100 may be able to tell before it matters: yours to say
# assessors = 24               # how many will taste, said beforehand;  fairloaf tasters  says how many are needed
# asked     = "sourness"       # what a three-choice, pair or ranking asks for
# expected  = ["A", "B"]       # and which bread should have more of it: the last
# allergens = ["gluten"]       # of all breads, named before a ballot is printed; [] when there are none

# [words]                      # what people tick for each bread: heading = words
# crust = ["dark", "crisp"]
# crumb = ["open", "springy", "dry"]
# taste = ["sweet", "sour", "malty"]

# For  fairloaf plan : what the kitchen can do; the numbers are examples, put your own.
# [kitchen]
# days         = 4
# mixes_a_day  = 2             # doughs that a baker makes on a day
# loaves_a_mix = 4             # the most that a dough is cut into
# bakers       = 1             # who make doughs side by side, each with a mixer
# hands        = 1
# loads_a_day  = 2             # only where a load goes in and comes out at once
# oven_places  = 12            # or zones:  oven_places = {{ front = 4, middle = 4, back = 4 }}
# opens        = "07:00"
# closes       = "15:30"       # past midnight the hours run on: "26:00" is two in the morning

# [made_per]                   # "day", "load", "mix" or "loaf", for a factor where that is not the usual
# oven_c = "load"

# [minutes]                    # for the timetable
# weigh   = 4                  # a dough
# mix     = 12
# attend  = 3                  # of mixing, the first minutes with a hand
# rest    = [50, 60]           # least and most
# shape   = 1                  # a loaf
# proof   = 60                 # where it is no factor
# late    = 5                  # how much longer a proof may last
# fill    = 2
# bake    = 30
# empty   = 2
# cool    = [120, 360]
# measure = 3                  # a loaf

# [variation]                  # standard deviations in the measure's unit, from earlier bakes
# mix  = 0.12
# loaf = 0.12
# load = 0.06

# [dough]                      # for the weigh-out;  [tins.open]  may say  owned = 12  and  dough_g = 450
# piece_g      = 460
# waste_pct    = 2
# temp_c       = 26            # wanted after mixing; with the next four, for the water
# flour_c      = 20
# room_c       = 22
# friction_c   = 8
# tap_c        = 14
# scale_g      = 1             # steps of the scales
# fine_scale_g = 0.1
# mixer_g      = [1000, 8000]  # least and most

# [preferments.sponge]         # takes so much of all flour, at this hydration
# takes     = 15
# hydration = 100
# flour     = "flour"

# [soakers.seeds]              # ingredients that are soaked, and their water in per cent of all flour
# holds = ["linseed"]
# water = 10
"""  # noqa: E501

HEADER = (
    "loaf,day,mix,formula,tin,proof_min,bake_order,oven_place,baker,dough_temp_c,dough_g,loaf_g,cool_min,"
    "measure_order,box_ml,seed_ml,height_mm,void,note\n"
)


def example_names() -> tuple[str, ...]:
    """Return the names of the example trials that come with the package."""
    folder = files("fairloaf.example_trials")
    return tuple(sorted(entry.name for entry in folder.iterdir() if entry.joinpath(FILE).is_file()))


def start_trial(folder: str | Path, like: str | None = None) -> Path:
    """Make ``folder`` with a card and an empty table of loaves, or as a copy of the example named
    ``like``.

    The folder is made whole or not at all. Returns its path.

    Raises
    ------
    TrialError: the folder is there already, its parent is not, or no example has that name. Nothing
    is written.
    """
    folder = Path(folder)
    if os.path.lexists(folder):
        raise TrialError.one(
            "already-there",
            f"{folder} is there already.",
            "Choose another name; nothing was written.",
        )
    if not folder.parent.is_dir():
        raise TrialError.one(
            "no-such-folder", f"There is no folder {folder.parent}.", "Make it first."
        )
    if like is not None and like not in example_names():
        raise TrialError.one(
            "no-such-example",
            f"There is no example {like!r}.",
            f"Choose one of: {', '.join(example_names())}.",
        )
    try:
        beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    except OSError as problem:
        raise cannot_be_made(folder, problem) from None
    try:
        if like is None:
            (beside / FILE).write_text(CARD.format(title=toml_text(folder.name)), "utf-8")
            (beside / "loaves.csv").write_text(HEADER, "utf-8")
            (beside / PAGE).write_text(columns_page(), "utf-8")
        else:
            with as_file(files("fairloaf.example_trials").joinpath(like)) as example:
                shutil.copytree(example, beside, dirs_exist_ok=True)
        beside.chmod(0o755)
        os.rename(beside, folder)
    except OSError as problem:
        shutil.rmtree(beside, ignore_errors=True)
        raise cannot_be_made(folder, problem) from None
    return folder


def cannot_be_made(folder: Path, problem: OSError) -> TrialError:
    """Return that a trial's folder could not be made, and why."""
    # of a copy: tells of every file, and the first will do
    if isinstance(problem, shutil.Error):
        problem = OSError(str(problem.args[0][0][2]))
    return TrialError.one(
        "cannot-write",
        f"{str(folder)[:80]} could not be made: {why(problem)}.",
        "Check the name, the disk and the folder's permissions; nothing was left behind.",
    )
