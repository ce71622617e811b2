"""The randomisation test of a fitted comparison: which means to relabel, and inside which blocks."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..model.mix_rule import Estimate
from ..model.units import is_nested
from .formula_fit import FORMULA, FormulaFit
from .randomisation import RandomisationTest, randomisation_test


def second_opinion(fitted: FormulaFit, formula: str, against: str, first: Estimate) -> RandomisationTest | None:
    """Return the randomisation test beside the model's answer ``first``; None where nothing can be rearranged, or
    where people saw the difference differently, which relabelled mixes do not show.

    What is relabelled are the units that the model judges by (mixes; days where a day had one formula only), each
    with its mean adjusted for what varies inside it. Labels change places inside the days, oven loads and levels of
    other factors that lie around the unit and in which both formulas occur.
    """
    means = _unit_means(fitted, first.unit) if first.why != "people" else None
    if means is None:
        return None
    ours = fitted.loaves[FORMULA].astype(str).isin([formula, against]).to_numpy()
    units = _codes(fitted, first.unit)
    kept, which = np.unique(units[ours], return_index=True)
    one_loaf = np.flatnonzero(ours)[which]
    is_formula = (fitted.loaves[FORMULA].astype(str).to_numpy() == formula)[one_loaf]
    return randomisation_test(means[kept], is_formula, _blocks(fitted, units, one_loaf, is_formula), first.p_value,
                              fitted.fit.confidence, first.unit)


def _codes(fitted: FormulaFit, unit: str) -> np.ndarray:
    """Return which unit each loaf belongs to."""
    labels = fitted.fit.layout.labels
    return labels[unit].to_numpy() if unit in labels else np.arange(len(labels))


def _unit_means(fitted: FormulaFit, unit: str) -> np.ndarray | None:
    """Return the adjusted mean of every unit by its code; None where groupings cross, so that there are none."""
    if unit == "loaf":
        return fitted.fit.response
    if unit not in fitted.fit.layout.labels:
        return None
    residuals = fitted.fit.unit_residuals(unit)
    return (residuals["fitted"] + residuals["residual"]).sort_index().to_numpy() if len(residuals) else None


def _blocks(fitted: FormulaFit, units: np.ndarray, one_loaf: np.ndarray, is_formula: np.ndarray) -> np.ndarray:
    """Return whole numbers: units with the same one could have had each other's formula."""
    layout = fitted.fit.layout
    around = [layout.labels[name].to_numpy() for name in layout.kept]
    around += [pd.factorize(fitted.loaves[name])[0] for name in layout.factors["factor"] if name != FORMULA]
    blocks = np.zeros(len(one_loaf), dtype=int)
    for labels in around:
        finer = np.unique(np.stack([blocks, labels[one_loaf]]), axis=1, return_inverse=True)[1].ravel()
        if is_nested(units, labels) and _both_in_some(finer, is_formula):
            blocks = finer
    return blocks


def _both_in_some(blocks: np.ndarray, is_formula: np.ndarray) -> bool:
    """Return whether any block holds units of both formulas."""
    return bool(set(blocks[is_formula]) & set(blocks[~is_formula]))
