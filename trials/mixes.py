"""Which loaves share a dough, where nobody wrote it down."""

from __future__ import annotations

import pandas as pd

from .score_table import NotedTable

MADE_TOGETHER = ("formula", "day", "baker")


def with_mixes(loaves: pd.DataFrame, file: str) -> NotedTable:
    """Return the loaves with a ``mix``: where none was recorded, one dough of each formula on each day by each baker.

    This is the cautious reading: loaves that may share a dough are not counted as trials of their own. Who made a
    dough for every loaf says so on the card, with ``mix = "loaf"`` under ``[columns]``.
    """
    if "mix" in loaves:
        return NotedTable(frame=loaves)
    known = [name for name in MADE_TOGETHER if name in loaves]
    labels = pd.Series("one dough", index=loaves.index, dtype=object)
    for position, name in enumerate(known):
        text = loaves[name].astype("string").fillna("?").astype(object)
        labels = text if position == 0 else labels + ", " + text
    told = (f"{file}: no column says which loaves share a mix, so that {_said(known)} is assumed: no dough is counted "
            'twice. If every loaf had a dough of its own, write  mix = "loaf"  under [columns] on the card.')
    return NotedTable(frame=loaves.assign(mix=labels), assumptions=(told,))


def _said(known: list[str]) -> str:
    what = "one mix of each formula" if "formula" in known else "one mix"
    when = [f"each {name}" for name in known if name != "formula"]
    return f"{what} {' and '.join(when)}".rstrip()
