"""The vocabulary: every column that a trial's records may have, its unit, its plausible range and
its meaning.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from .card import TrialCard

# of every score that stands beside the loaves, of the crust and the taste too
CRUMB_PREFIX = "crumb_"
NOT_OF_CRUMB = frozenset(
    {
        "crust",
        "taste",
        "flavour",
        "flavor",
        "smell",
        "aroma",
        "colour",
        "color",
        "look",
        "shape",
        "oven",
        "liking",
        "overall",
        "score",
        "crumb",
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Grouping:
    """What several loaves share: a column whose loaves of one label are more alike than those of
    two.

    ``one`` and ``many`` are what it is called; ``inside`` are the columns that it lies inside, so
    that a label that comes back there is another one; a ``block`` is compared within, where a mix
    is the unit that is judged.
    """

    name: str
    one: str
    many: str
    inside: tuple[str, ...] = ()
    block: bool = True


GROUPINGS: tuple[Grouping, ...] = (  # from the coarsest to the finest
    Grouping(name="day", one="day", many="days"),
    Grouping(name="baker", one="baker", many="bakers"),
    Grouping(name="oven", one="oven", many="ovens"),
    Grouping(name="deck", one="deck", many="decks", inside=("oven",)),
    Grouping(name="oven_load", one="oven load", many="oven loads", inside=("day", "oven", "deck")),
    Grouping(name="mix", one="mix", many="mixes", inside=("day", "formula"), block=False),
)
BLOCKS: tuple[str, ...] = tuple(grouping.name for grouping in GROUPINGS if grouping.block)


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: ``unit`` is the canonical unit, ``low`` and ``high`` what is plausible (common
    practice).
    """

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
    name: str,
    label: str,
    unit: str,
    low: float | None,
    high: float | None,
    meaning: str,
    *spellings: str,
    derived: bool = False,
) -> Column:
    return Column(
        name=name,
        kind="number",
        label=label,
        unit=unit,
        low=low,
        high=high,
        meaning=meaning,
        spellings=spellings,
        derived=derived,
    )


