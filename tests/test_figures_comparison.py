"""The pictures of a comparison: what is drawn, and the words in them."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas
from fairloaf.analysis.figures.comparison import interval_against_zones, loaves_by_mix
from fairloaf.analysis.figures.style import BLUE, VERMILION
from fairloaf.trials.words.numbers import ENGLISH
from matplotlib.colors import to_hex

from .bakes import as_trial, bake


@pytest.fixture(scope="module")
def trial():
    return as_trial(bake())


@pytest.fixture(scope="module")
def compared(trial):
    return compare_formulas(trial)


def test_the_interval_lies_where_its_numbers_are(compared):
    axes = interval_against_zones(compared, style=ENGLISH).figure.axes[0]
    bars = [line for line in axes.lines if line.get_linewidth() == 3]
    assert [list(bar.get_xdata()) for bar in bars] == [[compared.ci_low, compared.ci_high]]
    zone = axes.patches[0].get_extents().transformed(axes.transData.inverted())
    assert (zone.x0, zone.x1) == pytest.approx((-0.2, 0.2))


def test_words_stand_in_the_picture_as_text(compared):
    svg = interval_against_zones(compared, style=ENGLISH).svg()
    for words in ("malted less house", "too small to matter", "Difference in specific volume"):
        assert words in svg
    assert f'aria-label="{interval_against_zones(compared, style=ENGLISH).alt}"' in svg


def test_every_loaf_is_a_dot_in_its_mixs_row(trial, compared):
    axes = loaves_by_mix(compared, trial.counted, style=ENGLISH).figure.axes[0]
    (dots,) = axes.collections
    drawn = pd.DataFrame(dots.get_offsets(), columns=["value", "row"])
    assert np.allclose(np.sort(drawn["value"]), np.sort(trial.loaves["specific_volume"]))
    names = [label.get_text() for label in axes.get_yticklabels()]
    assert names == ["H1", "H2", "H3", "H4", "house", "M1", "M2", "M3", "M4", "malted"]
    for row, name in zip(axes.get_yticks(), names, strict=True):
        own = trial.loaves.loc[trial.loaves["mix"] == name, "specific_volume"]
        assert sorted(drawn.loc[drawn["row"] == row, "value"]) == pytest.approx(sorted(own))


@pytest.mark.parametrize("days", [6, 12])
def test_twelve_mixes_are_told_apart(days):
    """Twelve have a row and a name each, and no name touches the next; twelve of each formula have
    a row each.
    """
    table = bake(days=days)
    trial = as_trial(table)
    picture = loaves_by_mix(compare_formulas(trial), trial.counted, style=ENGLISH)
    axes = picture.figure.axes[0]
    (dots,) = axes.collections
    rows = pd.Series(np.asarray(dots.get_offsets())[:, 1])
    assert rows.nunique() == table["mix"].nunique() == 2 * days
    picture.figure.canvas.draw()
    shown = {label.get_text(): label.get_window_extent() for label in axes.get_yticklabels()}
    assert (set(table["mix"]) <= set(shown)) == (days == 6)
    boxes = sorted(shown.values(), key=lambda box: box.y0)
    assert all(lower.y1 <= upper.y0 for lower, upper in pairwise(boxes))


def test_a_formula_keeps_its_colour_shape_and_fill_in_every_dot(trial, compared):
    axes = loaves_by_mix(compared, trial.counted, style=ENGLISH).figure.axes[0]
    (dots,) = axes.collections
    house = axes.get_yticks()[4]
    malted = dots.get_offsets()[:, 1] > house
    edges = [to_hex(colour).upper() for colour in dots.get_edgecolors()]
    assert edges == [VERMILION if each else BLUE for each in malted]
    faces = [to_hex(colour).upper() for colour in dots.get_facecolors()]
    assert faces == ["#FFFFFF" if each else BLUE for each in malted]
    corners = [len(path.vertices) for path in dots.get_paths()]
    assert len(set(np.array(corners)[malted])) == len(set(np.array(corners)[~malted])) == 1
    assert len(set(corners)) == 2


def test_loaves_that_were_left_out_are_not_drawn():
    table = bake().assign(void=None)
    table.loc[0, "specific_volume"] = np.nan
    trial = as_trial(table)
    (dots,) = (
        loaves_by_mix(compare_formulas(trial), trial.counted, style=ENGLISH)
        .figure.axes[0]
        .collections
    )
    assert len(dots.get_offsets()) == 31


def test_levels_are_drawn_no_differently_where_they_seem_to_differ(compared):
    levels = compared.by_level.assign(interacts=True)
    axes = interval_against_zones(replace(compared, by_level=levels), style=ENGLISH).figure.axes[0]
    assert [label.get_text() for label in axes.get_yticklabels()] == ["malted less house"]


def test_without_an_interval_only_the_difference_is_drawn(trial, compared):
    bare = replace(compared, ci_low=np.nan, ci_high=np.nan)
    axes = interval_against_zones(bare, style=ENGLISH).figure.axes[0]
    means = compared.means.assign(ci_low=np.nan, ci_high=np.nan)
    assert (
        "its mean with the likely range"
        in loaves_by_mix(compared, trial.counted, style=ENGLISH).alt
    )
    assert (
        "its mean. " in loaves_by_mix(replace(bare, means=means), trial.counted, style=ENGLISH).alt
    )
    assert not [line for line in axes.lines if line.get_linewidth() == 3]


def test_many_mixes_close_up_and_lose_their_names():
    trial = as_trial(bake(days=12))
    picture = loaves_by_mix(compare_formulas(trial), trial.counted, style=ENGLISH)
    assert picture.figure.get_size_inches()[1] < 4
    assert "H12" not in picture.svg()
