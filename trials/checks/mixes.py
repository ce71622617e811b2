"""A mix is one dough: one formula, one day, one temperature."""

from __future__ import annotations

import re
from collections.abc import Iterator
from string import ascii_lowercase, digits

import numpy as np
import pandas as pd

from ..trial import Trial
from ..words.lists import listed, on_lines
from .check import MOST_TOLD, Spot, check, rows_where
from .grouping import batch_codes, codes_of, in_majority, joint_codes, kinds_in, tally

# probes and their places differ by less than this: common practice, no source
SAME_DOUGH_C = 2.0
LEAST_ALONE = 6  # loaves: with fewer, a dough for each is usual
# "h1a", "h1 b", "h1.2", "h1 (c)": what may be a dough, and its loaf
ENDING = re.compile(r"(.*\d)[ ._/-]?([A-Za-z])|(?:(.+)[ ._/-](\d))|(.*\d) ?\(([A-Za-z]|\d)\)")


@check(
    "mix-two-formulas",
    "error",
    "A mix is one dough, made to one formula; one of the two is a slip.",
    needs=["mix", "formula"],
    void_too=True,
    after=["names-alike", "ditto-mark", "level-not-on-card"],
)
def mixes_with_two_formulas(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every mix one formula?"""
    yield from split_mixes(loaves, "formula", "Correct the mix or the formula of the odd loaf.")


@check(
    "mix-two-days",
    "warning",
    "A dough is seldom baked on two days; the two are taken as two mixes.",
    needs=["mix", "day"],
    void_too=True,
    after=["names-alike", "day-two-ways", "level-not-on-card", "mix-two-formulas"],
)
def mixes_on_two_days(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Was every mix baked on one day?"""
    yield from split_mixes(
        loaves, "day", "Correct the mix or the day; leave it if the dough was kept overnight."
    )


@check(
    "mix-numbers-restart",
    "note",
    "Mixes with the same number are told apart by day and formula.",
    needs=["mix"],
    void_too=True,
)
def mix_numbers_restart(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do mixes keep one number through the whole trial?"""
    for name in ("day", "formula"):
        if name in loaves and restarts(loaves, name):
            yield Spot(
                message=f"Mix numbers start again with every {name}.",
                column="mix",
                fix="Nothing to do; numbers that run through the whole trial are easier to follow.",
            )


@check(
    "mix-divided",
    "warning",
    "Loaves of one dough are alike: counted as doughs of their own they make an answer too sure.",
    needs=["mix"],
    after=["names-alike", "day-two-ways"],
)
def mixes_divided(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do the names of mixes number the loaves of a dough, as h1.1, h1.2 and h1.3 may?"""
    if one_loaf_each(loaves) and (doughs := by_endings(loaves)):
        first = next(iter(doughs.values()))
        yield Spot(
            message=(
                f"Each loaf has a mix of its own, but the names seem to number the loaves of"
                f" {len(doughs)} doughs, such as {listed(first[:MOST_TOLD])}."
            ),
            column="mix",
            rows=loaves["line"],
            fix="Give the loaves of one dough one name; leave it if each was mixed by itself.",
        )


@check(
    "mix-of-one-loaf",
    "note",
    "Loaves of one dough are alike: counted as doughs of their own they make an answer too sure.",
    needs=["mix"],
    after=["names-alike", "day-two-ways", "mix-divided"],
)
def mixes_of_one_loaf(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Was every loaf of a dough of its own?"""
    if one_loaf_each(loaves):
        yield Spot(
            message=f"Each of the {len(loaves)} loaves has a mix of its own.",
            column="mix",
            fix="Nothing to do if it was so; else give the loaves of one dough one name.",
        )


@check(
    "mix-two-temperatures",
    "warning",
    "Dough temperature belongs to the mix; it steers proof and volume.",
    needs=["mix", "dough_temp_c"],
    after=["mix-two-formulas", "slip-unit", "value-unlikely"],
)
def mixes_with_two_temperatures(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every mix one dough temperature?"""
    mix, dough = batch_codes(loaves), loaves["dough_temp_c"].to_numpy()
    most = np.full(int(mix.max(initial=-1)) + 1, -np.inf)
    least = -most
    np.fmax.at(most, mix, dough)
    np.fmin.at(least, mix, dough)
    apart = (most - least)[mix] > SAME_DOUGH_C
    rows = rows_where(loaves, apart & ~loaves["mix"].array.isna())
    if len(rows):
        mixes = [f"{mix}" for mix in rows["mix"].unique()]
        yield Spot(
            message=(
                f"The dough temperature differs by more than {SAME_DOUGH_C:g} °C inside mix "
                f"{listed(mixes[:MOST_TOLD], more=len(mixes[MOST_TOLD:]))},"
                f" {on_lines(rows['line'])}."
            ),
            column="dough_temp_c",
            rows=rows["line"],
            fix="Write the temperature measured after mixing.",
        )


def one_loaf_each(loaves: pd.DataFrame) -> bool:
    """Return whether every loaf has a mix that no other has, in a trial of some size."""
    return (
        len(loaves) >= LEAST_ALONE
        and bool(loaves["mix"].notna().all())
        and not loaves["mix"].duplicated().any()
    )


def by_endings(loaves: pd.DataFrame) -> dict[str, list[str]]:
    """Return beginning → names of mixes, where all names go on in the same way inside a formula and
    a day: a, b, c or .1, .2, .3; nothing where they do not.
    """
    doughs: dict[str, list[str]] = {}
    endings: dict[str, str] = {}
    for name in loaves["mix"].astype(str):
        if (found := ENDING.fullmatch(name.strip())) is None:
            return {}
        dough, ending = (part for part in found.groups() if part)
        doughs.setdefault(dough, []).append(name)
        endings[dough] = endings.get(dough, "") + ending.lower()
    goes_on = all(
        len(signs) > 1
        and "".join(sorted(signs)) in (ascii_lowercase[: len(signs)], digits[1 : len(signs) + 1])
        for signs in endings.values()
    )
    of_loaf = {name: dough for dough, names in doughs.items() for name in names}
    codes = codes_of(loaves["mix"].astype(str).map(of_loaf))
    same = [name for name in ("formula", "day") if name in loaves]
    alone = all((kinds_in(codes, loaves[name]) <= 1).all() for name in same)
    return doughs if len(doughs) > 1 and goes_on and alone else {}


def restarts(loaves: pd.DataFrame, name: str) -> bool:
    """Return whether most mix numbers come back with another day or formula: then it is a habit,
    not a slip.
    """
    kinds = kinds_in(codes_of(loaves["mix"]), loaves[name])
    return bool((kinds > 1).sum() > (kinds > 0).sum() / 2)


def split_mixes(loaves: pd.DataFrame, name: str, fix: str) -> Iterator[Spot]:
    """Yield one spot for all mixes that stand under two days or two formulas, unless numbers start
    again.
    """
    other = "day" if name == "formula" else "formula"
    if (kinds_in(codes_of(loaves["mix"]), loaves[name]) <= 1).all() or restarts(loaves, name):
        return
    mixes = joint_codes(
        loaves, ["mix", other] if other in loaves and restarts(loaves, other) else ["mix"]
    )
    split = ((kinds_in(mixes, loaves[name]) > 1)[mixes] & loaves["mix"].notna()).to_numpy()
    rows = loaves[split]
    if len(rows):
        labels = rows["mix"].unique()
        told = [tell_mix(mix, rows[rows["mix"] == mix], name) for mix in labels[:MOST_TOLD]]
        odd = ~in_majority(mixes[split], codes_of(rows[name]))
        yield Spot(
            message=f"More than one {name} in {listed(told, more=len(labels) - len(told))}.",
            column=name,
            rows=rows.loc[odd, "line"],
            fix=fix,
        )


def tell_mix(mix: object, loaves: pd.DataFrame, name: str) -> str:
    """Return a mix with its formulas or days, the odd one with its lines: ``mix 3 (house; malted on
    line 9)``.
    """
    kinds, usual = list(tally(loaves[name]).index), most_frequent(loaves[name])
    others = [kind for kind in kinds if kind != usual]
    odd = [
        f"{other} on {on_lines(loaves.loc[loaves[name] == other, 'line'])}"
        for other in others[:MOST_TOLD]
    ]
    return f"mix {mix} ({f'{usual}; ' if usual else ''}{listed(odd, more=len(others[MOST_TOLD:]))})"


def most_frequent(names: pd.Series) -> object:
    """Return the name that stands more often than any other, or nothing where two stand equally
    often.
    """
    counts = tally(names)
    return counts.index[0] if len(counts) == 1 or counts.iloc[0] > counts.iloc[1] else ""
