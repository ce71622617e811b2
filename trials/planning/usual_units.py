"""What each factor is changed with: a bake day, an oven load, a mix or a loaf. Unknown is asked,
never guessed.
"""

from __future__ import annotations

import json
import re

from ..card import TrialCard
from ..findings import Finding
from ..formula import is_flour
from ..kitchen import UNITS, Unit

USUAL: dict[Unit, tuple[str, ...]] = {
    "day": ("flour_lot",),
    "load": ("oven_c", "bake_min", "steam"),
    "mix": ("formula", "mix_min", "rest_min", "dough_temp_c"),
    "loaf": ("tin", "proof_min", "dough_g"),
}
INGREDIENTS = frozenset(
    {
        "water",
        "salt",
        "yeast",
        "sugar",
        "honey",
        "syrup",
        "malt",
        "butter",
        "oil",
        "fat",
        "lard",
        "margarine",
        "milk",
        "buttermilk",
        "egg",
        "eggs",
        "starter",
        "sourdough",
        "leaven",
        "preferment",
        "gluten",
        "bran",
        "oats",
        "seed",
        "seeds",
        "linseed",
        "sesame",
        "improver",
        "enzyme",
        "lecithin",
        "hydration",
    }
)


def unit_of(factor: str, card: TrialCard) -> Unit | None:
    """Return what a factor is changed with: as the card says, else the usual; None where nobody
    knows.
    """
    if factor in card.made_per:
        return card.made_per[factor]
    usual = next((unit for unit in UNITS if factor in USUAL[unit]), None)
    return usual or ("mix" if is_ingredient(factor, card) else None)


def is_ingredient(factor: str, card: TrialCard) -> bool:
    """Return whether a factor is an ingredient: of a formula on the card, a flour, or a usual one
    by its name.
    """
    name = factor.removesuffix("_pct")
    known = {part for formula in card.formulas.values() for part in formula}
    words = name.lower().replace("-", " ").replace("_", " ").split()
    return name in known or is_flour(name) or bool(INGREDIENTS & set(words))


def unknown_unit(factor: str) -> Finding:
    """Return the error for a factor of which nobody knows what it is changed with."""
    return Finding(
        code="plan-made-per",
        severity="error",
        message=(
            f"It is not known whether {factor} is changed from day to day, load to load, mix to mix"
            " or loaf to loaf."
        ),
        fix=(
            f"Write on the card  [made_per]  and below it  {toml_key(factor)}"
            ' = "mix"  (or "day", "load",'
            ' "loaf").'
        ),
        why="What a factor is changed with decides how it is drawn and judged.",
    )


def toml_key(name: str) -> str:
    """Return a name as the card takes it as a key: in quotes where it is more than plain letters
    and digits.
    """
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else json.dumps(name, ensure_ascii=False)
