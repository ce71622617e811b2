"""What a baker reads about the factors: what moved the measure, by how much, what works together,
curves.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ...trials.words.lists import capital, listed
from ...trials.words.numbers import (
    NumberStyle,
    amount,
    chance,
    decimals,
    level_words,
    levels_inside,
    number,
    range_decimals,
    size_of,
    typed_places,
)
from ..methods.ties import largest, smallest
from ..plain_data import DIGITS, records
from ..verdict import Verdict, verdict
from .codes import GOALS
from .comparison import condition_words, inseparable_lines
from .differences import difference_unit
from .factor_limits import limit_sentences
from .layout import layout_table_text, unit_words
from .report import verdict_label
from .verdicts import likely, likely_words, verdict_means

if TYPE_CHECKING:
    import pandas as pd

    from ..factors.curves import BestSetting, Curve
    from ..factors.how_many import HowMany
    from ..factors.result import FactorEffects
    from ..factors.unreplicated import Curvature, Unreplicated

_PICKED = {
    "Tukey": (
        "Where a factor has more than two levels, its range allows for the pair's having been"
        " picked (Tukey)."
    ),
    "Dunnett": (
        "Where levels are held against a control, the range allows for the pair's having been"
        " picked (Dunnett)."
    ),
}


def factor_sentences(f: FactorEffects, style: NumberStyle) -> tuple[str, ...]:
    """Return everything that a baker should read about the factors, the answer first."""
    curves = (curve_sentence(curve, f, style) for curve in f.curves)
    single = single_run_sentences(f.unreplicated, f, style) if f.unreplicated else ()
    return (
        headline(f, style),
        *other_effects(f, style),
        *_picked(f),
        *_together(f, style),
        *curves,
        *_all_at_once(f, style),
        *single,
        *limit_sentences(f, style),
    )


def factors_text(f: FactorEffects, style: NumberStyle) -> str:
    """Return what a terminal shows: the sentences that were put on, then how the trial was laid
    out.
    """
    answer, *more = f.sentences
    table = layout_table_text(f.layout, f.factor_labels, style)
    return "\n".join([answer, "", *(f"- {words}" for words in more), "", table])


def headline(f: FactorEffects, style: NumberStyle) -> str:
    """Return the largest effect that is shown, with its interval; or that none is."""
    row = leading_effect(f)
    if row is None:
        return f"These loaves cannot say what moved {_measure(f)}."
    several, judged = len(f.factors) > 1, f.effects["ci_low"].notna()
    name, size = factor_words(f, row["factor"]), _size(f, row, style)
    if not judged.any():
        return (
            f"How surely {_measure(f)} was moved cannot be judged. The largest effect was {name}:"
            f" {size}"
        )
    if row["ci_low"] > 0:
        top = [f.effects["factor"].iloc[place] for place in largest(f.effects["size"])]
        most = several and top == [row["factor"]] and not f.not_judged
        return f"{capital(name)} moved {_measure(f)}{' most' if most else ''}: {size}"
    if _not_alike(f, row["factor"]):
        return (
            f"{capital(name)} moved {_measure(f)}, though no two of its levels are told apart:"
            f" {size}"
        )
    among = " that can be judged" if f.not_judged else ""
    shown = f"No factor{among}" if several else "Nothing"
    which = f"The largest effect{among}, {name}," if judged.sum() > 1 else f"The effect of {name}"
    return f"{shown} is shown to have moved {_measure(f)}. {which} may be none at all: {size}"


def leading_effect(f: FactorEffects) -> dict[str, Any] | None:
    """Return the effect that is told first: the largest whose range leaves out zero; None where
    there is no effect.

    Where there is none such, the largest of a factor whose levels are not all alike by its own
    test; then the largest that can be judged; then the largest.
    """
    return min(records(f.effects), key=lambda row: _sureness(f, row), default=None)


def _sureness(f: FactorEffects, row: Mapping[str, Any]) -> int:
    """0 for an effect whose range leaves out zero, 1 for a factor whose levels are not all alike, 2
    for an effect that can be judged, 3 for another."""
    ways = (row["ci_low"] > 0, _not_alike(f, row["factor"]), not math.isnan(row["ci_low"]), True)
    return ways.index(True)


def how_many_words(f: FactorEffects, found: HowMany | None, style: NumberStyle) -> str:
    """Return how many units would settle the effect that is told first; empty where it is settled
    or unknown.
    """
    if found is None:
        return ""
    matters = found.matters or 0.0
    goal = GOALS[found.goal].format(_difference(f, matters, typed_places(matters), style))
    units = unit_words(found.unit, 2)
    if found.needed is None:
        return (
            f"Even {found.most_times} times as many {units} as now ({found.now}) would not {goal}:"
            " measure more surely, or ask about a larger difference."
        )
    return (
        f"To {goal} would take about {found.needed} {units} in all, {found.needed - found.now} more"
        " than now, laid out as these were. That is rough."
    )


def effect_verdict(f: FactorEffects) -> Verdict | None:
    """Return the verdict on the effect that is told first; None where there is none."""
    effect = leading_effect(f)
    return verdict(effect["ci_low"], effect["ci_high"], f.matters) if effect is not None else None


def undone_by(f: FactorEffects) -> list[str]:
    """Return the conditions that undo the verdict on the effect that is told first, as they are
    called inside a sentence.
    """
    effect = leading_effect(f)
    return _conditions(f.undone, effect["factor"]) if effect is not None else []


def inseparable_from(f: FactorEffects) -> list[str]:
    """Return the conditions that nothing can tell from the effect that is told first; as
    `undone_by`.
    """
    effect = leading_effect(f)
    return _conditions(f.inseparable, effect["factor"]) if effect is not None else []


def _conditions(table: pd.DataFrame, factor: str) -> list[str]:
    return [condition_words(row) for row in records(table[table["factor"] == factor])]


def _not_alike(f: FactorEffects, factor: str) -> bool:
    """Whether a factor's own test finds a difference somewhere between its levels."""
    p_values = dict(zip(f.tests["term"], f.tests["p_value"], strict=True))
    return bool(p_values.get(factor, math.nan) < 1 - f.confidence)


