"""Results as plain data: what ``--json`` prints. Missing numbers become null.

Numbers that leave the package (``--json``, the report's data, workbook) are rounded here, to ten
significant digits: processors differ in the last bits of a sum, and the same records give the same
bytes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pandas as pd

# of 18,000 numbers of three reports none differed so far up between four processors' arithmetic
DIGITS = 10


def significant(value: float) -> float:
    """Return a number rounded to ten significant digits; whole ones, such as what was recorded,
    stay as they are.
    """
    return value if not math.isfinite(value) or value.is_integer() else float(f"{value:.{DIGITS}g}")


def records(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a small table by the names of its columns, in plain numbers and texts."""
    names = [str(name) for name in table]
    rows = zip(*(table[name].tolist() for name in table), strict=True)
    return [dict(zip(names, row, strict=True)) for row in rows]


def plain(value: Any) -> Any:
    """Return a result as dicts, lists, texts, numbers and None.

    A dataclass becomes a dict of its fields, a table a list of rows, a number that is not finite
    None.
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, pd.DataFrame):
        return [{name: plain(cell) for name, cell in row.items()} for row in records(value)]
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset | np.ndarray | pd.Series):
        return [plain(item) for item in value]
    if isinstance(value, np.generic):
        return plain(value.item())
    if value is pd.NA or value is pd.NaT or (isinstance(value, float) and not math.isfinite(value)):
        return None
    return significant(value) if isinstance(value, float) else value
