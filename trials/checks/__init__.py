"""Whether the records can be trusted: every check in one visible tuple, and the function that asks them all."""

from __future__ import annotations

import pandas as pd

from ..trial import SEVERITIES, Finding, Trial
from .check import Check, Spot, check

__all__ = ["CHECKS", "Check", "Spot", "check", "describe_checks", "not_asked", "run_checks"]

CHECKS: tuple[Check, ...] = ()


def run_checks(trial: Trial) -> tuple[Finding, ...]:
    """Return everything that the checks find in a trial: worst first, then in the order of the file."""
    findings: list[Finding] = []
    for one in CHECKS:
        if one.applies(trial):
            findings += one.run(trial, findings)
    return worst_first(findings)


def worst_first(findings: list[Finding] | tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return findings by severity, then by file and first line."""
    return tuple(sorted(findings, key=lambda f: (SEVERITIES.index(f.severity), f.file, min(f.rows, default=0))))


def describe_checks() -> pd.DataFrame:
    """Return all checks as a table: code, severity, title, why, and the columns that each needs."""
    return pd.DataFrame(
        [(c.code, c.severity, c.title, c.why, ", ".join(c.needs)) for c in CHECKS],
        columns=["code", "severity", "title", "why", "needs"],
    )


def not_asked(trial: Trial) -> tuple[Check, ...]:
    """Return the checks that this trial has nothing for: a column or a table that they need is not there."""
    return tuple(one for one in CHECKS if not one.applies(trial))
