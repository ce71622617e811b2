"""The sentences of a report that are not a result's own: what was done, what verdicts mean, what to
try.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from ...trials import Trial
from ...trials.columns import MEASURES, label_inside, unit
from ...trials.words.lists import counted, listed
from ...trials.words.numbers import NumberStyle, amount, decimals, level_inside, typed
from .findings import plain_text

if TYPE_CHECKING:
    import pandas as pd

    from ..comparison.measuring_error import MeasuringError
    from ..factors.baking_order import BakingOrder
    from ..factors.result import FactorEffects

VERDICTS = (
    "matters",
    "real, size unsure",
    "real but small",
    "no difference that matters",
    "not settled",
)

KICKERS = {
    "class": "Bake trial: for the class",
    "wall": "Bake trial: for the wall",
    "bakery": "Bake trial: for the bakery",
    "record": "Bake trial: for the file",
}

# What each verdict means: first where somebody said what difference matters, then where nobody did.
_MEANINGS = {
    "matters": (
        "Even the smallest difference in the likely range is as large as the one you said matters."
    ),
    "real, size unsure": (
        "There is a difference. Whether it is as large as the one you said matters is still open."
    ),
    "real but small": "There is a difference, and it is smaller than the one you said matters.",
    "no difference that matters": (
        "If there is a difference at all, it is smaller than the one you said matters."
    ),
    "not settled": (
        "These loaves fit with no difference, and also with one that matters. That is not the same"
        " as equal."
    ),
}
_MEANINGS_UNASKED = {
    "real, size unsure": (
        "There is a difference. Nobody wrote on the card what difference would matter, so whether "
        "it is worth acting on is not judged here."
    ),
    "not settled": (
        "These loaves do not show a difference, and do not show that there is none. Write on the"
        " card what difference would matter, and the answer can say more."
    ),
}

_SURE = {
    "matters": (
        "Yes, for these breads baked in this way: it rests on several doughs of each, and even the"
        " smallest difference that fits them is big enough to matter."
    ),
    "real, size unsure": "Sure that there is a difference, not sure how large it is.",
    "real but small": "Yes: there is a difference, and it is too small to matter to us.",
    "no difference that matters": (
        "Yes: whatever difference there is, it is too small to matter to us."
    ),
    "not settled": "Not yet. Another morning could turn out the other way.",
}

_SURE_UNASKED = {
    "real, size unsure": (
        "Sure that there is a difference. Whether it is large enough to matter is for you to say: "
        "nobody has written down yet what difference would matter."
    )
}

_TRY_NEXT = {
    "matters": "Change one more thing, and see whether the difference stays.",
    "real, size unsure": (
        "Bake again with more doughs of each bread, to learn how big the difference is."
    ),
    "real but small": (
        "Look at something else that the change may have done: crumb, crust, how long it keeps."
    ),
    "no difference that matters": (
        "Make a bolder change, or look at something else: crumb, crust, how long it keeps."
    ),
    "not settled": (
        "Bake again, with more doughs of each bread. More loaves from the same dough would help"
        " little."
    ),
}


_TRY_NEXT_UNASKED = {
    "real, size unsure": (
        "Agree what difference would matter, write it on the card, and look at the answer again."
    )
}


def verdict_label(verdict: str, asked: bool) -> str:
    """Return how a verdict is called; ``asked`` says whether somebody wrote what difference
    matters.
    """
    return (
        verdict if asked or verdict != "real, size unsure" else "real; what matters is not said yet"
    )


def row_verdict_label(verdict: str, matters: float) -> str:
    """Return how the verdict of a table's row is called; ``matters`` is NaN where nobody said."""
    return verdict_label(verdict, not math.isnan(matters))


def verdict_meaning(verdict: str, asked: bool) -> str:
    """Return what a verdict means; ``asked`` says whether somebody wrote what difference
    matters.
    """
    return _MEANINGS[verdict] if asked else _MEANINGS_UNASKED[verdict]


def undone_label(label: str, undone_by: Sequence[str]) -> str:
    """Return how a verdict is called that does not outlive these conditions, where there are any:
    ``matters, undone by baking order``.
    """
    return f"{label}, undone by {listed(list(undone_by))}" if undone_by else label


def undone_meaning(undone_by: Sequence[str]) -> str:
    """Return why no verdict is marked, where these conditions undo it."""
    return (
        f"None of these is marked: adjusted for {listed(list(undone_by), 'or')}, in which they"
        " stood apart too, the verdict is another one."
    )