def factor_words(f: FactorEffects, name: str) -> str:
    """Return a factor, or factors together, as a person says them: ``formula``, ``formula and proof
    time``.
    """
    return listed([f.factor_labels.get(part, part) for part in name.removeprefix("−").split(" × ")])


def term_level(f: FactorEffects, name: str, level: object, style: NumberStyle) -> str:
    """Return a level with its factor's unit, as in ``60 min``; combinations part by part."""
    return " × ".join(level_words(one, style, of) for one, of in _levels(f, name, level))


def term_level_inside(f: FactorEffects, name: str, level: object, style: NumberStyle) -> str:
    """Return a level inside a sentence: names are set apart where they could be misread."""
    return levels_inside(_levels(f, name, level), style)


def _levels(f: FactorEffects, name: str, level: object) -> list[tuple[object, str]]:
    """The levels of a term's factors, each with its unit."""
    levels = level if isinstance(level, tuple) else (level,)
    units = [f.factor_units.get(part, "") for part in name.split(" × ")]
    return list(zip(levels, units, strict=False))


def _measure(f: FactorEffects) -> str:
    return f.label_inside


def _difference(f: FactorEffects, value: float, places: int, style: NumberStyle) -> str:
    """A difference in the measure with its unit, ``1 point`` in the singular."""
    said = size_of(value, difference_unit(f.unit), places, style)
    return said.removesuffix("s") if said in ("1 points", "1 percentage points") else said


def _size(f: FactorEffects, row: Mapping[str, Any], style: NumberStyle) -> str:
    """An effect's range, how it stands beside what matters, and what undoes it."""
    alike = _as_far_apart(f, row, style)
    told = f"{_range(f, row, style, alike)}.{_matters(f, row, style)}"
    tied = inseparable_lines(_conditions(f.inseparable, row["factor"]), "the two")
    return " ".join([told, *_undone(f, row["factor"], row, style), *tied])


def _range(f: FactorEffects, row: Mapping[str, Any], style: NumberStyle, alike: str = "") -> str:
    """``75 min above 45 min by 0.45 mL/g (likely between 0.41 and 0.49)``.

    alike : the pairs that lie as far apart (`_as_far_apart`).
    """
    high, low = (
        term_level_inside(f, row["factor"], row[end], style) for end in ("high_level", "low_level")
    )
    places = range_decimals(row["ci_low"], row["ci_high"], row["size"])
    said = f"{high} above {low} by {_difference(f, row['size'], places, style)}{alike}"
    if row["size"] == 0:
        said = f"no difference at all between {high} and {low}"
    if math.isnan(row["ci_low"]):
        return f"{said} (how sure cannot be said)"
    return f"{said} ({likely(row['ci_low'], row['ci_high'], places, style)})"


