"""Every loaf under each level of one factor, for trials that compare no formulas."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ...trials.words.numbers import NumberStyle, level_words
from ..factors.result import FactorEffects
from ..wording.report import loaves_sentence
from .style import (
    Picture,
    factor_looks,
    house_style,
    interval,
    looks,
    new_figure,
    row_axis,
    scatter,
    value_axis,
)

# loaves of one value are stacked, so that they do not hide each other
STEP, MOST_STACKED = 0.09, 7


@house_style()
def loaves_by_level(
    f: FactorEffects, loaves: pd.DataFrame, factor: str, style: NumberStyle
) -> Picture:
    """Draw every loaf as a dot, one row a level of the factor, and below each row its mean with the
    likely range.

    loaves : the trial's loaves that count (``Trial.counted``), those that the answer cannot use
        included.
    """
    means = f.means[f.means["term"] == factor]
    levels = [level for (level,) in means["levels"]]
    figure, axes = new_figure(height=0.9 + min(0.62 * len(levels), max(2.9, 0.42 * len(levels))))
    look = (looks if factor == "formula" else factor_looks)(levels)
    used = loaves[loaves[factor].isin(levels)]
    stacked = used.groupby([factor, f.measure]).cumcount().clip(upper=MOST_STACKED)
    used = used.assign(_row=used[factor].map(levels.index) - STEP * stacked)
    scatter(axes, used, f.measure, "_row", factor, look)
    for i, row in enumerate(means.to_dict("records")):
        if np.isfinite(row["ci_low"]):
            interval(axes, row["ci_low"], row["ci_high"], row["mean"], i + 0.25, look[levels[i]])
        else:
            axes.plot([row["mean"]], [i + 0.25], **look[levels[i]].dots(10))
    row_axis(axes, [level_words(level, style) for level in levels])
    value_axis(axes, "x", f"{f.label} ({f.unit})" if f.unit else f.label, style)
    return Picture(figure, loaves_sentence(f, factor, len(loaves), style))
