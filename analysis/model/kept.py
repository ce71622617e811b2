"""What many questions of one trial share: a key of what some columns hold, by which the model of
loaves that are alike is made once.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import field

import numpy as np
import pandas as pd

from ...trials.frozen import frozen

# a key of more loaves takes longer, and what is kept more memory, than a question asked twice saves
MOST_LOAVES = 5_000
MOST_KEPT = 128  # layouts, models and fits of such trials


@frozen
class Alike:
    """Loaves that are equal to others with the same content in some columns, and the same index."""

    content: tuple[Hashable, ...]
    loaves: pd.DataFrame = field(compare=False, repr=False)


@frozen
class Response:
    """A response (n,) that is equal to others with the same numbers."""

    content: bytes
    values: np.ndarray = field(compare=False, repr=False)


def alike(loaves: pd.DataFrame, names: Iterable[str]) -> Alike:
    """Return loaves with what these columns hold; a name that is no column holds nothing."""
    there = [name for name in dict.fromkeys(names) if name in loaves]
    parts = [(name, *_content(loaves[name].array)) for name in there]
    return Alike((*_content(loaves.index.array), *parts), loaves)


def _content(values: pd.api.extensions.ExtensionArray) -> tuple[Hashable, ...]:
    """Return what a column holds: levels in their order and the codes, numbers, or texts."""
    if isinstance(values, pd.Categorical):
        return "levels", tuple(values.categories.tolist()), values.codes.tobytes()
    if isinstance(values.dtype, np.dtype) and values.dtype.kind in "biuf":
        return str(values.dtype), np.asarray(values).tobytes()
    return str(values.dtype), tuple(np.asarray(values, dtype=object).tolist())