def not_sure_beside(undone_by: Sequence[str], they: str) -> str:
    """Return that nothing is sure, where these conditions undo the verdict; ``they`` are what was
    compared.
    """
    return (
        f"No: {they} were not alike in {listed(list(undone_by))} either, and that may have made the"
        " difference, or a part of it."
    )


def only_if(names: Sequence[str], they: str) -> str:
    """Return on what being sure rests, where these conditions cannot be told from what was
    compared; as `not_sure_beside`.
    """
    return (
        f"Only if nothing came from {listed(list(names))}: {they} stood apart in that too, and"
        " nothing here can tell what came from which."
    )


def cannot_be_sure(why: Sequence[str]) -> str:
    """Return that nothing is sure, where it cannot be judged at all."""
    return f"No. {' '.join(why)}"


def bake_alike(undone_by: Sequence[str], they: str) -> str:
    """Return what to bake next, where these conditions undo the verdict; as `not_sure_beside`."""
    return f"Bake again with {listed(list(undone_by))} alike for {they}, or drawn by lot."


def can_we_be_sure(verdict: str, fewest_mixes: int, asked: bool = True) -> str:
    """Return the class's answer to "can we be sure?"; ``asked`` as for `verdict_label`."""
    if fewest_mixes < 2:
        return (
            "No: a bread of which only one dough was made shows its loaves, not how the next dough"
            " would come out."
        )
    return _SURE[verdict] if asked else _SURE_UNASKED.get(verdict, _SURE[verdict])


_SURE_OF_A_FACTOR = {
    "matters": (
        "Yes, for these doughs and this oven: all of the likely range is large enough to matter."
    )
}
_NEXT_FOR_A_FACTOR = {
    "matters": "Change one more thing, and see whether the difference stays.",
    "real, size unsure": "Bake again, to learn how large the difference is.",
    "not settled": "Bake again.",
}


def sure_of_a_factor(verdict: str, asked: bool) -> str:
    """Return the answer to "can we be sure?" where a factor was changed and no formula; as
    `can_we_be_sure`.
    """
    return _SURE_OF_A_FACTOR.get(verdict) or can_we_be_sure(verdict, 2, asked)


def of_one_factor(factor: str, unknown: Sequence[str]) -> str:
    """Return of which factor the answer to "can we be sure?" is, where others were changed too;
    ``unknown``: those that cannot be judged.
    """
    said = f"That is said of {factor} alone."
    return f"{said} Of {listed(list(unknown))} nothing can be sure." if unknown else said


def what_to_try_of_a_factor(verdict: str, asked: bool) -> str:
    """Return what to try next where a factor was changed and no formula; as `what_to_try`."""
    unasked = not asked and verdict in _TRY_NEXT_UNASKED
    return (
        what_to_try(verdict, asked)
        if unasked
        else _NEXT_FOR_A_FACTOR.get(verdict) or what_to_try(verdict)
    )


def what_to_try(verdict: str, asked: bool = True) -> str:
    """Return what a class may try next; ``asked`` as for `verdict_label`."""
    return _TRY_NEXT[verdict] if asked else _TRY_NEXT_UNASKED.get(verdict, _TRY_NEXT[verdict])


DECISION = (
    "The numbers do not decide. Cost, keeping, taste, and what your customers and your bakers say"
    " weigh too: the decision is yours."
)


def facts(trial: Trial) -> str:
    """Return what the trial was made of: loaves, mixes, days, and how many loaves were left out."""
    loaves = trial.counted
    parts = [counted(len(loaves), "loaf", "loaves")]
    if "mix" in loaves and loaves["mix"].notna().any():
        parts[0] += f" from {counted(loaves['mix'].nunique(), 'mix', 'mixes')}"
    if "day" in loaves and loaves["day"].notna().any():
        parts.append(f"baked on {counted(loaves['day'].nunique(), 'day', 'days')}")
    if len(trial.void):
        parts.append(f"{counted(len(trial.void), 'loaf', 'loaves')} declared void")
    return ", ".join(parts) + "."


def what_was_changed(trial: Trial, style: NumberStyle) -> str:
    """Return the factors with their levels."""
    loaves = trial.counted
    said = []
    for factor in trial.factors:
        levels = trial.card.factors.get(factor) or tuple(sorted(loaves[factor].dropna().unique()))
        words = [level_inside(level, style) for level in levels]
        of = f" {unit(factor, trial.card)}".rstrip()
        said.append(f"the {label_inside(factor, trial.card)} ({listed(words)}{of})")
    return f"We changed {listed(said)}." if said else "Nothing was changed on purpose."


SCROLLS = "This table goes on to the right: push it to the left. →"
ABOUT_KEPT = "Kept the same to within {} %"


