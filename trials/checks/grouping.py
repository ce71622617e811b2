"""Which loaves belong together: codes for combinations of factors, for mixes, for any set of columns."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..trial import Trial

MOST_LEVELS = 6         # a factor of numbers with more of them is no set of groups


def logs(values: pd.Series) -> NDArray:
    """Return logarithms; missing where the value is missing or not above zero."""
    numbers = values.to_numpy(dtype=float)
    return np.log(np.where(numbers > 0, numbers, np.nan))


def combination_codes(loaves: pd.DataFrame, trial: Trial) -> NDArray:
    """Return a code for each row's combination of factors (n,)."""
    return joint_codes(loaves, [name for name in trial.factors if name in loaves
                                and (loaves[name].dtype.kind != "f" or loaves[name].nunique() <= MOST_LEVELS)])


def batch_codes(loaves: pd.DataFrame) -> NDArray:
    """Return a code for each row's mix (n,); the day's where mixes were not recorded."""
    return joint_codes(loaves, [name for name in ("day", "formula", "mix") if name in loaves]
                       if "mix" in loaves else [name for name in ("day",) if name in loaves])


def joint_codes(loaves: pd.DataFrame, names: list[str]) -> NDArray:
    """Return a code from 0 for each distinct row of the columns (n,)."""
    codes = np.zeros(len(loaves), dtype=np.int64)
    for name in names:
        own, levels = pd.factorize(loaves[name], use_na_sentinel=False)
        codes = compact(codes * len(levels) + own)
    return codes


def compact(codes: NDArray) -> NDArray:
    """Return codes without gaps, from 0."""
    return pd.factorize(codes)[0]
