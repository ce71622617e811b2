"""Two formulas that never met in some condition: through which others their difference was reached.

House only in open tins, malted only in long ones, seeded in both: malted against house is malted
against seeded in long tins less house against seeded in open ones. That holds only if the tin does
the same to every formula.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from ...trials.frozen import frozen
from ..model.coding import DesignError
from ..model.design import Term, build_design
from .formula_fit import FORMULA, FormulaFit


@frozen(kw_only=True)
class Reached:
    """What a difference was reached through, as the loaves of the two formulas alone could not give
    it.

    conditions : factors and blocks in which the two never met. through : the formulas that met both
        there.
    """

    conditions: tuple[str, ...]
    through: tuple[str, ...]


def reached(fitted: FormulaFit, formula: str, against: str) -> Reached | None:
    """Return what the difference of two formulas was reached through; None where their own loaves
    give it.
    """
    level = fitted.loaves[FORMULA].astype(str)
    others = [
        str(other)
        for other in fitted.fit.design.levels[FORMULA]
        if str(other) not in (formula, against)
    ]
    table = _conditions(fitted, fitted.row(formula, against))
    names = [str(name) for name in table if name != FORMULA]

    def told_apart(formulas: Sequence[str], conditions: Sequence[str]) -> bool:
        return _told_apart(table[level.isin(formulas)], formula, against, conditions)

    if not others or told_apart((formula, against), names):
        return None
    single = tuple(name for name in names if not told_apart((formula, against), [name]))
    through = tuple(other for other in others if told_apart((formula, against, other), names))
    return Reached(conditions=single or tuple(names), through=through or tuple(others))


def _conditions(fitted: FormulaFit, row: np.ndarray) -> pd.DataFrame:
    """Return, loaf by loaf, the formula as text and everything that the difference is compared
    within.
    """
    mains = [term.factors[0] for term in fitted.terms if len(term.factors) == 1]
    labels = fitted.fit.layout.labels
    compared = {name: labels[name] for name in fitted.fit.compared_within(row) if name in labels}
    factors = {
        name: pd.Series(pd.factorize(fitted.loaves[name])[0], index=fitted.loaves.index)
        for name in mains
        if name != FORMULA and name not in fitted.numbers
    }
    return pd.DataFrame({FORMULA: fitted.loaves[FORMULA].astype(str)} | factors | compared)


def _told_apart(
    loaves: pd.DataFrame, formula: str, against: str, conditions: Sequence[str]
) -> bool:
    """Return whether these loaves tell two formulas apart from these conditions, all effects simply
    added.
    """
    varied = [name for name in conditions if loaves[name].nunique() > 1]
    try:
        design = build_design(loaves, [Term((name,)) for name in (FORMULA, *varied)])
    except DesignError:
        return False
    return bool(
        design.estimable(design.at({FORMULA: formula}) - design.at({FORMULA: against})).all()
    )
