"""How many terms a trial can bear: what is left at each level to judge by, and which interactions
must be left out.

The rule: an interaction is fitted as long as at least three degrees of freedom are left to judge by
at its own level (day, baker, mix, loaf). Where fewer are left, the interactions of the highest
order at that level are left out, all of them together, since the trial gives no reason to prefer
one; main effects are never left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from ..mixed_model.by_setting import BySetting
from .design import Design, Term, build_design
from .layout import Layout
from .unit_means import Averaging
from .units import GROUPINGS, is_nested

LEAST_ERROR_DF = 3
LEVELS = (*GROUPINGS, "loaf")  # coarse to fine


def error_df(matrix: BySetting, labels: pd.DataFrame) -> dict[str, int]:
    """Return level → degrees of freedom left to judge by: "loaf", and every grouping that nests in
    the next finer one.

    matrix : (n, p) the design; labels : one integer column a grouping. A grouping of single loaves
    counts as "loaf". A level whose units are fixed blocks of the design has none.
    """
    chain = _nested_chain(labels)
    n, gram = len(matrix), matrix.gram()
    ranks = [_rank(gram, n)]
    for name in chain:
        groups = Averaging(labels[name].to_numpy())
        means = groups.mean(matrix)
        ranks.append(groups.n_groups + _rank(gram - (means.T * groups.sizes) @ means, n))
    left = {
        name: after - before for name, before, after in zip(chain, ranks, ranks[1:], strict=False)
    }
    return left | {"loaf": len(matrix) - ranks[-1]}


def level_of(factors: Sequence[str], layout: Layout) -> str:
    """Return the finest unit that any of these factors was applied to: where their interaction is
    judged.
    """
    return max((layout.applied_to(factor) for factor in factors), key=LEVELS.index)


def choose_terms(
    loaves: pd.DataFrame, wanted: Sequence[Term], layout: Layout, numbers: Mapping[str, int]
) -> tuple[tuple[Term, ...], tuple[Term, ...]]:
    """Return those of the wanted terms that the trial can bear, and those left out by the rule."""
    terms = tuple(wanted)
    for highest in range(max(len(term.factors) for term in wanted), 1, -1):
        design = _design(loaves, terms, layout, numbers)
        short = (
            set(LEVELS)
            if design is None
            else {
                level
                for level, df in error_df(design.matrix, layout.labels).items()
                if df < LEAST_ERROR_DF
            }
        )
        terms = tuple(
            term
            for term in terms
            if len(term.factors) < highest or level_of(term.factors, layout) not in short
        )
    return terms, tuple(term for term in wanted if term not in terms)


def _design(
    loaves: pd.DataFrame, terms: Sequence[Term], layout: Layout, numbers: Mapping[str, int]
) -> Design | None:
    """The design of these terms, or None where it would have more columns than there are loaves."""
    levels = zip(layout.factors["factor"], layout.factors["n_levels"], strict=True)
    widths = {factor: numbers.get(factor, n - 1) for factor, n in levels}
    if sum(int(np.prod([widths[f] for f in term.factors])) for term in terms) >= len(loaves):
        return None
    apart = [name for name in layout.blocks if name not in set(layout.factors["applied_to"])]
    blocks = [name for name in apart if not layout.covered(name, apart)]
    return build_design(loaves.assign(**layout.labels[blocks]), terms, blocks, numbers)


def _nested_chain(labels: pd.DataFrame) -> list[str]:
    """Groupings from coarse to fine, each inside the one before.

    Without single loaves, without a grouping that is another under a second name, and without those
    that cross: the mix comes first, then the coarser before the finer, so that what was written
    down beside it drops no level.
    """
    chain: list[str] = []
    n = {str(name): labels[name].nunique() for name in labels}

    def nests(name: str, other: str) -> bool:
        """Whether one of the two lies inside the other without being the same."""
        coarse, fine = sorted((name, other), key=n.__getitem__)
        return n[coarse] < n[fine] and is_nested(labels[fine].to_numpy(), labels[coarse].to_numpy())

    for name in sorted(n, key=lambda name: (name != "mix", n[name])):
        if 1 < n[name] < len(labels) and all(nests(name, other) for other in chain):
            chain.append(name)
    return sorted(chain, key=n.__getitem__)


def _rank(gram: np.ndarray, n: int) -> int:
    """Rank by the eigenvalues of the cross products of columns (n, p) that are scaled to about
    1.
    """
    return int((np.linalg.eigvalsh(gram) > 1e-9 * max(n, 1)).sum())
