"""Pictures and report sections of tasting and ticked words: what they show, for every reader, small
and large.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from fairloaf.analysis import tasting_answers, words_seen
from fairloaf.analysis.figures.style import WIDTH_IN
from fairloaf.analysis.figures.tasting import (
    preference_bar,
    range_who_can_tell,
    word_parts,
    words_by_bread,
)
from fairloaf.analysis.report import write_report
from fairloaf.analysis.report.rendering import render
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.trials import load_trial
from fairloaf.trials.words.numbers import ENGLISH
from matplotlib.backends.backend_agg import FigureCanvasAgg

from .tasting_trial import written

EXAMPLE = Path(__file__).parents[1] / "example_trials" / "class_tasting"


@pytest.fixture(scope="module")
def trial():
    return load_trial(EXAMPLE)


@pytest.fixture(scope="module")
def summary(trial):
    return summarise(trial)


def texts(svg: str) -> list[str]:
    return [re.sub(r"<[^>]*>", "", text) for text in re.findall(r"<text.*?</text>", svg, re.DOTALL)]


def class_of(folder: Path, breads: int, words: int):
    """A trial of so many breads and words, ticked by six people (invented)."""
    rng = np.random.default_rng([breads, words])
    names = [f"quality number {i}" for i in range(words)]
    rows = ["assessor,loaf," + ",".join(names)]
    rows += [
        f"p{n},{loaf}," + ",".join("x" if rng.random() < 0.4 else "" for _ in names)
        for n in range(6)
        for loaf in range(1, breads + 1)
    ]
    loaves = [
        "loaf,formula,mix",
        *(f"{i},{'house' if i % 2 else 'wholemeal with seeds'},m{i}" for i in range(1, breads + 1)),
    ]
    return load_trial(
        written(folder, loaves=loaves, codes=None, tasting=None, words=rows, card='title = "x"\n')
    )


def test_the_range_shows_the_share_and_the_zone_that_may(trial):
    picture = range_who_can_tell(tasting_answers(trial), style=ENGLISH)
    shown = " ".join(texts(picture.svg()))
    assert "may be able to tell" in shown
    assert "People who can tell, in 100" in shown
    assert "Between 4 and 58 in 100 can likely tell them apart" in picture.alt
    assert "up to 30 in 100" in picture.alt


def test_the_preference_is_one_bar_with_none_in_the_middle(trial):
    picture = preference_bar(tasting_answers(trial), style=ENGLISH)
    shown = texts(picture.svg())
    assert {"16", "4", "none", "malted", "house"} <= set(shown)
    assert picture.alt == "16 prefer malted, 4 house, 4 none: preferred."


def test_words_that_tell_stand_first_with_the_count_in_each_cell(trial):
    seen = words_seen(trial)
    picture = words_by_bread(seen, style=ENGLISH)
    shown = texts(picture.svg())
    rows = [word for word in shown if word in set(seen.words["word"])]
    assert rows[:2] == ["malty", "dark"]
    assert len(rows) == 10
    counts = [int(text) for text in shown if text.isdigit()]
    assert sum(counts) == seen.counts.to_numpy().sum() + sum(
        int(loaf) for loaf in seen.loaves["loaf"]
    )
    assert "these tell the breads apart: malty and dark" in picture.alt


@pytest.mark.parametrize("breads", [2, 8])
@pytest.mark.parametrize("words", [5, 20])
def test_small_and_large_tables_keep_inside_the_picture(breads, words, tmp_path):
    seen = words_seen(class_of(tmp_path, breads, words))
    picture = words_by_bread(seen, style=ENGLISH)
    picture.svg()
    canvas = FigureCanvasAgg(picture.figure)
    canvas.draw()
    renderer = canvas.get_renderer()
    width = picture.figure.get_figwidth() * picture.figure.dpi
    assert picture.figure.get_figwidth() == WIDTH_IN
    axes = picture.figure.axes[0]
    texts, bars = (
        np.array([part.get_window_extent(renderer).extents for part in parts])
        for parts in ([text for text in axes.texts if text.get_text()], axes.patches)
    )
    assert texts[:, 0].min() >= -1
    assert texts[:, 2].max() <= width + 1
    assert overlaps(texts, texts).sum() == len(texts), "a text overlaps itself and no other"
    assert not overlaps(texts, bars).any()


def overlaps(some: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Return which boxes (x0, y0, x1, y1) overlap which others by more than a pixel each way."""
    a, b = some[:, None, :], others[None, :, :]
    shared = np.minimum(a[..., 2:], b[..., 2:]) - np.maximum(a[..., :2], b[..., :2])
    return (shared > 1).all(axis=-1)


def test_more_words_than_a_page_holds_go_on(trial):
    seen = words_seen(trial)
    parts = word_parts(replace(seen), most_in=2.0)
    assert [word for words, _ in parts for word in words] == list(seen.words["word"])
    assert len(parts) > 1


def test_more_breads_than_a_phone_can_show_go_on(tmp_path):
    seen = words_seen(class_of(tmp_path, 12, 5))
    parts = word_parts(seen)
    assert [loaf for _, loaves in parts for loaf in loaves] == list(seen.loaves["loaf"])
    assert [len(loaves) for _, loaves in parts] == [8, 4]
    assert all("words down" in words_by_bread(seen, ENGLISH, i).alt for i in range(2))


@pytest.mark.parametrize("reader", ["class", "bakery", "record"])
def test_every_reader_gets_both_sections_and_the_cautions(reader, summary):
    report = report_for(summary, reader)
    assert render("html", report, summary)
    data = json.loads(render("json", report, summary))
    sections = {section["id"]: " ".join(section["sentences"]) for section in data["sections"]}
    assert "13 of 24 picked the odd slice" in sections["tasting"]
    assert "16 preferred malted and 4 house" in sections["tasting"]
    assert "Allergens: every bread: gluten." in sections["tasting"]
    assert "nobody asks why" in sections["tasting"]
    assert "malty and dark" in sections["seen"]
    assert "That is the bread's doing, and not that of those who looked" in sections["seen"]
    assert "another dough to the same formula may be another bread" in sections["seen"]
    assert "are the same" not in sections["tasting"]


def test_a_trial_of_nothing_but_a_tasting_has_a_report(tmp_path):
    folder = tmp_path / "trial"
    folder.mkdir()
    trial = load_trial(written(folder))
    for reader in ("class", "bakery", "record"):
        write_report(
            trial, tmp_path / reader, audience=reader, forms=["html", "pdf", "xlsx", "json"]
        )
    data = json.loads(next((tmp_path / "class").glob("*.json")).read_text("ascii"))
    assert data["answer"].startswith("house and malted: 4 of 12 picked the odd slice")
