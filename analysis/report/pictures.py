"""The pictures of a report: drawn by ``figures``, placed here; none where there is nothing to draw.

Sections name these functions and ``drawn`` calls them, so that a second process can do it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from ...trials.columns import label, unit
from ...trials.printing.document import Shown
from ..second_process import Ask
from ..wording.classroom import PAIRS_ALONE_NOTE, PAIRS_NOTE
from ..wording.comparison_pictures import SUREST_PAIRS
from ..wording.crumb_pictures import surest_note
from ..wording.factors import leading_effect
from ..wording.layout import unit_words
from ..wording.report import ORDER_NOTE, each_mark
from ..wording.tasting_pictures import MORE_PARTS, WORDS_NOTE
from .summary import Summary

if TYPE_CHECKING:
    from ..figures.style import Picture

Drawing = Callable[[Summary], list[Shown]]

SHORT_IN = 3.2  # how high a picture is in a report of two pages, at most


def drawn(s: Summary, drawings: Sequence[Drawing]) -> list[list[Shown]]:
    """Return the pictures of each of these functions."""
    return [drawing(s) for drawing in drawings]


class Drawer:
    """Has the pictures of one report drawn by whomever ``ask`` asks: those of the comparison while
    the rest is worked out.
    """

    def __init__(self, audience: str, ask: Ask) -> None:
        self._ask, self._first = ask, OF_THE_COMPARISON[audience]
        self._begun: Callable[[], list[list[Shown]]] = list

    def begin(self, s: Summary) -> None:
        """Begin where the comparison is all that is known."""
        self._begun = self._ask(drawn, s, self._first)

    def drawn(self, s: Summary, drawings: Sequence[Drawing]) -> list[list[Shown]]:
        """Return what the function of this name does."""
        first = self._first if s.comparison is not None else ()
        rest = [drawing for drawing in drawings if drawing not in first]
        asked = self._ask(drawn, s, rest)
        of = dict(zip(first, self._begun(), strict=True)) | dict(zip(rest, asked(), strict=True))
        return [of[drawing] for drawing in drawings]


def _shown(picture: Picture, caption: str = "") -> Shown:
    return Shown(picture.svg(), picture.alt, caption)


def main(s: Summary) -> list[Shown]:
    """Every loaf: by its mix where formulas were compared, else by the levels of the factor that
    moved most.
    """
    if s.comparison is None:
        return _by_level(s)
    from ..figures.comparison import loaves_by_mix

    picture = loaves_by_mix(s.comparison, s.trial.counted, s.style)
    return [_shown(picture, each_mark(s.comparison.means))]


def pairs(s: Summary) -> list[Shown]:
    """Each table's, baker's or day's breads on one row, joined; every loaf where none had both."""
    from ..figures.pairs import pairing_unit, pairs_by_unit

    if s.comparison is None:
        return main(s)
    unit = pairing_unit(s.comparison, s.trial.counted)
    if unit is None:
        return main(s)
    picture = pairs_by_unit(s.comparison, s.trial.counted, unit, s.style)
    note = PAIRS_NOTE if s.comparison.means["mean"].notna().any() else PAIRS_ALONE_NOTE
    return [_shown(picture, note.format(unit_words(unit)))]


def _by_level(s: Summary) -> list[Shown]:
    from ..figures.loaves import loaves_by_level

    f = s.factors
    leading = leading_effect(f) if f else None
    if f is None or leading is None or f.unreplicated is not None:
        return effects(s)
    factor = str(leading["factor"])
    picture = loaves_by_level(f, s.trial.counted, factor, s.style)
    return [_shown(picture, each_mark(f.means[f.means["term"] == factor]))]


def tasting(s: Summary) -> list[Shown]:
    """Who can tell, and what is preferred."""
    from ..figures.tasting import preference_bar, range_who_can_tell

    r = s.tasting
    if r is None:
        return []
    told = [] if r.tests.empty else [range_who_can_tell(r, s.style)]
    preferred = [] if r.preferences.empty else [preference_bar(r, s.style)]
    return [_shown(picture) for picture in (*told, *preferred)]


def words_seen(s: Summary, most: int | None = None) -> list[Shown]:
    """The words as tables of bars; ``most`` of them."""
    from ..figures.tasting import word_parts, words_by_bread

    if s.seen is None:
        return []
    parts = len(word_parts(s.seen))
    shown = min(parts, most or parts)
    note = WORDS_NOTE if shown == parts else f"{WORDS_NOTE} {MORE_PARTS}"
    return [_shown(words_by_bread(s.seen, s.style, part), note) for part in range(shown)]


