"""All checks as a table: those of the records, then those of two formulas against the
conditions.
"""

from __future__ import annotations

import pandas as pd

from ..checks import CHECKS, Check
from .fair_check import FairCheck
from .fairness import FAIRNESS

# Every check there is, in the order in which they are asked: those of the records, then those of
# two formulas that are compared.
EVERY_CHECK: tuple[Check | FairCheck, ...] = (*CHECKS, *FAIRNESS)


def describe_checks() -> pd.DataFrame:
    """Return all checks as a table: code, severity, title, why, and what each needs."""
    rows = [(one.code, one.severity, one.title, one.why, _needs(one)) for one in EVERY_CHECK]
    return pd.DataFrame(rows, columns=["code", "severity", "title", "why", "needs"])


def _needs(one: Check | FairCheck) -> str:
    return ", ".join(one.needs) if isinstance(one, Check) else "two formulas"
