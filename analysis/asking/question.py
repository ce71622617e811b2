"""What is asked of a trial: which measure, which factors, which loaves; all that is wrong is told
at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches

import numpy as np
import pandas as pd

from ...trials import Finding, Trial, TrialError
from ...trials.columns import BY_NAME, CRUMB_PREFIX, MEASURES, label
from ...trials.frozen import frozen
from ...trials.words.lists import listed
from ..model.coding import centred, ordered_levels
from ..model.layout import Layout, find_layout
from ..model.trial_fit import TrialFit, fit_trial
from .score_fit import PanelScores
from .score_rows import loaf_scores, measure_rows, scored_measures

# a number with more values than this enters as a curve, not as a category
MOST_LEVELS = 6
NO_MEASURE = {"line", "bake_order", "measure_order"}
NO_FACTOR = {"line", "loaf", "void", "note", "bake_order", "measure_order"}


@frozen(kw_only=True)
class Asked:
    """A question that can be put to the loaves.

    table : the loaves to be used, nothing missing; factors that are texts are Categoricals in the
        card's order.
    layout : of those loaves and factors.
    factors : those with two levels or more. never_varied : those with one.
    numbers : factors that enter as a curve, because their values are many → 2.
    order : of the highest interactions asked for: 2, or 3 where the card says so.
    left_out : line, loaf, reason, from_terms ("all").
    panel : the scores behind a measure that several people scored; its column is then the loaves'
        scores.
    """

    measure: str
    table: pd.DataFrame
    factors: tuple[str, ...]
    never_varied: tuple[str, ...]
    numbers: Mapping[str, int]
    order: int
    left_out: pd.DataFrame
    layout: Layout
    confidence: float
    panel: PanelScores | None

    @property
    def fit(self) -> Callable[..., TrialFit]:
        """Return how terms are fitted to these loaves, with the arguments of
        `trial_fit.fit_trial`.
        """
        return fit_trial if self.panel is None else self.panel.fit


def read_question(
    trial: Trial, measure: str | None, factors: Sequence[str] | None, confidence: float
) -> Asked:
    """Return the question, with the card's measure and factors where none are named.

    Raises
    ------
    TrialError: no such measure or factor, a factor that is an outcome, nothing measured, nothing
    that varies,
        a confidence that is no share.
    """
    name = measure or trial.card.measure or "specific_volume"
    scores = measure_rows(trial, name)
    if len(scores):
        trial = replace(trial, loaves=trial.loaves.assign(**{name: loaf_scores(scores)}))
    chosen = tuple(factors) if factors else asked_factors(trial)
    faults = [
        *_measure_faults(trial, name),
        *_factor_faults(trial, chosen, name),
        *_confidence_faults(confidence),
    ]
    if faults:
        raise TrialError(faults)
    table, left_out = _usable(trial, name, chosen)
    table = table.assign(**{factor: _ordered(table[factor], factor, trial) for factor in chosen})
    varied = tuple(factor for factor in chosen if table[factor].nunique() > 1)
    if not varied:
        raise TrialError.one(
            "nothing-varied",
            f"Nothing was changed among the {len(table)} loaves with {name!r}"
            f"{': ' + ', '.join(chosen) + ' had one level' if chosen else ''}.",
            f"Fill in {name} for loaves of other levels too, or name a column with two or more "
            "levels under [factors] on the card, or as a factor.",
        )
    return Asked(
        measure=name,
        table=table,
        factors=varied,
        left_out=left_out,
        never_varied=tuple(factor for factor in chosen if factor not in varied),
        numbers=degrees(table, varied),
        order=3 if trial.card.three_way else 2,
        layout=find_layout(table, varied),
        confidence=confidence,
        panel=PanelScores(scores) if scores["assessor"].nunique() > 1 else None,
    )


def refuse_unknown_measure(trial: Trial, measure: str | None) -> None:
    """Raise TrialError where a measure is asked for that was not recorded."""
    if (
        measure is not None
        and measure not in scored_measures(trial)
        and (faults := _measure_faults(trial, measure))
    ):
        raise TrialError(faults)


def refuse_what_cannot_matter(matters: float | None) -> None:
    """Raise TrialError where what matters is no number above zero."""
    if matters is not None and not 0 < matters < float("inf"):
        raise TrialError.one(
            "matters",
            f"A difference of {matters:g} cannot matter.",
            "Give a number above zero in the measure's unit, such as 0.2.",
        )


def asked_factors(trial: Trial) -> tuple[str, ...]:
    """Return the trial's recorded factors; proof time is an outcome when the dough was proofed to a
    height.
    """
    outcome = {"proof_min"} if trial.card.proof_to == "height" else set()
    return tuple(name for name in trial.factors if name in trial.loaves and name not in outcome)


def _measure_faults(trial: Trial, name: str) -> list[Finding]:
    loaves = trial.loaves
    usable = [
        column
        for column in loaves.columns
        if loaves[column].dtype.kind == "f" and column not in NO_MEASURE
    ]
    if name not in usable:
        usable = list(dict.fromkeys([*usable, *scored_measures(trial)]))
    if name not in loaves:
        return [_unknown("no-measure", "measure", name, usable)]
    if name not in usable:
        return [
            Finding(
                code="measure-not-a-number",
                severity="error",
                column=name,
                message=f"The column {name!r} holds no numbers that could be a measure.",
                fix=f"Ask for one of: {', '.join(usable)}.",
            )
        ]
    if not trial.counted[name].notna().any():
        return [
            Finding(
                code="nothing-measured",
                severity="error",
                message=f"No loaf has {name!r}.",
                fix=fill_in(name),
                column=name,
            )
        ]
    return []


def _made_of(name: str) -> list[str]:
    """Return what a measure is worked out from, in words; nothing where it is recorded itself."""
    made_from = MEASURES[name].made_from if name in MEASURES else ()
    return [
        label(one).lower() if one in BY_NAME else "the flour in the formula on the card"
        for one in made_from
    ]


def fill_in(name: str) -> str:
    """Return what helps where no loaf has a measure: its column, or what it is worked out from."""
    parts = _made_of(name)
    what = (
        f"It is worked out from {listed(parts)}: fill those in" if parts else "Fill in its column"
    )
    return f"{what}, or ask for another measure."


def _factor_faults(trial: Trial, chosen: Sequence[str], measure: str) -> list[Finding]:
    possible = [
        c
        for c in trial.loaves.columns
        if c not in NO_FACTOR
        and not c.startswith(CRUMB_PREFIX)
        and not (c in BY_NAME and BY_NAME[c].derived)
        and c != measure
    ]
    faults = [
        _unknown("no-factor", "factor", name, possible)
        for name in chosen
        if name not in trial.loaves
    ]
    if trial.card.proof_to == "height" and "proof_min" in chosen:
        faults.append(
            Finding(
                code="proof-is-an-outcome",
                severity="error",
                column="proof_min",
                message=(
                    "Proof time was an outcome here: the card says that the dough was proofed to a"
                    " height."
                ),
                fix=(
                    'Leave it out of the factors, or write  proof_to = "time"  on the card if the'
                    " time was set."
                ),
            )
        )
    if measure in chosen:
        faults.append(
            Finding(
                code="measure-is-factor",
                severity="error",
                column=measure,
                message=f"{measure!r} is asked for both as the measure and as a factor.",
                fix="Name another measure or leave it out of the factors.",
            )
        )
    return faults


def _confidence_faults(confidence: float) -> list[Finding]:
    if 0 < confidence < 1:
        return []
    return [
        Finding(
            code="confidence",
            severity="error",
            message=f"A confidence of {confidence:g} was asked for.",
            fix="Give a share between 0 and 1, such as 0.95.",
        )
    ]


def _unknown(code: str, kind: str, name: str, possible: Sequence[str]) -> Finding:
    near = get_close_matches(name, possible, n=1)
    fix = f"Did you mean {near[0]!r}?" if near else f"There are: {', '.join(possible)}."
    if kind == "measure" and name in BY_NAME and BY_NAME[name].derived:
        fix = (
            f"It is worked out as {BY_NAME[name].meaning}: look whether both are there under names"
            f" known here, or ask for another measure: {', '.join(possible)}."
        )
    return Finding(
        code=code,
        severity="error",
        message=f"There is no {kind} {name!r} in the records.",
        fix=fix,
        column=name,
    )


def _usable(
    trial: Trial, measure: str, factors: Sequence[str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The loaves with everything that is needed, and the others with the reason."""
    loaves = trial.loaves
    void = loaves["void"] if "void" in loaves else pd.Series(None, index=loaves.index, dtype=object)
    reason = np.full(len(loaves), "", dtype=object)
    for column in (measure, *factors):
        reason[loaves[column].isna().to_numpy() & (reason == "")] = f"no {column}"
    is_void = void.notna().to_numpy()
    reason[is_void] = [f"void: {why}" for why in void[is_void]]
    used = reason == ""
    out = loaves[~used]
    left_out = pd.DataFrame(
        {
            "line": out.get("line"),
            "loaf": out.get("loaf"),
            "reason": reason[~used],
            "from_terms": "all",
        },
        index=out.index,
    )
    return loaves[used], left_out.reset_index(drop=True)