def what_was_kept(
    kept: Sequence[str],
    about: Sequence[str],
    within: Sequence[str],
    alike: Sequence[str],
    apart: Sequence[str],
    share: float,
) -> str:
    """Return what was kept the same, what about the same (no loaf more than ``share`` off), what
    was compared within, what varied about alike for the formulas, and what set them apart.
    """
    said = {
        "Kept the same": kept,
        ABOUT_KEPT.format(f"{100 * share:g}"): about,
        "Compared within each": within,
        "Varied, but about alike for the formulas": alike,
        "Not alike for the formulas": apart,
    }
    return (
        " ".join(f"{words}: {listed(list(names))}." for words, names in said.items() if names)
        or "Nothing else was written down."
    )


def what_was_measured(measure: str, trial: Trial) -> str:
    """Return the measure with what it is made from."""
    known = MEASURES.get(measure)
    in_unit = unit(measure, trial.card)
    return (
        f"We measured {label_inside(measure, trial.card)}{f' in {in_unit}' if in_unit else ''}"
        f"{f': {known.is_said}' if known and known.is_said else ''}."
    )


SURE_OF_FACTORS = (
    "As sure as these doughs and this oven allow. Another mix, on another day, would show whether "
    "it holds there too."
)
TRY_AGAIN = "Bake it again from another mix, on another day, and see whether the same comes out."
EACH_ALONE = (
    "Each range stands for its own measure: of twenty measures in which nothing differs, one would"
    " be called real by chance."
)


def loaves_sentence(f: FactorEffects, factor: str, n_loaves: int, style: NumberStyle) -> str:
    """Return what the picture of every loaf by a factor's levels shows."""
    means = f.means[f.means["term"] == factor]
    rows = [
        f"{level} {amount(mean, f.unit, None, style)}"
        for level, mean in zip(means["level"], means["mean"], strict=True)
    ]
    ranges = " with the likely range" if means["ci_low"].notna().all() else ""
    return (
        f"Every loaf as a dot, one row for each {f.factor_labels.get(factor, factor)}: "
        f"{counted(n_loaves, 'loaf', 'loaves')}; below each row its mean{ranges}. "
        f"{f.label}, means: {listed(rows)}."
    )


def no_question(trial: Trial, measure: str) -> str:
    """Return a question where the card has none."""
    factors = [label_inside(f, trial.card) for f in trial.factors]
    if not factors:
        return "What was baked?"
    return f"What did {listed(factors)} do to {label_inside(measure, trial.card)}?"


def measuring_sentence(
    error: MeasuringError | None,
    difference: float,
    of_unit: str,
    measure_words: str,
    style: NumberStyle,
) -> str:
    """Return how a difference stands beside what measuring leaves unsure."""
    if error is None:
        return (
            "How far two readings of one loaf lie apart is not known: no loaf was measured twice."
            " Measure a few loaves two or three times next time."
        )
    r = error.repeatability
    places = max(decimals(error.standard_uncertainty, error.limit), 0)
    limit = amount(error.limit, of_unit, places, style)
    rests = (
        f"{counted(r.n_loaves, 'loaf', 'loaves')} read again show that readings of one loaf scatter"
        f" by {amount(r.sd, 'mL', decimals(r.sd, r.sd), style)} (standard deviation, {r.df} degrees"
        f" of freedom). Two loaves that are alike may so measure up to {limit} apart in"
        f" {measure_words.lower()}, nineteen times in twenty."
    )
    if error.exceeds(difference):
        return f"The difference is smaller than the measuring error of a single loaf. {rests}"
    return f"The difference is larger than the measuring error of a single loaf. {rests}"


def not_answered(reason: str) -> str:
    """Return that a part could not be answered, and why."""
    return f"Not answered: {reason}"


def each_mark(means: pd.DataFrame) -> str:
    """Return what the marks of every loaf are, with those of these means; one that is not known is
    not drawn.
    """
    if means["mean"].isna().all():
        return "Every mark is a loaf."
    with_range = " with its likely range" if means["ci_low"].notna().any() else ""
    return f"Every small mark is a loaf; the large mark is the mean{with_range}."


def breads_not_compared(reason: str) -> str:
    """Return that the breads could not be compared, and the first reason why, for a class."""
    return f"The breads could not be compared with each other: {reason.splitlines()[0]}"


