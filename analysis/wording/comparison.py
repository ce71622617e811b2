"""What a baker reads when two formulas were compared: the answer first, then how sure, then what to
do.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

from ...trials import Finding
from ...trials.columns import inside, label_inside, unit
from ...trials.words.lists import capital, counted, listed
from ...trials.words.naming import set_apart
from ...trials.words.numbers import (
    NumberStyle,
    amount,
    decimals,
    level_inside,
    number,
    range_decimals,
    range_end,
    typed_places,
)
from ..comparison.fair_test import KEPT_LOAF
from ..methods.ties import largest
from ..plain_data import records
from .codes import CHOICES, GOALS, NOT_TRIED
from .differences import Said, difference_unit
from .interval_line import interval_line
from .report import ABOUT_KEPT, verdict_label
from .second_opinion import how_line, judged_words, opinion_line
from .verdicts import likely_words, verdict_means

if TYPE_CHECKING:
    import pandas as pd

    from ..comparison.reached import Reached
    from ..comparison.result import Comparison
    from ..comparison.settle import Settle

MOST_OTHERS = 4  # told beside the answer; a table has all
ASK_WHAT_MATTERS = (
    "Say what difference would be worth acting on, as  matters  on the card or with --matters, and "
    "ask again."
)
NO_INTERVAL = {
    "one unit": (
        "More than half of one side hangs on a single {unit} that no other can be held against, so"
        " that nothing shows how sure this is."
    ),
    "none left": (
        "The {unit} are no more than what must be told apart (formulas, and what they are compared"
        " within), so that nothing is left to judge by."
    ),
    "no variation": "The {unit} do not vary at all, so that nothing shows how sure this is.",
}
ADJUSTED = {
    "Dunnett": (
        "Every formula is held against {against}; the likely ranges hold for all together"
        " (Dunnett)."
    ),
    "Tukey": (
        "No control is named, so every pair is compared; the likely ranges hold for all together"
        " (Tukey)."
    ),
}


def answer(c: Comparison, style: NumberStyle) -> str:
    """Return the answer: that it depends on the tin or the proof, then the difference, then the
    verdict.
    """
    return " ".join(
        [
            *depends_lines(c),
            _difference(c, style),
            *reached_lines(c, c.reached),
            *alike_lines(c.ignored),
            verdict_sentence(c, style),
            *undone_lines(c, style),
            *inseparable_lines(inseparable_from(c)),
        ]
    )


def undone_lines(c: Comparison, style: NumberStyle) -> list[str]:
    """Return what the verdict becomes adjusted for a condition that undoes it; empty where none
    does.
    """
    lines = []
    for row in records(c.undone):
        d = replace(
            said(c, style),
            difference=float(row["adjusted_difference"]),
            ci_low=float(row["adjusted_ci_low"]),
            ci_high=float(row["adjusted_ci_high"]),
        )
        called = verdict_label(row["adjusted_verdict"], c.matters is not None)
        lines.append(
            f"But they stood apart in {condition_words(row)} too: adjusted for it, {d.clause()}"
            f"{d.in_brackets()}, which is “{called}”."
        )
    return lines


def undone_by(c: Comparison) -> list[str]:
    """Return the conditions that undo the verdict, as they are called inside a sentence."""
    return [condition_words(row) for row in records(c.undone)]


def inseparable_from(c: Comparison) -> list[str]:
    """Return the conditions that nothing can tell from the formulas, as they are called inside a
    sentence; none where nothing is settled.
    """
    if c.verdict == "not settled":
        return []
    return [condition_words(row) for row in records(c.fairness.inseparable)]


def inseparable_lines(names: Sequence[str], they: str = "they") -> list[str]:
    """Return that a difference may be that of something else; empty where it cannot be. ``they``
    are what was compared.
    """
    if not names:
        return []
    return [
        f"But {they} stood apart in {listed(list(names))} too, and nothing here can tell what"
        " came from which."
    ]


def reached_lines(
    c: Comparison, through: Reached | None, formula: str = "", against: str = ""
) -> list[str]:
    """Return through which formulas a difference was reached, and what that assumes; empty where
    through none.
    """
    if through is None:
        return []
    names = [label_inside(name) for name in through.conditions]
    ones = listed([f"the {name}" for name in names])
    return [
        f"{capital(set_apart(formula or c.formula))} and {set_apart(against or c.against)} never"
        " had the same"
        f" {listed(names, 'or')}: this was reached through"
        f" {listed([set_apart(one) for one in through.through])}, and"
        f" holds only if {ones} {'does' if len(names) == 1 else 'do'} the same to every formula."
    ]


def said(c: Comparison, style: NumberStyle, row: Any = None) -> Said:
    """Return the difference that is told; with a row of a table (difference, ci_low, ci_high), that
    one.
    """
    source = c if row is None else row
    names = source if hasattr(source, "formula") else c
    return Said(
        formula=str(names.formula),
        against=str(names.against),
        measure=c.measure,
        label_inside=c.label_inside,
        unit=difference_unit(c.unit),
        difference=float(source.difference),
        ci_low=float(source.ci_low),
        ci_high=float(source.ci_high),
        style=style,
    )


def alike_lines(ignored: Sequence[str]) -> list[str]:
    """Return which blocks were taken as alike, and why; empty where none were."""
    if not ignored:
        return []
    blocks = listed([judged_words(name)[1] for name in ignored])
    return [
        f"{capital(blocks)} were taken as alike: compared within {blocks}, nothing would be left to"
        " judge by."
    ]


def _difference(c: Comparison, style: NumberStyle) -> str:
    d = said(c, style)
    sentence = f"Over all levels alike, {d.clause()}" if c.interacting else capital(d.clause())
    if not d.has_interval:
        return f"{sentence} ({mixes_words(c)})."
    return f"{sentence} ({d.likely()}; {mixes_words(c)})."


def mixes_words(c: Comparison) -> str:
    """Return what the difference rests on: ``4 mixes each``, or ``4 mixes of malted, 3 of
    house``.
    """
    ours, theirs = c.n_mixes[c.formula], c.n_mixes[c.against]
    return (
        f"{_mixes(ours)} each"
        if ours == theirs
        else f"{_mixes(ours)} of {set_apart(c.formula)}, {theirs} of {set_apart(c.against)}"
    )


def verdict_sentence(c: Comparison, style: NumberStyle) -> str:
    """Return what the verdict means, beside what matters; asks for it where nobody said it."""
    if not said(c, style=style).has_interval:
        return f"It is not settled. {_no_interval(c)}"
    if c.matters is None:
        return f"{verdict_means(c.verdict, '')} {ASK_WHAT_MATTERS}"
    return verdict_means(c.verdict, matters_words(c, style))


def _no_interval(c: Comparison) -> str:
    alone = [set_apart(name) for name in (c.formula, c.against) if c.n_mixes[name] < 2]
    if alone:
        return (
            f"There is only one mix of {listed(alone)}: loaves of one mix are repeat looks at a"
            " single trial, so that nothing shows how another mix would have turned out."
        )
    one, several = judged_words(c.unit_of_analysis)
    unit_said = one if c.why == "one unit" else several
    return NO_INTERVAL.get(c.why, "Nothing is left to judge by.").format(unit=unit_said)


def matters_words(c: Comparison, style: NumberStyle) -> str:
    """Return what matters with its unit, in the decimals that it was given, or one more as the
    difference has.
    """
    typed = typed_places(c.matters or 0.0)
    return amount(
        c.matters or 0.0,
        difference_unit(c.unit),
        max(typed, min(typed + 1, said(c, style=style).places)),
        style,
    )


def depends_lines(c: Comparison) -> list[str]:
    """Return, for each factor by whose levels the difference differs, that it does.

    The differences themselves are told below, whether they differ or not (`level_lines`): a range
    that is told only where the levels seem to differ misses far more often than it says.
    """
    return [f"The difference depends on {label_inside(factor)}." for factor in c.interacting]


def level_lines(c: Comparison, style: NumberStyle) -> list[str]:
    """Return the difference at each tin, proof time and so on, one line a factor.

    A level's range is judged as the pair is, and not for the number of levels: the more of them,
    the likelier that one of them misses (`at_level.py`), which is said.
    """
    lines = []
    for factor, rows in c.by_level.groupby("factor", sort=False):
        told = [
            f"{level_inside(row.level, style, unit(str(factor)))}, {_at_level(c, row, style)}"
            for row in _rows(rows)
        ]
        lines.append(
            f"{set_apart(c.formula)} less {set_apart(c.against)} by {label_inside(str(factor))}:"
            f" {'; '.join(told)}.{_each_alone(rows, label_inside(str(factor)))}"
        )
    return [capital(line) for line in lines]


def _each_alone(rows: pd.DataFrame, factor: str) -> str:
    """What the ranges at a factor's levels are not adjusted for; nothing where there is but one."""
    if rows["ci_low"].notna().sum() < 2:
        return ""
    return f" Each range holds for its own {factor}, not for all of them together."