def zones(s: Summary, most: int | None = None) -> list[Shown]:
    """The differences with their likely ranges, against the zone of those that do not matter;
    ``most`` of them.
    """
    from ..figures.comparison import interval_against_zones

    if s.comparison is None:
        return []
    cut = most is not None and len(s.comparison.pairs) > most
    picture = interval_against_zones(s.comparison, s.style, most)
    return [_shown(picture, SUREST_PAIRS if cut else "")]


def few_zones(s: Summary) -> list[Shown]:
    """As many of them as a short report has room for."""
    return zones(s, 8)


# what these readers are shown of the comparison alone
OF_THE_COMPARISON: dict[str, tuple[Drawing, ...]] = {
    "class": (pairs,),
    "wall": (pairs,),
    "bakery": (main, few_zones),
    "record": (main, zones),
}


def effects(s: Summary) -> list[Shown]:
    """The factors by the size of what they did."""
    from ..figures.factors import effects_by_size

    f = s.factors
    return [] if f is None or f.effects.empty else [_shown(effects_by_size(f, s.style))]


def factors(s: Summary) -> list[Shown]:
    """The factors' effects where no other picture shows them, interactions, curves, and the
    half-normal plot.
    """
    from ..figures.factors import combination_means, curve_with_band, half_normal_plot

    f = s.factors
    if f is None:
        return []
    there = f.interactions[f.interactions["there"].astype(bool)]["term"]
    drawn = [combination_means(f, term, s.style) for term in there if term.count(" × ") == 1]
    drawn += [curve_with_band(curve, f, s.style) for curve in f.curves]
    drawn += [half_normal_plot(f.unreplicated, f, s.style)] if f.unreplicated is not None else []
    elsewhere = f.unreplicated is not None if s.comparison is None else len(f.factors) < 2
    return [*([] if elsewhere else effects(s)), *(_shown(picture) for picture in drawn)]


def sources(s: Summary) -> list[Shown]:
    """Where the variation comes from."""
    from ..figures.factors import sources_of_variation

    f = s.factors
    if f is None or not f.variances["share"].any():
        return []
    return [_shown(sources_of_variation(f, s.style))]


def layout(s: Summary) -> list[Shown]:
    """The layout as a drawing."""
    from ..figures.layout import layout_drawing

    f = s.factors
    if f is None:
        return []
    return [_shown(layout_drawing(s.trial.loaves, f.layout, f.factor_labels, s.style))]


def surest_scores(s: Summary) -> list[Shown]:
    """The formulas' mean scores, of as many attributes as a short report has room for."""
    from ..figures.crumb import attribute_profile, profile_parts

    if s.crumb is None:
        return []
    names = profile_parts(s.crumb, SHORT_IN)[0]
    picture = attribute_profile(s.crumb, s.style, names)
    return [_shown(picture, surest_note(len(names), len(s.crumb.profile)))]


def scores(s: Summary) -> list[Shown]:
    """The formulas' mean scores, attribute by attribute, in pictures no longer than a page."""
    from ..figures.crumb import attribute_profile, profile_parts

    if s.crumb is None:
        return []
    return [_shown(attribute_profile(s.crumb, s.style, names)) for names in profile_parts(s.crumb)]


def every_score(s: Summary) -> list[Shown]:
    """Every score that was given, in pictures no longer than a page."""
    from ..figures.crumb import raw_parts, raw_scores

    if s.crumb is None or s.crumb.raw_counts.empty:
        return []
    return [_shown(raw_scores(s.crumb, s.style, names)) for names in raw_parts(s.crumb)]


def assessors(s: Summary) -> list[Shown]:
    """The people who scored, side by side."""
    from ..figures.crumb import assessors_side_by_side

    if s.crumb is None or s.crumb.assessors.empty:
        return []
    return [_shown(assessors_side_by_side(s.crumb, s.style))]


def residuals(s: Summary) -> list[Shown]:
    """The residuals of the loaves, and of the mixes where there are several."""
    from ..figures.factors import residuals_of

    f = s.factors
    if f is None or f.residual_checks is None:
        return []
    words = f"{f.label} ({f.unit})" if f.unit else f.label
    units = ["loaf"] if f.residual_checks.mixes.empty else ["loaf", "mix"]
    return [_shown(residuals_of(f.residual_checks, unit, words, s.style)) for unit in units]


def order(s: Summary) -> list[Shown]:
    """The loaves in the order of baking."""
    from ..figures.order import loaves_in_order

    if s.order is None:
        return []
    words, of = label(s.measure, s.trial.card), unit(s.measure, s.trial.card)
    formulas = s.comparison.n_mixes if s.comparison is not None else ()
    return [_shown(loaves_in_order(s.order, words, of, s.style, formulas), ORDER_NOTE)]
