"""Whatever the records: an answer or a refusal in words, never another exception, and always plain
data.
"""

import json

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas
from fairloaf.analysis.wording.comparison import comparison_text
from fairloaf.trials import Trial, TrialError
from fairloaf.trials.card import Tin
from fairloaf.trials.words.numbers import ENGLISH

from .bakes import as_trial
from .seeds import seeds


def messy(seed: int) -> Trial:
    """One to four formulas on one to four days; some loaves, cells and columns are missing, loads
    at random.
    """
    rng = np.random.default_rng(seed)
    formulas, days, mixes, loaves = (
        rng.integers(1, 5),
        rng.integers(1, 5),
        rng.integers(1, 3),
        rng.integers(1, 5),
    )
    rows = [
        (f"d{d}", f"F{f}", f"d{d}F{f}m{m}", ("open", "lidded")[loaf % 2])
        for d in range(days)
        for f in range(formulas)
        for m in range(mixes)
        for loaf in range(loaves)
    ]
    table = pd.DataFrame(rows, columns=["day", "formula", "mix", "tin"])
    n = len(table)
    table = table.assign(
        proof_min=rng.choice([45.0, 60.0, 75.0], n),
        baker=rng.choice(["a", "b"], n),
        oven_load=rng.choice(list("123"), n),
        loaf_ml=1500 + rng.normal(0, 50, n).round(),
        specific_volume=(4 + rng.normal(0, 0.1, n)).round(2),
        dough_temp_c=26 + rng.normal(0, 1, n),
        bake_order=rng.permutation(n) + 1.0,
        cool_min=rng.choice([100.0, 150.0], n),
        loaf=[f"L{i}" for i in range(n)],
    )[rng.random(n) > rng.choice([0, 0.1, 0.4])].reset_index(drop=True)
    for name in table.columns.drop(["loaf", "formula"]):
        if rng.random() < 0.15:
            table.loc[rng.random(len(table)) < 0.2, name] = np.nan
        if rng.random() < 0.1 and name != "specific_volume":
            table = table.drop(columns=name)
    lids = (
        {"open": Tin(volume_ml=1600), "lidded": Tin(volume_ml=1600, lid=True)}
        if rng.random() < 0.5
        else {}
    )
    changed = tuple(factor for factor in ("formula", "tin", "proof_min") if rng.random() < 0.8)
    return as_trial(
        table,
        changed=changed,
        tins=lids,
        matters=(None, 0.1)[rng.integers(2)],
        control=(None, "F0")[rng.integers(2)],
        proof_to=(None, "time", "height")[rng.integers(3)],
    )


@pytest.mark.parametrize("seed", seeds(range(10), 5))
def test_messy_records_are_answered_or_refused_in_words(seed):
    compared = findings = None
    try:
        compared = compare_formulas(messy(seed))
    except TrialError as stop:
        findings = stop.findings
    if compared is None:
        assert findings
        assert all(finding.message and finding.fix for finding in findings)
        return
    assert (
        json.loads(json.dumps(compared.to_dict(), allow_nan=False))["verdict"] == compared.verdict
    )
    assert comparison_text(compared, style=ENGLISH).startswith(compared.sentence)
    assert "nan" not in comparison_text(compared, style=ENGLISH).lower().split()