def _at_level(c: Comparison, row: Any, style: NumberStyle) -> str:
    """``0.31 mL/g bigger (likely between 0.12 and 0.50)``."""
    d = said(c, style, row)
    if not math.isfinite(d.difference):
        return "the two were not both baked"
    how = "no difference" if d.difference == 0 else f"{d.by()} {d.direction(d.difference)}"
    return f"{how}{d.in_brackets()}"


# --- what follows the answer -------------------------------------------------------------------


def comparison_lines(c: Comparison, style: NumberStyle) -> list[str]:
    """Return what follows the answer: in percent, the other pairs, what was chosen, how it was
    judged.
    """
    lines = [percent_line(c, style), *pair_lines(c, style), as_sure_line(c), choice_line(c)]
    if said(c, style=style).has_interval:
        lines += [how_line(c, style), opinion_line(c, style)]
    return [line for line in (*lines, *level_lines(c, style)) if line]


def percent_line(c: Comparison, style: NumberStyle) -> str:
    """Return the difference in percent of the formula compared against."""
    if c.percent is None or c.unit == "%":
        return ""
    p = c.percent
    places = range_decimals(p.ci_low, p.ci_high, p.difference)
    size = f"In percent of {set_apart(c.against)}: {number(p.difference, places, style)} %"
    if not math.isfinite(p.ci_low):
        return f"{size}."
    low, high = (
        range_end(end, places, style) if p.ci_low * p.ci_high > 0 else number(end, places, style)
        for end in (p.ci_low, p.ci_high)
    )
    return f"{size} ({likely_words(f'{low} %', f'{high} %', p.ci_low * p.ci_high > 0)})."


