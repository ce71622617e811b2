"""What results say by one word of their own. A person is never shown these: `wording/codes.py` has
words for each, and a test finds that none is without.
"""

from __future__ import annotations

from typing import Literal

# how a contrast was judged (`model/judging.py`)
Way = Literal["reml", "means", "bounded", "lenth", "none"]
# why so
Why = Literal[
    "positive",
    "within",
    "loaves",
    "balanced",
    "crossed",
    "unbalanced",
    "edge",
    "between",
    "people",
    "one loaf a combination",
    "no variation",
    "none left",
    "one unit",
    "too few",
    "tied",
]
# what the interval of one pair among several allows for
Adjustment = Literal["none", "Tukey", "Dunnett", "Lenth"]
# what more mixes are counted for
Goal = Literal["power", "half width"]
# why no mix and no day was left out; "" where some were
NotTried = Literal["", "no interval", "too many mixes", "too few mixes", "nothing to leave out"]
# what of a term cannot be told apart
Inseparable = Literal["all", "part", "read as main", "lid"]
