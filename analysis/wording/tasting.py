"""What people read of servings: who can tell, what is preferred, how breads are ranked, how many
people it takes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pandas as pd

from ...trials.words.lists import counted, listed
from ...trials.words.naming import set_apart
from ...trials.words.numbers import NumberStyle, chance, number

if TYPE_CHECKING:
    from ..tasting.result import TasteCounts, TastersNeeded, TastingAnswers

DID = {
    "triangle": "picked the odd slice",
    "duo-trio": "found the reference's bread again",
    "tetrad": "put the right ones together",
    "three-choice": "picked the one that has the most",
    "pair": "picked the one expected to have more",
}
FEW_PEOPLE = 12  # below which limits of repeated servings are rough (simulated)
ASK_MAY_TELL = (
    "Say what share of people may be able to tell, as  may_tell  under [tasting] on the card, or"
    " with --may-tell."
)
ONE_DOUGH = (
    "There was only one dough of a formula: the answer speaks of these doughs, and not of how"
    " another dough to the same formula would be."
)
CAUTIONS = (
    "{allergens}",
    "Taste only if you agree to: anybody may stop, or only look and smell, and nobody asks why.",
    "Only baked, cooled bread is tasted, never dough or flour.",
    "Clean hands, boards and knives; everybody has a piece of their own.",
    "Local food-safety rules and trained staff come first.",
)
NO_ALLERGENS = "The formulas have no allergens, as whoever baked them says; ask if you are unsure."
NOT_NAMED = "Nobody has named the allergens yet: until somebody does, nobody tastes."


def tasting_sentences(r: TastingAnswers, style: NumberStyle) -> tuple[str, ...]:
    """Return everything that is said of the servings, the answers first."""
    lines: list[str] = []
    for row in _rows(r.tests):
        lines += _test_lines(row, len(r.tests) > 1, style)
    lines += [line for row in _rows(r.preferences) for line in _preference_lines(row, style)]
    lines += [line for row in _rows(r.rankings) for line in _ranking_lines(r, row, style)]
    return (
        *lines,
        *_one_dough(r),
        *_group_lines(r, style),
        *_left_out_lines(r),
        allergen_line(r.allergens),
    )


def headlines(r: TastingAnswers, style: NumberStyle) -> tuple[str, ...]:
    """Return the answers alone, each with what it may not be taken for: one sentence or two for
    each test, preference and ranking.
    """
    tests = [_test_lines(row, len(r.tests) > 1, style) for row in _rows(r.tests)]
    return (
        *(line for answer, _, *rest in tests for line in (answer, *rest)),
        *(_preference_lines(row, style)[0] for row in _rows(r.preferences)),
        *(_ranking_lines(r, row, style)[0] for row in _rows(r.rankings)),
        *_one_dough(r),
    )


def tasting_text(r: TastingAnswers, style: NumberStyle) -> str:
    """Return the whole answer as plain lines for a terminal or a pipe."""
    return "\n".join(tasting_sentences(r, style))


def counts_sentences(r: TasteCounts, style: NumberStyle) -> tuple[str, ...]:
    """Return what a count of right answers says, the answer first."""
    answer = f"{count_line(r, 'these breads', style)} {verdict_line(r)}"
    return (answer, _guessing_line(r, style), *_distance_lines(r, style))


def count_line(r: Any, breads: str, style: NumberStyle) -> str:
    """Return how many were right, what guessing would give, and how many can likely tell."""
    guessed = number(r.guess * r.n_servings, 0, style)
    return (
        f"{r.right} of {r.n_servings} {DID[r.test]}; guessing would give about {guessed}. "
        f"{range_words(r)} can likely tell {breads} apart."
    )


def range_words(r: Any) -> str:
    """Return the likely share who can tell, in people of a hundred."""
    low, high = in_100(r.can_tell_low), in_100(r.can_tell_high)
    if r.can_tell_low <= 0:
        return (
            f"At most {high} in 100"
            if 0 < high < 100
            else "Anything from nobody to everybody"
            if high
            else "Nobody"
        )
    return f"Between {low} and {high} in 100" if high < 100 else f"At least {low} in 100"


def in_100(share: float) -> int:
    """Return a share as people in a hundred; above none it is at least one."""
    return 0 if share <= 0 else max(1, round(100 * share))


def verdict_line(r: Any) -> str:
    """Return what the verdict means. Not shown to differ is never the same."""
    may = r.may_tell if r.may_tell is not None and math.isfinite(r.may_tell) else None
    if may is None:
        return (
            f"Some people can tell. {ASK_MAY_TELL}"
            if r.verdict == "can tell, how many unsure"
            else f"So it is not settled, and not shown that they are alike. {ASK_MAY_TELL}"
        )
    share = f"{in_100(may)} in 100"
    return {
        "many can tell": f"That is at least the {share} who you said may be able to.",
        "can tell, how many unsure": (
            f"Some people can tell; whether they are fewer than the {share} who may is not sure."
        ),
        "few can tell": f"Some people can tell, but fewer than the {share} who you said may.",
        "similar enough": (
            f"That is fewer than the {share} who you said may be able to: similar enough."
        ),
        "not settled": (
            "So it is not settled: these answers could have come about if nobody could tell,"
            " and also"
            f" if {share} could."
        ),
    }[r.verdict]


def _one_dough(r: TastingAnswers) -> list[str]:
    """Return that the answer does not speak of formulas, where one of them was one dough."""
    doughs = [*r.tests["n_mixes"], *r.preferences["n_mixes"], *r.rankings["n_mixes"]]
    return [ONE_DOUGH] if 1 in doughs else []


def _test_lines(row: Any, several: bool, style: NumberStyle) -> list[str]:
    """Return the lines of one test."""
    doughs = "these two doughs" if row.n_mixes == 1 else "these breads"
    breads = f"{set_apart(row.against)} and {set_apart(row.formula)}"
    name = f"{breads}{_asked(row)}: " if several else ""
    rests = f" ({row.test} test)" if several else f" ({breads}, {row.test} test{_asked(row)})"
    counted = count_line(row, doughs, style)
    lines = [
        f"{name}{counted.removesuffix('.')}{rests}. {verdict_line(row)}",
        _guessing_line(row, style),
    ]
    if row.n_servings > row.n_assessors:
        rough = (
            " With fewer than 12 people the range is rough." if row.n_assessors < FEW_PEOPLE else ""
        )
        lines.append(
            f"{_people(row.n_assessors)} had {row.n_servings} servings; the range is judged by"
            f" person, since servings of one person are not answers of strangers.{rough}"
        )
        if row.p_people_differ < 0.05:
            lines.append(
                f"People differ in it by more than chance ({chance(row.p_people_differ, style)}):"
                " some can tell better than others."
            )
    return lines


def _asked(row: Any) -> str:
    return f", {row.asked}" if row.asked else ""


def _guessing_line(r: Any, style: NumberStyle) -> str:
    return (
        f"If everybody guessed, so many or more would be right with {chance(r.p_different, style)}."
    )


def _distance_lines(r: TasteCounts, style: NumberStyle) -> list[str]:
    """Return the sensory distance, where it is bounded on both sides."""
    if not (math.isfinite(r.d_prime) and r.d_prime_low > 0):
        return []
    return [
        f"The sensory distance d′ is {number(r.d_prime, 2, style)} (likely"
        f" {number(r.d_prime_low, 2, style)} to"
        f" {number(r.d_prime_high, 2, style) if math.isfinite(r.d_prime_high) else 'any more'}), in"
        " standard deviations of one perception."
    ]


def _preference_lines(row: Any, style: NumberStyle) -> list[str]:
    """Return the lines of one preference."""
    chose = row.chose + row.chose_other
    formula, against = set_apart(row.formula), set_apart(row.against)
    if not chose:
        return [f"Of {_people(row.n_assessors)}, nobody preferred {formula} or {against}."]
    asked = f" ({row.asked})" if row.asked else ""
    count = (
        f"Of {chose} who chose, {row.chose} preferred {formula} and {row.chose_other}"
        f" {against}{asked}; {row.no_preference or 'nobody'} had no preference."
    )
    if row.verdict == "preferred":
        liked = formula if row.chose > row.chose_other else against
        said = f"More people prefer {liked} ({chance(row.p_value, style)})."
    else:
        said = f"Which of the two more people prefer is not settled ({chance(row.p_value, style)})."
    return [f"{count} {said}"]


def _ranking_lines(r: TastingAnswers, row: Any, style: NumberStyle) -> list[str]:
    """Return the lines of one ranking."""
    table = r.rankings[r.rankings["asked"] == row.asked].iloc[0]
    sums = {
        str(name).removeprefix("rank_sum_"): float(value)
        for name, value in table.items()
        if str(name).startswith("rank_sum_") and pd.notna(value)
    }
    order = sorted(sums, key=lambda bread: (sums[bread], bread))
    asked = f" {row.asked}" if row.asked else ""
    told = listed([f"{set_apart(bread)} ({number(sums[bread], 1, style)})" for bread in order])
    known = row.p_value <= 1 - r.confidence
    lines = [
        f"Ranked from the least{asked} to the most by {_people(row.n_assessors)}, the rank sums"
        f" are {told}. "
        + (
            "They are further apart than chance would put them"
            if known
            else "Chance alone may put them as far apart: the order is not settled"
        )
        + f" ({chance(row.p_value, style)})."
    ]
    pairs = [
        p for p in _rows(r.ranking_pairs) if p.asked == row.asked and p.p_holm <= 1 - r.confidence
    ]
    if known and pairs:
        parts = [
            f"{set_apart(p.formula if p.difference > 0 else p.against)} above"
            f" {set_apart(p.against if p.difference > 0 else p.formula)}"
            for p in pairs
        ]
        lines.append(f"Pair by pair, these are told apart: {listed(parts)}.")
    if row.p_expected <= 1 - r.confidence:
        lines.append(
            "The order that was expected beforehand is borne out"
            f" ({chance(row.p_expected, style)})."
        )
    return lines


def _group_lines(r: TastingAnswers, style: NumberStyle) -> list[str]:
    """Return the groups' counts; groups are not ranked."""
    lines = []
    for keys, part in r.groups.groupby(["test", "asked", "formula", "against"], sort=False):
        counts = listed([f"{row.right} of {row.n_servings} ({row.group})" for row in _rows(part)])
        p_value = float(part["p_value"].iloc[0])
        apart = (
            "differ by more than chance"
            if p_value <= 1 - r.confidence
            else "do not differ by more than chance may"
        )
        lines.append(
            f"By group, in the {keys[0]} test: {counts}. The groups {apart}"
            f" ({chance(p_value, style)})."
        )
    return lines