def means_apart_line(c: Comparison, style: NumberStyle) -> str:
    """Return that the difference is not that of the means beside it; empty where it is, as
    printed.
    """
    places = said(c, style).places
    apart, told = abs(c.means_apart), abs(c.difference)
    if not math.isfinite(apart) or number(apart, places, style) == number(told, places, style):
        return ""
    return (
        f"The means lie {number(apart, places, style)} apart and the difference is"
        f" {number(told, places, style)}: each is worked out within days, ovens and the like as"
        " far as its own loaves allow. The difference is the one to go by."
    )


def pair_lines(c: Comparison, style: NumberStyle) -> list[str]:
    """Return the other pairs, one line each, when there are more than two formulas."""
    others = [row for row in _rows(c.pairs) if (row.formula, row.against) != (c.formula, c.against)]
    return [_pair_line(c, row, style) for row in others]


def as_sure_line(c: Comparison) -> str:
    """Return which pairs are as sure as the one that is told; empty where none is."""
    sureness = (c.pairs["difference"] / c.pairs["standard_error"]).abs()
    tied = [
        f"{set_apart(row.formula)} beside {set_apart(row.against)}"
        for row in _rows(c.pairs.iloc[largest(sureness)])
        if (row.formula, row.against) != (c.formula, c.against)
    ]
    return f"Exactly as sure as that which is told first: {listed(tied)}." if tied else ""


def control_lines(c: Comparison, style: NumberStyle) -> list[str]:
    """Return the other formulas held against the same one as the answer's, one line each, a few at
    most.
    """
    rows = [row for row in _rows(c.pairs) if row.against == c.against and row.formula != c.formula]
    return [_pair_line(c, row, style) for row in rows[:MOST_OTHERS]]


def _pair_line(c: Comparison, row: Any, style: NumberStyle) -> str:
    d = said(c, style, row)
    verdict = verdict_label(str(row.verdict), c.matters is not None)
    return " ".join(
        [
            f"{capital(d.clause())}{d.in_brackets()}: {verdict}.",
            *reached_lines(c, row.reached, row.formula, row.against),
            *alike_lines(row.ignored),
        ]
    )