def _undone(
    f: FactorEffects, factor: str, effect: Mapping[str, Any], style: NumberStyle
) -> list[str]:
    """What the verdict on a factor's effect becomes adjusted for a condition that undoes it."""
    lines = []
    for row in records(f.undone[f.undone["factor"] == factor]):
        size, low, high = (row[f"adjusted_{name}"] for name in ("difference", "ci_low", "ci_high"))
        ends = ["high_level", "low_level"]
        if size < 0:
            size, low, high, ends = -size, -high, -low, ends[::-1]
        adjusted = {
            "factor": factor,
            "high_level": effect[ends[0]],
            "low_level": effect[ends[1]],
            "size": size,
            "ci_low": low,
            "ci_high": high,
        }
        called = verdict_label(row["adjusted_verdict"], f.matters is not None)
        lines.append(
            f"But the two stood apart in {condition_words(row)} too: adjusted for"
            f" it, {_range(f, adjusted, style)}, which is “{called}”."
        )
    return lines


def _as_far_apart(f: FactorEffects, row: Mapping[str, Any], style: NumberStyle) -> str:
    """The other pairs of its levels that lie just as far apart: ``, and 90 min above 45 min``."""
    if row["size"] == 0:
        return ""
    ends = [
        (one["second"], one["first"]) if one["difference"] < 0 else (one["first"], one["second"])
        for one in records(f.contrasts)
        if one["term"] == row["factor"]
        and abs(abs(one["difference"]) / row["size"] - 1) <= 10.0**-DIGITS
    ]
    return "".join(
        f", and {term_level_inside(f, row['factor'], high, style)} above"
        f" {term_level_inside(f, row['factor'], low, style)} by as much"
        for high, low in ends
        if (high, low) != (row["high_level"], row["low_level"])
    )


def _matters(f: FactorEffects, row: Mapping[str, Any], style: NumberStyle) -> str:
    """How the effect stands beside the difference that matters; nothing where nobody said one."""
    found = verdict(row["ci_low"], row["ci_high"], f.matters)
    if f.matters is None or found == "not settled":  # which the sentence has said by itself
        return ""
    words = _difference(f, f.matters, typed_places(f.matters), style)
    return f" {verdict_means(found, words)}"


def other_effects(f: FactorEffects, style: NumberStyle) -> tuple[str, ...]:
    """Return the other factors, each in a sentence, those that are shown first, and the levels of
    which nothing is known.
    """
    first = leading_effect(f)
    others = [row for row in records(f.effects) if first and row["factor"] != first["factor"]]
    said = [
        f"{capital(factor_words(f, row['factor']))}{_shown(f, row)}: {_size(f, row, style)}"
        for row in sorted(others, key=lambda row: not row["ci_low"] > 0)
    ]
    return (*said, *_levels_not_judged(f, style))


def _picked(f: FactorEffects) -> list[str]:
    """That ranges allow for the pair's having been picked."""
    used = set(f.effects["adjustment"])
    return [words for adjustment, words in _PICKED.items() if adjustment in used]


def _shown(f: FactorEffects, row: Mapping[str, Any]) -> str:
    """What is said of a factor that does not lead."""
    if row["ci_low"] > 0:
        return ""
    if math.isnan(row["ci_low"]):
        return " cannot be judged"
    if _not_alike(f, row["factor"]):
        return " moved it, though no two of its levels are told apart"
    return " is not shown to have moved it"


def _levels_not_judged(f: FactorEffects, style: NumberStyle) -> tuple[str, ...]:
    """Levels of which nothing shows how sure their differences are, where other levels can be
    judged.
    """
    said = []
    for name in f.factors:
        pairs = f.contrasts[f.contrasts["term"] == name]
        judged = pairs[pairs["ci_low"].notna()]
        seen = set(judged["first"]) | set(judged["second"])
        levels = f.means.loc[f.means["term"] == name, "levels"]
        alone = [level for (level,) in levels if level not in seen]
        if len(judged) and alone:
            said.append(
                f"How surely {factor_words(f, name)}"
                f" {listed([term_level_inside(f, name, x, style) for x in alone])}"
                f" differ{'s' if len(alone) == 1 else ''} from the others cannot be judged."
            )
    return tuple(said)


