"""What the checks found, for people: a table on a terminal, lines for a pipe; and the list of all
checks.
"""

from __future__ import annotations

import sys
import unicodedata
from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from ...trials.findings import SEVERITIES, Finding
from ...trials.words.lists import counted, listed

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

    from ...trials.writing.tidy import TidyCopy

HEADINGS = {
    "error": "Errors: the answer waits until these are put right",
    "warning": "Warnings: these stay beside the answer",
    "note": "Notes",
}
REPLACED = "\N{REPLACEMENT CHARACTER}"
MOST_SHOWN = 20  # findings on one screen
MOST_PLACES = 4  # line numbers beside a finding on a screen
MOST_LINES = 20  # line numbers of a finding in a pipe
MOST_CHANGES = 8  # changes of a tidy copy that are shown


def print_findings(
    findings: Sequence[Finding],
    assumptions: Sequence[str] = (),
    *,
    name: str,
    n_loaves: int,
    console: Console | None = None,
) -> None:
    """Print a headline and the findings: as a table on a terminal, as a line each
    (``findings_lines``) in a pipe, and not at all where standard output is closed.
    """
    out = console.file if console else sys.stdout  # None where it is closed
    if not (console.is_terminal if console else out and out.isatty()):
        assumed = [f"assumed\t{plain_text(said)}" for said in assumptions]
        for line in [headline(findings, name, n_loaves), *findings_lines(findings), *assumed]:
            print(line, file=out)
        return
    from rich.console import Console  # only now: a pipe must not wait for tables

    console = console or Console(highlight=False, markup=False, emoji=False)
    console.print(headline(findings, name, n_loaves))
    _print_tables(findings, console)
    for said in assumptions:
        console.print(f"Assumed: {plain_text(said)}", style="dim")


def print_stop(findings: Sequence[Finding], console: Console | None = None) -> None:
    """Print why the records stop the analysis to the error channel: as a table on a terminal, as a
    line each in a pipe.
    """
    from rich.console import Console

    console = console or Console(stderr=True, highlight=False, markup=False, emoji=False)
    if console.is_terminal:
        _print_tables(findings, console)
        return
    for line in findings_lines(findings):
        console.file.write(f"{line}\n")


def _print_tables(findings: Sequence[Finding], console: Console) -> None:
    """Print a table for each severity, and how many more there are."""
    shown = findings[:MOST_SHOWN]
    for severity, group in groupby(shown, key=lambda found: found.severity):
        console.print(findings_table(HEADINGS[severity], list(group)))
    if len(findings) > len(shown):
        console.print(
            f"and {len(findings) - len(shown)} more: put these right first, or see all with  --json"
        )


def headline(findings: Sequence[Finding], name: str, n_loaves: int) -> str:
    """Return one sentence: how many loaves were looked at, and how much was found."""
    loaves = f"{plain_text(name)}: {counted(n_loaves, 'loaf', 'loaves')}"
    counts = [
        (sum(found.severity == severity for found in findings), severity) for severity in SEVERITIES
    ]
    told = [counted(n, severity) for n, severity in counts if n]
    return (
        f"{loaves}, {listed(told)}."
        if told
        else f"{loaves}, and nothing to say against the records."
    )


def findings_table(heading: str, findings: Sequence[Finding]) -> Table:
    """Return findings of one severity as a table: where, what and why, what to do."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    table = Table(
        title=heading,
        title_justify="left",
        title_style="bold",
        box=box.SIMPLE_HEAD,
        expand=True,
        show_edge=False,
        pad_edge=False,
    )
    table.add_column("Where", ratio=2)
    table.add_column("What, and why it matters", ratio=6)
    table.add_column("What to do", ratio=4)
    for found in findings:
        what = Text(plain_text(found.message))
        what.append(f"\n{plain_text(found.why)}" if found.why else "", style="dim")
        where = Text(plain_text(found.file))
        where.append(
            "".join(f"\n{part}" for part in (lines_of(found), plain_text(found.column)) if part)
        )
        fix = "\n".join(plain_text(line) for line in found.fix.splitlines())
        table.add_row(where, what, Text(fix))
    return table


def findings_lines(findings: Iterable[Finding]) -> list[str]:
    """Return findings as one line each, tabs between: severity, file:lines, column, code, what,
    what to do.
    """
    return [
        "\t".join(
            map(
                plain_text,
                (
                    found.severity,
                    place_of(found),
                    found.column,
                    found.code,
                    found.message,
                    found.fix,
                ),
            )
        )
        for found in findings
    ]


def with_warnings(text: str, findings: Iterable[Finding]) -> str:
    """Return an answer with the warnings of the records below it, one line each."""
    told = [
        f"Warning: {plain_text(f.message)} {plain_text(f.fix)}"
        for f in findings
        if f.severity == "warning"
    ]
    return "\n".join([text, "", *told]) if told else text


def place_of(found: Finding) -> str:
    """Return the file and the first lines as one word: ``loaves.csv:4,7``,
    ``loaves.csv:4,7,+180``.
    """
    numbers = [str(row) for row in found.rows[:MOST_LINES]]
    more = [f"+{len(found.rows) - len(numbers)}"] if len(found.rows) > len(numbers) else []
    return f"{found.file}:{','.join([*numbers, *more])}".strip(":")


def lines_of(found: Finding) -> str:
    """Return the first lines of a finding: ``line 4``, ``lines 4, 7, 9, 12 …``."""
    if not found.rows:
        return ""
    numbers = ", ".join(str(row) for row in found.rows[:MOST_PLACES])
    return (
        f"line{'' if len(found.rows) == 1 else 's'}"
        f" {numbers}{' …' if len(found.rows) > MOST_PLACES else ''}"
    )


def plain_text(text: object) -> str:
    """Return text on one line, without the control characters that a cell may smuggle into a
    terminal.
    """
    words = " ".join(str(text).split())
    return "".join(REPLACED if unicodedata.category(sign)[0] == "C" else sign for sign in words)


def checks_text(checks: pd.DataFrame) -> str:
    """Return the list of all checks: code, severity, the question that it asks, and why."""
    width = int(checks["code"].str.len().max())
    return "\n".join(
        f"{row.code:<{width}}  {row.severity:<7}  {row.title}\n{'':<{width}}           {row.why}"
        for row in checks.itertuples()
    )


def tidy_text(copy: TidyCopy, out: Path) -> str:
    """Return what was changed for a clean copy, the first changes one by one."""
    from ...trials.writing.tidy import changes_path

    changes = copy.changes
    log = changes_path(out)
    if changes.empty:
        return f"{out} is a copy of {copy.file}; nothing had to be changed."
    told = [
        "  " + plain_text(f"{_place_of_change(row)}: {row.was!r} → {row.now!r} ({row.why})")
        for row in changes.head(MOST_CHANGES).itertuples()
    ]
    more = [f"  and {len(changes) - len(told)} more"] if len(changes) > len(told) else []
    changed = f"{len(changes)} change{'' if len(changes) == 1 else 's'}"
    return "\n".join(
        [f"{out} is a clean copy of {copy.file} with {changed}, all in {log}:", *told, *more]
    )


def _place_of_change(row: Any) -> str:
    return f"line {row.line}, {row.column}" if row.column else f"line {row.line}"
