"""What a trial is once it has been read: the card, the records and what was found in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from typing import TYPE_CHECKING

import pandas as pd

from .findings import SEVERITIES, Finding
from .frozen import frozen
from .words.lists import counted

if TYPE_CHECKING:
    from .card import TrialCard

MOST_SHOWN = 6  # levels of a factor in a trial's summary


def no_unreadable_cells() -> pd.DataFrame:
    """Return an empty table of unreadable cells."""
    return pd.DataFrame({"file": [], "line": [], "column": [], "text": []}, dtype=object)


@frozen(kw_only=True, eq=False)
class Trial:
    """Everything that is known about one bake trial. Nothing in it is ever changed.

    Attributes
    ----------
    name : the folder's or file's name, without its path
    card : what was asked, planned and agreed; an empty card when there was no ``trial.toml``
    loaves : one row per loaf in file order, void loaves included, with canonical column names
        (``columns.py``),
        canonical units, the derived measures (``measures.py``) and ``line``, the row's line in its
        file. Number columns are float64; the others are text with missing values.
    scores : long table ``line, loaf, assessor, attribute, score`` (+ ``repeat``, ``order`` when
        recorded) or None
    codes : the key, ``line, code, loaf``, or None
    tasting : one row a serving, as ``columns.TASTING`` has it, or None (``tasting/servings.py``
        reads it on)
    words : long table ``line, assessor, word, tick`` (1, 0, missing where not judged) with
        ``code``, ``loaf``,
        ``table``, ``order``, ``repeat``, ``void``, ``note`` where recorded, one row a look and
        word; or None
    readings : long table ``line, loaf, loaf_ml`` (repeated volume readings, mL) or None
    more_tables : tables of any further kind of ``columns.KINDS``, by its name
    factors : what was changed on purpose, as the card says, or as the records show where there is
        no card
    findings : what reading and the checks had to say, worst first
    assumptions : what reading took for granted, in plain sentences
    sources : name of each file read → its SHA-256 fingerprint
    files : which file each table came from: "loaves", "scores", … → file name (and sheet)
    headers : column of ``loaves`` → its header as it stands in the file, for columns that were read
        and not derived
    stated_units : columns of ``loaves`` whose unit the header, its line of units, the cells or the
        card say
    unreadable : table ``file, line, column, text`` of cells in number columns that hold no number;
        the cell is
        missing in ``loaves``, ``scores`` or ``readings``, and its text is kept here
    """

    name: str
    card: TrialCard
    loaves: pd.DataFrame
    scores: pd.DataFrame | None = None
    readings: pd.DataFrame | None = None
    codes: pd.DataFrame | None = None
    tasting: pd.DataFrame | None = None
    words: pd.DataFrame | None = None
    more_tables: Mapping[str, pd.DataFrame] = field(default_factory=dict)
    factors: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    assumptions: tuple[str, ...] = ()
    sources: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)
    stated_units: frozenset[str] = frozenset()
    unreadable: pd.DataFrame = field(default_factory=no_unreadable_cells)

    def __repr__(self) -> str:
        """Return a summary in a few lines, not every loaf."""
        return "\n".join(
            [f"Trial {self.name!r}", *(f"  {words}: {said}" for words, said in self._summary())]
        )

    def _repr_html_(self) -> str:
        """Return the same summary as a notebook shows it."""
        from html import escape

        rows = "".join(
            f"<tr><th>{escape(words)}</th><td>{escape(said)}</td></tr>"
            for words, said in self._summary()
        )
        return f"<table><caption>Trial {escape(self.name)}</caption>{rows}</table>"

    def _summary(self) -> list[tuple[str, str]]:
        """Return what a person wants to know of a trial at a glance."""
        loaves = self.counted
        there = [(name, loaves[name].nunique()) for name in ("mix", "day") if name in loaves]
        many = [counted(n, name, {"mix": "mixes", "day": "days"}[name]) for name, n in there]
        void = [f"{len(self.void)} void"] if len(self.void) else []
        levels = {
            name: list(map(str, loaves[name].dropna().unique()))
            for name in self.factors
            if name in loaves
        }
        numbers = [str(name) for name in loaves if loaves[name].dtype.kind == "f"]
        counts = [
            counted(n, severity)
            for severity in SEVERITIES
            if (n := sum(found.severity == severity for found in self.findings))
        ]
        return [
            ("loaves", ", ".join([str(len(loaves)), *many, *void])),
            (
                "changed",
                "; ".join(
                    f"{name} ({', '.join(of[:MOST_SHOWN])}{', …' if len(of) > MOST_SHOWN else ''})"
                    for name, of in levels.items()
                )
                or "nothing that is known",
            ),
            ("measured", ", ".join(numbers) or "nothing"),
            ("scores", f"{len(self.scores)}" if self.scores is not None else "none"),
            ("findings", ", ".join(counts) or "none"),
        ]

    def table(self, kind: str) -> pd.DataFrame | None:
        """Return the loaves, or the table of a kind of ``columns.KINDS``; None where there is
        none.
        """
        table: pd.DataFrame | None = getattr(self, kind, None)
        return self.more_tables.get(kind) if table is None else table

    @property
    def counted(self) -> pd.DataFrame:
        """Return the loaves that count: those without a reason in ``void``."""
        if "void" not in self.loaves:
            return self.loaves
        return self.loaves[self.loaves["void"].isna()]

    @property
    def void(self) -> pd.DataFrame:
        """Return the loaves that were declared void, with their reasons."""
        if "void" not in self.loaves:
            return self.loaves.iloc[:0]
        return self.loaves[self.loaves["void"].notna()]

    @property
    def errors(self) -> tuple[Finding, ...]:
        """Return the findings that stop an analysis."""
        return tuple(f for f in self.findings if f.severity == "error")