def _all_at_once(f: FactorEffects, style: NumberStyle) -> tuple[str, ...]:
    """The factors' tests, adjusted for their number."""
    tests = f.tests[f.tests["term"].isin(f.factors) & f.tests["p_holm"].notna()]
    said = [
        f"{factor_words(f, row['term'])} {chance(row['p_holm'], style)}" for row in records(tests)
    ]
    return (f"All factors looked at together (Holm): {', '.join(said)}.",) if len(said) > 1 else ()


def _together(f: FactorEffects, style: NumberStyle) -> tuple[str, ...]:
    """Factors that work together, with the highest and the lowest of their combinations."""
    said = [
        f"{capital(factor_words(f, name))} work together: what one does depends on the other"
        f"{'s' if name.count(' × ') > 1 else ''}, so read their combinations and not each alone."
        f"{_extremes(f, name, style)}{_cap(f, name)}"
        for name in f.interactions.loc[f.interactions["there"], "term"]
    ]
    rule = (
        "Factors are said to work together where their own test is below"
        f" {number(1 - f.confidence, 2, style)}."
    )
    return (*said, rule) if said else ()


def _extremes(f: FactorEffects, name: str, style: NumberStyle) -> str:
    """The highest and the lowest mean of a term's combinations."""
    means = f.means[(f.means["term"] == name) & f.means["mean"].notna()]
    if len(means) < 2:
        return ""
    rows, ends = records(means), (largest(means["mean"]), smallest(means["mean"]))
    high, low = (rows[tied[0]]["mean"] for tied in ends)
    places = decimals(high - low, high)
    top, bottom = (
        f"{listed([term_level_inside(f, name, rows[i]['level'], style) for i in tied])}, "
        f"{amount(mean, f.unit, places, style)}"
        for tied, mean in zip(ends, (high, low), strict=True)
    )
    return f" Highest: {top}; lowest: {bottom}."


def _cap(f: FactorEffects, name: str) -> str:
    """Why the tin seems to work together with whatever makes a loaf rise."""
    if "tin" not in name.split(" × ") or not (f.left_out["reason"] == "lid").any():
        return ""
    return (
        " Part of that is the lid itself: it holds back most the loaves that would have risen most."
    )


# --- curves ------------------------------------------------------------------------------------


def curve_sentence(curve: Curve, f: FactorEffects, style: NumberStyle) -> str:
    """Return what the line or curve of a number says, never beyond what was baked."""
    name = capital(factor_words(f, curve.factor))
    low, high = (
        setting_words(f, curve, value, style) for value in (curve.baked[0], curve.baked[-1])
    )
    said = _turn(curve.best, curve, f, style) if curve.best else _line(curve, f, style)
    misfit = (
        curve.tests.set_index("term")["p_value"].get("lack of fit", math.nan) < 1 - f.confidence
    )
    poor = " The means do not lie well on it: read the mean of each level." if misfit else ""
    return f"{name}, {low} to {high}: {said}{poor}"


def setting_words(f: FactorEffects, curve: Curve, value: float, style: NumberStyle) -> str:
    """Return a value of the factor with its unit: as baked, or to a tenth of the baked range's
    digits.
    """
    places = decimals((curve.baked[-1] - curve.baked[0]) / 10, max(map(abs, curve.baked)))
    places = typed_places(value) if value in curve.baked else max(places, 0)
    return amount(value, f.factor_units.get(curve.factor, ""), places, style)


def _line(curve: Curve, f: FactorEffects, style: NumberStyle) -> str:
    """The straight line's rise for one step between baked values."""
    step = min(b - a for a, b in zip(curve.baked, curve.baked[1:], strict=False))
    rise, low, high = (
        step * slope for slope in (curve.slope, curve.slope_ci_low, curve.slope_ci_high)
    )
    places = range_decimals(low, high, rise)
    for_step = (
        f"for each {amount(step, f.factor_units.get(curve.factor, ''), typed_places(step), style)}"
        " more"
    )
    if math.isnan(low):
        return (
            f"{_difference(f, rise, places, style)} {for_step} in a straight line; how sure cannot"
            " be said."
        )
    if low <= 0 <= high:
        return (
            f"no rise or fall is shown, {_difference(f, rise, places, style)} {for_step} "
            f"({likely(low, high, places, style)})."
        )
    moves, by = ("rises", (rise, low, high)) if rise > 0 else ("falls", (-rise, -high, -low))
    return (
        f"{_measure(f)} {moves} in a straight line by {_difference(f, by[0], places, style)}"
        f" {for_step} ({likely(by[1], by[2], places, style)})."
    )


