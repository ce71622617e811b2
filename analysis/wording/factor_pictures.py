"""What the factors' pictures show, in words: axis texts, labels beside marks, sentences for who
cannot see them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ...trials.words.lists import capital, listed
from ...trials.words.numbers import NumberStyle, amount, decimals, number
from ..methods.ties import largest, smallest
from ..plain_data import significant
from .differences import difference_unit
from .factors import curve_sentence, factor_words, headline, setting_words, term_level_inside
from .layout import layout_sentences, unit_words

if TYPE_CHECKING:
    from ..factors.curves import Curve
    from ..factors.residuals import Strange
    from ..factors.result import FactorEffects
    from ..factors.unreplicated import Unreplicated
    from ..model.layout import Layout

TOO_SMALL = "too small to matter"
QUANTILE_AXIS = "Half-normal quantile"
NORMAL_AXIS = "Normal quantile"
STANDARDISED_AXIS = "Distance from the fit (SD)"
SHARE_AXIS = "Share of all variation (%)"
LIKELY_REAL, REAL_TOGETHER = "likely real", "real even together"
AND_MORE = "and {} more"
MOST_TOLD = 8  # means that a sentence tells one by one


def with_unit(words: str, unit: str) -> str:
    """Return axis words with their unit: ``Specific volume (mL/g)``."""
    return f"{words} ({unit})" if unit else words


def fitted_axis(measure_words: str) -> str:
    """Return the words under an axis of fitted values."""
    return f"Fitted {measure_words[:1].lower()}{measure_words[1:]}"


def size_axis(f: FactorEffects) -> str:
    """Return the words under the effects' axis."""
    return with_unit(f"{f.label}: highest mean minus lowest", difference_unit(f.unit))


def above(high: str, low: str, between: str = " ") -> str:
    """Return two levels of a factor as the picture of effects names them."""
    return f"{high}{between}above {low}"


def effects_alt(f: FactorEffects, style: NumberStyle) -> str:
    """Return what the picture of effects shows."""
    names = [factor_words(f, name) for name in f.effects["factor"]]
    return (
        f"The factors by the size of their effect, largest first: {listed(names)}."
        f" {headline(f, style)}"
    )


def means_alt(f: FactorEffects, term: str, style: NumberStyle) -> str:
    """Return what a picture of combinations shows: every mean, or of many the highest and the
    lowest.
    """
    means = f.means[(f.means["term"] == term) & f.means["mean"].notna()]
    places = decimals(
        float(means["mean"].max() - means["mean"].min()), float(means["mean"].abs().max())
    )
    said = [
        f"{term_level_inside(f, term, level, style)} {amount(mean, f.unit, places, style)}"
        for level, mean in zip(means["level"], means["mean"], strict=True)
    ]
    told = (
        "; ".join(said)
        if len(said) <= MOST_TOLD
        else (
            f"{len(said)} means, the highest {listed([said[i] for i in largest(means['mean'])])}, "
            f"the lowest {listed([said[i] for i in smallest(means['mean'])])}"
        )
    )
    return f"{f.label} by {factor_words(f, term)}: {told}."


def curve_alt(curve: Curve, f: FactorEffects, style: NumberStyle) -> str:
    """Return what the picture of a curve shows."""
    return (
        f"A {'curve' if curve.degree == 2 else 'line'} with its likely band."
        f" {curve_sentence(curve, f, style)}"
    )


def best_words(curve: Curve, f: FactorEffects, style: NumberStyle) -> str:
    """Return what stands beside the mark of the best setting: ``highest at 83 min``."""
    return (
        f"{curve.best.kind} at {setting_words(f, curve, curve.best.estimate, style)}"
        if curve.best
        else ""
    )


def half_normal_alt(single: Unreplicated, f: FactorEffects) -> str:
    """Return what stands out of the half-normal plot."""
    large = single.effects.loc[single.effects["beyond"].isin(["margin", "simultaneous"]), "term"]
    names = [factor_words(f, term) for term in large]
    stands = "stands" if len(names) < 2 else "stand"
    out = f"{listed(names) if names else 'none'} {stands} beyond Lenth's margin"
    return f"Half-normal plot of {len(single.effects)} effects: {out}."


def sources(f: FactorEffects, most: int) -> list[tuple[str, float, str]]:
    """Return name, share and kind of each source of variation.

    Factors and combinations beyond the ``most`` largest, and several below half a percent, are one
    row together.
    """
    rows = [
        (source_words(f, row["source"], row["kind"]), float(row["share"]), str(row["kind"]))
        for row in f.variances.to_dict("records")
    ]
    of_factors = [row for row in rows if row[2] == "factor"]
    by_size = sorted(of_factors, key=lambda row: -significant(row[1]))
    small = by_size[min(most, max(sum(row[1] >= 0.005 for row in by_size), 1)) :]
    rest = [(f"{len(small)} others together", sum(share for _, share, _ in small), "factor")]
    shown = [row for row in of_factors if row not in small] + rest if len(small) > 1 else of_factors
    return shown + [row for row in rows if row[2] != "factor"]


def source_words(f: FactorEffects, name: str, kind: str) -> str:
    """Return a source of variation: a factor, or between what the scatter lies."""
    if kind == "factor":
        return capital(factor_words(f, name)) + (" together" if " × " in name else "")
    return f"Between {unit_words(name, 2)}"


def sources_alt(f: FactorEffects, most: int, style: NumberStyle) -> str:
    """Return every source's share."""
    said = [
        f"{name[:1].lower()}{name[1:]} {number(100 * share, 0, style)} %"
        for name, share, _ in sources(f, most)
    ]
    return f"Where the variation of {f.label_inside} comes from: {', '.join(said)}."


def residuals_alt(unit: str, n: int, strange: Sequence[Strange]) -> str:
    """Return what the picture of residuals shows."""
    far = [s for s in strange if s.unit == unit]
    if not far:
        return f"How far {n} {unit_words(unit, n)} lie from the fit."
    lies = (
        f"lie{'s' if len(far) == 1 else ''} farthest off,"
        f" {'' if far[0].strange else 'not '}strangely far"
    )
    return (
        f"How far {n} {unit_words(unit, n)} lie from the fit: {unit_words(unit, len(far))} "
        f"{listed([s.label for s in far])} {lies}."
    )


def layout_alt(layout: Layout, labels: dict[str, str], style: NumberStyle) -> str:
    """Return how the trial was laid out."""
    return " ".join(layout_sentences(layout, labels, style)[:2])
