"""Every picture can be read: no words on each other, none cut off, none too small, for few and for
many of everything.

The results that are drawn are invented: what a small trial gave, with its tables filled up to the
wanted size.
"""

from dataclasses import replace
from itertools import combinations, product
from unittest.mock import patch

import matplotlib
import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas, crumb_scores, factor_effects
from fairloaf.analysis.factors.baking_order import BakingOrder
from fairloaf.analysis.figures.comparison import interval_against_zones, loaves_by_mix
from fairloaf.analysis.figures.crumb import (
    assessors_side_by_side,
    attribute_profile,
    profile_parts,
    raw_parts,
    raw_scores,
)
from fairloaf.analysis.figures.factors import (
    combination_means,
    curve_with_band,
    effects_by_size,
    half_normal_plot,
    residuals_of,
    sources_of_variation,
)
from fairloaf.analysis.figures.layout import layout_drawing
from fairloaf.analysis.figures.loaves import loaves_by_level
from fairloaf.analysis.figures.order import loaves_in_order
from fairloaf.analysis.figures.style import _SETTINGS, MOST_IN, WIDTH_IN
from fairloaf.trials.words.numbers import ENGLISH
from matplotlib.text import Text

from .bakes import as_trial, bake
from .report_examples import factors_of
from .report_examples import trial as example
from .score_trials import invented
from .trials_from_tables import reference_table, trial_from

BREADS = (
    "house white, long sponge",
    "wholemeal spelt 30 %, overnight sponge",
    "wholemeal spelt 50 %, overnight sponge",
    "rye and caraway with old-bread soaker",
    "oat porridge 20 %",
    "potato and buttermilk, cold proof",
    "seeded linseed and sunflower loaf",
    "malted",
)
ATTRIBUTES = (
    "Crumb moistness in the mouth",
    "Openness",
    "Evenness of the cells across the slice",
    "Softness",
    "Springiness after pressing",
    "Crust colour and its evenness",
    "Crust crispness",
    "Sourness",
    "Saltiness",
    "Sweetness",
    "Wheaty roasted aroma",
    "Bitterness that lingers",
    "Chewiness",
    "Stickiness on the knife",
    "Overall liking of the bread",
)
WORDS = {
    ATTRIBUTES[1]: {"1": "closed", "10": "very open"},
    ATTRIBUTES[2]: {"1": "patchy and full of tunnels", "10": "even as a sponge"},
}
PEOPLE = (
    "Anna",
    "Bertrand-Maximilian K.",
    "Chi",
    "Dagmar von der Backstube",
    "Ewa",
    "Farid",
    "Gus",
    "Hans-Joachim",
    "Ines",
    "Jo",
    "Kateryna",
    "Lu",
)
PHONE_PX = 328  # what a phone 360 px wide leaves between the page's margins
# points by which the boxes of two texts may meet: they hold room around the letters
TOUCH = 1.5


def words_in(figure):
    """Return (words, size in points, box in points) of every text as it is drawn."""
    found = []
    to_points = 72 / figure.dpi

    def record(self, renderer, *_, **__):
        if self.get_visible() and self.get_text().strip():
            box = self.get_window_extent(renderer)
            found.append((self.get_text(), self.get_fontsize(), np.array(box.extents) * to_points))

    with matplotlib.rc_context(_SETTINGS), patch.object(Text, "draw", record):
        figure.draw_without_rendering()
    return found


def faults(picture):
    """Return what stands in the way of reading a picture."""
    width, height = picture.figure.get_size_inches() * 72
    words = words_in(picture.figure)
    assert words
    assert width == pytest.approx(WIDTH_IN * 72)
    said = [f"small: {text!r}" for text, size, _ in words if size * PHONE_PX / width < 9]
    said += [
        f"cut: {text!r}"
        for text, _, (x0, y0, x1, y1) in words
        if min(x0, y0) < -TOUCH or x1 > width + TOUCH or y1 > height + TOUCH
    ]
    boxes = np.array([box for _, _, box in words])
    shared = np.minimum(boxes[:, None, 2:], boxes[:, 2:]) - np.maximum(
        boxes[:, None, :2], boxes[:, :2]
    )
    met = np.argwhere(np.triu(shared.min(axis=2) > TOUCH, 1))
    return said + [f"on each other: {words[i][0]!r} and {words[j][0]!r}" for i, j in met]


