"""Where the variation comes from: days, oven loads, mixes, loaves and the factors, each with
variance and share.

The scatter's variances come from a fit in which days, oven loads and mixes are all random ("loaf"
is what is left between loaves of one mix). A term's variance is the mean square of its effects over
its combinations of levels, each weighing the same, less what chance alone adds to it: mean square ×
(1 − 1/F), the analysis of variance estimate, without bias in balanced trials (Searle, Casella and
McCulloch 1992, Variance Components, ch. 4).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.layout import Layout
from ..model.trial_fit import TrialFit

# groupings inside one block; beyond this their block's own variance is not worked out
MOST_TOGETHER = 500
SOURCES = ["source", "kind", "variance", "share"]


def term_variance(means: pd.DataFrame, f_value: float) -> float:
    """Return the variance of a term's effects from the means of its combinations; NaN where one is
    missing.

    What the factors do alone is swept out of the combinations axis by axis.
    """
    levels = pd.DataFrame(means["levels"].tolist())
    effects = means["mean"].to_numpy(float).reshape([levels[i].nunique() for i in levels])
    for axis in range(effects.ndim):
        effects = effects - effects.mean(axis=axis, keepdims=True)
    return float(np.mean(effects**2)) * (1 - 1 / f_value)


def sources(fit: TrialFit, tests: pd.DataFrame, means: pd.DataFrame) -> pd.DataFrame:
    """Return one row a source: source, kind ("factor", "scatter"), variance (may be negative),
    share.

    tests, means : of the terms of `fit`, as in `FactorEffects`.
    """
    f_values = tests.set_index("term")["f_value"]
    rows = [
        (
            term.name,
            "factor",
            term_variance(means[means["term"] == term.name], float(f_values[term.name])),
        )
        for term in fit.design.terms
        if term.name in f_values and f_values[term.name] > 0
    ]
    rows += [
        ("loaf" if name == "residual" else name, "scatter", value)
        for name, value in _scatter(fit).items()
    ]
    return with_shares(pd.DataFrame(rows, columns=SOURCES[:3]))


def _scatter(fit: TrialFit) -> dict[str, float]:
    """The variances of days, oven loads, mixes and what is left; none where nothing is left to
    judge by.
    """
    try:
        return fit.variances if _too_entangled(fit.layout) else fit.all_variances
    except (NotIdentifiable, NoVariation):
        return {}


def _too_entangled(layout: Layout) -> bool:
    """So many mixes share a day that all together would have to be solved as one; days then stay
    fixed.
    """
    kept = layout.labels[list(layout.kept)].drop_duplicates()
    return any(int(kept[block].value_counts().max()) > MOST_TOGETHER for block in layout.blocks)


def with_shares(table: pd.DataFrame) -> pd.DataFrame:
    """Add each variance's share of the positive ones' sum."""
    positive = table["variance"].clip(lower=0)
    return table.assign(share=positive / positive.sum() if positive.sum() > 0 else np.nan)
