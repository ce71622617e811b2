"""Which loaves share a dough, where nobody wrote it down."""

from __future__ import annotations

import pandas as pd

from ..findings import NotedTable

MADE_TOGETHER = ("formula", "day", "baker")


def with_mixes(loaves: pd.DataFrame, file: str, own_dough: bool = False) -> NotedTable:
    """Return the loaves with a ``mix``: where none was recorded, one dough of each formula on each
    day by each baker.

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
    if "baker" in texts:
        numbers = loaves["baker"].factorize()[0] + 1
        texts["baker"] = pd.Series(
            [f"(baker {n or '?'})" for n in numbers], index=loaves.index, dtype=object
        )
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


def _said(known: list[str]) -> str:
    what = "one mix of each formula" if "formula" in known else "one mix"
    when = {"day": "each day", "baker": "by each baker"}
    return " ".join([what, *(when[name] for name in known if name in when)])