RECORDED: tuple[Column, ...] = (
    _text(
        "loaf",
        "Loaf",
        "the loaf's own number or code, unique in the trial",
        "number",
        "loaf number",
        "loaf name",
        "loaf label",
        "sample",
        "sample number",
        "bread",
        "bread number",
    ),
    _text(
        "mix",
        "Mix",
        "the dough that the loaf was cut from",
        "mix number",
        "dough",
        "dough number",
        "batch",
        "batch number",
        "dough batch",
        "mixing",
    ),
    _text(
        "day",
        "Bake day",
        "the day of the bake",
        "bake day",
        "baking day",
        "day number",
        "date",
        "bake date",
        "baking date",
        "baked on",
        "test day",
    ),
    _number(
        "mix_order",
        "Mixing order",
        "",
        1,
        None,
        "the mix's place in its day's order of mixing",
        "mixing order",
        "order of mixing",
        "order mixed",
    ),
    _text(
        "oven",
        "Oven",
        "which oven the loaf was baked in",
        "oven name",
        "oven number",
        "oven used",
        "which oven",
        "baked in",
        "baked in oven",
    ),
    _text("deck", "Deck", "which deck of the oven", "oven deck", "deck number", "deck of oven"),
    _text(
        "oven_load",
        "Oven load",
        "which load of the oven",
        "load",
        "load number",
        "oven load number",
        "oven run",
        "oven batch",
    ),
    _text(
        "oven_place",
        "Oven place",
        "where in the oven the loaf stood",
        "oven position",
        "place in oven",
        "position in oven",
        "position",
        "shelf",
        "oven shelf",
        "rack position",
    ),
    _number(
        "bake_order",
        "Baking order",
        "",
        1,
        None,
        "place in the order of baking",
        "baking order",
        "order of baking",
        "order baked",
        "bake sequence",
        "baking sequence",
    ),
    _text(
        "formula",
        "Formula",
        "the formula that the dough was made to",
        "formula name",
        "recipe",
        "recipe name",
        "formulation",
        "dough formula",
        "dough recipe",
        "treatment",
    ),
    _text(
        "tin",
        "Tin",
        "the kind of tin",
        "tin type",
        "kind of tin",
        "baking tin",
        "bread tin",
        "loaf tin",
        "tin used",
        "pan",
        "pan type",
        "bread pan",
        "loaf pan",
        "mould",
        "mold",
    ),
    _number(
        "proof_min",
        "Proof time",
        "min",
        5,
        1440,
        "final proof",
        "proof",
        "proof time",
        "proof duration",
        "final proof",
        "final proof time",
        "proofing",
        "proofing time",
        "proving",
        "proving time",
        "prove",
        "prove time",
    ),
    _number(
        "dough_g",
        "Dough mass",
        "g",
        20,
        3000,
        "scaled dough piece",
        "dough",
        "dough mass",
        "dough piece",
        "dough piece mass",
        "scaled mass",
        "scaling mass",
        "mass scaled",
        "mass before",
        "mass before baking",
        "mass before bake",
        "mass before oven",
        "unbaked mass",
        "raw mass",
        "mass in",
        "unbaked",
        "before baking",
    ),
    _number(
        "loaf_g",
        "Baked mass",
        "g",
        15,
        3000,
        "cooled loaf",
        "loaf",
        "loaf mass",
        "baked mass",
        "baked loaf mass",
        "bread",
        "bread mass",
        "mass after",
        "mass after baking",
        "mass after bake",
        "mass after oven",
        "mass after cooling",
        "cooled mass",
        "cooled loaf mass",
        "finished mass",
        "mass out",
        "baked",
        "after baking",
        "baked loaf",
    ),
    _number(
        "loaf_ml",
        "Loaf volume",
        "mL",
        30,
        15000,
        "volume of the cooled loaf",
        "loaf",
        "volume",
        "loaf volume",
        "bread",
        "bread volume",
        "baked volume",
    ),
    _number(
        "box_ml",
        "Empty box",
        "mL",
        100,
        50000,
        "seed that fills the empty box",
        "box",
        "empty box",
        "box volume",
        "empty box volume",
        "seed box",
        "seed in empty box",
    ),
    _number(
        "seed_ml",
        "Seed left over",
        "mL",
        0,
        50000,
        "seed that fits in around the loaf",
        "seed",
        "seeds",
        "seed volume",
        "seed left",
        "seed left over",
        "seed over",
        "seed around loaf",
        "seed left over around loaf",
        "seed with loaf",
    ),
    _number(
        "height_mm",
        "Height",
        "mm",
        10,
        400,
        "greatest height of the loaf",
        "height",
        "loaf height",
        "bread height",
        "maximum height",
        "greatest height",
    ),
    _number(
        "dough_temp_c",
        "Dough temperature",
        "°C",
        5,
        40,
        "dough after mixing",
        "dough",
        "dough temperature",
        "final dough temperature",
        "dough temperature after mixing",
        "temperature after mixing",
    ),
    _number(
        "cool_min",
        "Cooling time",
        "min",
        0,
        2880,
        "from oven to measuring",
        "cooling",
        "cooling time",
        "cool time",
        "cooled",
        "cooled for",
        "cool",
    ),
    _number(
        "measure_order",
        "Measuring order",
        "",
        1,
        None,
        "place in the order of measuring",
        "measuring order",
        "order of measuring",
        "order measured",
        "measurement order",
    ),
    _text(
        "baker",
        "Baker",
        "who made the dough",
        "bakers",
        "made by",
        "baked by",
        "mixed by",
        "table",
        "team",
        "pupil",
        "pupils",
        "student",
        "students",
    ),
    _text(
        "void",
        "Void",
        "why a loaf is left out; empty for a loaf that counts",
        "void reason",
        "reason void",
        "why void",
        "left out",
        "excluded",
        "exclude",
        "discarded",
    ),
    _text(
        "counts",
        "Counts",
        "whether the loaf counts, where that is written down with yes and no",
        "used",
        "use",
        "include",
        "included",
        "counted",
        "valid",
    ),
    _text("note", "Note", "anything else", "notes", "remark", "remarks", "comment", "comments"),
)

SCORES: tuple[Column, ...] = (
    _text(
        "loaf",
        "Loaf",
        "the loaf that was scored",
        "number",
        "loaf number",
        "sample",
        "sample number",
        "bread",
    ),
    _text(
        "assessor",
        "Assessor",
        "who scored",
        "judge",
        "taster",
        "panellist",
        "panelist",
        "scored by",
        "person",
        "who",
        "who scored",
        "name",
        "pupil",
        "student",
    ),
    _text("attribute", "Attribute", "what was scored", "property", "quality", "scored for"),
    _number(
        "score",
        "Score",
        "",
        None,
        None,
        "a score on the card's scale",
        "scores",
        "mark",
        "rating",
        "points",
    ),
    _text(
        "repeat",
        "Repeat",
        "which of an assessor's looks at the loaf",
        "repetition",
        "replicate",
        "round",
    ),
    _number(
        "order",
        "Serving order",
        "",
        1,
        None,
        "place in the order of scoring",
        "serving order",
        "position",
    ),
    _text("note", "Note", "anything else", "notes", "remark", "remarks", "comment", "comments"),
)

READINGS: tuple[Column, ...] = (
    _text(
        "loaf",
        "Loaf",
        "the loaf that was read",
        "number",
        "loaf number",
        "sample",
        "sample number",
        "bread",
    ),
    _number(
        "loaf_ml",
        "Loaf volume",
        "mL",
        30,
        15000,
        "one reading of the loaf's volume",
        "loaf",
        "volume",
        "loaf volume",
        "bread volume",
        "reading",
        "volume reading",
    ),
    _number(
        "box_ml",
        "Empty box",
        "mL",
        100,
        50000,
        "seed that fills the empty box",
        "box",
        "empty box",
        "box volume",
        "empty box volume",
    ),
    _number(
        "seed_ml",
        "Seed left over",
        "mL",
        0,
        50000,
        "seed that fits in around the loaf",
        "seed",
        "seed volume",
        "seed left",
        "seed left over",
        "seed around loaf",
    ),
    _text(
        "repeat", "Repeat", "which reading of the loaf", "repetition", "replicate", "reading number"
    ),
    _text("note", "Note", "anything else", "notes", "remark", "remarks", "comment", "comments"),
)

