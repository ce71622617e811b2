"""How a difference between two formulas is said in any measure: bigger, taller, lost more, scored
higher.
"""

from __future__ import annotations

import math

from ...trials.columns import CRUMB_PREFIX, MEASURES, Measure
from ...trials.frozen import frozen
from ...trials.words.naming import set_apart
from ...trials.words.numbers import (
    NumberStyle,
    number,
    range_decimals,
    range_end,
    size_of,
    vanishes,
)
from .verdicts import likely, likely_words


@frozen(kw_only=True)
class Said:
    """A difference ready to be said.

    places : decimals that its uncertainty supports; unit : as it follows a difference (percentage
        points, not %).
    """

    formula: str
    against: str
    measure: str
    label_inside: str
    unit: str
    difference: float
    ci_low: float
    ci_high: float
    style: NumberStyle

    @property
    def places(self) -> int:
        """Return how many decimals to write."""
        return range_decimals(self.ci_low, self.ci_high, self.difference)

    @property
    def has_interval(self) -> bool:
        """Return whether anything says how sure it is."""
        return math.isfinite(self.ci_low) and math.isfinite(self.ci_high)

    @property
    def is_real(self) -> bool:
        """Return whether the interval leaves zero out."""
        return self.ci_low > 0 or self.ci_high < 0

    def plain(self, value: float) -> str:
        """Return a number to these decimals, without its sign."""
        return number(abs(value), self.places, self.style)

    def by(self) -> str:
        """Return the size with its unit: ``0.31 mL/g``."""
        return size_of(abs(self.difference), self.unit, self.places, self.style)

    def likely(self) -> str:
        """Return the interval in the direction of the difference, ``likely between 0.12 and 0.50``,
        or in both.
        """
        if self.is_real:
            low, high = sorted((abs(self.ci_low), abs(self.ci_high)))
            return likely(low, high, self.places, self.style)
        return likely_words(self.end(self.ci_low), self.end(self.ci_high), real=False)

    def end(self, value: float) -> str:
        """Return one end of an interval with its direction: ``0.12 smaller``; ``just below 0``
        where it is not zero but would be written so.
        """
        if vanishes(value, self.places):
            return range_end(value, self.places, self.style)
        return f"{self.plain(value)} {self.direction(value)}"

    def direction(self, value: float) -> str:
        """Return the word that follows a number in this measure: ``bigger`` above zero, ``smaller``
        below.
        """
        known = MEASURES.get(self.measure, Measure())
        return known.more if value > 0 else known.less

    def in_brackets(self) -> str:
        """Return the interval as it follows a clause, with a space in front; nothing where there is
        none.
        """
        if not self.has_interval:
            return ""
        return f" ({self.likely()})"

    def clause(self) -> str:
        """Return ``malted loaves were bigger than house loaves by 0.31 mL/g``."""
        up = self.difference >= 0
        formula, against = set_apart(self.formula), set_apart(self.against)
        ours, theirs = f"{formula} loaves", f"{against} loaves"
        what = self.label_inside
        if self.difference == 0:
            return f"{ours} and {theirs} did not differ in {what}"
        if known := MEASURES.get(self.measure):
            way = self.direction(self.difference)
            return known.clause.format(ours=ours, theirs=theirs, way=way, size=self.by())
        if self.measure.startswith(CRUMB_PREFIX):
            trait = self.measure.removeprefix(CRUMB_PREFIX).replace("_", " ")
            return (
                f"{ours} scored {'higher' if up else 'lower'} for {trait} than {theirs}, by"
                f" {self.by()}"
            )
        way = "higher" if up else "lower"
        return f"{what} was {way} with {formula} than with {against}, by {self.by()}"


def difference_unit(unit: str) -> str:
    """Return the unit of a difference: a difference of percentages is in percentage points."""
    return "percentage points" if unit == "%" else unit
