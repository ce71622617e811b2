"""What a check is: a small function that reads one table of a trial and says what looks wrong in
it.

To add a check: write a generator that yields a ``Spot`` for each thing found, give it ``@check``
with a code that will never change, and put it into ``CHECKS`` in ``__init__``. Its docstring is the
question that it asks. It never changes its table, and a missing column is no fault: the check is
then not asked.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..columns import GROUPINGS
from ..findings import Finding, Severity
from ..frozen import frozen
from ..trial import Trial
from ..words.lists import listed
from .grouping import with_coded_names

Table = str  # "loaves", or a kind of `columns.KINDS`
MOST_TOLD = 10
NO_ROWS = pd.DataFrame({"line": []}, dtype=int)
NAMED = ("formula", "tin", "oven_place", *(grouping.name for grouping in GROUPINGS))


@frozen(kw_only=True)
class Spot:
    """One thing found, before its check lends it a code, a severity and a reason.

    ``rows`` are all lines of the file that are meant, however few of them the message names.
    ``why`` stands in the place of the check's own reason where the case needs another one.
    """

    message: str
    fix: str
    rows: Collection[int] = ()
    column: str = ""
    why: str = ""


Find = Callable[[pd.DataFrame, Trial], Iterator[Spot]]


class Seen:
    """What the checks of one trial look at; loaves that count are told apart once and not for every
    check.
    """

    def __init__(self, trial: Trial) -> None:
        names = [*NAMED, *trial.factors]
        loaves = without_totals(trial.loaves, trial.findings)
        self.trial = replace(trial, loaves=with_coded_names(loaves, names))
        self.counted = self.trial.loaves if trial.void.empty else self.trial.counted

    def table(self, name: Table, void_too: bool) -> pd.DataFrame:
        """Return a table, without the void loaves unless they are to be looked at too."""
        if name == "loaves" and not void_too:
            return self.counted
        table = self.trial.table(name)
        return self.trial.loaves[:0] if table is None else table


def without_totals(loaves: pd.DataFrame, findings: Iterable[Finding]) -> pd.DataFrame:
    """Return the loaves without rows that are a mean or a total, as an error says already: nothing
    that they differ from the loaves in is a slip of its own.
    """
    totals = {
        line
        for f in findings
        if f.code == "row-of-totals" and f.severity == "error"
        for line in f.rows
    }
    return loaves[~loaves["line"].isin(totals)].reset_index(drop=True) if totals else loaves


@frozen(kw_only=True)
class Check:
    """One check. ``needs`` are the columns without which it is not asked.

    ``void_too`` says whether void loaves are looked at as well. Lines that a check named in
    ``after`` has already told are left out, so that one slip is told once.
    """

    code: str
    severity: Severity
    title: str
    why: str
    find: Find
    needs: tuple[str, ...] = ()
    table: Table = "loaves"
    void_too: bool = False
    after: tuple[str, ...] = ()

    def applies(self, trial: Trial) -> bool:
        """Return whether the trial has what this check looks at."""
        table = trial.table(self.table)
        return table is not None and all(name in table for name in self.needs)

    def run(self, seen: Seen, findings: Iterable[Finding] = ()) -> tuple[Finding, ...]:
        """Return what this check finds; ``findings`` are those of the checks that ran before."""
        told = {line for f in findings if f.code in self.after for line in f.rows}
        table = seen.table(self.table, self.void_too)
        table = table[~table["line"].isin(told)] if told else table
        file = seen.trial.files.get(self.table, "")
        return as_findings(self, self.find(table, seen.trial), file)


class Asks(Protocol):
    """What a check lends to all that it finds."""

    @property
    def code(self) -> str: ...
    @property
    def severity(self) -> Severity: ...
    @property
    def why(self) -> str: ...


def as_findings(one: Asks, spots: Iterable[Spot], file: str) -> tuple[Finding, ...]:
    """Return what a check found, with its code, severity and reason."""
    return tuple(
        Finding(
            code=one.code,
            severity=one.severity,
            message=spot.message,
            fix=spot.fix,
            why=spot.why or one.why,
            rows=distinct(spot.rows),
            file=file,
            column=spot.column,
        )
        for spot in spots
    )


def distinct(rows: Collection[int]) -> tuple[int, ...]:
    """Return line numbers in order, each once."""
    return tuple(np.unique(np.asarray(rows, dtype=np.int64)).tolist())


def first_paragraph(doc: str) -> str:
    """Return a docstring's first paragraph as one line: the question that a check asks."""
    return " ".join(doc.strip().split("\n\n")[0].split())


def check(
    code: str,
    severity: Severity,
    why: str,
    *,
    needs: Sequence[str] = (),
    table: Table = "loaves",
    void_too: bool = False,
    after: Sequence[str] = (),
) -> Callable[[Find], Check]:
    """Turn a function that yields spots into a Check; its docstring becomes the title."""

    def made(find: Find) -> Check:
        title = first_paragraph(find.__doc__ or "")
        return Check(
            code=code,
            severity=severity,
            title=title,
            why=why,
            find=find,
            needs=tuple(needs),
            table=table,
            void_too=void_too,
            after=tuple(after),
        )

    return made


def rows_where(table: pd.DataFrame, holds: pd.Series | NDArray) -> pd.DataFrame:
    """Return the rows that something is wrong with (n,); of most checks there are none, and none
    are copied.
    """
    return table[holds] if holds.any() else NO_ROWS


def places(rows: pd.DataFrame, say: Callable[[pd.Series], str]) -> str:
    """Return the lines of ``rows`` with what ``say`` has to say of each: ``line 4 (1520 g), line 9
    (3 g)``.
    """
    shown = [f"line {int(row['line'])} ({say(row)})" for _, row in rows.head(MOST_TOLD).iterrows()]
    return listed(shown, more=len(rows) - len(shown))


def plain(value: float, digits: int = 4) -> str:
    """Return a number as it stood in the file, or to four significant digits where it was worked
    out.
    """
    return f"{value:.{digits}g}" if abs(value) < 10**digits else f"{value:.0f}"
