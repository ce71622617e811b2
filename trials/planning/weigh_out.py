"""What to weigh for each dough, to the step of the scale, and how warm its water must be."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

import pandas as pd

from ..card import TrialCard
from ..findings import Finding
from ..formula import is_water
from ..frozen import frozen
from ..kitchen import Dough
from .result import TrialPlan, rows_of
from .usual_units import toml_key
from .weighing import (
    Scales,
    WeighedDough,
    ice_share,
    in_weighing_order,
    mix_formula,
    piece_masses,
    water_temperature,
    weighed,
)

DOUGH = "dough"  # the part that is weighed for the mixing itself
MOST_ROUNDING = 0.01  # of an ingredient that the scale may move it by
COLDEST_C = 1.0  # water that is still sure to be water
TABLE = ("day", "mix", "part", "ingredient", "grams", "scale_g")
WATERS = ("day", "mix", "temp_c", "ice_g")


@frozen(kw_only=True)
class WeighOut:
    """What each mix is weighed out from.

    Attributes
    ----------
    table : day, mix, part (the preferments and soakers by their names, then "dough"), ingredient,
        grams (to the step of its scale) and scale_g, that step; in weighing order. A preferment or
        soaker is an ingredient of the dough
    water : day, mix, temp_c of the dough's own water, and ice_g, the part of it that is weighed as
        ice; missing where the card does not say enough
    findings : what cannot be weighed, mixed or kept cool
    """

    table: pd.DataFrame
    water: pd.DataFrame
    findings: tuple[Finding, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        return {
            "table": rows_of(self.table),
            "water": rows_of(self.water),
            "findings": [finding.to_dict() for finding in self.findings],
        }


def weigh_out(plan: TrialPlan) -> WeighOut:
    """Return what every mix of a plan is weighed out from. A factor named like an ingredient sets
    its percentage.
    """
    return _weighed_out(plan.card, plan.loaves)


def dough_faults(card: TrialCard) -> list[Finding]:
    """Return the errors that doughs would have if there were a plan: of every level once, the
    others' first ones beside it.
    """
    parts = {part for formula in card.formulas.values() for part in formula}
    first = {name: levels[0] for name, levels in card.factors.items()}
    doughs = [first | {"day": "1", "mix": "as usual"}]
    doughs += [
        first
        | {
            name: level,
            "mix": f"with {name} {level if isinstance(level, str) else f'{level:g}'}",
            "day": "1",
        }
        for name, levels in card.factors.items()
        if name in {"formula", "dough_temp_c"} | parts
        for level in levels
    ]
    doughs = doughs[1:] or doughs
    found = _weighed_out(card, pd.DataFrame(doughs, dtype=object)).findings
    return [finding for finding in found if finding.severity == "error"]


def _weighed_out(card: TrialCard, loaves: pd.DataFrame) -> WeighOut:
    step = Scales.of(card.dough)
    rows: list[tuple[Any, ...]] = []
    waters: list[tuple[Any, ...]] = []
    told = _Told()
    for (day, mix), of in loaves.groupby(["day", "mix"], sort=False):
        of_mix = {str(name): value for name, value in of.iloc[0].items()}
        formula, parts = mix_formula(card, of_mix)
        pieces = piece_masses(card, of)
        if parts is None or pieces is None:
            told.unknown(card, formula, parts is not None)
            continue
        dough = weighed(
            parts,
            sum(pieces),
            (card.dough or Dough()).waste_pct or 0.0,
            card.preferments,
            card.soakers,
        )
        for part, ingredients in (
            {**dough.preferments, **dough.soakers, DOUGH: dough.final}
        ).items():
            for ingredient, grams in in_weighing_order(ingredients):
                rows.append((day, mix, part, ingredient, *step.rounded(grams)))
                told.rounded(str(mix), ingredient, grams, rows[-1][-2])
        told.mixer(str(mix), dough.dough_g, (card.dough or Dough()).mixer_g)
        waters += _water_row(card, of_mix, dough, step, told)
    return WeighOut(
        table=pd.DataFrame(rows, columns=list(TABLE)),
        water=pd.DataFrame(waters, columns=list(WATERS)),
        findings=tuple(told.findings()),
    )


def _water_row(
    card: TrialCard, of_mix: Mapping[str, Any], dough: WeighedDough, step: Scales, told: _Told
) -> list[tuple[Any, ...]]:
    """Return the mix's row of water temperature and ice, or none where its dough has no water or
    nobody said.
    """
    said = card.dough or Dough()
    wanted = of_mix.get("dough_temp_c", said.temp_c)
    mass = sum(grams for name, grams in dough.final.items() if is_water(name))
    if mass <= 0 or any(v is None for v in (wanted, said.flour_c, said.room_c, said.friction_c)):
        return []
    temp = water_temperature(
        float(wanted),
        said.flour_c or 0.0,
        said.room_c or 0.0,
        said.friction_c or 0.0,
        said.room_c if dough.preferments else None,
    )
    ice = math.nan if said.tap_c is None else step.rounded(mass * ice_share(temp, said.tap_c))[0]
    told.water(str(of_mix["mix"]), temp, float(wanted))
    return [(of_mix["day"], of_mix["mix"], temp, ice)]


class _Told:
    """Collects what is found, mix by mix, and says each kind of fault once."""

    def __init__(self) -> None:
        self.several: tuple[str, ...] = ()
        self.no_formula: dict[str | None, None] = {}
        self.no_piece = False
        self.coarse: dict[str, tuple[str, float, float]] = {}
        self.small: dict[str, tuple[float, float]] = {}
        self.large: dict[str, tuple[float, float]] = {}
        self.cold: dict[str, tuple[float, float]] = {}
        self.negative: dict[str, str] = {}

    def unknown(self, card: TrialCard, formula: str | None, known: bool) -> None:
        """Note a mix that cannot be weighed out."""
        if known:
            self.no_piece = True
        elif formula in card.formulas:  # but nobody said that it is this one that is baked
            self.several = tuple(card.formulas)
        else:
            self.no_formula[formula] = None

    def rounded(self, mix: str, ingredient: str, grams: float, weighed_g: float) -> None:
        """Note an ingredient that the scale is too coarse for, or of which less than nothing is
        left.
        """
        if grams < 0:
            self.negative.setdefault(ingredient, mix)
        elif abs(weighed_g - grams) > MOST_ROUNDING * grams:
            self.coarse.setdefault(ingredient, (mix, grams, weighed_g))

    def mixer(self, mix: str, dough_g: float, takes: tuple[float, float] | None) -> None:
        """Note a dough that the mixer cannot take."""
        if takes and dough_g < takes[0]:
            self.small[mix] = (dough_g, takes[0])
        if takes and dough_g > takes[1]:
            self.large[mix] = (dough_g, takes[1])

    def water(self, mix: str, temp_c: float, wanted_c: float) -> None:
        """Note water that would have to be ice."""
        if temp_c < COLDEST_C:
            self.cold[mix] = (temp_c, wanted_c)

    def findings(self) -> Iterator[Finding]:
        """Yield what was noted, each kind once."""
        if self.several:
            yield Finding(
                code="no-formula",
                severity="note",
                message=(
                    f"Not weighed out: the card has the formulas {', '.join(self.several)}, and"
                    " does not say which one is baked."
                ),
                fix="Leave the one that is baked, or name those to compare under  [factors] .",
            )
        if self.no_formula:
            names = [str(name) for name in self.no_formula if name is not None]
            said = f"no percentages of {', '.join(names)}" if names else "no formula"
            yield Finding(
                code="no-formula",
                severity="note",
                message=f"Not weighed out: the card has {said}.",
                fix=(
                    f"Write  [formulas.{toml_key(names[0] if names else 'house')}]  and below it"
                    "  flour = 100  ,  water = 60  and what else goes in."
                ),
            )
        if self.no_piece:
            yield Finding(
                code="no-piece",
                severity="note",
                message="Not weighed out: the card does not say how heavy a dough piece is.",
                fix="Write under  [dough]  piece_g = 460 , or  dough_g  for each of the tins.",
            )
        for ingredient, mix in self.negative.items():
            yield Finding(
                code="part-takes-more",
                severity="error",
                message=f"Preferments and soakers take more {ingredient} than mix {mix} has.",
                fix="Lower what they take, or their water, on the card.",
            )
        yield from _mixer(
            self.small,
            "small",
            "less",
            "least",
            "Cut the mix into more loaves, or mix it in a smaller "
            "bowl and change mixer_g on the card.",
        )
        yield from _mixer(
            self.large,
            "large",
            "more",
            "most",
            "Cut the mix into fewer loaves, or mix in a larger bowl "
            "and change mixer_g on the card.",
        )
        for ingredient, (mix, grams, weighed_g) in self.coarse.items():
            yield Finding(
                code="scale-too-coarse",
                severity="warning",
                message=(
                    f"The scale makes {weighed_g:g} g of the {grams:.3g} g of {ingredient} in "
                    f"mix {mix}."
                ),
                why="That changes the formula by more than 1 % of the ingredient.",
                fix="Weigh it on a finer scale and write its step as fine_scale_g under [dough].",
            )
        if self.cold:
            mix, (temp_c, wanted_c) = min(self.cold.items(), key=lambda item: item[1])
            yield Finding(
                code="water-too-cold",
                severity="error",
                message=(
                    f"{_mixes(self.cold)} {'needs' if len(self.cold) == 1 else 'need'} water "
                    "of "
                    f"{temp_c:.0f} °C for a dough of {wanted_c:g} °C: even ice does not give that."
                ),
                fix=(
                    "Chill the flour, mix for less long, or allow a warmer dough (flour_c, "
                    "friction_c and "
                    "temp_c under [dough])."
                ),
            )


def _mixes(mixes: Mapping[str, Any]) -> str:
    names = list(mixes)
    shown = ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")
    return f"Mix {shown}" if len(names) == 1 else f"Mixes {shown}"


def _mixer(
    doughs: Mapping[str, tuple[float, float]], size: str, than: str, bound: str, fix: str
) -> Iterator[Finding]:
    """Yield the warning of doughs that the mixer cannot take."""
    if doughs:
        grams, limit = (min if size == "small" else max)(doughs.values())
        yield Finding(
            code=f"dough-too-{size}",
            severity="warning",
            message=(
                f"{_mixes(doughs)}: {grams:.0f} g of dough, {than} than the {limit:.0f} g "
                "that the mixer "
                f"takes at {bound}."
            ),
            why="A dough that does not suit the bowl is mixed differently from the others.",
            fix=fix,
        )
