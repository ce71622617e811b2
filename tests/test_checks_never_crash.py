"""Whatever stands in the tables, the checks answer and change nothing: an exception would be our
own fault.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from fairloaf.trials import TrialCard
from fairloaf.trials.checks import CHECKS, run_checks
from fairloaf.trials.fairness.check_list import describe_checks
from fairloaf.trials.findings import SEVERITIES
from hypothesis import given
from hypothesis import strategies as st

from .good_trial import good_records
from .simulated_bakes import as_trial

NUMBERS = st.one_of(
    st.none(), st.floats(allow_nan=True, allow_infinity=True), st.sampled_from([0.0, -1.0, 402.0])
)
TEXTS = st.one_of(
    st.none(), st.sampled_from(["house", "House", "1", "=1+1", "", "ﬁne"]), st.text(max_size=4)
)
LOAF_TEXTS = ("loaf", "mix", "day", "formula", "tin", "void", "oven_load", "baker")
LOAF_NUMBERS = (
    "dough_g",
    "loaf_g",
    "loaf_ml",
    "box_ml",
    "seed_ml",
    "height_mm",
    "proof_min",
    "dough_temp_c",
    "cool_min",
    "bake_order",
    "measure_order",
    "crumb_open",
    "crumb_even",
)


@st.composite
def tables(draw: st.DrawFn, texts: tuple[str, ...], numbers: tuple[str, ...]) -> pd.DataFrame:
    n = draw(st.integers(0, 14))
    chosen = draw(st.lists(st.sampled_from(texts + numbers), unique=True))
    return pd.DataFrame(
        {
            name: pd.Series(
                draw(st.lists(NUMBERS if name in numbers else TEXTS, min_size=n, max_size=n)),
                dtype=float if name in numbers else object,
            )
            for name in chosen
        },
        index=range(n),
    ).assign(line=lambda table: np.arange(2, n + 2))


@given(
    tables(LOAF_TEXTS, LOAF_NUMBERS),
    tables(("loaf", "assessor", "attribute", "repeat"), ("score", "order")),
    tables(("loaf",), ("loaf_ml",)),
    st.booleans(),
)
def test_any_tables_are_answered_and_left_alone(loaves, scores, readings, with_card):
    card = good_records().card if with_card else TrialCard()
    trial = as_trial(loaves.drop(columns="line"), card, scores=scores, readings=readings)
    before = [table.copy(deep=True) for table in (trial.loaves, scores, readings)]
    with np.errstate(all="ignore"):
        findings = run_checks(trial)
    assert all(
        f.severity in SEVERITIES and f.message.endswith((".", ")")) and f.fix and f.why
        for f in findings
    )
    for was, now in zip(before, (trial.loaves, scores, readings), strict=True):
        pd.testing.assert_frame_equal(was, now)


def test_findings_come_worst_first_and_then_in_the_order_of_the_file():
    records = good_records()
    records.loaves.loc[12, "loaf"] = "L001"
    records.loaves.loc[3, "cool_min"] = 20.0
    records.loaves.loc[20, "loaf_g"] *= 10
    assert [(f.severity, f.rows[0]) for f in records.findings()] == [
        ("error", 2),
        ("error", 22),
        ("warning", 5),
    ]


def test_a_void_loaf_is_left_out_of_value_checks_but_not_of_its_number():
    records = good_records()
    records.loaves.loc[9, "loaf_g"] *= 1000
    records.loaves.loc[9, "void"] = "fell on the floor"
    assert [finding.code for finding in records.findings()] == ["loaves-void"]
    records.loaves.loc[9, "loaf"] = "L001"
    assert [f.code for f in records.findings()] == ["loaf-twice", "loaves-void"]


def test_messages_stay_short_and_rows_whole_when_much_is_wrong():
    records = good_records()
    records.loaves["loaf_g"] = records.loaves["dough_g"] + 5
    found = next(f for f in records.findings() if f.code == "gained-in-oven")
    assert len(found.rows) == 32
    assert found.message.endswith(" and 22 more.")


def test_what_is_not_recorded_is_not_asked():
    trial = as_trial(pd.DataFrame({"loaf": ["1", "2"], "formula": ["a", "b"]}), TrialCard())
    assert [found.code for found in run_checks(trial)] == ["nothing-measured"]
    codes = {check.code for check in CHECKS if not check.applies(trial)}
    assert {"gained-in-oven", "score-off-scale", "readings-apart"} <= codes
    assert "loaf-twice" not in codes


def test_every_check_has_a_code_of_its_own_a_question_and_a_reason():
    """A code may be asked of two tables (servings and ticked words), with one severity."""
    listed = describe_checks()
    assert not listed.duplicated(["code", "title"]).any()
    assert (listed.groupby("code")["severity"].nunique() == 1).all()
    assert listed["title"].str.endswith("?").all()
    assert listed["why"].str.endswith(".").all()
    assert set(listed["severity"]) == set(SEVERITIES)