@pytest.fixture(scope="module")
def small():
    return crumb_scores(invented({"openness": 1.0}, mixes=3, assessors=4))


@pytest.fixture(scope="module")
def compared():
    return compare_formulas(as_trial(bake()))


@pytest.fixture(scope="module")
def bakery():
    return factors_of("small_bakery")


def scored(small, breads, attributes, assessors):
    """Return scores of this many breads, attributes and assessors."""
    rng = np.random.default_rng(breads * 100 + attributes)
    formulas, names, people = BREADS[:breads], ATTRIBUTES[:attributes], PEOPLE[:assessors]
    pairs = pd.DataFrame(list(product(names, formulas)), columns=["attribute", "formula"])
    means = pairs.assign(mean=rng.uniform(2, 9, len(pairs)))
    means = means.assign(ci_low=means["mean"] - 0.7, ci_high=means["mean"] + 0.7)
    counts = pairs.merge(pd.DataFrame({"score": np.arange(1.0, 11.0)}), how="cross")
    counts["n"] = rng.integers(1, 20, len(counts))
    counts["share"] = counts["n"] / counts.groupby(["attribute", "formula"])["n"].transform("sum")
    traits = pd.DataFrame(
        {
            "assessor": people,
            "above_others": rng.normal(0, 0.2, assessors),
            "use_of_scale": rng.normal(1, 0.1, assessors),
            "scatter": rng.normal(1, 0.1, assessors),
        }
    )
    traits.loc[1, "above_others"] = -2.2
    traits.loc[2, "use_of_scale"] = 0.3
    traits.loc[3, ["use_of_scale", "scatter"]] = 3.0
    apart = pd.DataFrame(
        [
            (people[1], "above_others", "harsher"),
            (people[2], "use_of_scale", "narrower"),
            (people[3], "use_of_scale", "wider"),
            (people[3], "scatter", "own way"),
        ],
        columns=["assessor", "trait", "direction"],
    )
    return replace(
        small,
        formulas=formulas,
        scale=(1.0, 10.0, 1.0),
        words=WORDS,
        means=means,
        raw_counts=counts,
        attributes=pd.DataFrame({"attribute": names, "label": names}),
        assessors=traits,
        standing_apart=apart,
        profile=means.pivot(index="attribute", columns="formula", values="mean").reindex(
            names, columns=formulas
        ),
    )


@pytest.mark.parametrize(("breads", "attributes"), [(2, 3), (5, 3), (8, 3), (2, 15), (8, 15)])
def test_pictures_of_scores_can_be_read(small, breads, attributes):
    r = scored(small, breads, attributes, 4)
    parts = [attribute_profile(r, names=names, style=ENGLISH) for names in profile_parts(r)]
    parts += [raw_scores(r, names=names, style=ENGLISH) for names in raw_parts(r)]
    for picture in parts:
        assert faults(picture) == []
        assert picture.figure.get_figheight() <= MOST_IN


@pytest.mark.parametrize("assessors", [4, 12])
def test_the_picture_of_assessors_can_be_read(small, assessors):
    assert faults(assessors_side_by_side(scored(small, 2, 3, assessors), style=ENGLISH)) == []


@pytest.mark.parametrize("attributes", [3, 15])
@pytest.mark.parametrize("breads", [2, 5, 8])
def test_parts_of_a_picture_hold_every_attribute_once_and_in_order(small, breads, attributes):
    r = scored(small, breads, attributes, 4)
    for parts in (profile_parts(r), raw_parts(r), profile_parts(r, 3.2), profile_parts(r, 0.1)):
        assert [name for part in parts for name in part] == list(ATTRIBUTES[:attributes])
        assert all(parts)
    assert len(profile_parts(r, 0.1)) == attributes