def _ordered(values: pd.Series, factor: str, trial: Trial) -> pd.Series:
    """Texts as categories: the control first, then as the card lists them, then the others sorted.
    Numbers stay.
    """
    if pd.api.types.is_numeric_dtype(values):
        return values
    present = ordered_levels(values)
    listed = [level for level in trial.card.factors.get(factor, ()) if level in present]
    order = [*listed, *(level for level in present if level not in listed)]
    if factor == "formula" and trial.card.control in order:
        order = [trial.card.control, *(level for level in order if level != trial.card.control)]
    return values.astype(pd.CategoricalDtype(order))


def degrees(table: pd.DataFrame, factors: Sequence[str]) -> dict[str, int]:
    """Return the factors that enter as numbers, each with the degree of its polynomial.

    2, a curve, where a number cannot be a category; 1, a straight line, where its only third value
    is that of centre points, which have several numbers half-way at once: then no bend is one
    factor's own.
    """
    curved = {name: 2 for name in factors if enters_as_curve(table[name])}
    return curved | dict.fromkeys(centred(table, [n for n in factors if n not in curved]), 1)


def enters_as_curve(values: pd.Series) -> bool:
    """A number with many values, or with values that occur once, cannot be a category."""
    if not pd.api.types.is_numeric_dtype(values):
        return False
    counts = values.value_counts()
    if len(counts) < 3:
        return False
    return len(counts) > MOST_LEVELS or bool((counts == 1).sum() > len(counts) / 2)
