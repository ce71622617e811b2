"""A trial straight from a table, for published data that is no file of loaves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd
from fairloaf.trials import Trial, TrialCard

REFERENCE = Path(__file__).parent / "reference"


def reference_table(name: str) -> pd.DataFrame:
    """Return a table of tests/reference; where it is from stands in the README there."""
    return pd.read_csv(REFERENCE / name)


def trial_from(
    table: pd.DataFrame,
    measure: str,
    factors: Sequence[str],
    columns: Mapping[str, str] | None = None,
    numbers: Sequence[str] = (),
    **card: Any,
) -> Trial:
    """Return a trial whose loaves are the table's rows.

    columns : canonical name → column of the table, as under [columns] on a card. numbers : factors
        that stay
        numbers.
    """
    loaves = table.rename(columns={header: name for name, header in (columns or {}).items()})
    texts = [name for name in loaves if name not in (measure, *numbers)]
    loaves = loaves.astype(dict.fromkeys(texts, str) | dict.fromkeys((measure, *numbers), float))
    loaves = loaves.assign(line=range(2, len(loaves) + 2))
    return Trial(
        name="published",
        card=TrialCard(measure=measure, columns=columns or {}, **card),
        loaves=loaves,
        factors=tuple(factors),
    )
