"""A dough in grams: from baker's percentages to what is weighed, in parts made ahead and at the
mixing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field
from typing import Any

import pandas as pd

from ..card import TrialCard
from ..formula import is_flour, is_water
from ..frozen import frozen
from ..kitchen import Dough, Preferment, Soaker

WATER = "water"  # what it is called where a formula names none
USUAL_SCALE_G = 1.0  # where the card does not say what the scale shows
FINE_BELOW = 100  # steps of the scale; less than that is weighed on the fine scale
MELTING_C = 80.0  # melting a gram of ice takes as much heat as cooling a gram of water by 80 °C


@frozen(kw_only=True)
class WeighedDough:
    """One dough in grams, unrounded: the whole of it, its parts made ahead, and what is left for
    the mixing itself.
    """

    dough_g: float
    flour_g: float
    whole: Mapping[str, float]
    final: Mapping[str, float]
    preferments: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    soakers: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


def mix_formula(
    card: TrialCard, of_mix: Mapping[str, Any]
) -> tuple[str | None, dict[str, float] | None]:
    """Return a mix's formula and its percentages, with the levels of ingredients that are factors;
    None if unknown.

    Where a flour is a factor, the largest of the other flours gives way, so that the flours stay at
    100.
    """
    named = str(of_mix["formula"]) if "formula" in of_mix else next(iter(card.formulas), None)
    if (
        named is None
        or named not in card.formulas
        or ("formula" not in of_mix and len(card.formulas) > 1)
    ):
        return named, None
    parts = dict(card.formulas[named])
    ingredients = {ingredient for formula in card.formulas.values() for ingredient in formula}
    set_here = {
        name: float(of_mix[name])
        for name, levels in card.factors.items()
        if name in ingredients and name in of_mix and isinstance(levels[0], float)
    }
    flour = sum(share for name, share in parts.items() if is_flour(name))
    parts |= set_here
    gives_way = max(
        (name for name in parts if is_flour(name) and name not in set_here),
        key=lambda name: parts[name],
        default=None,
    )
    if gives_way is not None:
        parts[gives_way] += flour - sum(share for name, share in parts.items() if is_flour(name))
    return named, {name: share for name, share in parts.items() if share > 0}


def piece_masses(card: TrialCard, loaves: pd.DataFrame) -> list[float] | None:
    """Return the dough piece of each loaf in grams: its own where that is a factor, its tin's, the
    card's, or None.
    """
    usual = card.dough.piece_g if card.dough else None
    pieces: list[float] = []
    for loaf in loaves.to_dict("records"):
        tin = card.tins.get(str(loaf.get("tin"))) or (
            next(iter(card.tins.values())) if len(card.tins) == 1 else None
        )
        mass = loaf.get("dough_g") or (tin.dough_g if tin else None) or usual
        if mass is None:
            return None
        pieces.append(float(mass))
    return pieces


def weighed(
    parts: Mapping[str, float],
    pieces_g: float,
    waste_pct: float = 0.0,
    preferments: Mapping[str, Preferment] | None = None,
    soakers: Mapping[str, Soaker] | None = None,
) -> WeighedDough:
    """Return one dough in grams, from baker's percentages of all its flour (common practice, no
    source).

    dough = pieces / (1 − waste); flour = 100·dough / Σ %; ingredient = flour·% / 100. A preferment
    takes its share of the flour, and that share's hydration in water, off the dough; a soaker its
    ingredients and its water.
    """
    water = next(filter(is_water, parts), WATER)
    dough_g = pieces_g / (1 - waste_pct / 100)
    flour_g = 100 * dough_g / sum(parts.values())
    whole = {name: flour_g * share / 100 for name, share in parts.items()}
    final = dict(whole)
    ahead: dict[str, dict[str, float]] = {}
    for name, preferment in (preferments or {}).items():
        flour = preferment.flour or next((part for part in parts if is_flour(part)), "")
        if flour in final:
            taken = flour_g * preferment.takes / 100
            ahead[name] = {flour: taken, water: taken * preferment.hydration / 100}
    n_preferments = len(ahead)
    for name, soaker in (soakers or {}).items():
        held = {part: final[part] for part in soaker.holds if part in final}
        if held:
            ahead[name] = held | {water: flour_g * soaker.water / 100}
    for name, taken_off in ahead.items():
        for part, grams in taken_off.items():
            final[part] = final.get(part, 0.0) - grams
        final[name] = final.get(name, 0.0) + sum(taken_off.values())
    made_ahead = list(ahead.items())
    return WeighedDough(
        dough_g=dough_g,
        flour_g=flour_g,
        whole=whole,
        final={name: grams for name, grams in final.items() if abs(grams) > 1e-9},
        preferments=dict(made_ahead[:n_preferments]),
        soakers=dict(made_ahead[n_preferments:]),
    )


def water_temperature(
    dough_c: float,
    flour_c: float,
    room_c: float,
    friction_c: float,
    preferment_c: float | None = None,
) -> float:
    """Return how warm the water must be, °C, for the dough to leave the mixer at ``dough_c``.

    Sum of temperatures: 3 × dough − flour − room − friction, with a preferment 4 × dough less that
    too (common practice, no source).
    """
    several = 3 if preferment_c is None else 4
    return several * dough_c - flour_c - room_c - friction_c - (preferment_c or 0.0)


def ice_share(wanted_c: float, tap_c: float) -> float:
    """Return the share of the water that is weighed as ice to bring tap water to ``wanted_c``; 0
    where none is.

    (tap − wanted) / (tap + 80): common practice, no source; melting takes about 80 kcal/kg.
    """
    return max(0.0, (tap_c - wanted_c) / (tap_c + MELTING_C))


def in_weighing_order(ingredients: Mapping[str, float]) -> list[tuple[str, float]]:
    """Return the ingredients as the formula names them, flours first and water, whose warmth must
    keep, last.
    """
    return sorted(ingredients.items(), key=lambda part: (is_water(part[0]), not is_flour(part[0])))


@frozen
class Scales:
    """The steps of the two scales, g."""

    coarse: float
    fine: float

    @classmethod
    def of(cls, dough: Dough | None) -> Scales:
        coarse = (dough.scale_g if dough else None) or USUAL_SCALE_G
        return cls(coarse, (dough.fine_scale_g if dough else None) or coarse)

    def rounded(self, grams: float) -> tuple[float, float]:
        """Return the mass to the step of the scale that it is weighed on, and that step."""
        step = self.coarse if grams >= FINE_BELOW * self.coarse else min(self.fine, self.coarse)
        return round(math.floor(grams / step + 0.5 + 1e-9) * step, 6), step
