"""Who looked at which loaf, and which words they ticked for it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..trial import Trial


def read_looks(trial: Trial) -> pd.DataFrame:
    """Return the ticks of the looks that count, with ``loaf`` and ``code`` filled in from the
    key.
    """
    if trial.words is None:
        return pd.DataFrame(columns=["line", "assessor", "code", "loaf", "word", "tick"])
    from .servings import key_of

    looks = trial.words
    if "void" in looks:
        looks = looks[looks["void"].isna() | (looks["void"] == "")]
    code = looks["code"] if "code" in looks else pd.Series(np.nan, index=looks.index, dtype=object)
    key = key_of(trial)
    from_code = code.map(lambda text: key.get(str(text)), na_action="ignore").astype(object)
    loaf = looks["loaf"].fillna(from_code) if "loaf" in looks else from_code
    return looks.assign(code=code.fillna(loaf).astype(object), loaf=loaf.astype(object))
