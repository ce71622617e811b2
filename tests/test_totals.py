"""Rows and columns that are no loaf but a mean, a total or the like: by their words and by their
numbers.
"""

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials.reading.totals import is_summary, rows_of_totals


def table(seed=1):
    """Return 24 invented loaves of two formulas, as they were read."""
    draw = np.random.default_rng(seed)
    return pd.DataFrame(
        {
            "loaf": [str(n) for n in range(1, 25)],
            "formula": ["house"] * 12 + ["malted"] * 12,
            "mix": [f"M{n // 3}" for n in range(24)],
            "dough_g": draw.normal(450, 2, 24).round(),
            "loaf_g": draw.normal(401, 3, 24).round(1),
            "loaf_ml": draw.normal(1600, 30, 24).round(),
            "line": range(2, 26),
        }
    )


def with_row(loaves, statistic, **labels):
    """Return the loaves with a row of one statistic of their measurements below."""
    row = {
        name: round(float(statistic(loaves[name])), 2) for name in ("dough_g", "loaf_g", "loaf_ml")
    }
    return pd.concat(
        [loaves, pd.DataFrame([{"formula": "malted", "mix": "M7", **row, **labels, "line": 26}])],
        ignore_index=True,
    )


@pytest.mark.parametrize(
    "label",
    [
        "Avg.",
        "Ø",
        "x\u0304",
        "Mittelwert",
        "Durchschnitt:",
        "Moyenne",
        "Promedio",
        "Media",
        "gemiddelde",
        "平均",
        "Summe",
        "Std dev",
        "SD",
        "Écart-type",
        "Min",
        "MAX.",
        "Range",
        "CV %",
        "Sub-total",
        "Mean house",
        "house, mean",
        "Σ",
    ],
)
@pytest.mark.parametrize("column", ["loaf", "formula", "mix"])
def test_a_row_is_known_by_its_word(label, column):
    loaves = with_row(table(), lambda values: 7.0, **{"loaf": "25", column: label})
    (finding,) = rows_of_totals(loaves, "loaves.csv")
    assert (finding.code, finding.severity, finding.rows) == ("row-of-totals", "error", (26,))


@pytest.mark.parametrize(
    "statistic", [np.mean, np.sum, lambda v: np.std(v, ddof=1)], ids=["mean", "sum", "sd"]
)
def test_a_row_is_known_by_its_numbers(statistic):
    (finding,) = rows_of_totals(with_row(table(), statistic, loaf="25"), "loaves.csv")
    assert (finding.severity, finding.rows) == ("error", (26,))
    assert "of the loaves above it, in every column of measurements" in finding.message


@pytest.mark.parametrize("statistic", [np.min, np.max])
def test_the_smallest_and_the_largest_are_known_under_an_odd_label(statistic):
    (finding,) = rows_of_totals(with_row(table(), statistic, loaf="zz"), "loaves.csv")
    assert finding.rows == (26,)


@pytest.mark.parametrize(
    "names", [("house", "malted"), ("Max", "Min"), ("Total rye", "mean green"), ("s", "n")]
)
def test_sound_loaves_are_no_totals(names):
    """Also where a formula is called like one."""
    for seed in range(12):
        loaves = table(seed)
        loaves["formula"] = loaves["formula"].map(
            dict(zip(("house", "malted"), names, strict=True))
        )
        assert rows_of_totals(loaves, "loaves.csv") == []


@pytest.mark.parametrize("text", ["", "12", "house", "Ana", "Total rye 3", "open"])
def test_other_words_are_no_totals(text):
    assert not is_summary(text, {"Total rye"})
