"""What a baker reads of the crumb scores: the breads first, then the check, the people, what goes
with volume.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from ...trials.columns import CRUMB_PREFIX, inside, label
from ...trials.reading.headers import tidy_name
from ...trials.words.lists import capital, counted, listed
from ...trials.words.naming import set_apart
from ...trials.words.numbers import NumberStyle, amount, chance, number, typed_places
from ..methods.ties import rounded
from .crumb_people import agreement_lines, assessor_lines, rows_of, without_lines
from .differences import Said
from .report import row_verdict_label
from .verdicts import likely, verdict_means

if TYPE_CHECKING:
    from ..crumb.result import CrumbScores

ASK_WHAT_MATTERS = (
    "Say on the card, as  matters  under [measures.{}], what difference is worth acting on."
)
ONE_MIX = (
    "There is only one mix of {}, so that nothing shows how another mix would have turned out."
)
NO_INTERVAL = {
    "one unit": (
        "More than half of one side hangs on a single day or mix that no other can be held against,"
        " so that nothing shows how sure this is."
    ),
    "none left": (
        "There are no more mixes than what must be told apart, so that nothing is left to judge by."
    ),
    "no variation": "The scores do not vary at all, so that nothing shows how sure this is.",
    "tied": "It cannot be told apart from something else that changed with the formula.",
}
GROUPS = {
    "matters": "Matters",
    "real, size unsure": "Real, size unsure",
    "real but small": "Real but small",
    "no difference that matters": "No difference that matters",
    "not settled": "Not settled",
}
TASTE_WORDS = (
    "taste",
    "flavour",
    "flavor",
    "aroma",
    "odour",
    "odor",
    "smell",
    "salt",
    "sweet",
    "sour",
    "bitter",
)
TASTING = (
    "Where bread is tasted: never raw dough or flour; list the allergens (gluten, seeds, milk, egg,"
    " soya …) beforehand and let everybody agree; local food-safety rules and trained staff have"
    " the last word."
)
MOST_LISTED = 8


def crumb_sentences(r: CrumbScores, style: NumberStyle) -> tuple[str, ...]:
    """Return everything that is said of the scores, the answer first."""
    return (
        answer(r, style),
        *other_lines(r, style),
        *total_lines(r, style),
        *holm_lines(r),
        *ordered_lines(r, style),
        *assessor_lines(r, style),
        *without_lines(r),
        *agreement_lines(r, style),
        *volume_lines(r, style),
        *tasting_lines(r),
    )


def crumb_text(r: CrumbScores, style: NumberStyle) -> str:
    """Return the whole answer as plain lines for a terminal or a pipe."""
    lines = list(crumb_sentences(r, style))
    if r.findings:
        lines += ["", *(f"{f.severity.capitalize()}: {f.message} {f.fix}" for f in r.findings)]
    return "\n".join(lines)


def said(row: Any, style: NumberStyle) -> Said:
    """Return a row of the attributes' table (difference, ends, formulas) ready to be said."""
    return Said(
        formula=str(row.formula),
        against=str(row.against),
        measure=f"{CRUMB_PREFIX}{row.attribute}",
        label_inside=inside(f"{CRUMB_PREFIX}{row.attribute}", row.label),
        unit="points",
        difference=float(row.difference),
        ci_low=float(row.ci_low),
        ci_high=float(row.ci_high),
        style=style,
    )


def answer(r: CrumbScores, style: NumberStyle) -> str:
    """Return the surest difference, what it rests on, and what it means."""
    row = rows_of(r.attributes)[0]
    d = said(row, style)
    rests = f"{_mixes(row.n_mixes)} each" + (f", {people(r.n_assessors)}" if r.n_assessors else "")
    if not d.has_interval:
        return f"{capital(_clause(d))} ({rests}). {_no_interval(r, row)}"
    ends = scale_words(r, row.attribute)
    return " ".join(
        part
        for part in (f"{capital(_clause(d))} ({d.likely()}; {rests}).", ends, _verdict(row, style))
        if part
    )


