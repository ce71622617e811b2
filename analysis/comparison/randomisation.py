"""A second opinion that assumes little: formulas relabelled among the mixes, as the plan could have
drawn them.

Source: Fisher 1935, The Design of Experiments, sec. 21; Box, Hunter & Hunter 2005, Statistics for
Experimenters, ch. 3.
"""

from __future__ import annotations

import numpy as np

from ...trials.fairness.rearrangement import exchanged, share_as_extreme, smallest_p
from ...trials.frozen import frozen


@frozen(kw_only=True)
class RandomisationTest:
    """The randomisation test of no difference.

    p_value : share of rearrangements whose difference is at least as large, the observed one
        counted in
    smallest_p : the smallest p that this trial could have given
    n_rearrangements : how many distinct ones there are; n_used : how many were looked at (all, or a
        draw)
    exact : whether all were looked at
    unit : what was relabelled ("mix", "day", …)
    blocked : whether labels stayed inside their day (or other block)
    model_p : the model's p-value of the same difference, not adjusted for other pairs either: what
        it is held against
    agrees : whether it and ``model_p`` are on the same side of 1 − confidence; None where this
        trial's smallest
        p is above that, so that it could not have answered
    """

    p_value: float
    smallest_p: float
    n_rearrangements: int
    n_used: int
    exact: bool
    unit: str
    blocked: bool
    model_p: float
    agrees: bool | None


def randomisation_test(
    means: np.ndarray,
    is_formula: np.ndarray,
    blocks: np.ndarray,
    model_p: float,
    confidence: float = 0.95,
    unit: str = "mix",
) -> RandomisationTest | None:
    """Return the randomisation test of one formula against another, or None where its p could only
    be 1.

    means : (n,) one mean a unit, of the units of these two formulas only; is_formula : bool (n,),
    the units of the first; blocks : whole numbers (n,), inside which labels may change places. The
    statistic is the difference adjusted for blocks, a multiple of the sum of the block-centred
    means of the first formula. ``model_p`` is the other opinion, of this pair alone.
    """
    centred = means - (np.bincount(blocks, means) / np.maximum(np.bincount(blocks), 1))[blocks]
    observed, dealt = exchanged(is_formula, centred, blocks)
    alpha, smallest = 1 - confidence, smallest_p(dealt)
    if smallest >= 1:
        return None
    p_value = share_as_extreme(observed, dealt)
    return RandomisationTest(
        p_value=p_value,
        smallest_p=smallest,
        n_rearrangements=dealt.count,
        n_used=len(dealt.sums),
        exact=dealt.exact,
        unit=unit,
        blocked=len(np.unique(blocks)) > 1,
        model_p=model_p,
        agrees=None if smallest >= alpha else (p_value < alpha) == (model_p < alpha),
    )
