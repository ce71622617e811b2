"""A plan in words: what is baked when, how it is laid out, what cannot be told apart, timetable and
weigh-out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from ...trials.words.lists import capital, counted, listed
from ...trials.words.numbers import NumberStyle, level_inside, number, typed
from .layout import unit_words
from .sheets import factor_words, level_named

if TYPE_CHECKING:
    from ...trials.card import TrialCard
    from ...trials.planning.result import TrialPlan
    from ...trials.planning.timetable import Timetable
    from ...trials.planning.weigh_out import WeighOut

LAYOUTS = {
    "complete days": (
        "Every day has every combination of {names}, so that they are compared within days."
    ),
    "balanced incomplete days": (
        "A day has not room for all: every two combinations of {names} meet on a day equally often."
    ),
    "two-level factorial": (
        "Every combination of {names} is made equally often, dealt over the days "
        "so that no single factor goes with a day."
    ),
    "two-level fraction": (
        "A chosen part of all combinations of {names}, dealt over the days so "
        "that no single factor goes with a day."
    ),
    "chosen by exchange": (
        "No regular layout fits, so the mixes were chosen, by search, for the "
        "surest differences within days."
    ),
}
INSIDE = {
    "loaves alike": "Loaves of one mix are alike.",
    "complete mixes": "Every mix has every combination of {names}.",
    "chosen by exchange": (
        "A mix has not room for every combination of {names}: what each has was "
        "chosen, by search, for the surest differences within mixes."
    ),
}
LOADS = {
    "none": "",
    "whole mixes": "An oven load holds whole mixes.",
    "mixes inside loads": (
        "An oven load holds whole mixes and has one setting: {names} is judged between loads."
    ),
    "mixes divided over loads": (
        "Every mix is divided over the day's oven loads; part of its dough waits."
    ),
}
STEPS = {
    "weigh": "weigh",
    "mix": "mix",
    "shape": "shape",
    "in": "into the oven",
    "out": "out of the oven",
    "measure": "measure",
}
CARE = (
    "Ovens, tins and steam burn; flour dust is not breathed in, raw dough not tasted. Local "
    "rules and trained staff come first."
)
MOST_GRID_MIXES = 60  # of a plan's mixes that are listed day by day


def plan_text(
    plan: TrialPlan,
    timetable: Timetable,
    weighed: WeighOut,
    *,
    style: NumberStyle,
    answer: str = "",
    power_lines: Sequence[str] = (),
    written: Iterable[Path] = (),
) -> str:
    """Return the plan as the command prints it: the answer first, then everything in turn."""
    files = tuple(written)
    parts = [
        [" ".join(filter(None, (answer, plan_sentence(plan))))],
        power_lines,
        [titled("What is changed", factor_lines(plan, style))],
        [titled("Layout", [*layout_sentences(plan), *mix_lines(plan, style)])],
        [titled("Timetable", timetable_lines(timetable))],
        [titled("Weigh-out", weigh_lines(plan, weighed, style))],
        warning_lines(plan, timetable, weighed),
        [CARE, written_sentence(plan, files)],
    ]
    return "\n\n".join("\n".join(lines) for lines in parts if lines)


def plan_sentence(plan: TrialPlan) -> str:
    """Return one sentence: how many loaves of how many mixes, on how many days."""
    days, mixes = plan.loaves["day"].nunique(), len(plan.mixes)
    each = sorted(set(plan.loaves.groupby("mix").size()))
    loaves = f"{each[0]} loaves" if each[0] != 1 else "one loaf"
    of = ""
    if "formula" in plan.mixes:
        counts = plan.mixes["formula"].value_counts()
        of = (
            f", {counts.iloc[0]} of each formula"
            if counts.nunique() == 1
            else ", " + listed([f"{n} of {name}" for name, n in counts.sort_index().items()])
        )
    bakers = f" by {plan.loaves['baker'].nunique()} bakers" if "baker" in plan.loaves else ""
    return (
        f"The plan: {len(plan.loaves)} loaves from {mixes} {unit_words('mix', mixes)}{of}, "
        f"{loaves} a mix, on {days} {unit_words('day', days)}{bakers}."
    )


def titled(title: str, lines: Sequence[str]) -> str:
    """Return lines under a title, set in by two spaces; nothing where there are none."""
    return "\n".join([title, *(f"  {line}" for line in lines)])


def factor_lines(plan: TrialPlan, style: NumberStyle) -> list[str]:
    """Return a row a factor: what is changed, its levels, and with what it is changed."""
    rows = [("changed", "levels", "with every")]
    for name, levels in plan.card.factors.items():
        named, of = factor_words(name, plan.card)
        rows.append(
            (
                named,
                listed([level_inside(one, style) for one in levels]) + (f" {of}" if of else ""),
                unit_words(plan.made_per[name]),
            )
        )
    return table_lines(rows)


def layout_sentences(plan: TrialPlan) -> list[str]:
    """Return how mixes are dealt to days, loaves to mixes, loads to mixes, and what cannot be told
    apart.
    """
    of = {kind: _names(plan, kind) for kind in ("mix", "loaf", "load")}
    said = [
        LAYOUTS[plan.layout].format(names=of["mix"]) if of["mix"] else "All mixes are alike.",
        INSIDE[plan.inside].format(names=of["loaf"]),
        LOADS[plan.loads].format(names=of["load"]),
    ]
    if plan.centre_points:
        said.append(
            f"{plan.centre_points} mixes have every number half-way between its two levels."
        )
    said += tied_sentences(plan)
    said.append(
        f"Drawn by lot with seed {plan.seed}"
        + (f", at the {_nth(plan.draws)} draw" if plan.draws > 1 else "")
        + "."
    )
    return [sentence for sentence in said if sentence]


def tied_sentences(plan: TrialPlan) -> list[str]:
    """Return which effects the layout cannot tell apart."""
    said = []
    for group in plan.tied:
        effects = ["the day" if effect == "day" else effect for effect in group]
        said.append(f"{capital(listed(effects))} cannot be told apart.")
    return said


def mix_lines(plan: TrialPlan, style: NumberStyle) -> list[str]:
    """Return what is mixed on every day (by every baker), in the order of mixing."""
    if len(plan.mixes) > MOST_GRID_MIXES:
        return [f"The {len(plan.mixes)} mixes are listed in plan.csv."]
    keys = ["day", "baker"] if "baker" in plan.mixes else ["day"]
    factors = [name for name in plan.made_per if name in plan.mixes]
    lines = []
    for key, mixes in plan.mixes.groupby(keys, sort=False):
        where = ", ".join(f"{name} {value}" for name, value in zip(keys, key, strict=True))
        doughs = [
            f"mix {row['mix']} {mix_words(row, factors, plan.card, style)}".rstrip()
            for row in mixes.sort_values("mix_order").to_dict("records")
        ]
        lines.append(f"{capital(where)}: {'; '.join(doughs)}")
    return lines


def mix_words(
    row: Mapping[Any, Any], factors: Sequence[str], card: TrialCard, style: NumberStyle
) -> str:
    """Return a mix's levels: the formula by its name, numbers with what they are."""
    return ", ".join(level_named(name, row[name], card, style) for name in factors)


