"""Words of yes and no, in English, German, French, Spanish, Italian and Dutch: does a loaf
count?
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..findings import Finding, NotedTable
from ..words.lists import counted, on_lines
from .days import plain, words_of

NO = words_of(
    "no n false f 0 none not nope nothing never nein nicht kein keine keiner nichts falsch non faux"
    " aucun aucune rien pas falso ninguno ninguna nada nessuno nessuna niente nee neen geen niets"
    " onwaar ne nej nei"
)
YES = words_of("yes y true t 1 yep yeah ja j wahr jawohl oui o vrai si s verdadero vero waar")
GOOD = words_of(
    "ok okay okey good fine valid counts count counted used use kept keep included include in"
    " alright sound fit io gut gultig zahlt benutzt verwendet genutzt passt bien bon bonne valide"
    " valable utilise utilisee compte garde bueno buena valido valida usado usada cuenta vale bene"
    " buono buona usato usata conta goed geldig gebruikt telt prima"
) | {
    "all right",
    "all good",
    "in use",
    "in ordnung",
    "alles gut",
    "telt mee",
    "not void",
    "no void",
    "not left out",
    "no problem",
    "to be used",
    "tout va bien",
    "todo bien",
    "esta bien",
    "va bene",
    "tutto bene",
    "alles goed",
    "in ordine",
    "en orden",
    "en ordre",
    "in orde",
}
TICKS = frozenset("✓✔☑✅☒✗✘✕×")
WHY = "A loaf that is left out, or one that is not, changes the answer."


def _word(text: str) -> str:
    """Return a text in lower case without accents, signs and spaces around words."""
    return " ".join(
        "".join(sign if sign.isalnum() or sign.isspace() else "" for sign in plain(text)).split()
    )


def says_it_counts(text: str) -> bool:
    """Return whether a text under ``void`` gives no reason, but says that the loaf counts."""
    return _word(text) in NO | GOOD


def is_yes(text: str) -> bool:
    """Return whether a text is a yes and nothing else."""
    return _word(text) in YES


def is_tick(text: str) -> bool:
    """Return whether a text is nothing but a tick or a cross."""
    return bool(text.strip()) and not set(text) - TICKS - set(" \ufe0f")


def with_left_out(loaves: pd.DataFrame, header: str, file: str) -> NotedTable:
    """Return the loaves with those void that a column ``counts`` ("Used", "Include") says do not
    count.

    A column without a yes or a no is another thing, and is kept as it is.
    """
    texts = loaves["counts"]
    kinds = {text: _kind(text) for text in texts.dropna().unique()}
    if not {"yes", "no"} & set(kinds.values()):
        return NotedTable(frame=loaves)
    kind = texts.map(kinds)
    out = kind == "no"
    unclear = (kind == "") | (texts.isna() & bool((kind == "yes").any()))
    void = (
        loaves["void"] if "void" in loaves else pd.Series(np.nan, index=loaves.index, dtype=object)
    )
    reasons = pd.Series([f"{header}: {text}" for text in texts], index=loaves.index, dtype=object)
    told = (
        (
            f"{file}: {header!r} says of {counted(int(out.sum()), 'loaf', 'loaves')} that"
            f" {'it does not count; it is' if out.sum() == 1 else 'they do not count; they are'}"
            " left out."
        ),
    )
    findings = []
    if unclear.any():
        lines = tuple(int(line) for line in loaves.loc[unclear, "line"])
        findings.append(
            Finding(
                code="counts-unclear",
                severity="error",
                rows=lines,
                file=file,
                column="counts",
                why=WHY,
                message=f"Under {header!r} stands neither a yes nor a no on {on_lines(lines)}.",
                fix=(
                    "Write yes for a loaf that counts and no for one that does not, and the reason"
                    " under void."
                ),
            )
        )
    return NotedTable(
        frame=loaves.assign(void=void.where(void.notna() | ~out, reasons)),
        assumptions=told if out.any() else (),
        findings=tuple(findings),
    )


def _kind(text: str) -> str:
    word = _word(text)
    if word in NO or set(text) <= set("☒✗✘✕×"):
        return "no"
    return "yes" if word in YES | GOOD or is_tick(text) or word == "x" else ""