def choice_line(c: Comparison) -> str:
    """Return what was chosen where it was not asked, and how several pairs were adjusted."""
    if CHOICES[c.choice]:
        return CHOICES[c.choice].format(against=set_apart(c.against))
    return (
        ADJUSTED.get(c.adjustment, "").format(against=set_apart(c.against))
        if math.isfinite(c.ci_low)
        else ""
    )


def left_out_line(c: Comparison) -> str:
    """Return how many loaves were not used, reason by reason; empty where all were."""
    reasons = (
        c.left_out["reason"]
        .astype(str)
        .str.replace(r"^void: .*", "void", regex=True)
        .value_counts(sort=False)
    )
    told = [
        f"{counted(n, 'loaf', 'loaves')} {_why_left_out(c, reason)}"
        for reason, n in reasons.items()
    ]
    return f"Left out: {listed(told)}." if told else ""


def _why_left_out(c: Comparison, reason: object) -> str:
    if reason == "lid":
        return (
            f"from lidded tins (a filled tin's {c.label_inside} says nothing about"
            " the formula:"
            " compare volumes in open tins, and judge lidded loaves by fill, crumb and crust)"
        )
    return (
        "declared void"
        if reason == "void"
        else f"without {label_inside(str(reason).removeprefix('no '))}"
    )


def settle_lines(c: Comparison, style: NumberStyle) -> list[str]:
    """Return what would settle it, with how rough that is; empty where it is settled or nothing can
    be told.
    """
    s = c.settle
    if s is None:
        return []
    units = judged_words(s.unit)[1]
    loaves = counted(round(s.loaves_per_mix), "loaf", "loaves")
    per = f" with {loaves} in each" if units == "mixes" else ""
    goal = GOALS[s.goal].format(f"a difference of {matters_words(c, style)}")
    rough = (
        f"That is rough: {s.mixes_now} {units} of each show the spread poorly, which is allowed"
        f" for. {_at_either_end(s)}"
    ).rstrip()
    if s.mixes_needed is None:
        return [
            (
                f"Even {s.most} {units} of each formula{per} would not {goal}: measure more surely,"
                " or ask about a larger difference."
            ),
            rough,
        ]
    more = f"{s.more_mixes} more than now" if s.more_mixes else "as many as now"
    return [
        f"To {goal} would take about {s.mixes_needed} {units} of each formula{per}: {more}.",
        rough,
    ]


def _at_either_end(s: Settle) -> str:
    """Return how many it would be at the ends of what the spread may be; "" where both are out of
    reach.
    """
    if s.mixes_low is None:
        return ""
    most = f"more than {s.most}" if s.mixes_high is None else str(s.mixes_high)
    if str(s.mixes_low) == most:
        return ""
    return (
        f"Were the spread known to be as small or as large as it may well be, {s.mixes_low} or"
        f" {most} would do."
    )


def steadiness_lines(c: Comparison) -> list[str]:
    """Return whether the verdict hangs on one mix or one day, and how far the difference moves."""
    s = c.steadiness
    if NOT_TRIED[s.reason]:
        return [NOT_TRIED[s.reason]]
    if s.table.empty:
        return []
    kinds = [f"any one {kind}" for kind in dict.fromkeys(s.table["kind"])]
    changes, out = s.table["changed"].astype(bool), s.table["stands_out"].astype(bool)
    if not out.any():
        same = (
            [f"The verdict stays the same without {listed(kinds, 'or')}."]
            if not changes.any()
            else []
        )
        none = capital(listed([f"no {kind}" for kind in dict.fromkeys(s.table["kind"])]))
        return [
            *same,
            f"{none} stands out: none lies farther from the others than chance explains.",
        ]
    return [
        *_standing_out(s.table[out & ~changes], "The verdict stays the same without"),
        *(
            line
            for verdict, rows in s.table[out & changes].groupby("verdict", sort=False)
            for line in _standing_out(
                rows,
                "The answer hangs on that: it would be"
                f" “{verdict_label(str(verdict), c.matters is not None)}” without",
            )
        ),
    ]


def _standing_out(rows: Any, without: str) -> list[str]:
    """Return which mixes and days stand out, and what their being left out does."""
    if rows.empty:
        return []
    verb, it = ("stands", "it") if len(rows) == 1 else ("stand", "them")
    return [
        f"{capital(_units_said(rows))} {verb} out, farther from the others than chance explains. "
        f"{without} {it}. Look up what was different there."
    ]


