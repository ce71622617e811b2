"""One trial, one answer: the order of rows and columns and the names of things change nothing,
whatever is asked.
"""

import math
from typing import Any

import pytest
from fairloaf.analysis import compare_formulas, factor_effects
from fairloaf.trials import Trial, TrialError

from .random_trials import random_trial, reordered
from .seeds import seeds

SEEDS = seeds(range(300, 304), 2)
UNORDERED = {"table", "findings", "left_out", "hangs_on", "relations", "loaves", "mixes", "strange"}
PER_LOAF = frozenset({"labels"})  # one row a loaf, numbered as they come


def answered(ask: Any, trial: Trial) -> Any:
    """The result as plain data, or the codes for which it was refused."""
    try:
        return ask(trial).to_dict()
    except TrialError as stop:
        return sorted(finding.code for finding in stop.findings)


def differences(
    one: Any, other: Any, skip: frozenset[str] = PER_LOAF, where: str = ""
) -> list[str]:
    """Where two results differ, beyond rounding."""
    if isinstance(one, dict) and isinstance(other, dict):
        found = (
            [] if one.keys() == other.keys() else [f"{where}: {sorted(one.keys() ^ other.keys())}"]
        )
        for key in one.keys() & other.keys() - skip:
            a, b = one[key], other[key]
            if key in UNORDERED and isinstance(a, list) and isinstance(b, list):
                a, b = sorted(a, key=_names_only), sorted(b, key=_names_only)
            found += differences(a, b, skip, f"{where}/{key}")
        return found
    if isinstance(one, list) and isinstance(other, list):
        if len(one) != len(other):
            return [f"{where}: {len(one)} and {len(other)} rows"]
        return [
            line
            for i, (a, b) in enumerate(zip(one, other, strict=True))
            for line in differences(a, b, skip, f"{where}/{i}")
        ]
    if isinstance(one, float) and isinstance(other, float):
        return (
            []
            if math.isclose(one, other, rel_tol=1e-4, abs_tol=1e-6)
            else [f"{where}: {one} and {other}"]
        )
    # levels as they come
    if where.endswith("_value") and isinstance(one, str) and isinstance(other, str):
        one, other = sorted(one.split(", ")), sorted(other.split(", "))
    return [] if one == other else [f"{where}: {one!r} and {other!r}"]


def _names_only(row: Any) -> str:
    """A row's texts and whole numbers, which rounding cannot touch."""
    return (
        str({k: v for k, v in row.items() if not isinstance(v, float)})
        if isinstance(row, dict)
        else str(row)
    )


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("ask", [compare_formulas, factor_effects], ids=["compare", "factors"])
def test_the_order_of_rows_and_columns_changes_nothing(ask, seed):
    trial = random_trial(seed)
    assert differences(answered(ask, trial), answered(ask, reordered(trial, seed))) == []