def _turn(best: BestSetting, curve: Curve, f: FactorEffects, style: NumberStyle) -> str:
    """Where the curve is highest or lowest, or that it turns beyond what was baked."""
    follows = f"{_measure(f)} follows a curve that is {best.kind}"
    if best.where == "beyond":
        first, last = curve.fitted["mean"].iloc[0], curve.fitted["mean"].iloc[-1]
        end = curve.baked[-1] if (last > first) == (best.kind == "highest") else curve.baked[0]
        return (
            f"{follows} at {setting_words(f, curve, end, style)}, the end of what was baked. Where"
            " it turns lies beyond what was baked, and is not guessed."
        )
    at = setting_words(f, curve, best.estimate, style)
    if best.interval == "unbounded":
        return f"{follows} near {at}; how near cannot be said."
    low, high = (setting_words(f, curve, value, style) for value in (best.ci_low, best.ci_high))
    cut = ", cut at what was baked" if best.interval == "cut at the range" else ""
    return f"{follows} at {at} ({likely_words(low, high, real=True)}{cut}; Fieller)."


# --- one loaf a combination --------------------------------------------------------------------


def single_run_sentences(
    single: Unreplicated, f: FactorEffects, style: NumberStyle
) -> tuple[str, ...]:
    """Return how effects were judged where nothing was baked twice, aliases, what is tied, and
    curvature.
    """
    return (
        _lenth(single, f, style),
        *_aliases(single, f, style),
        *_tied_effects(single, f),
        *(_curvature(single.curvature, f, style) if single.curvature else ()),
    )


def _lenth(single: Unreplicated, f: FactorEffects, style: NumberStyle) -> str:
    once = "No combination was baked twice"
    if math.isnan(single.limits.margin):
        return (
            f"{once} and the effects are too few to judge one another: how sure they are cannot be"
            " said."
        )
    alone, together = (
        _difference(f, margin, decimals(margin, margin), style)
        for margin in (single.limits.margin, single.limits.simultaneous_margin)
    )
    return (
        f"{once}, so the many small effects serve to judge the large ones (Lenth): one beyond"
        f" {alone} is likely real, and one beyond {together} even when all are looked at together."
    )


def _aliases(single: Unreplicated, f: FactorEffects, style: NumberStyle) -> tuple[str, ...]:
    """What the large effects, or the main ones where none is large, cannot be told from."""
    if single.fraction == 1:
        return ()
    rows = records(single.effects)
    large = [row for row in rows if row["beyond"] in ("margin", "simultaneous")]
    named = [
        f"{factor_words(f, row['term'])} from"
        f" {listed([_alias(f, alias) for alias in row['aliases']], 'or')}"
        for row in large or [row for row in rows if " × " not in row["term"]]
    ]
    share = 100 * single.fraction
    return (
        (
            f"Only {number(share, typed_places(share), style)} % of the combinations were baked, so"
            f" some effects cannot be told apart: {'; '.join(named)}."
        ),
    )


def _alias(f: FactorEffects, name: str) -> str:
    words = factor_words(f, name)
    return f"{words} together" if " × " in name else words


def _tied_effects(single: Unreplicated, f: FactorEffects) -> tuple[str, ...]:
    """Effects that changed only with a grouping."""
    rows = [row for row in records(single.effects) if row["beyond"] == "unjudged"]
    by_unit: dict[str, list[str]] = {}
    for row in rows if math.isfinite(single.limits.margin) else []:
        by_unit.setdefault(str(row["unit"]).replace("_", " "), []).append(_alias(f, row["term"]))
    return tuple(
        f"What {listed(names, 'or')} did cannot be told from what changed from {unit} to {unit}."
        for unit, names in by_unit.items()
    )


def _curvature(curvature: Curvature, f: FactorEffects, style: NumberStyle) -> tuple[str, ...]:
    """The centre against the corners."""
    if math.isnan(curvature.p_value):
        return ("One loaf at the centre cannot say whether the middle lies off the straight line.",)
    lies = "lies off" if curvature.p_value < 1 - f.confidence else "fits"
    places = range_decimals(curvature.ci_low, curvature.ci_high, curvature.estimate)
    return (
        (
            f"The centre {lies} the straight line between the ends: the others' mean less the"
            f" centre's is {_difference(f, curvature.estimate, places, style)}"
            f" ({likely(curvature.ci_low, curvature.ci_high, places, style)})."
        ),
    )
