"""The randomisation test of a fitted comparison: which means to relabel, and inside which
blocks.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..model.estimates import Estimate, UnitTable
from ..model.units import combined, is_nested
from .formula_fit import FORMULA, FormulaFit
from .randomisation import RandomisationTest, randomisation_test

ALONE = -1  # one block together: days, bakers, … that had one of the two formulas only


def second_opinion(
    fitted: FormulaFit, formula: str, against: str, first: Estimate
) -> RandomisationTest | None:
    """Return the randomisation test beside the model's answer ``first``; None where nothing can be
    rearranged, or where people saw the difference differently, which relabelled mixes do not show.

    What is relabelled are the units that the model judges by (mixes; days where a day had one
    formula only), each with its mean adjusted for what varies inside it. Labels change places
    inside everything that the model compares within, all of it together: days, bakers, oven loads,
    levels of other factors. A block that is not compared within alone keeps its labels to itself
    where it had both formulas; those that had one exchange them as wholes.
    """
    people = first.why == "people" or first.unit not in ("loaf", *fitted.fit.layout.labels)
    units = None if people else fitted.fit.units_of(fitted.row(formula, against))
    if units is None:
        return None
    ours = fitted.loaves[FORMULA].astype(str).isin([formula, against]).to_numpy()
    kept, which = np.unique(units.unit_of_loaf[ours], return_index=True)
    one_loaf = np.flatnonzero(ours)[which]
    is_formula = (fitted.loaves[FORMULA].astype(str).to_numpy() == formula)[one_loaf]
    return randomisation_test(
        units.means[kept],
        is_formula,
        _blocks(fitted, units, one_loaf, is_formula),
        first.p_value,
        fitted.fit.confidence,
        units.unit,
    )


def _blocks(
    fitted: FormulaFit, units: UnitTable, one_loaf: np.ndarray, is_formula: np.ndarray
) -> np.ndarray:
    """Return whole numbers: units with the same one could have had each other's formula."""
    labels, layout = fitted.fit.layout.labels, fitted.fit.layout
    around = {name: labels[name].to_numpy() for name in (*units.fixed, *units.between)}
    around |= {
        name: pd.factorize(fitted.loaves[name])[0]
        for name in layout.factors["factor"]
        if name != FORMULA
    }
    blocks = np.zeros(len(one_loaf), dtype=int)
    for name, codes in around.items():
        if is_nested(units.unit_of_loaf, codes):
            here = codes[one_loaf]
            if name in units.between:
                here = np.where(
                    np.isin(here, np.intersect1d(here[is_formula], here[~is_formula])), here, ALONE
                )
            blocks = combined([blocks, here - here.min()])
    return blocks
