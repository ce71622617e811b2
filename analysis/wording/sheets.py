"""What stands in words on the sheets of a planned trial.

The words of the blind sheets (``MEASURE``, ``SCORE``) name no formula, tin or place, and none that
a card might use for one: no "house", "white", "open", "seeded", and no article that is a formula's
letter.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from ...trials import Finding
from ...trials.card import TrialCard
from ...trials.columns import BY_NAME, NO_COLUMN, label, unit
from ...trials.sheets.levels import Levels
from ...trials.words.numbers import NumberStyle, level_words, number, typed, typed_places
from .background import CAUTIONS
from .findings import plain_text

UNIT_ENDINGS = {"c": "°C", "min": "min", "g": "g", "ml": "mL", "mm": "mm", "pct": "%"}
MOST_TITLE = 90  # letters of a title at the head of a page

KINDS = {
    "run": "Run of the day",
    "weigh": "Weighing",
    "measure": "Measuring",
    "score": "Scoring",
    "labels": "Labels",
    "key": "Key: keep from those who measure or score",
}
PAGE = "page {page} of {pages}"
DAY, EVENING, MIX, ASSESSOR, SET, LOAD = (
    "Day {}",
    "Evening before day {}",
    "mix {}",
    "assessor {}",
    "Set {}",
    "load {}",
)

STEPS = {
    "weigh": "Weigh",
    "mix": "Mix",
    "shape": "Divide and shape",
    "in": "Into the oven",
    "out": "Out of the oven",
    "measure": "Measure, by its own sheet",
}
RUN = {
    "planned": "Planned",
    "really": "Really at",
    "what": "What",
    "mix": "Mix",
    "codes": "Loaves",
    "map": "Oven map",
    "load": "Load",
    "place": "Place",
    "map_note": (
        "Paper burns: in the oven this map says which loaf is which. Off the map, every loaf has"
        " its label."
    ),
}
RUN_CAUTIONS = tuple(CAUTIONS[name] for name in ("heat", "mixer", "raw", "rules"))
WEIGH_CAUTIONS = tuple(CAUTIONS[name] for name in ("mixer", "raw"))
NO_TIMES = "There are no times: {}"

WEIGH = {
    "ingredient": "Ingredient",
    "grams": "Grams",
    "weighed": "Weighed, where it differs",
    "loaves": "Loaves of this mix",
    "found": "As found",
    "water": "Water at {} °C",
    "ice": ", {} g of it as ice",
    "temperature": "The dough's temperature goes with each of these loaves into the workbook.",
}
WEIGH_BLANKS = ("Flour (°C)", "Room (°C)", "Water (°C)", "Dough after mixing (°C)")

MEASURE = {
    "code": "Code",
    "mass": "Mass (g)",
    "volume": "Volume {} (mL)",
    "seed": "Seed {} (mL)",
    "height": "Height (mm)",
    "out": "Out of oven at",
    "measured": "Measured at",
    "order": (
        "Measure the loaves when they are cool, in this order. Cooling time is from out of the oven"
        " to measured."
    ),
    "own": "On the same loaves:",
    "apart": (
        "What is used to measure volume stays apart from food and is not eaten; loaves that lay in"
        " it are not served."
    ),
}
BOX_BLANKS = ("Empty box before (mL)", "after (mL)")

SCORE = {
    "code": "Code",
    "assessor": "Assessor",
    "pause": "Pause for some minutes between the sets.",
    "order": "Score the loaves in this order. Say nothing before all have finished.",
    "allergens": "Allergens in these breads, filled in before anyone tastes:",
    "consent": "I have read the allergens and agree to taste (name or number):",
    "raw": (
        "Raw dough is not tasted. Rinse your mouth between loaves. Local food-safety rules and"
        " trained staff come before this sheet."
    ),
}
LABEL = "day {}"
KEY = {"code": "Code", "mix": "Mix", "levels": "Levels"}

OUT_OF_RANGE = ("Unusual", "This is not among the usual values. Keep it only when you are sure.")
VOID_REASONS = ("dropped", "burnt", "torn", "not baked through", "code unsure", "measured too late")

NO_SCORES = "The scoring sheet is left out: the card has no [scores] with attributes."


def shortened(text: str | None, most: int = MOST_TITLE) -> str:
    """Return a title that fits the head of a page, with a sign where it was cut."""
    words = " ".join((text or "").split())
    return words if len(words) <= most else words[: most - 1].rstrip() + "…"


def baker(name: str) -> str:
    """Return who makes a dough, as a sheet says it: a number is given its noun."""
    return f"baker {name}" if name.isdigit() else name


def factor_words(factor: str, card: TrialCard | None = None) -> tuple[str, str]:
    """Return a factor's label and unit; a name outside the vocabulary may end in its unit, as in
    ``steam_min``.
    """
    bare, _, ending = factor.rpartition("_")
    if factor not in {*BY_NAME, *NO_COLUMN} and bare and ending in UNIT_ENDINGS:
        return label(bare, card), UNIT_ENDINGS[ending]
    return label(factor, card), unit(factor, card)


def level_named(factor: str, level: str | float, card: TrialCard, style: NumberStyle) -> str:
    """Return a level as a sheet names it: "lidded", "proof time 45 min", "salt 1.6"."""
    if isinstance(level, str):
        return level
    name, of = factor_words(factor, card)
    return f"{name.lower()} {level_words(level, style, of)}"


def levels_words(levels: Levels, card: TrialCard, style: NumberStyle) -> str:
    """Return levels in a row: "lidded, proof time 45 min"."""
    return ", ".join(level_named(factor, level, card, style) for factor, level in levels)


def with_unit(factor: str, card: TrialCard) -> str:
    """Return a factor's label with its unit: "Proof time (min)"."""
    name, of = factor_words(factor, card)
    return f"{name} ({of})" if of else name


def grams(value: float, step: float, style: NumberStyle) -> str:
    """Return grams with as many decimals as the scale shows."""
    return number(value, typed_places(step), style)


def scale_ends(words: dict[str, str], low: float, high: float, style: NumberStyle) -> str:
    """Return what the ends of a scale mean: "1 dense – 10 airy"."""
    ends = [f"{typed(end, style)} {words.get(f'{end:g}', '')}".strip() for end in (low, high)]
    return " – ".join(ends)


def written_text(paths: Iterable[Path], findings: Iterable[Finding]) -> str:
    """Return what the command line prints after sheets were written."""
    told = [
        f"{found.severity.capitalize()}: {plain_text(found.message)} {plain_text(found.fix)}"
        for found in findings
    ]
    return "\n".join([*(f"Sheet: {path}" for path in paths), *told])