def _units_said(rows: Any) -> str:
    """``mix M1 and H3, and day Tue``."""
    parts = [
        f"{'' if some['left_out'].str.lower().str.startswith(kind).all() else kind + ' '}"
        f"{listed(some['left_out'].tolist())}"
        for kind, some in rows.groupby("kind", sort=False)
    ]
    return ", and ".join(parts)


def fairness_lines(c: Comparison, style: NumberStyle) -> list[str]:
    """Return what was kept the same, what was compared within, and one line for each condition that
    drifted.
    """
    table, apart, about = c.fairness.table, c.fairness.apart, c.fairness.about_kept
    drifted, within = table["status"] == "drifted", table["handled"] == "in the model"
    lines = {
        "Kept the same": table["status"] == "kept the same",
        ABOUT_KEPT.format(f"{100 * KEPT_LOAF:g}"): about & ~within,
        "Compared within each": drifted & within,
        "Varied, but about alike for both": drifted & ~within & ~apart & ~about,
    }
    rows = records(table)
    names = {
        words: [condition_words(row) for row, is_so in zip(rows, some, strict=True) if is_so]
        for words, some in lines.items()
    }
    return [
        *(f"{words}: {listed(some)}." for words, some in names.items() if some),
        *(drift_line(c, row, style) for row, far in zip(rows, apart, strict=True) if far),
    ]


def drift_line(c: Comparison, row: Any, style: NumberStyle) -> str:
    """Return how far the formulas differed in a condition, and what the difference becomes adjusted
    for it.
    """
    apart = _apart(row, style)
    if row["handled"] != "adjusted":
        return f"Drifted: {condition_words(row)} ({apart}); it cannot be told apart from the rest."
    d = said(c, style)
    ends = [
        number(row[f"adjusted_{what}"], d.places, style)
        for what in ("difference", "ci_low", "ci_high")
    ]
    likely = f" ({ends[1]} to {ends[2]})" if math.isfinite(row["adjusted_ci_low"]) else ""
    now = number(c.difference, d.places, style)
    return (
        f"Drifted: {condition_words(row)} ({apart}); adjusted for it {now} becomes"
        f" {ends[0]}{likely}."
    )


def condition_words(row: Any) -> str:
    """Return what a condition is called inside a sentence."""
    return inside(str(row["condition"]), str(row["label"]))


def _apart(row: Any, style: NumberStyle) -> str:
    """``0.52 °C apart, 0.9 standard deviations``, or ``25 % of the loaves would have to
    change``.
    """
    if row["kind"] == "category":
        return (
            f"{number(100 * row['difference'], 0, style)} % of the loaves would have to change to"
            " be alike"
        )
    size = abs(row["difference"])
    unit_said = row["unit"] or ("places" if str(row["condition"]).endswith("_order") else "")
    return (
        f"{amount(size, unit_said, decimals(size, size), style)} apart, "
        f"{number(abs(row['in_sd']), 1, style)} standard deviations"
    )


def comparison_text(c: Comparison, style: NumberStyle) -> str:
    """Return the whole answer as plain lines for a terminal or a pipe."""
    d = said(c, style)
    lines = [
        c.sentence,
        *([interval_line(c, max(d.places, 0), style)] if d.has_interval else []),
        "",
        *comparison_lines(c, style),
        *steadiness_lines(c),
        *settle_lines(c, style),
        *fairness_lines(c, style),
        *filter(None, [left_out_line(c)]),
    ]
    if c.findings:
        lines += ["", *(_beside(finding, d.has_interval) for finding in c.findings)]
    return "\n".join(lines)


def _beside(finding: Finding, has_interval: bool) -> str:
    """Return what stands beside the answer; an answer without an interval has told of the one mix
    already.
    """
    told = finding.code == "one-mix-of-a-formula" and not has_interval
    return f"{finding.severity.capitalize()}: {'' if told else f'{finding.message} '}{finding.fix}"


def _rows(table: pd.DataFrame) -> list[SimpleNamespace]:
    return [SimpleNamespace(**row) for row in records(table)]


def _mixes(n: int) -> str:
    return counted(n, "mix", "mixes")