def test_breads_whose_names_begin_alike_are_told_apart_in_every_picture(small):
    r = scored(small, 8, 3, 4)
    for picture in (attribute_profile(r, style=ENGLISH), raw_scores(r, style=ENGLISH)):
        texts = [" ".join(text.split()) for text, _, _ in words_in(picture.figure)]
        assert any("30 %" in text for text in texts)
        assert any("50 %" in text for text in texts)


@pytest.mark.parametrize("scale", [(0.0, 100.0, 1.0), (1.0, 6.5, 0.5), (-3.0, 3.0, 1.0)])
def test_the_key_of_any_scale_can_be_read(small, scale):
    r = scored(small, 2, 3, 4)
    low, high, _ = scale
    counts = r.raw_counts.assign(
        score=np.rint(np.interp(r.raw_counts["score"], (1, 10), (low, high)))
    )
    assert faults(raw_scores(replace(r, scale=scale, raw_counts=counts), style=ENGLISH)) == []


def between(compared, formulas, mixes, matters=0.2, centre=4.0, spread=0.3, names=BREADS):
    """Return a comparison of so many formulas in so many mixes each, and its loaves."""
    rng = np.random.default_rng(formulas)
    names = names[:formulas]
    rows = [
        (f"{name[:2]}{i}", name, centre + spread * j + rng.normal(0, spread / 4))
        for j, name in enumerate(names)
        for i in range(mixes)
        for _ in range(3)
    ]
    loaves = pd.DataFrame(rows, columns=["mix", "formula", "specific_volume"])
    loaves = loaves.assign(line=range(len(loaves)), loaf=range(len(loaves)))
    mean = centre + spread * np.arange(formulas)
    means = pd.DataFrame(
        {"formula": names, "mean": mean, "ci_low": mean - spread / 3, "ci_high": mean + spread / 3}
    )
    pairs = pd.DataFrame(
        [(b, a) for a, b in combinations(names, 2)], columns=["formula", "against"]
    )
    pairs["difference"] = np.linspace(-spread, spread, len(pairs))
    pairs = pairs.assign(
        ci_low=pairs["difference"] - 0.2, ci_high=pairs["difference"] + 0.2, p_value=0.5
    )
    return (
        replace(
            compared,
            formula=names[-1],
            against=names[0],
            matters=matters,
            means=means,
            pairs=pairs,
            n_mixes=dict.fromkeys(names, mixes),
            left_out=compared.left_out.iloc[:0],
        ),
        loaves,
    )


@pytest.mark.parametrize("mixes", [1, 3, 20])
@pytest.mark.parametrize("formulas", [2, 5, 8])
def test_pictures_of_a_comparison_can_be_read(compared, formulas, mixes):
    c, loaves = between(compared, formulas, mixes)
    by_mix = loaves_by_mix(c, loaves, style=ENGLISH)
    for picture in (
        interval_against_zones(c, style=ENGLISH),
        interval_against_zones(c, most=8, style=ENGLISH),
        by_mix,
    ):
        assert faults(picture) == []
        assert picture.figure.get_figheight() <= (MOST_IN if formulas < 8 else 1.1 * MOST_IN)
    assert by_mix.figure.get_figheight() < 5


@pytest.mark.parametrize(
    ("matters", "centre", "spread"),
    [(0.005, 4.0, 0.3), (5.0, 4.0, 0.3), (0.1, -0.1, 0.1), (0.1, 4.0, 0.0), (150.0, 1650.0, 30.0)],
)
def test_a_zone_of_any_size_keeps_its_words_on_the_picture(compared, matters, centre, spread):
    c, loaves = between(compared, 2, 4, matters, centre, spread)
    assert (
        faults(loaves_by_mix(c, loaves, style=ENGLISH))
        == faults(interval_against_zones(c, style=ENGLISH))
        == []
    )
    c, loaves = between(compared, 2, 4, matters, centre, spread, ("house", "rye"))
    assert (
        faults(loaves_by_mix(c, loaves, style=ENGLISH))
        == faults(interval_against_zones(c, style=ENGLISH))
        == []
    )


