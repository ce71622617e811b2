"""Loaves that a lid stopped, kept out of every answer but the tin's: one analysis of a trial, or
two.
"""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from ...trials.frozen import frozen
from ..asking.question import Asked
from ..model.coding import DesignError
from ..model.design import Term
from ..model.layout import find_layout
from ..model.term_analysis import TermAnalysis, analyse_terms

LID = "tin"  # the factor that is compared with lidded loaves in


@frozen
class Part:
    """An analysis and what it answers: without loaves that fill a lidded tin, or with them for the
    tin's terms.
    """

    loaves: pd.DataFrame
    analysis: TermAnalysis
    with_lid: bool | None  # True: the tin's terms; False: the others; None: all

    def answers(self, name: str) -> bool:
        """Return whether a term's answer is taken from this analysis."""
        return self.with_lid is None or (LID in name.split(" × ")) == self.with_lid

    def keep(self, table: pd.DataFrame, column: str = "term") -> pd.DataFrame:
        """Return the rows that this analysis answers."""
        return table[[self.answers(name) for name in table[column]]]

    @property
    def terms(self) -> list[Term]:
        """Return the fitted terms that this analysis answers."""
        return [term for term in self.analysis.fit.design.terms if self.answers(term.name)]


def analyse_parts(asked: Asked, capped: pd.Series, order: int) -> list[Part]:
    """Return one analysis; or two, when loaves fill a lidded tin and the tin is a factor.

    capped : which loaves of the table a lid stopped. order : of the highest interactions.
    Raises DesignError, NoVariation, NotIdentifiable.
    """

    def analysis(
        loaves: pd.DataFrame, factors: Sequence[str], alone: Sequence[str] = ()
    ) -> TermAnalysis:
        numbers = {name: degree for name, degree in asked.numbers.items() if name in factors}
        layout = asked.layout if loaves is asked.table else find_layout(loaves, factors)
        return analyse_terms(
            loaves,
            asked.measure,
            factors,
            layout,
            order=order,
            numbers=numbers,
            confidence=asked.confidence,
            alone=alone,
            fit_terms=asked.fit,
        )

    if not capped.any():
        return [Part(asked.table, analysis(asked.table, asked.factors), None)]
    free = asked.table[~capped]
    varied = [name for name in asked.factors if free[name].nunique() > 1]
    others = [name for name in varied if name != LID]
    parts = [Part(free, analysis(free, varied, alone=(LID,)), False)] if others else []
    if LID in asked.factors:
        parts.append(Part(asked.table, analysis(asked.table, asked.factors), True))
    if not parts:
        raise DesignError("every loaf that could answer fills its lidded tin")
    return parts
