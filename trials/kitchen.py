"""What the card says of the kitchen: its limits, its minutes, how loaves vary, and how dough is
weighed.

Every field is None, or empty, where the card is silent. Minutes are minutes, masses grams,
temperatures °C.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import Literal

from .frozen import frozen

Unit = Literal["day", "load", "mix", "loaf"]
UNITS: tuple[Unit, ...] = ("day", "load", "mix", "loaf")  # from the coarsest to the finest
Range = tuple[float, float]


@frozen(kw_only=True)
class Kitchen:
    """[kitchen]: how much can be made.

    days : bake days; mixes_a_day : doughs a baker makes on a day; loaves_a_mix : the most that a
        dough is cut into
    bakers : who make doughs side by side, each with a mixer; hands : people for everything that
        takes a hand
    loads_a_day : loads of the oven, each in and out at once; None where loaves go in as they are
        proofed
    oven_places : loaves that the oven takes at once; zones : the same a zone, empty where the card
        names none
    opens, closes : minutes after midnight; past the next midnight they run on
    """

    days: int
    mixes_a_day: int
    loaves_a_mix: int
    bakers: int = 1
    hands: int = 1
    loads_a_day: int | None = None
    oven_places: int | None = None
    zones: Mapping[str, int] = field(default_factory=dict)
    opens: int | None = None
    closes: int | None = None


@frozen(kw_only=True)
class Minutes:
    """[minutes]: how long each step takes.

    weigh, mix : a dough; attend : the first minutes of mixing, with a hand; rest : least and most,
        in bulk
    shape, measure : a loaf; proof : where it is no factor; late : how much longer a proof may last
    fill, bake, empty : an oven load, or a dough's loaves; cool : least and most before measuring
    """

    weigh: float | None = None
    mix: float | None = None
    attend: float | None = None
    rest: Range | None = None
    shape: float | None = None
    proof: float | None = None
    late: float | None = None
    fill: float | None = None
    bake: float | None = None
    empty: float | None = None
    cool: Range | None = None
    measure: float | None = None


@frozen(kw_only=True)
class Variation:
    """[variation]: standard deviations of mixes, of loaves of one mix and of oven loads, in the
    measure's unit.
    """

    mix: float | None = None
    loaf: float | None = None
    load: float | None = None


@frozen(kw_only=True)
class Dough:
    """[dough]: how a dough is made up.

    piece_g : the scaled piece, where its tin does not say; waste_pct : lost in bowl and on bench,
        of the dough made
    temp_c : wanted after mixing; flour_c, room_c, tap_c : of flour, room, tap water
    friction_c : warming in the mixer, in the sum of temperatures
    scale_g, fine_scale_g : steps of the two scales; mixer_g : least and most that the mixer takes
    """

    piece_g: float | None = None
    waste_pct: float | None = None
    temp_c: float | None = None
    flour_c: float | None = None
    room_c: float | None = None
    friction_c: float | None = None
    tap_c: float | None = None
    scale_g: float | None = None
    fine_scale_g: float | None = None
    mixer_g: Range | None = None


@frozen(kw_only=True)
class Preferment:
    """[preferments.…]: takes so many per cent of all flour, at this hydration (water per 100 of its
    flour).

    flour : the ingredient that it takes from; None for the formula's flour
    """

    takes: float
    hydration: float
    flour: str | None = None


@frozen(kw_only=True)
class Soaker:
    """[soakers.…]: the ingredients that are soaked, and their water in per cent of all flour."""

    holds: tuple[str, ...]
    water: float
