"""The verdict: five cases that exclude one another, by the interval alone (methods, part 5)."""

import json
import math
from pathlib import Path

import pytest
from fairloaf.analysis.verdict import verdict
from hypothesis import given
from hypothesis import strategies as st

EXPECTED = json.loads((Path(__file__).parent / "reference" / "expected.json").read_text("utf-8"))


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0.20, 0.50, "matters"),
        (-0.50, -0.20, "matters"),
        (0.12, 0.50, "real, size unsure"),
        (-0.50, -0.12, "real, size unsure"),
        (0.05, 0.20, "real, size unsure"),
        (0.05, 0.15, "real but small"),
        (-0.15, -0.05, "real but small"),
        (-0.10, 0.15, "no difference that matters"),
        (0.0, 0.15, "no difference that matters"),
        (-0.10, 0.20, "not settled"),
        (-0.60, 0.50, "not settled"),
        (math.nan, math.nan, "not settled"),
    ],
)
def test_the_five_cases_with_020(low, high, said):
    assert verdict(low, high, 0.20) == said


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0.1, 0.9, "real, size unsure"),
        (-0.1, 0.9, "not settled"),
        (-0.001, 0.001, "not settled"),
        (math.nan, math.nan, "not settled"),
    ],
)
def test_without_what_matters_there_are_only_two(low, high, said):
    assert verdict(low, high, None) == said


# Two groups of 15, margin 0.6: the 90 % interval lies inside (p 0.048), the 95 % one does not.
# Schuirmann 1987; numbers in statsmodels' tests of two one-sided tests, from the R package
# equivalence.
def test_equivalence_example():
    pooled = next(e for e in EXPECTED if e["name"] == "equivalence_two_groups")["expected"][
        "pooled"
    ]
    assert pooled["p_value"] < 0.05
    assert verdict(*pooled["ci_90"], 0.6) == "no difference that matters"
    assert verdict(*pooled["ci_95"], 0.6) == "not settled"


numbers = st.floats(-10, 10, allow_subnormal=False)  # half of the smallest of these is zero


@given(numbers, numbers, st.floats(0.01, 5))
def test_turning_the_question_round_changes_nothing(one, other, matters):
    low, high = sorted((one, other))
    assert verdict(low, high, matters) == verdict(-high, -low, matters)


@given(numbers, numbers, st.floats(0.01, 5), st.integers(-3, 3))
def test_the_unit_does_not_matter(one, other, matters, power):
    low, high = sorted((one, other))
    assert verdict(low * 2.0**power, high * 2.0**power, matters * 2.0**power) == verdict(
        low, high, matters
    )