def timetable_lines(timetable: Timetable) -> list[str]:
    """Return the steps of the first day, and which other days go like it."""
    if timetable.steps.empty:
        return [
            f"{capital(finding.severity)}: {finding.message} {finding.fix}"
            for finding in timetable.conflicts
        ]
    days = {str(day): own for day, own in timetable.steps.groupby("day", sort=False)}
    first, own = next(iter(days.items()))
    shape = _without_names(own)
    alike = [day for day, other in days.items() if day != first and _without_names(other) == shape]
    lines = [
        f"Day {first}, {own['begins'].iloc[0]} to {own['ends'].max()}"
        + (f"; day{'s' if len(alike) > 1 else ''} {listed(alike)} likewise" if alike else "")
        + (", the earliest end that there is." if timetable.proven else ".")
    ]
    rows = [(row["begins"], row["ends"], _step_words(row)) for row in own.to_dict("records")]
    lines += [f"{begins}–{ends}  {words}" for begins, ends, words in rows]
    others = [day for day in days if day != first and day not in alike]
    lines += [
        f"Day {day}: {days[day]['begins'].iloc[0]} to {days[day]['ends'].max()}" for day in others
    ]
    return [*lines, *(note.message for note in timetable.notes)]


def _without_names(steps: pd.DataFrame) -> list[tuple[Any, ...]]:
    """Return a day's steps without the names of mixes and codes, so that alike days are alike."""
    return [
        (row["step"], row["begins"], row["ends"], len(row["loaves"] or ()))
        for row in steps.to_dict("records")
    ]


def _step_words(row: Mapping[Any, Any]) -> str:
    codes = row["loaves"] or ()
    n = counted(len(codes), "loaf", "loaves")
    of = f"mix {row['mix']}" if isinstance(row["mix"], str) else ""
    load = f"load {row['oven_load']}" if isinstance(row["oven_load"], str) else ""
    what = of if row["step"] in ("weigh", "mix") else ", ".join(filter(None, (of, load, n)))
    return f"{STEPS[row['step']]}: {what}"


