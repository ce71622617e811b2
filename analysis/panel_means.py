"""Each loaf's score from a panel, so that a score can be analysed as any other measure of the loaf.

Score = loaf + assessor, by least squares: where every assessor scored every loaf this is the loaf's plain mean, and
elsewhere no loaf gains by having met the milder assessors.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..trials import Trial
from ..trials.columns import CRUMB_PREFIX

MOST_ROUNDS = 500
CLOSE = 1e-10


def with_scores(trial: Trial) -> pd.DataFrame:
    """Return the trial's loaves with a column ``crumb_<attribute>`` for every attribute that a panel scored.

    Columns that were recorded with the loaves stay as they are.
    """
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
