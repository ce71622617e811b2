"""All checks as a table: those of the records, then those of two formulas against the
conditions.
"""

from __future__ import annotations

import pandas as pd

from ..checks import CHECKS
from .fairness import FAIRNESS


def describe_checks() -> pd.DataFrame:
    """Return all checks as a table: code, severity, title, why, and what each needs.

    Those of the records come first, then those that are asked when two formulas are compared.
    """
    rows = [(c.code, c.severity, c.title, c.why, ", ".join(c.needs)) for c in CHECKS]
    rows += [(c.code, c.severity, c.title, c.why, "two formulas") for c in FAIRNESS]
    return pd.DataFrame(rows, columns=["code", "severity", "title", "why", "needs"])