def test_the_surest_pairs_are_drawn_where_not_all_are(compared):
    c, _ = between(compared, 8, 3)
    c = replace(c, pairs=c.pairs.assign(p_value=np.linspace(1, 0, len(c.pairs))))
    names = [
        label.get_text()
        for label in interval_against_zones(c, most=4, style=ENGLISH)
        .figure.axes[0]
        .get_yticklabels()
    ]
    assert len(names) == 4
    assert names[1].startswith("malted\nless seeded")
    assert interval_against_zones(c, most=4, style=ENGLISH).alt.endswith(
        "Below it are 3 more differences, from 0.26 to 0.30 mL/g."
    )
    assert "Below" not in interval_against_zones(compared, style=ENGLISH).alt


def test_long_names_of_mixes_stay_on_one_line_and_apart(compared):
    c, loaves = between(compared, 2, 3)
    loaves["mix"] = "the mix of the early morning, bowl " + loaves["mix"]
    axes = loaves_by_mix(c, loaves, style=ENGLISH).figure.axes[0]
    names = [label.get_text() for label in axes.get_yticklabels()]
    assert names[:3] == ["… ho0", "… ho1", "… ho2"]
    assert faults(loaves_by_mix(c, loaves, style=ENGLISH)) == []


@pytest.mark.parametrize(("rows", "lines"), [(5, 4), (2, 2), (8, 8)])
def test_means_of_words_by_words_can_be_read(bakery, rows, lines):
    levels = list(product(BREADS[:rows], ["tin " + name for name in BREADS[:lines]]))
    assert faults(combination_means(combined(bakery, levels), "formula × tin", style=ENGLISH)) == []


@pytest.mark.parametrize("lines", [2, 3, 8])
def test_means_along_a_number_can_be_read_where_lines_end_close_together(bakery, lines):
    levels = list(product(BREADS[:lines], [30.0, 45.0, 60.0, 90.0, 120.0]))
    picture = combination_means(combined(bakery, levels), "formula × proof_min", style=ENGLISH)
    assert faults(picture) == []
    names = {" ".join(text.split()) for text, _, _ in words_in(picture.figure)}
    assert set(BREADS[:lines]) - {BREADS[5]} <= names  # one is longer than two lines


def combined(f, levels):
    """Return the effects with these combinations' means, all close to each other."""
    mean = 4 + 0.01 * np.arange(len(levels))
    term = "formula × tin" if isinstance(levels[0][1], str) else "formula × proof_min"
    means = pd.DataFrame(
        {"term": term, "levels": levels, "mean": mean, "ci_low": mean - 0.1, "ci_high": mean + 0.1}
    )
    return replace(f, means=means.assign(level=[" × ".join(map(str, pair)) for pair in levels]))


def test_six_factors_with_long_names_can_be_read(bakery):
    names = [
        "hydration of the dough",
        "mixing speed in second gear",
        "hours of the sponge",
        "salt added late",
        "lot",
        "formula",
    ]
    effects = pd.DataFrame(
        {
            "factor": names,
            "high_level": BREADS[2],
            "low_level": BREADS[1],
            "ci_low": -0.1,
            "size": 0.2,
            "ci_high": 0.4,
        }
    )
    picture = effects_by_size(replace(bakery, effects=effects, factor_labels={}), style=ENGLISH)
    assert faults(picture) == []
    assert (
        faults(
            effects_by_size(
                replace(bakery, effects=effects.iloc[:1], factor_labels={}), style=ENGLISH
            )
        )
        == []
    )


