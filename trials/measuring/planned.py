"""The plan's key joined to the loaves by their codes: what was planned fills in what nobody wrote
down.

What was recorded stands; where it differs from the plan, that is told.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

import pandas as pd

from ..findings import Finding, NotedTable
from ..words.lists import on_lines
from ..words.numbers import ENGLISH, level_words

# labels that may be called otherwise, consistently
NAMES_ONLY = ("day", "mix", "oven_load", "oven_place", "table", "baker")
MOST_TOLD = 8


def with_plan(
    loaves: pd.DataFrame,
    plan: pd.DataFrame,
    file: str,
    plan_file: str,
    unreadable: Collection[int] = (),
    elsewhere: Collection[str] = (),
) -> NotedTable:
    """Return the baked loaves with what was planned for them.

    loaves, plan : typed tables with ``loaf`` and ``line``; unreadable : lines of loaves on which
    something is written that could not be read; elsewhere : loaves with readings or scores. A
    planned loaf with nothing written beside its code is not baked yet and is left out, with a note;
    so is one that the file of loaves does not have.
    """
    if "loaf" not in plan:
        return NotedTable(
            frame=loaves,
            findings=(
                Finding(
                    code="plan-without-codes",
                    severity="error",
                    file=plan_file,
                    message=(
                        f"{plan_file} has no column loaf, so that nothing can be joined to the"
                        " loaves."
                    ),
                    fix="Put the file back as fairloaf plan wrote it.",
                ),
            ),
        )
    key = plan.drop(columns="line").drop_duplicates("loaf").set_index("loaf")
    others = [name for name in loaves if name not in ("loaf", "line")]
    empty = loaves[others].isna().all(axis=1) & ~loaves["line"].isin(list(unreadable))
    empty &= ~loaves["loaf"].isin(list(elsewhere))
    waiting = loaves["loaf"].isin(key.index) & empty
    baked = loaves[~waiting].reset_index(drop=True)
    planned = baked["loaf"].isin(key.index)
    findings = [
        *_not_baked_yet(key.index, baked, plan_file),
        *_not_planned(baked[~planned], key.index, baked, file),
    ]
    for name in key:
        known = baked["loaf"].map(key[name])
        if name not in baked:
            baked[name] = known
            continue
        findings += _off_plan(baked, known, str(name), file)
        baked[name] = baked[name].where(baked[name].notna(), known)
    return NotedTable(frame=baked, findings=tuple(findings))


def _not_baked_yet(codes: pd.Index, baked: pd.DataFrame, plan_file: str) -> Iterator[Finding]:
    left = [str(code) for code in codes if code not in set(baked["loaf"])]
    if left:
        told = ", ".join(left[:MOST_TOLD]) + (
            f" and {len(left) - MOST_TOLD} more" if len(left) > MOST_TOLD else ""
        )
        which = "loaf is" if len(left) == 1 else "loaves are"
        yield Finding(
            code="not-baked-yet",
            severity="note",
            file=plan_file,
            column="loaf",
            message=f"{len(left)} of {len(codes)} planned {which} not recorded: {told}.",
            why="Nothing is concluded from a loaf that is not there.",
            fix=(
                "Bake and record the rest; a loaf that was lost gets its code and a reason under"
                " void."
            ),
        )


def _not_planned(
    rows: pd.DataFrame, codes: pd.Index, baked: pd.DataFrame, file: str
) -> Iterator[Finding]:
    recorded = set(baked["loaf"])
    for code, same in rows.groupby("loaf", sort=False, dropna=True):
        near = [str(one) for one in codes if one_slip(str(code), str(one))]
        near = [one for one in near if one not in recorded] or near
        lines = tuple(int(line) for line in same["line"])
        said = (
            f"The nearest planned: {', '.join(near[:MOST_TOLD])}."
            if near
            else "No planned code is near it."
        )
        yield Finding(
            code="code-not-planned",
            severity="error",
            rows=lines,
            file=file,
            column="loaf",
            message=f"{code} on {on_lines(lines)} is no code of the plan.",
            why=(
                "A planned code and a slip of the pen are never alike, so this is a slip, or a loaf"
                " beside the plan."
            ),
            fix=f"{said} Correct the code from the loaf's label.",
        )


def one_slip(first: str, second: str) -> bool:
    """Return whether two codes differ by one sign, or by two neighbours exchanged."""
    if len(first) != len(second) or first == second:
        return False
    apart = [i for i, (a, b) in enumerate(zip(first, second, strict=True)) if a != b]
    exchanged = (
        len(apart) == 2
        and apart[1] == apart[0] + 1
        and first[apart[0]] == second[apart[1]]
        and (first[apart[1]] == second[apart[0]])
    )
    return len(apart) == 1 or exchanged


def _off_plan(baked: pd.DataFrame, known: pd.Series, name: str, file: str) -> Iterator[Finding]:
    """Return a warning for loaves whose record differs from the plan; other names for days or mixes
    are none.
    """
    recorded = baked[name]
    both = recorded.notna() & known.notna()
    expected = _as_recorded(recorded[both], known[both]) if name in NAMES_ONLY else known[both]
    if recorded.dtype.kind == "f":
        differs = (recorded[both] - expected.astype(float)).abs() > 1e-9
    else:
        differs = (
            recorded[both].astype(str).str.strip().str.casefold()
            != expected.astype(str).str.casefold()
        )
    rows = baked.loc[differs.index[differs]]
    if rows.empty:
        return
    lines = tuple(int(line) for line in rows["line"])
    first = rows.index[0]
    yield Finding(
        code="off-plan",
        severity="warning",
        rows=lines,
        file=file,
        column=name,
        message=(
            f"{name} is not as planned on {on_lines(lines)}: loaf {rows.loc[first, 'loaf']} has "
            f"{level_words(recorded[first], ENGLISH)},"
            f" planned was {level_words(expected[first], ENGLISH)}."
        ),
        why="What was recorded is used: a loaf is judged by what was done to it.",
        fix=(
            "If the record is a slip, correct it; if the bake went otherwise, leave it and note"
            " why."
        ),
    )


def _as_recorded(recorded: pd.Series, known: pd.Series) -> pd.Series:
    """Return the planned labels under the names that most of their loaves were recorded with, where
    these differ.
    """
    usual = {label: group.mode().iloc[0] for label, group in recorded.groupby(known)}
    if len(set(usual.values())) < len(usual):
        return known
    return known.map(usual)