def weigh_lines(plan: TrialPlan, weighed: WeighOut, style: NumberStyle) -> list[str]:
    """Return a table of ingredients in grams, a column a kind of mix; mixes of one kind weigh the
    same and have water of the same warmth.
    """
    if weighed.table.empty:
        return [f"{finding.message} {finding.fix}" for finding in weighed.findings]
    factors = [name for name in plan.made_per if name in plan.mixes]
    words = {
        row["mix"]: mix_words(row, factors, plan.card, style) or "every mix"
        for row in plan.mixes.to_dict("records")
    }
    waters = {row["mix"]: water_words(row, style) for _, row in weighed.water.iterrows()}
    kinds: dict[tuple[Any, ...], list[str]] = {}
    for mix, own in weighed.table.groupby("mix", sort=False):
        key = tuple(own[["part", "ingredient", "grams"]].itertuples(index=False, name=None))
        kinds.setdefault((waters.get(mix), key), []).append(str(mix))
    lines = []
    for (water, key), mixes in kinds.items():
        named = listed(list(dict.fromkeys(words[mix] for mix in mixes)))
        lines.append(f"{named} (mix{'es' if len(mixes) > 1 else ''} {', '.join(mixes)})")
        rows = [
            ("" if part == "dough" else part, ingredient, f"{typed(grams, style)} g")
            for part, ingredient, grams in key
        ]
        lines += [
            f"  {line}"
            for line in table_lines(
                [(f"{part}: {name}" if part else name, grams) for part, name, grams in rows]
            )
        ]
        if water:
            lines.append(f"  {water}")
    return lines


def water_words(row: pd.Series, style: NumberStyle) -> str:
    """Return how warm the dough's water is, and how much of it is ice."""
    ice = (
        f", {typed(row['ice_g'], style)} g of it as ice"
        if pd.notna(row["ice_g"]) and row["ice_g"] > 0
        else ""
    )
    return f"water at {number(row['temp_c'], 0, style)} °C{ice}"


def warning_lines(plan: TrialPlan, timetable: Timetable, weighed: WeighOut) -> list[str]:
    """Return every warning and note that is not said yet, each with what to do."""
    said = {
        f.message
        for part, missing in (
            (timetable.conflicts, timetable.steps),
            (weighed.findings, weighed.table),
        )
        if missing.empty
        for f in part
    }
    lines, codes = [], set()
    for found in (*plan.findings, *timetable.conflicts, *weighed.findings):
        if found.message not in said and not (found.code in ONCE and found.code in codes):
            lines.append(f"{capital(found.severity)}: {found.message} {found.fix}")
        codes.add(found.code)
    return lines


ONCE = ("dough-too-small", "dough-too-large")  # the plan and the weigh-out may both say it


def written_sentence(plan: TrialPlan, files: Sequence[Path]) -> str:
    """Return what was written and what comes next."""
    if not files:
        where = "" if plan.folder in (None, Path(".")) else f" {plan.folder}"
        return f"Nothing was written. To write this plan:  fairloaf plan{where} --seed {plan.seed}"
    names = listed([path.name for path in files])
    return (
        f"Written: {names}. plan.csv is the key: keep it from those who measure and taste. What to"
        " bake from:  fairloaf sheets  . Fill in the loaves as you bake, then  fairloaf check"
    )


def table_lines(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return rows as lines, columns in line."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        "  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]


def _names(plan: TrialPlan, kind: str) -> str:
    names = [
        factor_words(name, plan.card)[0].lower()
        for name, own in plan.made_per.items()
        if own == kind
    ]
    return listed(names) if names else ""


def _nth(n: int) -> str:
    ending = "th" if 10 <= n % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(n % 10, "th")
    return f"{n}{ending}"


# pictures ----------------------------------------------------------------------------------------


def layout_alt(plan: TrialPlan, style: NumberStyle) -> str:
    """Return what the picture of the layout shows."""
    return " ".join([plan_sentence(plan), *mix_lines(plan, style)])


def timetable_alt(timetable: Timetable, day: str) -> str:
    """Return what the picture of the timetable shows."""
    own = timetable.steps[timetable.steps["day"] == day]
    said = [f"{row['begins']} {_step_words(row)}" for row in own.to_dict("records")]
    return f"Day {day}, from {own['begins'].iloc[0]} to {own['ends'].max()}: {'; '.join(said)}."
