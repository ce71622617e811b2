"""Which loaves share a dough: as it was written down, and where nobody did."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from ..columns import GROUPINGS
from ..findings import NotedTable

MADE_TOGETHER = ("formula", "day", "table", "baker")
LARGEST_CODE = 2**62


def with_mixes(loaves: pd.DataFrame, file: str, own_dough: bool = False) -> NotedTable:
    """Return the loaves with a ``mix``: where none was recorded, one dough of each formula on each
    day by each table or baker.

    This is the cautious reading: loaves that may share a dough are not counted as trials of their
    own. Who made a dough for every loaf says so on the card, with ``mix = "loaf"`` under
    ``[columns]`` (``own_dough``). Bakers are numbered in the names of mixes, which stand in
    pictures: they may be pupils.
    """
    if "mix" in loaves and (loaves.empty or loaves["mix"].notna().any()):
        return NotedTable(frame=loaves)
    if own_dough:
        return NotedTable(frame=loaves.assign(mix=loaves["loaf"]))
    known = [name for name in MADE_TOGETHER if name in loaves]
    texts = {name: loaves[name].astype("string").fillna("?").astype(object) for name in known}
    for who in ("table", "baker"):
        if who in texts:
            texts[who] = _numbered(who, loaves[who])
    if "day" in texts:
        texts["day"] = "on " + texts["day"]
    labels = pd.Series("" if known else "one dough", index=loaves.index, dtype=object)
    for text in texts.values():
        labels = (labels + " " + text).str.strip().astype(object)
    told = (
        f"{file}: no column says which loaves share a mix, so that {_said(known)} is assumed: no"
        ' dough is counted twice. If every loaf had a dough of its own, write  mix = "loaf"  under'
        " [columns] on the card."
    )
    return NotedTable(frame=loaves.assign(mix=labels), assumptions=(told,))


def _numbered(who: str, names: pd.Series) -> pd.Series:
    """Return ``(table 3)`` for each loaf: the number that a table has itself, else one in turn."""
    own = names.astype("string").str.extract(rf"(?i)^\s*(?:{who}\s*)?(\d+)(?:\.0)?\s*$")[0]
    if own[names.notna()].isna().any():
        own = pd.Series(names.factorize()[0] + 1, index=names.index).replace(0, pd.NA)
    return ("(" + who + " " + own.astype("string").fillna("?") + ")").astype(object)


def _said(known: list[str]) -> str:
    what = "one mix of each formula" if "formula" in known else "one mix"
    when = {"day": "each day", "table": "by each table", "baker": "by each baker"}
    return " ".join([what, *(when[name] for name in known if name in when)])


def mix_codes(loaves: pd.DataFrame) -> np.ndarray:
    """Return the number of each loaf's mix (n,), as they first come: a dough is one formula's and
    one day's, and a loaf without a label has a dough of its own.
    """
    if "mix" not in loaves:
        return np.arange(len(loaves))
    inside = next(grouping.inside for grouping in GROUPINGS if grouping.name == "mix")
    keys = [name for name in (*inside, "mix") if name in loaves]
    codes = combined([codes_of(loaves[key]) for key in keys])
    alone = loaves["mix"].array.isna()
    if not alone.any():
        return codes
    codes[alone] = codes.max(initial=0) + 1 + np.arange(alone.sum())
    return pd.factorize(codes)[0]


def codes_of(column: pd.Series) -> np.ndarray:
    """Return a code for each distinct value of a column (n,), not always without gaps."""
    if isinstance(column.array, pd.Categorical):
        return column.array.codes.astype(np.int64) + 1
    return pd.factorize(column.to_numpy(), use_na_sentinel=False)[0]


def combined(codes: Sequence[np.ndarray]) -> np.ndarray:
    """Return one code (n,) for every combination of codes (one at least) that occurs, from 0, as
    they first come.
    """
    together, kinds = codes[0], int(codes[0].max(initial=0)) + 1
    for own in codes[1:]:
        more = int(own.max(initial=0)) + 1
        if kinds * more >= LARGEST_CODE:
            together, kinds = pd.factorize(together)[0], len(together)
        together, kinds = together * more + own, kinds * more
    return pd.factorize(together)[0]
