"""The factors' pictures draw what they are given."""

import numpy as np
import pytest
from fairloaf.analysis.answers import factor_effects
from fairloaf.analysis.figures.factors import (
    combination_means,
    curve_with_band,
    effects_by_size,
    half_normal_plot,
    residuals_of,
    sources_of_variation,
)
from fairloaf.analysis.figures.layout import MOST_ROWS, layout_drawing
from fairloaf.analysis.figures.style import FACTOR_MARKERS, MARKERS, factor_looks, looks
from fairloaf.trials.words.numbers import ENGLISH

from .report_examples import factors_of
from .report_examples import trial as example
from .trials_from_tables import reference_table, trial_from


@pytest.fixture(scope="module")
def trial():
    return example("small_bakery")


@pytest.fixture(scope="module")
def bakery():
    return factors_of("small_bakery")


@pytest.fixture(scope="module")
def single():
    return factor_effects(trial_from(reference_table("filtration.csv"), "filtration", list("ABCD")))


@pytest.fixture(scope="module")
def bromate():
    return factor_effects(
        trial_from(
            reference_table("bromate_bread.csv"),
            "loaf_ml",
            ["formula", "bromate_mg"],
            {"formula": "variety"},
            numbers=["bromate_mg"],
        )
    )


def x_of(axes):
    return [float(x) for line in axes.lines for x in line.get_xdata()]


def test_effects_stand_in_rows_by_size_with_their_intervals(bakery):
    picture = effects_by_size(bakery, style=ENGLISH)
    axes = picture.figure.axes[0]
    rows = [label.get_text().replace("\n", " ") for label in axes.get_yticklabels()]
    assert rows[0].startswith("Proof time: 75 min above 45 min")
    assert len(rows) == 3
    for column in ("size", "ci_low", "ci_high"):
        assert set(bakery.effects[column]) <= set(x_of(axes))
    assert bakery.sentence in picture.alt


def test_a_factor_that_is_not_shown_is_drawn_hollow(single):
    axes = effects_by_size(single, style=ENGLISH).figure.axes[0]
    faces = [
        line.get_markerfacecolor() for line in axes.lines if line.get_marker() in FACTOR_MARKERS
    ]
    assert faces[:3] != ["white"] * 3
    assert faces[3] == "white"


def test_combinations_put_the_number_along_the_axis(bakery):
    picture = combination_means(bakery, "formula × proof_min", style=ENGLISH)
    axes = picture.figure.axes[0]
    assert axes.get_xlabel() == "Proof time (min)"
    assert {text.get_text() for text in axes.texts} == {"house", "malted"}
    means = bakery.means[bakery.means["term"] == "formula × proof_min"]["mean"]
    drawn = {round(float(y), 9) for line in axes.lines for y in line.get_ydata()}
    assert {round(mean, 9) for mean in means} <= drawn
    assert "malted × 75 min" in picture.alt


def test_the_curve_stays_inside_what_was_baked(bromate):
    picture = curve_with_band(bromate.curves[0], bromate, style=ENGLISH)
    axes = picture.figure.axes[0]
    assert (min(x_of(axes)), max(x_of(axes))) == (0, 4)
    best = bromate.curves[0].best
    assert {best.estimate, best.ci_low, best.ci_high} <= set(x_of(axes))
    assert "Fieller" in picture.alt


def test_the_half_normal_plot_names_what_stands_out(single):
    picture = half_normal_plot(single.unreplicated, single, style=ENGLISH)
    texts = {text.get_text() for text in picture.figure.axes[0].texts}
    assert {"A", "C", "D", "A and C", "A and D"} <= texts
    assert "B" not in texts
    assert single.unreplicated.limits.margin in x_of(picture.figure.axes[0])


def test_sources_are_bars_of_their_shares(bakery):
    picture = sources_of_variation(bakery, style=ENGLISH)
    widths = [bar.get_width() for bar in picture.figure.axes[0].patches]
    assert widths == pytest.approx(100 * bakery.variances["share"].to_numpy())
    assert "between mixes" in picture.alt


@pytest.mark.parametrize(("unit", "table"), [("loaf", "loaves"), ("mix", "mixes")])
def test_residuals_are_drawn_for_loaves_and_for_mixes(bakery, unit, table):
    picture = residuals_of(bakery.residual_checks, unit, "Specific volume (mL/g)", style=ENGLISH)
    left, right = picture.figure.axes
    expected = getattr(bakery.residual_checks, table)
    for axes, column in ((left, "fitted"), (right, "normal_quantile")):
        (dots,) = axes.collections
        assert np.array_equal(dots.get_offsets(), expected[[column, "standardised"]])
    assert f"How far {len(expected)}" in picture.alt


def test_the_layout_has_a_row_a_mix_and_a_box_a_loaf(bakery, trial):
    picture = layout_drawing(trial.loaves, bakery.layout, bakery.factor_labels, ENGLISH)
    axes = picture.figure.axes[0]
    assert len(axes.patches) == 48
    rows = [label.get_text().replace("\n", " ") for label in axes.get_yticklabels()]
    assert len(rows) == 8
    assert sum(row.startswith("mix M") and row.endswith("malted") for row in rows) == 4
    assert "formula from mix to mix" in picture.alt


def test_a_large_layout_is_cut_and_says_how_much():
    table = reference_table("cake.csv").assign(
        mix=lambda d: d["replicate"].astype(str) + d["recipe"]
    )
    trial = trial_from(
        table,
        "angle",
        ["formula", "temperature"],
        {"formula": "recipe", "day": "replicate"},
        numbers=["temperature"],
    )
    axes = layout_drawing(trial.loaves, factor_effects(trial).layout, {}, ENGLISH).figure.axes[0]
    assert len(axes.get_yticklabels()) == MOST_ROWS
    assert axes.get_xlabel() == f"and {45 - MOST_ROWS} more"


def test_every_picture_is_an_svg_with_a_name_and_the_same_each_time(bakery, single, trial):
    for draw in (
        lambda: effects_by_size(bakery, style=ENGLISH),
        lambda: sources_of_variation(bakery, style=ENGLISH),
        lambda: half_normal_plot(single.unreplicated, single, style=ENGLISH),
        lambda: layout_drawing(trial.loaves, bakery.layout, bakery.factor_labels, ENGLISH),
    ):
        svg = draw().svg()
        assert svg == draw().svg()
        assert svg.startswith('<svg role="img" aria-label="')


def test_no_factor_wears_a_formula_s_mark_or_colour(bakery):
    """Of what is no formula, neither mark nor colour is one that a bread has in another picture."""
    assert not set(FACTOR_MARKERS) & set(MARKERS)
    breads, others = looks("abcdef").values(), factor_looks("abcdef").values()
    assert not {own.colour for own in breads} & {own.colour for own in others}
    assert len({(own.colour, own.fill, own.marker) for own in others}) == 6
    axes = effects_by_size(bakery, style=ENGLISH).figure.axes[0]
    marks = {line.get_marker() for line in axes.lines} - {"|", "None"}
    assert marks <= set(FACTOR_MARKERS)


def test_the_axis_of_effects_says_in_plain_words_what_it_shows(bakery):
    words = " ".join(effects_by_size(bakery, style=ENGLISH).figure.axes[0].get_xlabel().split())
    assert words == "Specific volume: highest mean minus lowest (mL/g)"
