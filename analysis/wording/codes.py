"""Words for every code of a result (`analysis/codes.py`)."""

from __future__ import annotations

from ...trials.fairness.pairing import Choice
from ..codes import Adjustment, Goal, NotTried, Way, Why

WAYS: dict[Way, str] = {
    "reml": "REML, Kenward–Roger",
    "means": "means of the units",
    "bounded": "REML, bounded",
    "lenth": "Lenth's limits",
    "none": "nothing",
}
WHYS: dict[Why, str] = {
    "positive": "units vary more than loaves",
    "within": "compared inside the unit",
    "loaves": "no loaves share a unit",
    "balanced": "balanced",
    "crossed": "groupings cross, and units vary little",
    "unbalanced": "loaves were lost, units vary little",
    "edge": "the fit has no inner optimum",
    "between": "blocks had one of the two only",
    "people": "assessors saw it differently",
    "one loaf a combination": "no combination was baked twice",
    "no variation": "nothing varies",
    "none left": "none left to judge by",
    "one unit": "one unit only",
    "too few": "too few to judge by",
    "tied": "tied to another effect",
}
ADJUSTMENTS: dict[Adjustment, str] = {
    "none": "this pair alone",
    "Tukey": "all pairs (Tukey)",
    "Dunnett": "all against one (Dunnett)",
    "Lenth": "Lenth's limits",
}
GOALS: dict[Goal, str] = {
    "power": "have an 80 % chance to show {}",
    "half width": "make the likely range half as wide on average",
}
NOT_TRIED: dict[NotTried, str] = {
    "": "",
    "no interval": "",  # the answer has said that nothing shows how sure it is
    "too many mixes": "",  # one of so many can carry no answer
    "too few mixes": (
        "Whether the answer hangs on one mix cannot be tried: without it too few would remain."
    ),
    "nothing to leave out": "",  # no mixes or days were recorded
}
CHOICES: dict[Choice, str] = {
    "": "",
    "control": "",  # the card's: nothing was chosen for the reader
    "the other": "",  # there are two
    "first as control": (
        "No control is named on the card: {against} was taken, because it comes first in the"
        " alphabet."
    ),
    "all pairs": "",  # told with how pairs were adjusted
}
LEFT_OUT = {"lid": "stopped by the lid"}  # other reasons are words already


def way_words(code: object) -> str:
    """Return how something was judged."""
    return WAYS[code]  # type: ignore[index]


def why_words(code: object) -> str:
    """Return why it was judged so."""
    return WHYS[code]  # type: ignore[index]


def adjustment_words(code: object) -> str:
    """Return what an interval allows for; "" where there is none."""
    return ADJUSTMENTS[code] if code else ""  # type: ignore[index]


def left_out_words(code: object) -> str:
    """Return why a loaf was left out."""
    return LEFT_OUT.get(str(code), str(code))
