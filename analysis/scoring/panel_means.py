"""Each loaf's score from a panel, so that a score can be analysed as any other measure of the loaf.

Score = loaf + assessor, by least squares: where every assessor scored every loaf this is the loaf's plain mean, and
elsewhere no loaf gains by having met the milder assessors.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from ...trials import Trial
from ...trials.columns import CRUMB_PREFIX

CRUMB_TOTAL = f"{CRUMB_PREFIX}total"
MOST_ROUNDS = 500
CLOSE = 1e-10


def with_scores(trial: Trial) -> pd.DataFrame:
    """Return the trial's loaves with a column ``crumb_<attribute>`` for every attribute that a panel scored.

    Where the card weights attributes, ``crumb_total`` is their weighted sum, for loaves with every part of it.
    Columns that were recorded with the loaves stay as they are.
    """
    return _with_total(_with_attributes(trial), trial.card.scores.weights if trial.card.scores else {})


def _with_total(loaves: pd.DataFrame, weights: Mapping[str, float]) -> pd.DataFrame:
    """Add the weighted total; weights add up to 100."""
    parts = {f"{CRUMB_PREFIX}{attribute}": weight / 100 for attribute, weight in weights.items()}
    if not parts or CRUMB_TOTAL in loaves or not set(parts) <= set(loaves.columns):
        return loaves
    return loaves.assign(**{CRUMB_TOTAL: (loaves[list(parts)] * pd.Series(parts)).sum(axis=1, skipna=False)})


def _with_attributes(trial: Trial) -> pd.DataFrame:
    loaves = trial.loaves
    if trial.scores is None or "loaf" not in loaves:
        return loaves
    found = {}
    for attribute, scores in trial.scores.dropna(subset=["loaf", "attribute", "score"]).groupby("attribute"):
        name = f"{CRUMB_PREFIX}{attribute}"
        if name not in loaves:
            found[name] = loaves["loaf"].map(_loaf_scores(scores)).astype(float)
    return loaves.assign(**found)


def _loaf_scores(scores: pd.DataFrame) -> pd.Series:
    """Loaf → its effect beside the assessors', by alternating means until they settle."""
    loaf, assessor = scores["loaf"], scores.get("assessor", pd.Series("", index=scores.index)).fillna("")
    score = scores["score"].astype(float)
    severity = pd.Series(0.0, index=assessor.unique())
    for _ in range(MOST_ROUNDS):
        means = (score - assessor.map(severity)).groupby(loaf).mean()
        found = (score - loaf.map(means)).groupby(assessor).mean()
        found -= np.average(found, weights=assessor.value_counts().reindex(found.index))
        settled = float((found - severity).abs().max()) < CLOSE
        severity = found
        if settled:
            break
    return means
