"""The one visual language: colours that can be seen, shapes that say the same, SVG that is safe and
repeatable.
"""

import re
import xml.etree.ElementTree as ET
from itertools import pairwise

import matplotlib
import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.figures import style
from fairloaf.analysis.figures.names import short_names, wrapped
from fairloaf.analysis.figures.style import (
    Picture,
    house_style,
    interval,
    label_beside,
    looks,
    new_figure,
    row_axis,
    scatter,
    to_svg,
    value_axis,
    zone,
)
from fairloaf.trials.words.numbers import NumberStyle
from matplotlib.colors import to_hex

EVIL = '<script>alert(1)</script> & "quoted" $\\frac{1}$ \x01\x1b'


def luminance(colour):
    """Relative luminance, WCAG 2.2 (https://www.w3.org/TR/WCAG22/#dfn-relative-luminance)."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    """Contrast ratio, WCAG 2.2 (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_follows_the_standard():
    # The two ends as WCAG states them, and #767676 on white, a value often printed as 4.54 : 1.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.005)


@pytest.mark.parametrize("ground", ["#FFFFFF", "#FFFDF8", style.ZONE])
@pytest.mark.parametrize("colour", [style.INK, style.QUIET, *style.WORD_COLOURS])
def test_words_can_be_read_on_every_ground(colour, ground):
    assert contrast(colour, ground) >= 4.5


@pytest.mark.parametrize("colour", style.EDGE_COLOURS)
def test_lines_and_edges_stand_out_from_paper(colour):
    assert contrast(colour, "#FFFFFF") >= 3


def test_colours_are_those_of_okabe_and_ito():
    # Okabe and Ito 2008, Color Universal Design, https://jfly.uni-koeln.de/color/: without yellow
    # and black.
    assert set(style.COLOURS) == {"#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9"}


def test_neighbouring_levels_differ_in_shape_and_fill_as_well_as_colour():
    found = list(looks(["a", "b", "c", "d", "e", "f", "g", "h"]).values())
    for first, second in pairwise(found):
        assert first.marker != second.marker
        assert (first.fill == "white") != (second.fill == "white")
    assert len({(look.marker, look.fill == "white") for look in found}) == len(found)


def test_a_level_keeps_its_look_when_others_follow():
    assert looks(["a", "b"])["b"] == looks(["a", "b", "c"])["b"]


@house_style()
def drawn(words="house", decimal_mark="."):
    figure, axes = new_figure(2.4)
    look = looks(["a"])["a"]
    axes.plot([4.0, 4.25, 4.5], [0, 0, 0], **look.dots())
    interval(axes, 4.1, 4.4, 4.25, 0, look)
    label_beside(axes, 4.5, 0, words, look)
    zone(axes, 4.0, 4.4, words)
    row_axis(axes, [words])
    value_axis(axes, "x", words, NumberStyle(decimal_mark, "en"))
    return Picture(figure, f"A mark. {words}")


def test_settings_hold_while_drawing_and_nowhere_else():
    before = dict(matplotlib.rcParams)
    drawn().svg()
    assert dict(matplotlib.rcParams) == before


def test_the_same_picture_gives_the_same_bytes():
    assert drawn().svg() == drawn().svg()


def test_what_a_reader_set_for_other_pictures_changes_nothing():
    plain = drawn().svg()
    own = {
        "lines.linewidth": 7,
        "axes.grid": True,
        "lines.markeredgewidth": 4,
        "xtick.minor.visible": True,
    }
    with matplotlib.rc_context(own):
        assert drawn().svg() == plain


def test_a_picture_is_one_element_with_its_sentence_and_with_text_as_text():
    svg = drawn().svg()
    root = ET.fromstring(svg)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert (root.get("role"), root.get("aria-label")) == ("img", "A mark. house")
    assert "house" in [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "<style" not in svg
    assert "<metadata" not in svg


def test_markup_and_control_characters_are_words_in_a_picture():
    root = ET.fromstring(drawn(EVIL).svg())
    assert not [e for e in root.iter() if e.tag.endswith(("script", "foreignObject", "image", "a"))]
    assert "<script>alert(1)</script>" in root.get("aria-label")
    assert any("<script>" in (e.text or "") for e in root.iter("{http://www.w3.org/2000/svg}text"))
    assert any("$x$" in (e.text or "") for e in ET.fromstring(drawn("$x$").svg()).iter())
    assert not re.search("[\x01\x1b]", drawn(EVIL).svg())


def test_two_pictures_on_one_page_share_no_id():
    ids = [set(re.findall(r' id="([^"]+)"', drawn(words).svg())) for words in ("house", "malted")]
    assert ids[0]
    assert not ids[0] & ids[1]


def test_every_reference_in_a_picture_is_inside_it():
    svg = drawn().svg()
    inside = {f"#{name}" for name in re.findall(r' id="([^"]+)"', svg)}
    assert set(re.findall(r'xlink:href="([^"]+)"|url\(([^)]+)\)', svg)) != set()
    for href, url in re.findall(r'xlink:href="([^"]+)"|url\(([^)]+)\)', svg):
        assert (href or url) in inside


@pytest.mark.parametrize(("mark", "tick"), [(".", "4.2"), (",", "4,2")])
def test_ticks_have_the_readers_decimal_mark_and_equal_decimals(mark, tick):
    texts = [
        t.text
        for t in ET.fromstring(drawn("x", mark).svg()).iter("{http://www.w3.org/2000/svg}text")
    ]
    assert tick in texts
    assert "4" not in texts
    assert f"4{mark}0" in texts


def test_to_svg_needs_no_house_style_around_it():
    picture = drawn()
    assert to_svg(picture.figure, picture.alt) == picture.svg()


@pytest.mark.parametrize(
    ("names", "shown"),
    [
        (["house", "malted"], ["house", "malted"]),
        (["malted wheat, long sponge", "rye"], ["malted wheat, long …", "rye"]),
        (["spelt loaf, overnight 30 %", "spelt loaf, overnight 50 %"], ["… 30 %", "… 50 %"]),
        (
            [
                "spelt, half of it wholemeal",
                "spelt, half of it white",
                "spelt, half of it wholemeal rye",
            ],
            ["… wholemeal", "… white", "… wholemeal rye"],
        ),
        (["x" * 40 + "a", "x" * 40 + "b"], ["… a", "… b"]),
        (["rye " + "x" * 40 + "a", "rye " + "x" * 40 + "b"], ["… a", "… b"]),
        (["same", "same"], ["same", "same"]),
        (["", " "], ["", ""]),
        ([], []),
    ],
)
def test_no_two_short_names_look_alike_unless_the_names_are(names, shown):
    assert short_names(names, 20, 1) == shown


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("house", "house"),
        ("", ""),
        ("a" * 40, "a" * 18 + "\n" + "a" * 16 + " …"),
        ("whole spelt and rye flour", "whole spelt and\nrye flour"),
        ("two\nlines", "two\nlines"),
    ],
)
def test_long_names_are_broken_and_cut(name, shown):
    assert wrapped(name) == shown


def test_dots_without_a_value_are_left_out_and_the_others_keep_their_look():
    table = pd.DataFrame({"x": [1.0, None, 3.0], "y": [0.0, 1.0, 2.0], "level": [45.0, 45.0, 75.0]})
    _, axes = new_figure()
    scatter(axes, table, "x", "y", "level", looks([45.0, 60.0, 75.0]))
    (dots,) = axes.collections
    assert dots.get_offsets().tolist() == [[1, 0], [3, 2]]
    assert [to_hex(colour).upper() for colour in dots.get_edgecolors()] == [style.BLUE, style.GREEN]
    assert (axes.get_xlabel(), axes.get_ylabel()) == ("", "")


def test_no_dots_draw_an_empty_picture():
    _, axes = new_figure()
    scatter(
        axes,
        pd.DataFrame({"x": [np.nan], "y": [0.0], "level": ["a"]}),
        "x",
        "y",
        "level",
        looks(["a"]),
    )
    assert not axes.collections
