"""The loaves in the order of baking: the line, its picture and its sentence."""

import pandas as pd
import pytest
from fairloaf.analysis.factors.baking_order import baking_order
from fairloaf.analysis.figures.order import loaves_in_order
from fairloaf.analysis.wording.report import drift_sentence
from fairloaf.trials import Trial, TrialCard
from fairloaf.trials.words.numbers import ENGLISH, NumberStyle


def ordered(slope, n=12, order=True):
    """Return the baking order of loaves that rise by ``slope`` from each to the next."""
    loaves = pd.DataFrame(
        {
            "line": range(2, n + 2),
            "loaf": [str(i) for i in range(n)],
            "formula": ["house", "malted"] * (n // 2),
        }
    )
    if order:
        loaves["bake_order"] = [float(i + 1) for i in range(n)]
    left_over = pd.DataFrame(
        {"line": loaves["line"], "residual": [slope * i + (-1) ** (i // 2) for i in range(n)]}
    )
    return baking_order(Trial(name="t", card=TrialCard(), loaves=loaves), "height_mm", left_over)


def test_the_line_is_least_squares():
    # Slope of least squares, sum of (x − mean) y over sum of (x − mean)²: Box, Hunter and Hunter
    # 2005, ch. 10.
    found = ordered(0.5)
    i = range(12)
    wiggle = [(-1) ** (k // 2) for k in i]
    by_hand = 0.5 + sum((k - 5.5) * w for k, w in zip(i, wiggle, strict=True)) / sum(
        (k - 5.5) ** 2 for k in i
    )
    assert found.slope == pytest.approx(by_hand)
    assert found.line(found.middle) == 0


@pytest.mark.parametrize(
    ("slope", "way"), [(0.8, "rises by"), (-0.8, "falls by"), (0.0839, "stays level")]
)
def test_the_sentence_says_which_way(slope, way):
    assert way in drift_sentence(ordered(slope), "Height", "mm", style=ENGLISH)


def test_the_picture_shows_each_formula_and_speaks_the_readers_numbers():
    picture = loaves_in_order(ordered(0.55), "Height", "mm", NumberStyle(",", "en-DE"))
    assert "house" in picture.svg()
    assert "malted" in picture.svg()
    assert picture.alt == drift_sentence(ordered(0.55), "Height", "mm", NumberStyle(",", "en-DE"))


def test_no_order_or_too_few_loaves_no_picture():
    assert ordered(0.5, order=False) is None
    assert ordered(0.5, n=4) is None