def test_many_sources_of_variation_are_added_up(bakery):
    terms = [
        " × ".join(some)
        for n in (1, 2, 3)
        for some in combinations(["formula", "tin", "proof_min", "salt"], n)
    ]
    share = np.linspace(0.15, 0.0, len(terms))
    table = pd.DataFrame(
        {
            "source": [*terms, "mix"],
            "kind": ["factor"] * len(terms) + ["scatter"],
            "share": [*share, 1 - share.sum()],
        }
    )
    picture = sources_of_variation(replace(bakery, variances=table), style=ENGLISH)
    assert faults(picture) == []
    widths = [bar.get_width() for bar in picture.figure.axes[0].patches]
    assert len(widths) == 10
    assert sum(widths) == pytest.approx(100)
    assert f"{len(terms) - 8} others together" in picture.alt


@pytest.mark.parametrize("levels", [2, 8])
def test_loaves_by_level_can_be_read(bakery, levels):
    names = [(name,) for name in BREADS[:levels]]
    mean = 4 + 0.1 * np.arange(levels)
    means = pd.DataFrame(
        {
            "term": "tin",
            "levels": names,
            "level": BREADS[:levels],
            "mean": mean,
            "ci_low": mean - 0.1,
            "ci_high": mean + 0.1,
        }
    )
    loaves = pd.DataFrame(
        {"tin": [name for (name,) in names] * 9, "specific_volume": np.tile(mean, 9)}
    )
    picture = loaves_by_level(replace(bakery, means=means), loaves, "tin", style=ENGLISH)
    assert faults(picture) == []
    assert picture.figure.get_figheight() < 5


@pytest.mark.parametrize("formulas", [1, 2, 5, 8])
def test_the_baking_order_can_be_read(formulas):
    rng = np.random.default_rng(1)
    loaves = pd.DataFrame(
        {
            "loaf": range(48),
            "formula": [BREADS[i % formulas] for i in range(48)],
            "bake_order": np.arange(48.0),
            "left_over": rng.normal(0, 0.1, 48),
        }
    )
    picture = loaves_in_order(
        BakingOrder(loaves=loaves, measure="specific_volume", slope=0.01, middle=23.5),
        "Specific volume",
        "mL/g",
        style=ENGLISH,
    )
    assert faults(picture) == []


def test_a_formula_looks_alike_in_the_baking_order_and_elsewhere():
    loaves = pd.DataFrame(
        {
            "loaf": range(6),
            "formula": ["malted", "house"] * 3,
            "bake_order": np.arange(6.0),
            "left_over": np.arange(6.0),
        }
    )
    order = BakingOrder(loaves=loaves, measure="specific_volume", slope=0.0, middle=2.5)
    figure = loaves_in_order(
        order, "Specific volume", "mL/g", formulas=("house", "malted"), style=ENGLISH
    ).figure
    marks = figure.legends[0].legend_handles
    assert [mark.get_marker() for mark in marks] == ["o", "D"]


def test_the_other_pictures_of_factors_can_be_read(bakery):
    pictures = [curve_with_band(bakery.curves[0], bakery, style=ENGLISH)]
    pictures += [
        residuals_of(
            bakery.residual_checks, unit, "Change of crumb pH after three days (pH)", style=ENGLISH
        )
        for unit in ("loaf", "mix")
    ]
    single = factor_effects(
        trial_from(reference_table("filtration.csv"), "filtration", list("ABCD"))
    )
    long = dict(
        zip(
            "ABCD",
            ("temperature of the water", "pressure in the mixer", "concentration", "stirring rate"),
            strict=True,
        )
    )
    pictures.append(
        half_normal_plot(single.unreplicated, replace(single, factor_labels=long), style=ENGLISH)
    )
    for picture in pictures:
        assert faults(picture) == []


@pytest.mark.parametrize("levels", [2, 4, 8])
def test_a_layout_with_long_levels_can_be_read(bakery, levels):
    trial = example("small_bakery")
    loaves = trial.loaves.assign(tin=[BREADS[i % levels] for i in range(len(trial.loaves))])
    picture = layout_drawing(loaves, bakery.layout, bakery.factor_labels, ENGLISH)
    assert faults(picture) == []
    key = {text for text, _, _ in words_in(picture.figure) if " = " in text}
    assert {text.partition(" = ")[2] for text in key} == set(BREADS[:levels])
