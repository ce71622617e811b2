"""A mix is one dough: one formula, one day, one temperature."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from ..trial import Trial
from ..words.lists import listed, on_lines
from .check import MOST_TOLD, Spot, check
from .grouping import batch_codes, codes_of, in_majority, joint_codes, kinds_in, tally

# probes and their places differ by less than this: common practice, no source
SAME_DOUGH_C = 2.0


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
    "mix-two-temperatures",
    "warning",
    "Dough temperature belongs to the mix; it steers proof and volume.",
    needs=["mix", "dough_temp_c"],
    after=["mix-two-formulas", "slip-unit", "value-unlikely"],
)
def mixes_with_two_temperatures(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Has every mix one dough temperature?"""
    dough = loaves["dough_temp_c"].groupby(batch_codes(loaves))
    rows = loaves[
        (dough.transform("max") - dough.transform("min") > SAME_DOUGH_C) & loaves["mix"].notna()
    ]
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
