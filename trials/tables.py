"""What is asked of a table of records again and again: which of its columns hold numbers, which of
its rows hold nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    import pandas as pd


def number_columns(table: pd.DataFrame) -> list[str]:
    """Return the columns that hold numbers as they were measured (float64)."""
    return [str(name) for name, kind in table.dtypes.items() if kind.kind == "f"]


def blank_rows(table: pd.DataFrame, columns: Iterable[str]) -> NDArray:
    """Return which rows (n,) hold nothing in any of these columns."""
    blank = np.ones(len(table), dtype=bool)
    for name in columns:
        blank &= table[name].array.isna()
        if not blank.any():
            break
    return blank
