"""What people read of words that were ticked: which tell the breads apart, and what the others do
not say.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

from ...trials.words.lists import listed
from ...trials.words.naming import set_apart
from ...trials.words.numbers import NumberStyle, chance, number
from ..methods.ties import largest, smallest

if TYPE_CHECKING:
    from ..tasting.result import WordsSeen

MOST_WORDS = 8
LOAVES_SPEAK = (
    "The loaves speak for themselves: another dough to the same formula may be another bread."
)
BY_FORMULA = "Dough against dough is judged with  --by formula."
TOO_FEW = 0.05  # with fewer doughs no arrangement is as rare as this


def words_sentences(r: WordsSeen, style: NumberStyle) -> tuple[str, ...]:
    """Return everything that is said of the words, the answer first."""
    told = [row for row in _rows(r.words) if row.tells_apart]
    return (
        _answer(r, told, style),
        *(_word_line(r, row, style) for row in told[:MOST_WORDS]),
        *_others(r, told),
        *_agreement(r, told),
        *_unit(r),
        *([f"{LOAVES_SPEAK} {BY_FORMULA}"] if r.by == "loaf" else []),
        *_twins(r),
        *_doughs(r, style),
    )


def words_headlines(r: WordsSeen, style: NumberStyle) -> tuple[str, ...]:
    """Return the answer alone, with what it may not be taken for."""
    told = [row for row in _rows(r.words) if row.tells_apart]
    speak = [LOAVES_SPEAK] if r.by == "loaf" else []
    return (_answer(r, told, style), *_others(r, told), *_unit(r), *speak)


def words_text(r: WordsSeen, style: NumberStyle) -> str:
    """Return the whole answer as plain lines for a terminal or a pipe."""
    return "\n".join(words_sentences(r, style))


def _answer(r: WordsSeen, told: list[Any], style: NumberStyle) -> str:
    """Return how many words tell the loaves apart, and which."""
    people = "1 person" if r.n_assessors == 1 else f"{r.n_assessors} people"
    who = f"{people} looked at {len(r.loaves)} loaves"
    if told:
        names = listed([set_apart(row.word) for row in told])
        verb = "tells" if len(told) == 1 else "tell"
        return (
            f"{who}: of {len(r.words)} words, {len(told)} {verb} these loaves apart: {names} "
            f"(all words together, {chance(r.p_together, style)})."
        )
    known = math.isfinite(r.p_together)
    together = (
        f"all words together, {chance(r.p_together, style)}" if known else "nobody ticked any"
    )
    none = "the only word is not" if len(r.words) == 1 else f"none of the {len(r.words)} words is"
    return f"{who}: {none} shown to tell these loaves apart ({together})."


def _word_line(r: WordsSeen, row: Any, style: NumberStyle) -> str:
    """Return where a word was ticked most and least, and the pairs that it tells apart."""
    shares = r.shares.loc[row.word].dropna()
    most, least = largest(shares), smallest(shares)
    there, elsewhere = (
        listed([_loaf(r, str(shares.index[place])) for place in tied]) for tied in (most, least)
    )
    line = (
        f"{_capital(set_apart(row.word))}: ticked by {_percent(shares.iloc[most[0]])} in 100 for"
        f" {there} and by {_percent(shares.iloc[least[0]])} for {elsewhere}"
        f" ({chance(row.p_adjusted, style)}, all words allowed for)"
    )
    pairs = r.pairs[(r.pairs["word"] == row.word)]
    n = int(pairs["differs"].sum()) if len(pairs) else 0
    return (
        f"{line}; {n} of {len(pairs)} pairs of loaves differ in it."
        if len(pairs) > 1
        else f"{line}."
    )


def _loaf(r: WordsSeen, loaf: str) -> str:
    """Return a loaf's name with its formula."""
    formula = r.loaves.set_index("loaf")["formula"].get(loaf, "")
    return f"loaf {loaf} ({set_apart(formula)})" if formula and formula != loaf else f"loaf {loaf}"


def _others(r: WordsSeen, told: list[Any]) -> list[str]:
    """Return what is to be thought of the words that tell nothing apart."""
    n = len(r.words) - len(told)
    if not n:
        return []
    which = "In the other words" if told else "In these words"
    return [
        f"{which} the loaves do not differ by enough for so many people to show it. That is the"
        " bread's doing, and not that of those who looked; nor does it show that the loaves are"
        " the same."
    ]


def _agreement(r: WordsSeen, told: list[Any]) -> list[str]:
    """Return how far people, or tables, gave the same answer in the told words."""
    said = [
        f"{set_apart(row.word)} {_percent(row.same_answer)} times in 100, where chance gives"
        f" {_percent(row.by_chance)}"
        for row in told[:MOST_WORDS]
        if math.isfinite(row.same_answer)
    ]
    two = "people" if r.unit == "assessor" else "tables"
    return [f"Two {two} gave the same answer: {listed(said)}."] if said else []


def _unit(r: WordsSeen) -> list[str]:
    """Return that tables count, where people sat at tables."""
    if r.unit == "assessor":
        return []
    return [
        f"People at one table see each other's sheets, so that {r.n_units} tables are counted, and"
        " not people."
    ]


def _twins(r: WordsSeen) -> list[str]:
    """Return how alike one loaf under two codes was judged."""
    return [
        f"Loaf {row.loaf} stood there under two codes: both got the same answer"
        f" {_percent(row.same_answer)} times in 100, and different loaves"
        f" {_percent(row.same_elsewhere)} times."
        for row in _rows(r.twins)
    ]


def _doughs(r: WordsSeen, style: NumberStyle) -> list[str]:
    """Return the differences between formulas, dough against dough."""
    lines = []
    for row in _rows(r.formulas)[:MOST_WORDS]:
        if not math.isfinite(row.difference):
            continue
        doughs = f"{row.doughs} dough{'' if row.doughs == 1 else 's'} against {row.against_doughs}"
        more = "more" if row.difference >= 0 else "less"
        size = number(abs(100 * row.difference), 0, style)
        if not row.smallest_p <= TOO_FEW:
            said = f"{doughs}, which are too few to show more: bake each formula more often"
        else:
            said = (
                f"{doughs}; {chance(row.p_value, style)}, where these doughs could give "
                f"{number(row.smallest_p, 3, style)}"
            )
        lines.append(
            f"{_capital(set_apart(row.word))}, between formulas: ticked by {size} in 100 {more} for"
            f" {set_apart(row.formula)} than for {set_apart(row.against)} ({said})."
        )
    return lines


def _percent(share: float) -> int:
    return round(100 * float(share))


def _capital(word: str) -> str:
    return word[:1].upper() + word[1:]


def _rows(table: pd.DataFrame) -> list[Any]:
    return list(table.itertuples(index=False))