def _left_out_lines(r: TastingAnswers) -> list[str]:
    """Return how many servings are left out, and why."""
    said = [f"{row.n} of {row.test} ({row.reason})" for row in _rows(r.left_out)]
    return [f"Left out: {listed(said)}."] if said else []


def allergen_line(allergens: Mapping[str, tuple[str, ...]] | None) -> str:
    """Return the allergens by formula, as the card names them."""
    if allergens is None:
        return NOT_NAMED
    named = [
        f"{set_apart(formula) if formula else 'every bread'}: {listed(list(parts))}"
        for formula, parts in allergens.items()
        if parts
    ]
    return f"Allergens: {'; '.join(named)}." if named else NO_ALLERGENS


def caution_lines(allergens: Mapping[str, tuple[str, ...]] | None) -> tuple[str, ...]:
    """Return the cautions of a tasting, the allergens first."""
    return (allergen_line(allergens), *CAUTIONS[1:])


def needed_sentences(r: TastersNeeded) -> tuple[str, ...]:
    """Return how many people a test needs, and why not fewer."""
    truth = f"{in_100(r.can_tell)} in 100 can tell" if r.can_tell > 0 else "nobody can"
    power = f"{in_100(r.power)} times in 100"
    aim = (
        f"to show a difference {power}"
        if r.aim == "different"
        else (f"to show, {power}, that fewer than {in_100(r.may_tell or 0)} in 100 can tell")
    )
    if r.needed is None:
        return (f"More than 5,000 people would be needed in a {r.test} test {aim}, if {truth}.",)
    lines = [f"{r.needed} people are needed in a {r.test} test {aim}, if {truth}."]
    row = next(row for row in _rows(r.table) if row.n_assessors == r.needed)
    least = "at least" if r.aim == "different" else "at most"
    lines.append(f"With {r.needed}, {least} {row.right} right answers show it.")
    if r.first is not None and r.first < r.needed:
        lines.append(
            f"{r.first} reach it too, but not every number from {r.first} to {r.needed} does: the"
            " chance goes up and down as people are added, and some may stay away."
        )
    return (*lines, "Fix the number beforehand, and count only when everybody has answered.")


def needed_text(r: TastersNeeded) -> str:
    """Return the answer as plain lines."""
    return "\n".join(needed_sentences(r))


def counts_text(r: TasteCounts, style: NumberStyle) -> str:
    """Return the answer as plain lines."""
    return "\n".join(counts_sentences(r, style))


def _people(n: int) -> str:
    """Return how many people there were."""
    return counted(n, "person", "people")


def _rows(table: pd.DataFrame) -> list[Any]:
    """Return the rows of a table as records with fields."""
    return list(table.itertuples(index=False))