FAIR_INTRO = (
    "A fair test changes one thing and keeps the rest the same, or compares within it. This is what"
    " was written down of each condition."
)
RANGE_OF_ONE = (
    "The adjusted differences in this table have ranges of their own pair alone; the answer's range"
    " is wider, because it holds for {}."
)
MIND = "Mind this before you trust the answer:"
NO_FINDINGS = "The checks found nothing in the records that speaks against the comparison."
NO_FINDINGS_AT_ALL = "The checks found nothing in the records that needs attention."
NOTHING_ASSUMED = "Nothing was taken for granted in reading the records."
ALL_LOAVES_USED = "The answer uses every loaf that was recorded."
HOW_SHORT = (
    "Loaves cut from one mix share its flour, water and mixing. So a formula is judged by how its"
    " mixes differ, and each likely range rests on the number of mixes, not of loaves."
)
MORE_IN_RECORD = (
    "Every test, condition and loaf, and each method's published source: see the report for the"
    " file."
)

_SHARED_HEADINGS = {
    "answer": "The answer",
    "numbers": "How large, how sure",
    "conditions": "Does it hold throughout?",
    "measures": "What else differed",
    "crumb": "The crumb",
    "formulas": "The formulas",
    "fair": "Was it a fair test?",
    "next": "What to bake next",
    "how": "How it was worked out",
    "cautions": "Take care",
    "words": "Words used here",
    "factors": "What changed the loaf",
    "layout": "How the trial was laid out",
    "model": "Did the model hold?",
    "records": "The records",
    "tasting": "Can people tell?",
    "seen": "What people saw",
}
_CLASS_HEADINGS = {
    "question": "What we asked",
    "changed": "What we changed",
    "kept": "What we kept the same",
    "measured": "What we measured",
    "found": "What we found",
    "crumb": "What we found when we scored",
    "tasting": "Could we tell the breads apart?",
    "seen": "What we saw",
    "sure": "Can we be sure?",
    "next": "What to try next",
}


def section_heading(audience: str, section: str) -> str:
    """Return a section's heading in the words of its reader."""
    own = _CLASS_HEADINGS if audience in ("class", "wall") else {}
    return own.get(section) or _SHARED_HEADINGS[section]


def imprint(
    version: str,
    confidence: float,
    measure: str,
    matters: float | None,
    sources: Mapping[str, str],
    style: NumberStyle,
) -> tuple[str, ...]:
    """Return the lines at the end: version, settings, and a fingerprint of each file that was
    read.
    """
    said = (
        f"difference that matters {typed(matters, style)}"
        if matters is not None
        else ("no difference that matters was said")
    )
    level = typed(100 * confidence, style)
    return (
        (
            f"Made with Fairloaf {version}. Settings: measure {measure}, likely range {level} %,"
            f" {said}. The same records and settings give the same report, letter for letter."
        ),
        *(f"{name}: SHA-256 {digest}" for name, digest in sorted(sources.items())),
    )


def drift_sentence(order: BakingOrder, words: str, of_unit: str, style: NumberStyle) -> str:
    """Return what the picture of the baking order shows."""
    spread = float(order.loaves["left_over"].std())
    change = 10 * order.slope
    scale = max(decimals(spread, spread) - 1, 0)
    measure = words[:1].lower() + words[1:]
    if round(abs(change), scale) == 0:
        return (
            f"In the order of baking, {measure} stays level; the factors and mixes are allowed for."
        )
    return (
        f"In the order of baking, {measure} {'rises' if change > 0 else 'falls'} by"
        f" {amount(abs(change), of_unit, scale, style)} for every ten places; the factors and mixes"
        " are allowed for."
    )


ORDER_NOTE = (
    "Each mark is a loaf: how far it lies from what its factors and its mix explain, in the order"
    " of baking. The line is a description, not a test."
)


def answer_text(sentence: str, label: str, warnings: Sequence[str]) -> str:
    """Return what the command line prints before a report is drawn: the answer, its verdict, what
    to mind.
    """
    told = [f"Verdict: {label}."] if label else []
    told += [f"Warning: {plain_text(warning)}" for warning in warnings]
    return "\n".join([plain_text(sentence), *told])


def files_text(paths: Sequence[str], replaced: Sequence[str] = ()) -> str:
    """Return what it prints after the report was written: where it is, and what it replaced."""
    said = [f"Report: {path}" for path in paths]
    stood = "A report of other records stood there and was replaced"
    return "\n".join([*said, *(f"{stood}: {path}" for path in replaced)])


STEPS = {
    "compare": "Comparing the formulas",
    "factors": "Asking which factor changed the loaf",
    "measures": "Comparing the other measures",
    "scores": "Reading the crumb scores",
    "pictures": "Drawing the pictures",
    "html": "Writing the page",
    "pdf": "Setting the PDF",
    "svg": "Writing the pictures",
    "png": "Writing the pictures",
    "xlsx": "Filling the workbook",
    "json": "Writing the data",
}