def _clause(d: Said) -> str:
    """Return the difference as a clause, also where there is none at all, or none can be given."""
    attribute = _name(d.measure.removeprefix(CRUMB_PREFIX))
    ours, theirs = set_apart(d.formula), set_apart(d.against)
    if math.isnan(d.difference):
        return f"{ours} and {theirs} loaves cannot be compared for {attribute}"
    if d.difference == 0:
        return f"{ours} loaves scored the same for {attribute} as {theirs} loaves"
    if _about_the_same(d):
        return f"{ours} loaves scored about the same for {attribute} as {theirs} loaves"
    return d.clause()


def _about_the_same(d: Said) -> bool:
    """Whether a difference is none in the decimals that are told."""
    return round(d.difference, max(d.places, 0)) == 0


def _verdict(row: Any, style: NumberStyle) -> str:
    if math.isnan(row.matters):
        return f"{verdict_means(row.verdict, '', 'scores')} {ask_what_matters(row.attribute)}"
    places = max(said(row, style=style).places, typed_places(row.matters))
    return verdict_means(row.verdict, amount(row.matters, "points", places, style), "scores")


def ask_what_matters(attribute: str) -> str:
    """Return where on the card it is said which difference of an attribute matters."""
    name = CRUMB_PREFIX + tidy_name(attribute)
    return ASK_WHAT_MATTERS.format(name if name.isascii() else f'"{name}"')


def _no_interval(r: CrumbScores, row: Any) -> str:
    """Say why nothing tells how sure a difference is."""
    mixes = r.means[r.means["attribute"] == row.attribute].set_index("formula")["n_mixes"]
    alone = [set_apart(name) for name in (row.formula, row.against) if mixes.get(name, 0) < 2]
    why = (
        ONE_MIX.format(listed(alone))
        if alone
        else NO_INTERVAL.get(row.why, "Nothing is left to judge it by.")
    )
    return f"It is not settled. {why}"


def scale_words(r: CrumbScores, attribute: str) -> str:
    """Return what the steps of an attribute's scale mean, as the card says it: ``1 is closed, 10
    very open.``
    """
    steps = list(r.words.get(attribute, {}).items())
    if not steps:
        return ""
    (first, means), *others = steps
    return (
        "On this scale"
        f" {', '.join([f'{first} is {means}', *(f'{step} {words}' for step, words in others)])}."
    )


def other_lines(r: CrumbScores, style: NumberStyle) -> list[str]:
    """Return the other attributes and pairs, gathered by what is said of them."""
    several = len(r.attributes[["formula", "against"]].drop_duplicates()) > 1
    rows = rows_of(r.attributes)[1:]
    lines = []
    for verdict, words in GROUPS.items():
        told = [_short(row, several, style) for row in rows if row.verdict == verdict]
        if told:
            more = f" and {len(told) - MOST_LISTED} more" if len(told) > MOST_LISTED else ""
            lines.append(f"{words}: {'; '.join(told[:MOST_LISTED])}{more}.")
    return lines


def _short(row: Any, several: bool, style: NumberStyle) -> str:
    """``evenness, 0.57 lower (likely between 0.26 and 0.89)``, with the pair where there are
    several.
    """
    d = said(row, style)
    pair = f"{set_apart(row.formula)} against {set_apart(row.against)} in " if several else ""
    size = (
        "the same"
        if d.difference == 0
        else "about the same"
        if _about_the_same(d)
        else d.end(d.difference)
    )
    return f"{pair}{_name(row.attribute)}, {size}{d.in_brackets()}"


def total_lines(r: CrumbScores, style: NumberStyle) -> list[str]:
    """Return the weighted total, and what each part adds to it."""
    lines = []
    for row in rows_of(r.total[r.total["part"] == "total"]):
        d = Said(
            formula=str(row.formula),
            against=str(row.against),
            measure=f"{CRUMB_PREFIX}total",
            label_inside="total",
            unit="points",
            difference=float(row.difference),
            ci_low=float(row.ci_low),
            ci_high=float(row.ci_high),
            style=style,
        )
        parts = r.total[
            (r.total["part"] != "total")
            & (r.total["formula"] == row.formula)
            & (r.total["against"] == row.against)
        ]
        parts = parts.sort_values(
            "contribution", key=lambda part: rounded(part.abs()), kind="stable", ascending=False
        )
        added = [
            f"{_name(part.part)} {number(part.contribution, max(d.places, 1), style)}"
            for part in rows_of(parts)
        ]
        lines.append(
            f"With the card's weights, {d.clause()}{d.in_brackets()}:"
            f" {row_verdict_label(row.verdict, row.matters)}. "
            f"Of that difference: {listed(added)}."
        )
    return lines


