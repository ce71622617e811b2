"""The vocabulary: every column that a trial's records may have, its unit, its plausible range and its meaning."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from .card import TrialCard

CRUMB_PREFIX = "crumb_"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: ``unit`` is the canonical unit, ``low`` and ``high`` what is plausible (common practice)."""

    name: str
    kind: Literal["text", "number"]
    label: str
    meaning: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    spellings: tuple[str, ...] = ()
    derived: bool = False


def _text(name: str, label: str, meaning: str, *spellings: str) -> Column:
    return Column(name=name, kind="text", label=label, meaning=meaning, spellings=spellings)


def _number(
    name: str, label: str, unit: str, low: float | None, high: float | None, meaning: str, *spellings: str,
    derived: bool = False,
) -> Column:
    return Column(name=name, kind="number", label=label, unit=unit, low=low, high=high, meaning=meaning,
                  spellings=spellings, derived=derived)


RECORDED: tuple[Column, ...] = (
    _text("loaf", "Loaf", "the loaf's own number or code, unique in the trial"),
    _text("mix", "Mix", "the dough that the loaf was cut from"),
    _text("day", "Bake day", "the day of the bake"),
    _text("oven_load", "Oven load", "which load of the oven"),
    _text("oven_place", "Oven place", "where in the oven the loaf stood"),
    _number("bake_order", "Baking order", "", 1, None, "place in the order of baking"),
    _text("formula", "Formula", "the formula that the dough was made to"),
    _text("tin", "Tin", "the kind of tin"),
    _number("proof_min", "Proof time", "min", 5, 1440, "final proof"),
    _number("dough_g", "Dough mass", "g", 20, 3000, "scaled dough piece"),
    _number("loaf_g", "Baked mass", "g", 15, 3000, "cooled loaf"),
    _number("loaf_ml", "Loaf volume", "mL", 30, 15000, "volume of the cooled loaf"),
    _number("box_ml", "Empty box", "mL", 100, 50000, "seed that fills the empty box"),
    _number("seed_ml", "Seed left over", "mL", 0, 50000, "seed that fits in around the loaf"),
    _number("height_mm", "Height", "mm", 10, 400, "greatest height of the loaf"),
    _number("dough_temp_c", "Dough temperature", "°C", 5, 40, "dough after mixing"),
    _number("cool_min", "Cooling time", "min", 0, 2880, "from oven to measuring"),
    _number("measure_order", "Measuring order", "", 1, None, "place in the order of measuring"),
    _text("baker", "Baker", "who made the dough"),
    _text("void", "Void", "why a loaf is left out; empty for a loaf that counts"),
    _text("note", "Note", "anything else"),
)

DERIVED: tuple[Column, ...] = (
    _number("specific_volume", "Specific volume", "mL/g", 1.5, 8, "loaf volume / baked mass", derived=True),
    _number("bake_loss_pct", "Bake loss", "%", 4, 25, "mass lost in the oven / dough mass", derived=True),
    _number("air_fraction", "Air fraction", "", 0.3, 0.95, "share of the loaf's volume that is air", derived=True),
    _number("volume_per_100g_flour", "Volume per 100 g flour", "mL", 200, 1200, "loaf volume per 100 g of flour",
            derived=True),
)

BY_NAME: dict[str, Column] = {column.name: column for column in RECORDED + DERIVED}


def label(name: str, card: TrialCard | None = None) -> str:
    """Return what a person reads for a column: the card's words first, then the vocabulary's, then the name."""
    said = card.measures.get(name) if card else None
    if said and said.label:
        return said.label
    if name in BY_NAME:
        return BY_NAME[name].label
    if name.startswith(CRUMB_PREFIX):
        return "Crumb " + name.removeprefix(CRUMB_PREFIX).replace("_", " ")
    return name.replace("_", " ").capitalize()


def unit(name: str, card: TrialCard | None = None) -> str:
    """Return a column's unit, empty where it has none or nobody said."""
    said = card.measures.get(name) if card else None
    if said and said.unit:
        return said.unit
    if name in BY_NAME:
        return BY_NAME[name].unit
    return "points" if name.startswith(CRUMB_PREFIX) else ""
