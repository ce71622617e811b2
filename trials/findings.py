"""What is said of records: a finding, the error that tells all of them at once, a table with what
was noted of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from typing import TYPE_CHECKING, Any, Literal

from .frozen import frozen

if TYPE_CHECKING:
    import pandas as pd

Severity = Literal["error", "warning", "note"]
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")


@frozen(kw_only=True)
class Finding:
    """One thing that a check has to say about the records.

    ``code`` never changes from version to version; ``message`` says what is there, ``why`` why it
    matters and ``fix`` what to do. ``rows`` are lines of ``file`` as an editor counts them, the
    header included.
    """

    code: str
    severity: Severity
    message: str
    fix: str
    why: str = ""
    rows: tuple[int, ...] = ()
    file: str = ""
    column: str = ""

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        return asdict(self) | {"rows": list(self.rows)}


class TrialError(Exception):
    """The records cannot be analysed as they are: every reason at once, each with its place and its
    fix.
    """

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("\n".join(f"{f.message} {f.fix}".strip() for f in self.findings))

    def __reduce__(self) -> tuple[type[TrialError], tuple[tuple[Finding, ...]]]:
        """Return what it is made from, for another process."""
        return type(self), (self.findings,)

    @classmethod
    def one(cls, code: str, message: str, fix: str, **where: Any) -> TrialError:
        """Return an error with a single finding."""
        return cls([Finding(code=code, severity="error", message=message, fix=fix, **where)])


@contextmanager
def gathering(faults: list[Finding]) -> Iterator[None]:
    """Add the findings of a TrialError to ``faults`` in place of stopping there, so that what comes
    after can tell its own too.
    """
    try:
        yield
    except TrialError as stopped:
        faults += stopped.findings


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return the findings with errors before warnings before notes, otherwise in the order
    given.
    """
    return tuple(sorted(findings, key=lambda finding: SEVERITIES.index(finding.severity)))


@frozen(kw_only=True)
class NotedTable:
    """A table with what was taken for granted and found in making it."""

    frame: pd.DataFrame
    assumptions: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
