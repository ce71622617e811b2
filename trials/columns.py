"""The vocabulary: every column that a trial's records may have, its unit, its plausible range and
its meaning.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal

from .frozen import frozen

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


@frozen(kw_only=True)
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


@frozen(kw_only=True)
class Measure:
    """What is known of a column that loaves are compared in.

    more, less : how a loaf with more of it differs from one with less, as it follows a number:
        0.31 mL/g ``bigger``
    clause : how a difference between the loaves of two formulas is said
    capped : whether a lidded tin holds it back
    by_volume : whether it is a product or quotient of the loaf's volume, so that the relative
        uncertainty of a reading is its own, too
    beside : whether it is told beside the measure that was asked for, for trade-offs
    made_from : the columns that it is worked out from, by the function of its name in
        ``measuring/measures.py``; ``flour_share`` is the flour's share of the dough, by the card
    is_said : what it is, in plain words
    """

    more: str = "higher"
    less: str = "lower"
    clause: str = "{ours} were {way} than {theirs} by {size}"
    capped: bool = False
    by_volume: bool = False
    beside: bool = False
    made_from: tuple[str, ...] = ()
    is_said: str = ""


@frozen(kw_only=True)
class Column:
    """One column: ``unit`` is the canonical unit, ``low`` and ``high`` what is plausible (common
    practice); ``grouping`` and ``measure`` say more of one that loaves share or are compared in.
    """

    name: str
    kind: Literal["text", "number"]
    label: str
    meaning: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    spellings: tuple[str, ...] = ()
    example: str = ""
    grouping: Grouping | None = None
    measure: Measure | None = None

    def __hash__(self) -> int:
        """Return that of the name: whole vocabularies are looked up by, once for every header."""
        return hash(self.name)

    @property
    def derived(self) -> bool:
        """Return whether it is worked out from other columns."""
        return bool(self.measure and self.measure.made_from)


@frozen(kw_only=True)
class Kind:
    """A kind of table beside the loaves: ``NAME.csv`` in the trial's folder, or a sheet of a
    workbook.

    columns : its vocabulary
    needs : the columns that it cannot be used without, where it is read as it stands
    is_called : the columns that it has, in words
    sheets : what a workbook's sheet of it may be called, beside its name
    wide : whether it may be spread over columns, so that an unknown column may hold its values
    title : its heading on the page of all columns; "" where it has none there
    """

    name: str
    columns: tuple[Column, ...]
    needs: tuple[str, ...] = ()
    is_called: str
    sheets: tuple[str, ...] = ()
    wide: bool = False
    title: str = ""


def _text(name: str, label: str, meaning: str, *spellings: str, example: str = "") -> Column:
    return Column(
        name=name, kind="text", label=label, meaning=meaning, spellings=spellings, example=example
    )


def _grouping(
    name: str,
    label: str,
    meaning: str,
    *spellings: str,
    example: str = "",
    one: str,
    many: str,
    inside: tuple[str, ...] = (),
    block: bool = True,
) -> Column:
    shared = Grouping(name=name, one=one, many=many, inside=inside, block=block)
    return replace(_text(name, label, meaning, *spellings, example=example), grouping=shared)


def _number(
    name: str,
    label: str,
    unit: str,
    low: float | None,
    high: float | None,
    meaning: str,
    *spellings: str,
    example: str = "",
    measure: Measure | None = None,
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
        example=example,
        measure=measure,
    )


# The groupings stand in it from the coarsest to the finest.
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
        example="12",
    ),
    _grouping(
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
        "weekend",
        "week-end",
        example="2026-03-14",
        one="day",
        many="days",
    ),
    _grouping(
        "table",
        "Table",
        "which table or team of a class made the dough",
        "tables",
        "table number",
        "team",
        "teams",
        example="4",
        one="table",
        many="tables",
    ),
    _grouping(
        "baker",
        "Baker",
        "who made the dough",
        "bakers",
        "made by",
        "baked by",
        "mixed by",
        "pupil",
        "pupils",
        "student",
        "students",
        example="B2",
        one="baker",
        many="bakers",
    ),
    _grouping(
        "oven",
        "Oven",
        "which oven the loaf was baked in",
        "oven name",
        "oven number",
        "oven used",
        "which oven",
        "baked in",
        "baked in oven",
        example="deck oven",
        one="oven",
        many="ovens",
    ),
    _grouping(
        "deck",
        "Deck",
        "which deck of the oven",
        "oven deck",
        "deck number",
        "deck of oven",
        example="upper",
        one="deck",
        many="decks",
        inside=("oven",),
    ),
    _grouping(
        "oven_load",
        "Oven load",
        "which load of the oven",
        "load",
        "load number",
        "oven load number",
        "oven run",
        "oven batch",
        example="2",
        one="oven load",
        many="oven loads",
        inside=("day", "oven", "deck"),
    ),
    _grouping(
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
        example="M3",
        one="mix",
        many="mixes",
        inside=("day", "formula"),
        block=False,
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
        example="left",
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
        example="5",
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
        example="malted",
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
        example="open",
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
        example="60",
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
        example="460",
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
        example="405",
        measure=Measure(more="heavier", less="lighter"),
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
        example="1620",
        measure=Measure(more="bigger", less="smaller", capped=True, by_volume=True),
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
        example="4500",
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
        example="2880",
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
        example="118",
        measure=Measure(more="taller", less="shorter", capped=True, beside=True),
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
        example="26.0",
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
        example="150",
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
        example="3",
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
        example="dropped on the floor",
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
        "counts",
        "valid",
        "keep",
        "kept",
        "use loaf",
        "use bread",
        "include loaf",
        "keep loaf",
        "count loaf",
        "loaf counts",
        "loaf valid",
        "use in analysis",
        "include in analysis",
        "loaf used",
    ),
    _text(
        "note",
        "Note",
        "anything else",
        "notes",
        "remark",
        "remarks",
        "comment",
        "comments",
        example="small tear",
    ),
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
        example="12",
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
        example="3",
    ),
    _text(
        "attribute",
        "Attribute",
        "what was scored",
        "property",
        "quality",
        "scored for",
        example="softness",
    ),
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
        example="7",
    ),
    _text(
        "repeat",
        "Repeat",
        "which of an assessor's looks at the loaf",
        "repetition",
        "replicate",
        "round",
        example="1",
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
        example="2",
    ),
    _text(
        "note",
        "Note",
        "anything else",
        "notes",
        "remark",
        "remarks",
        "comment",
        "comments",
        example="small tear",
    ),
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
        example="12",
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
        example="1620",
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
        example="4500",
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
        example="2880",
    ),
    _text(
        "repeat",
        "Repeat",
        "which reading of the loaf",
        "repetition",
        "replicate",
        "reading number",
        example="1",
    ),
    _text(
        "note",
        "Note",
        "anything else",
        "notes",
        "remark",
        "remarks",
        "comment",
        "comments",
        example="small tear",
    ),
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

# what stands for a person without being a name, as in "Pupil 3" or "Table Two"
NO_NAMES = frozenset(
    (
        *("assessor", *_ASSESSOR),
        *("table", "group", "class", "guest", "baker", "teacher", "visitor", "number"),
    )
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
        "spec vol",
        example="4.00",
        measure=Measure(
            more="bigger",
            less="smaller",
            capped=True,
            by_volume=True,
            made_from=("loaf_ml", "loaf_g"),
            is_said="the loaf's volume for each gram that it weighs",
        ),
    ),
    _number(
        "bake_loss_pct",
        "Bake loss",
        "%",
        4,
        25,
        "mass lost in the oven / dough mass",
        "baking loss",
        example="12.0",
        measure=Measure(
            more="more",
            less="less",
            clause="{ours} lost {way} in the oven than {theirs}, by {size}",
            beside=True,
            made_from=("dough_g", "loaf_g"),
            is_said="what the dough lost in the oven",
        ),
    ),
    _number(
        "air_fraction",
        "Air fraction",
        "",
        0.3,
        0.95,
        "share of the loaf's volume that is air",
        example="0.80",
        measure=Measure(
            more="airier",
            less="less airy",
            capped=True,
            made_from=("loaf_ml", "loaf_g"),
            is_said="the share of the loaf that is air",
        ),
    ),
    _number(
        "volume_per_100g_flour",
        "Volume per 100 g flour",
        "mL",
        200,
        1200,
        "loaf volume per 100 g of flour",
        example="590",
        measure=Measure(
            more="bigger",
            less="smaller",
            clause="{ours} were {way} for their flour than {theirs} by {size}",
            capped=True,
            by_volume=True,
            beside=True,
            made_from=("loaf_ml", "dough_g", "flour_share"),
            is_said="the loaf's volume for every 100 g of flour in it",
        ),
    ),
)

KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind(
            name="scores",
            columns=SCORES,
            is_called="loaf, assessor, attribute and score",
            sheets=("score", "crumb scores"),
            wide=True,
            title="Scores (scores.csv): one row a score",
        ),
        Kind(
            name="readings",
            columns=READINGS,
            is_called="loaf and loaf_ml",
            sheets=("reading", "volume readings"),
            wide=True,
            title="Readings (readings.csv): one row a reading of a loaf's volume",
        ),
        Kind(name="codes", columns=CODES, needs=("code", "loaf"), is_called="code and loaf"),
        Kind(
            name="tasting",
            columns=TASTING,
            needs=("assessor", "served", "answer"),
            is_called=(
                "assessor, served (the codes of all cups, spaces between) and answer (a code)"
            ),
        ),
        Kind(
            name="words",
            columns=WORDS,
            is_called="assessor, code (or loaf), and one for every word",
        ),
    )
}

# label and unit of factors that are set for a mix or an oven load and have no column of their own
NO_COLUMN: dict[str, tuple[str, str]] = {
    "mix_min": ("Mixing time", "min"),
    "rest_min": ("Resting time", "min"),
    "bake_min": ("Baking time", "min"),
    "oven_c": ("Oven temperature", "°C"),
}
BY_NAME: dict[str, Column] = {column.name: column for column in RECORDED + DERIVED}
GROUPINGS: tuple[Grouping, ...] = tuple(column.grouping for column in RECORDED if column.grouping)
BLOCKS: tuple[str, ...] = tuple(grouping.name for grouping in GROUPINGS if grouping.block)
MEASURES: dict[str, Measure] = {
    column.name: column.measure for column in DERIVED + RECORDED if column.measure
}


def label(name: str, card: TrialCard | None = None) -> str:
    """Return what a person reads for a column: the card's words first, then the vocabulary's, then
    the name.
    """
    said = card.measures.get(name) if card else None
    if said and said.label:
        return said.label
    if name in BY_NAME:
        return BY_NAME[name].label
    if card and name in card.called:
        return card.called[name]
    if name in NO_COLUMN:
        return NO_COLUMN[name][0]
    if name.startswith(CRUMB_PREFIX):
        trait = name.removeprefix(CRUMB_PREFIX).replace("_", " ")
        return trait.capitalize() if trait.split()[0] in NOT_OF_CRUMB else f"Crumb {trait}"
    return name.replace("_", " ").capitalize()


def inside(name: str, said: str) -> str:
    """Return a column's label inside a sentence: ``specific volume``, but ``Krustenfarbe``.

    ``said`` is the label. The vocabulary's, and one that is made of the column's name, begin small;
    one that the trial gave stays as it was written.
    """
    own = name.removeprefix(CRUMB_PREFIX).replace("_", " ")
    if said == own.capitalize():
        return own
    ours = (name in BY_NAME and said == BY_NAME[name].label) or said == f"Crumb {own}"
    return said[:1].lower() + said[1:] if ours else said


def label_inside(name: str, card: TrialCard | None = None) -> str:
    """Return what a person reads for a column inside a sentence."""
    called = card.called.get(name) if card else None
    return called or inside(name, label(name, card))


def unit(name: str, card: TrialCard | None = None) -> str:
    """Return a column's unit, empty where it has none or nobody said."""
    said = card.measures.get(name) if card else None
    if said and said.unit:
        return said.unit
    if name in BY_NAME:
        return BY_NAME[name].unit
    if name in NO_COLUMN:
        return NO_COLUMN[name][1]
    return "points" if name.startswith(CRUMB_PREFIX) else ""
