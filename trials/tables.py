"""What is asked of a table of records again and again: which of its columns hold numbers, which of
its rows hold nothing, what stands in a column.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray


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


def distinct(column: pd.Series) -> list[Any]:
    """Return the distinct values of a column, none missing, as they first come."""
    values = column.unique()
    return list(values[~pd.isna(values)])
