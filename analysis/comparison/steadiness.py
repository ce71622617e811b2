"""Does it hang on one mix? The comparison again without each mix, and without each day."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd

from ...trials.frozen import frozen
from ..codes import NotTried
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.coding import DesignError
from ..verdict import Verdict
from .formula_fit import FormulaFit

MOST_UNITS = 60  # beyond this many mixes no single one can carry the answer
SAME = 9  # digits of a p-value in which two that ask the same agree
NOT_RECORDED = "not recorded"
STANDS_OUT = 0.05  # share of sound trials in which a mix or a day is named
COLUMNS = [
    "kind",
    "left_out",
    "difference",
    "ci_low",
    "ci_high",
    "verdict",
    "changed",
    "apart_p_value",
    "stands_out",
]

Judge = Callable[[FormulaFit], dict[str, Any]]
# a unit's kind, name and loaves (bool), and the fit without it (None: nothing could be judged)
LeftOut = tuple[str, str, pd.Series, FormulaFit | None]


@frozen(kw_only=True)
class Steadiness:
    """The comparison with one unit left out at a time.

    table : kind ("mix", "day"), left_out (its label), difference, ci_low, ci_high, verdict, changed
        (bool),
        apart_p_value (the chance that, in a sound trial, any would lie as far from what the others
        say), stands_out (bool: that is below `STANDS_OUT`); a unit without which a formula has
        fewer than two mixes is not left out, since nothing could be judged then
    reason : why nothing was left out: "" where something was, "too few mixes", "too many mixes",
        "no interval",
        "nothing to leave out" (neither mixes nor days are recorded)
    """

    table: pd.DataFrame
    reason: NotTried

    @property
    def stands_out(self) -> pd.DataFrame:
        """Return the rows of the units that lie farther from the others than chance explains."""
        return self.table[self.table["stands_out"].astype(bool)]

    @property
    def hangs_on(self) -> tuple[tuple[str, str], ...]:
        """Return the units that stand out and without which the verdict is another, as (kind,
        label).

        In a sound trial too, one verdict in several changes when a mix fewer was baked; that alone
        says nothing of the mix.
        """
        changed = self.stands_out[self.stands_out["changed"].astype(bool)]
        return tuple(zip(changed["kind"], changed["left_out"], strict=True))


def without_each(
    fitted: FormulaFit, formulas: tuple[str, str], has_interval: bool
) -> list[LeftOut]:
    """Return the fits without each mix and each day of the two formulas; none where nothing is to
    be left out.
    """
    if _why_not(fitted, has_interval):
        return []
    return [
        (kind, name, gone, _without(fitted, formulas, gone))
        for kind, name, gone in _units(fitted, formulas)
    ]


def leave_one_out(
    fitted: FormulaFit,
    formulas: tuple[str, str],
    left_out: Sequence[LeftOut],
    judge: Judge,
    said: Verdict,
    has_interval: bool,
) -> Steadiness:
    """Judge the pair again without each of its mixes and each of its days.

    left_out : as of `without_each`. judge : gives the pair's row (difference, ci_low, ci_high,
        verdict) for a fit. said : the verdict with all.
    """
    nothing = pd.DataFrame(columns=COLUMNS)
    if why := _why_not(fitted, has_interval):
        return Steadiness(table=nothing, reason=why)
    rows = []
    chances = _apart(fitted, formulas, left_out)
    for (kind, name, _, again), chance in zip(left_out, chances, strict=True):
        row = _judged(again, judge) if again else None
        if row is not None:
            rows.append(
                (
                    kind,
                    name,
                    row["difference"],
                    row["ci_low"],
                    row["ci_high"],
                    row["verdict"],
                    row["verdict"] != said,
                    chance,
                    bool(chance < STANDS_OUT),
                )
            )
    reason: NotTried = "" if rows else "too few mixes" if left_out else "nothing to leave out"
    return Steadiness(table=pd.DataFrame(rows, columns=COLUMNS), reason=reason)


def _why_not(fitted: FormulaFit, has_interval: bool) -> NotTried:
    """Return why nothing is left out at all; "" where something may be."""
    if not has_interval:
        return "no interval"
    return "too many mixes" if fitted.fit.n_mixes > MOST_UNITS else ""


def _apart(
    fitted: FormulaFit, formulas: tuple[str, str], left_out: Sequence[LeftOut]
) -> list[float]:
    """Return, unit by unit, the chance that any would lie as far off (Bonferroni's bound).

    Where a day had one mix of either formula, the day and both its mixes are one question, asked
    once.
    """
    row = fitted.row(*formulas)
    single = np.array(
        [fitted.fit.apart_p_value(row, gone.to_numpy()) for _, _, gone, _ in left_out]
    )
    questions = len(np.unique(np.round(single[np.isfinite(single)], SAME)))
    return np.minimum(1.0, questions * single).tolist()


def _units(fitted: FormulaFit, formulas: tuple[str, str]) -> Iterator[tuple[str, str, pd.Series]]:
    """Yield each mix and day of the two formulas with its name and its loaves (bool)."""
    labels = fitted.fit.layout.labels
    ours = fitted.loaves["formula"].astype(str).isin(formulas)
    for kind in ("mix", "day"):
        if kind not in labels or (kind == "mix" and fitted.fit.layout.mix_assumed):
            continue
        codes = labels.loc[ours, kind].drop_duplicates()
        for code in codes if len(codes) > 1 else ():
            gone = labels[kind] == code
            yield kind, _name(kind, fitted, gone), gone


def _name(kind: str, fitted: FormulaFit, gone: pd.Series) -> str:
    """Return the unit as the records call it; a mix whose number comes back is told by its day and
    formula too.
    """
    first = int(gone.to_numpy().argmax())
    more = ("formula", "day") if kind == "mix" and "mix" in fitted.fit.layout.relabelled else ()
    said = [fitted.loaves[key].iloc[first] for key in (kind, *more) if key in fitted.loaves]
    return ", ".join(str(value) for value in said if pd.notna(value)) or NOT_RECORDED


def _without(fitted: FormulaFit, formulas: tuple[str, str], gone: pd.Series) -> FormulaFit | None:
    """Return the fit without a unit; None where a formula is left with fewer than two mixes, or
    nothing can be fitted.
    """
    try:
        again = fitted.without(gone)
        return None if min(again.n_mixes.get(formula, 0) for formula in formulas) < 2 else again
    except DesignError:
        return None


def _judged(again: FormulaFit, judge: Judge) -> dict[str, Any] | None:
    """Return the pair's row of a fit, or None where nothing could be judged."""
    try:
        return judge(again)
    except (DesignError, NoVariation, NotIdentifiable):
        return None