def holm_lines(r: CrumbScores) -> list[str]:
    """Return what is left when it is allowed for how many differences were looked at."""
    judged = r.attributes[r.attributes["p_value"].notna()]
    real = judged[judged["p_value"] < 1 - r.confidence]
    if len(judged) < 2 or real.empty:
        return []
    kept = real[real["p_holm"] < 1 - r.confidence]
    looked = (
        f"{len(judged)} differences were looked at, and the more that are, the sooner one comes up"
        " by chance."
    )
    if len(kept) == len(real):
        return [f"{looked} Allowing for that (Holm), all that were called real stay so."]
    names = (
        listed(list(dict.fromkeys(_name(row.attribute) for row in rows_of(kept))))
        if len(kept)
        else "none"
    )
    return [f"{looked} Allowing for that (Holm), of those called real {names} would stay so."]


def ordered_lines(r: CrumbScores, style: NumberStyle) -> list[str]:
    """Return whether the check that takes scores as ordered steps says the same of each attribute's
    formulas.
    """
    each = r.attributes.drop_duplicates("attribute")
    lost = each[each["ordered_why"] == "no convergence"]
    lines = (
        []
        if lost.empty
        else [
            "A check that takes the scores as ordered steps could not be worked out for"
            f" {listed([_name(name) for name in lost['attribute']][:MOST_LISTED])}: too few scores,"
            " or too much alike, to fit it to."
        ]
    )
    known = each[each["agrees"].notna()]
    odd = known[~known["agrees"].astype(bool)]
    if len(known) and odd.empty:
        return ["A check that takes the scores as ordered steps, no more, says the same.", *lines]
    real = odd["together_p"] < 1 - r.confidence
    if real.any():
        lines.append(
            "Taken as ordered steps, no more, the scores do not show the difference in "
            f"{_with_p(odd[real], style)}: lean on it lightly."
        )
    if (~real).any():
        lines.append(
            f"Taken as ordered steps, these scores differ in {_with_p(odd[~real], style)}. That"
            " check knows nothing of mixes: it speaks of these loaves, not of the next bake."
        )
    return lines


def _with_p(rows: Any, style: NumberStyle) -> str:
    told = [f"{_name(row.attribute)} ({chance(row.ordered_p, style)})" for row in rows_of(rows)]
    return listed(told[:MOST_LISTED])


def volume_lines(r: CrumbScores, style: NumberStyle) -> list[str]:
    """Return which attributes go up or down with volume, mix by mix."""
    known = r.volume_correlation[r.volume_correlation["r"].notna()]
    sure = known[(known["ci_low"] > 0) | (known["ci_high"] < 0)]
    if sure.empty:
        return []
    told = [
        f"{_name(row.attribute)} {'rises' if row.r > 0 else 'falls'} (r {number(row.r, 2, style)},"
        f" {likely(row.ci_low, row.ci_high, 2, style)})"
        for row in rows_of(sure)
    ]
    measure = label(str(sure["measure"].iloc[0])).lower()
    return [
        f"From mix to mix ({sure['n_mixes'].max()} mixes), as {measure} rises,"
        f" {listed(told[:MOST_LISTED])}. That they go together does not say which brings the other"
        " about."
    ]


def tasting_lines(r: CrumbScores) -> list[str]:
    """Return the cautions of tasting, where an attribute is tasted or smelled."""
    names = " ".join(r.attributes["attribute"]).lower()
    return [TASTING] if any(word in names for word in TASTE_WORDS) else []


def people(n: int) -> str:
    """``1 assessor``, ``8 assessors``."""
    return counted(n, "assessor")


def _mixes(n: int) -> str:
    return counted(n, "mix", "mixes")


def _name(attribute: str) -> str:
    return attribute.replace("_", " ")
