"""The card: what the trial asks, what was changed on purpose, and what difference would matter
(trial.toml).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, replace
from typing import TYPE_CHECKING, Literal

from .frozen import frozen
from .tasting_sections import Tasting

if TYPE_CHECKING:
    from .kitchen import Dough, Kitchen, Minutes, Preferment, Soaker, Unit, Variation

FILE = "trial.toml"
Level = str | float


@frozen(kw_only=True)
class Tin:
    """A kind of tin: its volume filled to the brim in mL, whether it is closed with a lid, how many
    there are, and the dough that it takes."""

    volume_ml: float | None = None
    lid: bool = False
    owned: int | None = None
    dough_g: float | None = None


@frozen(kw_only=True)
class Measure:
    """What the card says of one measure.

    ``matters`` is the smallest difference worth acting on, in the measure's unit. ``better`` says
    which way is wanted; ``best`` is what is aimed at, and at ``too_low`` and ``too_high`` a loaf is
    not acceptable: these three are only for the overall desirability.
    """

    label: str | None = None
    unit: str | None = None
    matters: float | None = None
    better: Literal["higher", "lower"] | None = None
    too_low: float | None = None
    best: float | None = None
    too_high: float | None = None


@frozen(kw_only=True)
class ScoreScale:
    """How crumb and taste are scored: the ends of the scale, its step, words for steps, weights in
    a total, and by how many assessors."""

    low: float = 1.0
    high: float = 10.0
    step: float = 1.0
    attributes: tuple[str, ...] = ()
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)  # attribute → step → words
    weights: Mapping[str, float] = field(default_factory=dict)
    blind: bool | None = None
    assessors: int | None = None


@frozen(kw_only=True)
class Wide:
    """[wide]: how a sheet becomes one row a loaf.

    turned : every column of the sheet is a loaf. over : what a row's columns differ in, such as
    "formula", "loaf" or "assessor"; levels : its levels; columns : measure → its headers, one a
    level ("" where a level has none)
    """

    turned: bool = False
    over: str | None = None
    levels: tuple[str, ...] = ()
    columns: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@frozen(kw_only=True)
class TrialCard:
    """The card of a trial. Every field has a neutral value where the card is silent; nothing is
    guessed.

    Attributes
    ----------
    measure : the measure that the question is about, a column of the loaves or a derived measure
    matters : smallest difference of ``measure`` worth acting on, in its unit; None where nobody
        said
    control : the formula that the others are held against
    proof_to : "time" when proof time was set, "height" when it was an outcome, None where the card
        is silent
    factors : factor → its levels as planned; a factor with numbers has floats
    columns : canonical name → header in the file, for headers that are not known spellings
    called : column of the trial's own → its header in the file, in a language whose nouns have
    capitals; filled when the records are read, not by the card
    wide : how a sheet with several loaves in a row becomes one row a loaf; None where it has one
    measures : measure → what the card says of it
    min_cool_min : the least cooling before measuring, minutes
    kitchen … soakers : what planning needs (``kitchen.py``); None or empty where the card has no
    such section
    made_per : factor → what it is changed with, where that is not the usual
    """

    title: str | None = None
    question: str | None = None
    measure: str | None = None
    matters: float | None = None
    control: str | None = None
    proof_to: Literal["time", "height"] | None = None
    min_cool_min: float | None = None
    three_way: bool = False
    factors: Mapping[str, tuple[Level, ...]] = field(default_factory=dict)
    columns: Mapping[str, str] = field(default_factory=dict)
    called: Mapping[str, str] = field(default_factory=dict)
    wide: Wide | None = None
    measures: Mapping[str, Measure] = field(default_factory=dict)
    tins: Mapping[str, Tin] = field(default_factory=dict)
    scores: ScoreScale | None = None
    formulas: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    tasting: Tasting = field(default_factory=Tasting)
    words: Mapping[str, tuple[str, ...]] = field(default_factory=dict)  # heading → words to tick
    kitchen: Kitchen | None = None
    made_per: Mapping[str, Unit] = field(default_factory=dict)
    minutes: Minutes | None = None
    variation: Variation | None = None
    dough: Dough | None = None
    preferments: Mapping[str, Preferment] = field(default_factory=dict)
    soakers: Mapping[str, Soaker] = field(default_factory=dict)

    def matters_for(self, measure: str) -> float | None:
        """Return the smallest difference of this measure worth acting on, or None where nobody
        said.
        """
        own = self.measures.get(measure)
        if own is not None and own.matters is not None:
            return own.matters
        return self.matters if measure == self.measure else None

    def asking(self, measure: str | None = None, matters: float | None = None) -> TrialCard:
        """Return the card as if it asked about this measure, and said that this difference of it
        matters.
        """
        name = measure or self.measure or "specific_volume"
        said = matters if matters is not None else self.matters_for(name)
        own = replace(self.measures.get(name, Measure()), matters=said)
        return replace(self, measure=name, matters=said, measures={**self.measures, name: own})