_ASSESSOR = (
    "taster",
    "observer",
    "judge",
    "panellist",
    "panelist",
    "person",
    "pupil",
    "student",
    "name",
    "who",
)

CODES: tuple[Column, ...] = (
    _text(
        "code", "Code", "what stood on the cup or the plate", "blind code", "cup", "plate", "label"
    ),
    _text("loaf", "Loaf", "the loaf in it", "loaf number", "bread", "bread number", "sample"),
    _text("note", "Note", "anything else", "notes", "remark", "remarks", "comment", "comments"),
)

TASTING: tuple[Column, ...] = (
    _text("assessor", "Assessor", "who tasted", *_ASSESSOR),
    _text("test", "Test", "what kind of test", "kind of test", "test type", "method"),
    _text(
        "served",
        "Served",
        "codes of the cups, in serving order",
        "codes",
        "cups",
        "codes served",
        "serving order",
    ),
    _text(
        "answer",
        "Answer",
        "the code chosen",
        "answered",
        "choice",
        "chosen",
        "chose",
        "odd one",
        "response",
    ),
    _text("reference", "Reference", "the bread that was known", "ref", "reference sample"),
    _text("asked", "Asked", "what was asked for", "question", "attribute", "asked for"),
    _text("group", "Group", "which group of people", "class", "panel", "school class"),
    _text("repeat", "Repeat", "which of a person's servings", "repetition", "replicate", "round"),
    _text("void", "Void", "why a serving is left out", "void reason", "left out", "excluded"),
    _text("note", "Note", "anything else", "notes", "remark", "remarks", "comment", "comments"),
)

WORDS: tuple[Column, ...] = (
    _text("assessor", "Assessor", "who looked", *_ASSESSOR),
    _text("code", "Code", "what stood on the plate", "blind code", "plate"),
    _text(
        "loaf",
        "Loaf",
        "the loaf that was looked at",
        "loaf number",
        "bread",
        "bread number",
        "sample",
    ),
    _text(
        "table",
        "Table",
        "who sat together, with one sheet or in sight of others' sheets",
        "table number",
        "team",
    ),
    _text(
        "order",
        "Order",
        "place in the person's order of looking",
        "order of looking",
        "serving order",
    ),
    _text(
        "repeat",
        "Repeat",
        "which of a person's looks at the loaf",
        "repetition",
        "replicate",
        "round",
    ),
    _text(
        "words",
        "Words",
        "the words that were ticked, with ; between",
        "words ticked",
        "ticked",
        "ticks",
    ),
    _text("void", "Void", "why a look is left out", "void reason", "left out", "excluded"),
    _text("note", "Note", "anything else", "notes", "remark", "remarks", "comment", "comments"),
)

DERIVED: tuple[Column, ...] = (
    _number(
        "specific_volume",
        "Specific volume",
        "mL/g",
        1.5,
        8,
        "loaf volume / baked mass",
        "specific loaf volume",
        "loaf specific volume",
        derived=True,
    ),
    _number(
        "bake_loss_pct",
        "Bake loss",
        "%",
        4,
        25,
        "mass lost in the oven / dough mass",
        "baking loss",
        derived=True,
    ),
    _number(
        "air_fraction",
        "Air fraction",
        "",
        0.3,
        0.95,
        "share of the loaf's volume that is air",
        derived=True,
    ),
    _number(
        "volume_per_100g_flour",
        "Volume per 100 g flour",
        "mL",
        200,
        1200,
        "loaf volume per 100 g of flour",
        derived=True,
    ),
)

BY_NAME: dict[str, Column] = {column.name: column for column in RECORDED + DERIVED}


def label(name: str, card: TrialCard | None = None) -> str:
    """Return what a person reads for a column: the card's words first, then the vocabulary's, then
    the name.
    """
    said = card.measures.get(name) if card else None
    if said and said.label:
        return said.label
    if name in BY_NAME:
        return BY_NAME[name].label
    if name.startswith(CRUMB_PREFIX):
        trait = name.removeprefix(CRUMB_PREFIX).replace("_", " ")
        return trait.capitalize() if trait.split()[0] in NOT_OF_CRUMB else f"Crumb {trait}"
    return name.replace("_", " ").capitalize()


def unit(name: str, card: TrialCard | None = None) -> str:
    """Return a column's unit, empty where it has none or nobody said."""
    said = card.measures.get(name) if card else None
    if said and said.unit:
        return said.unit
    if name in BY_NAME:
        return BY_NAME[name].unit
    return "points" if name.startswith(CRUMB_PREFIX) else ""
