"""The pictures of crumb scores show what the result says, in the surest order, in shapes as well as
colours.
"""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import crumb_scores
from fairloaf.analysis.figures.crumb import assessors_side_by_side, attribute_profile, raw_scores
from fairloaf.trials.words.numbers import ENGLISH
from matplotlib.colors import to_hex, to_rgb

from .score_trials import invented

PICTURES = (attribute_profile, raw_scores, assessors_side_by_side)


@pytest.fixture(scope="module")
def result():
    return crumb_scores(
        invented(
            {"evenness": 0.0, "openness": 3.0, "softness": 1.0},
            words={"openness": {"1": "closed", "10": "very open"}},
        )
    )


def rows_of(axes):
    return [text.get_text() for text in axes.get_yticklabels()]


def marks(axes):
    """Return (x, y) of every lone mark."""
    return {
        (float(x), round(float(y), 6))
        for line in axes.lines
        if line.get_linestyle() == "None"
        for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
    }


def test_profile_has_the_surest_attribute_on_top(result):
    axes = attribute_profile(result, style=ENGLISH).figure.axes[0]
    assert rows_of(axes) == list(dict.fromkeys(result.attributes["label"]))
    assert rows_of(axes)[0] == "Openness"


def test_profile_draws_every_mean_and_its_range(result):
    axes = attribute_profile(result, style=ENGLISH).figure.axes[0]
    assert sorted(x for x, _ in marks(axes)) == pytest.approx(sorted(result.means["mean"]))
    ranges = np.array(
        sorted(tuple(line[:, 0]) for lines in axes.collections for line in lines.get_segments())
    )
    assert ranges == pytest.approx(
        result.means.sort_values("ci_low")[["ci_low", "ci_high"]].to_numpy()
    )


def test_profile_tells_formulas_apart_by_shape(result):
    axes = attribute_profile(result, style=ENGLISH).figure.axes[0]
    shapes = {line.get_marker() for line in axes.lines if line.get_linestyle() == "None"}
    assert len(shapes) == len(result.formulas)


def test_profile_stays_near_the_scale(result):
    wide = replace(result, means=result.means.assign(ci_low=-50.0, ci_high=80.0))
    low, high = attribute_profile(wide, style=ENGLISH).figure.axes[0].get_xlim()
    assert 0 < low < 1 < 10 < high < 11


def test_a_mean_without_a_range_is_a_lone_mark():
    one = crumb_scores(invented({"openness": 4.0}, mixes=1, loaves=6))
    axes = attribute_profile(one, style=ENGLISH).figure.axes[0]
    assert len(marks(axes)) == 2
    assert "range" not in attribute_profile(one, style=ENGLISH).alt
    assert not [line for lines in axes.collections for line in lines.get_segments() if line.size]


def test_bars_add_up_to_every_score(result):
    axes = raw_scores(result, style=ENGLISH).figure.axes[0]
    bars = [patch for container in axes.containers for patch in container]
    assert len(bars) == len(result.raw_counts)
    total = (
        pd.Series([bar.get_width() for bar in bars])
        .groupby([round(bar.get_y(), 6) for bar in bars])
        .sum()
    )
    assert total.to_numpy() == pytest.approx(np.full(3 * 2, 100.0))


def test_bars_get_darker_as_scores_rise_so_that_grey_print_keeps_the_order(result):
    axes = raw_scores(result, style=ENGLISH).figure.axes[0]
    key = [patch.get_facecolor() for patch in axes.patches if patch.get_y() < 0]
    light = [np.dot(to_rgb(colour), (0.299, 0.587, 0.114)) for colour in key]
    assert len(key) == 10
    assert all(np.diff(light) < -0.03)


def test_bars_carry_the_cards_words(result):
    axes = raw_scores(result, style=ENGLISH).figure.axes[0]
    assert "Openness  (1 closed … 10 very open)" in {text.get_text() for text in axes.texts}


def test_a_scale_of_many_steps_is_drawn_in_ten_classes(result):
    counts = result.raw_counts.assign(score=result.raw_counts["score"] * 10)
    hundred = replace(result, raw_counts=counts, scale=(0.0, 100.0, 1.0))
    axes = raw_scores(hundred, style=ENGLISH).figure.axes[0]
    assert len([patch for patch in axes.patches if patch.get_y() < 0]) == 10
    widths = sum(patch.get_width() for container in axes.containers for patch in container)
    assert widths == pytest.approx(600)


def test_assessors_are_drawn_where_they_scored_and_named_where_they_stand_apart(result):
    odd = pd.DataFrame(
        [("A2", "above_others", "harsher", "all", -2.0, 0.001)],
        columns=result.standing_apart.columns,
    )
    picture = assessors_side_by_side(replace(result, standing_apart=odd), style=ENGLISH)
    points, use, _ = picture.figure.axes
    (dots,) = points.collections
    assert dots.get_offsets()[:, 0].tolist() == pytest.approx(
        result.assessors["above_others"].tolist()
    )
    assert dots.get_offsets()[:, 1].tolist() == list(range(6))
    faces = [to_hex(colour) for colour in dots.get_facecolors()]
    assert (len(faces), len(set(faces)), faces.count(faces[1])) == (6, 2, 1)
    assert [text.get_text() for text in points.texts] == ["harsher"]
    assert [text.get_text() for text in use.texts] == []
    assert picture.alt.endswith("A2 stands apart.")


@pytest.mark.parametrize("draw", PICTURES, ids=lambda f: f.__name__)
def test_every_picture_is_svg_with_a_sentence_from_its_numbers(result, draw):
    picture = draw(result, ENGLISH)
    assert picture.alt.endswith(".")
    assert 'role="img"' in picture.svg()
    assert draw(result, ENGLISH).svg() == picture.svg()


def test_eight_breads_fit_the_width_of_a_phone():
    names = (
        "house white",
        "malted",
        "rye",
        "wholemeal half",
        "spelt",
        "oat porridge",
        "potato",
        "seeded linseed loaf",
    )
    many = crumb_scores(
        invented({"openness": 0.5, "crust colour and its evenness": 0.2}, formulas=names, mixes=2)
    )
    for draw in (attribute_profile, raw_scores):
        figure = draw(many, ENGLISH).figure
        figure.draw_without_rendering()
        assert figure.get_figwidth() < 5
        box = figure.get_tightbbox()
        assert box.x0 >= -0.02
        assert box.x1 <= figure.get_figwidth() + 0.02
