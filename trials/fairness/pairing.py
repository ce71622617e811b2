"""Which formula is held against which: as asked, as the card says, and what is chosen where both
are silent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from difflib import get_close_matches
from typing import Literal

from ..findings import TrialError
from ..frozen import frozen
from ..reading.stacked import SHEET
from ..trial import Trial

Family = Literal["one pair", "all against one", "all pairs"]
Choice = Literal["", "control", "the other", "first as control", "all pairs"]


@frozen(kw_only=True)
class Pairing:
    """The pairs to look at, each (formula, against).

    ``choice`` says what was chosen for the reader: "" (asked for), "control" (the card's), "the
    other" (there are two), "first as control" (nobody named one: the card's first, or the first of
    the alphabet), "all pairs".
    """

    pairs: tuple[tuple[str, str], ...]
    family: Family
    choice: Choice

    def among(self, pairs: Sequence[tuple[str, str]]) -> Pairing:
        """Return the same question of these of its pairs alone."""
        family: Family = "one pair" if len(pairs) == 1 else self.family
        return replace(self, pairs=tuple(pairs), family=family)


def choose_pairs(trial: Trial, formula: str | None = None, against: str | None = None) -> Pairing:
    """Return the pairs of formulas to compare.

    Raises
    ------
    TrialError: no formulas are recorded, fewer than two count, one that was asked for is not there,
    or there are
        three or more and nothing says what to hold the one asked for against.
    """
    levels = baked_formulas(trial)
    for name in (formula, against):
        _must_be_baked(name, levels)
    if formula is not None and formula == against:
        raise TrialError.one(
            "formula-against-itself",
            f"{formula} cannot be compared with itself.",
            f"Name another: {_others(levels, formula)}.",
        )
    if formula is not None:
        against, choice = _counterpart(trial, levels, formula, against)
        return Pairing(pairs=((formula, against),), family="one pair", choice=choice)
    control, choice = (against, "") if against is not None else _control(trial, levels)
    if control is None:
        every = tuple((b, a) for i, a in enumerate(levels) for b in levels[i + 1 :])
        return Pairing(pairs=every, family="all pairs", choice="all pairs")
    pairs = tuple((other, control) for other in levels if other != control)
    return Pairing(
        pairs=pairs, family="one pair" if len(pairs) == 1 else "all against one", choice=choice
    )


def baked_formulas(trial: Trial) -> list[str]:
    """Return the formulas of the loaves that count: in the card's order, then by the alphabet.

    Raises
    ------
    TrialError: there is no formula column, or fewer than two formulas.
    """
    if "formula" not in trial.counted:
        raise TrialError.one(
            "no-formulas",
            "The loaves have no column formula.",
            f'Where each sheet holds one formula, write on the card  [columns]  formula = "{SHEET}"'
            if SHEET in trial.counted
            else "Add a column formula that says which formula each loaf was made to.",
        )
    found = sorted(trial.counted["formula"].dropna().unique(), key=str)
    planned = [level for level in trial.card.factors.get("formula", ()) if level in found]
    levels = [*planned, *(level for level in found if level not in planned)]
    if len(levels) < 2:
        said = f"only {levels[0]}" if levels else "none"
        others = [name for name in trial.factors if name != "formula"]
        or_ask = f" For {' and '.join(others)}, ask  fairloaf factors." if others else ""
        raise TrialError.one(
            "one-formula",
            f"A comparison needs loaves of two formulas; there is {said}.",
            f"Bake the other formula side by side with it.{or_ask}",
        )
    return [str(level) for level in levels]


def _must_be_baked(name: str | None, levels: list[str]) -> None:
    """Refuse a formula that no loaf was made to, with the nearest name."""
    if name is None or name in levels:
        return
    folded = {level.casefold(): level for level in levels}
    near = get_close_matches(name.casefold(), folded, n=1)
    fix = f"Did you mean {folded[near[0]]!r}?" if near else f"There are: {', '.join(levels)}."
    raise TrialError.one(
        "no-such-formula", f"No loaf that counts was made to formula {name!r}.", fix
    )


def _counterpart(
    trial: Trial, levels: list[str], formula: str, against: str | None
) -> tuple[str, Choice]:
    """Return what a formula that was asked for is held against, and how that was chosen."""
    if against is not None:
        return against, ""
    if trial.card.control in levels and trial.card.control != formula:
        return str(trial.card.control), "control"
    others = [level for level in levels if level != formula]
    if len(others) == 1:
        return others[0], "the other"
    raise TrialError.one(
        "against-what",
        f"It is not said what {formula} is to be compared with.",
        f"Name one of: {_others(levels, formula)}; or name the control on the card.",
    )


def _control(trial: Trial, levels: list[str]) -> tuple[str | None, Choice]:
    """Return the formula that all others are held against, and how it was chosen; None for all
    pairs.
    """
    control = trial.card.control
    if control is not None:
        _must_be_baked(control, levels)
        return control, "control"
    return (levels[0], "first as control") if len(levels) == 2 else (None, "all pairs")


def _others(levels: list[str], formula: str) -> str:
    return ", ".join(level for level in levels if level != formula)
