"""Can these records give an answer at all? What was not understood is named here, so that silence
is no all-clear.
"""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from ..columns import BY_NAME, CRUMB_PREFIX, MEASURES, label
from ..reading.headers import unit_of_header, words
from ..reading.stacked import SHEET
from ..tables import distinct
from ..trial import Trial
from ..words.lists import listed
from .check import MOST_TOLD, Spot, check
from .unnamed import unknown_headers

WORD_OF = {"mass": "loaf_g", "volume": "loaf_ml", "height": "height_mm"}
FROM_FILE = "fairloaf new FOLDER --from FILE  proposes a card that names every column."


@check("nothing-measured", "error", "Without a measure there is nothing to compare.", void_too=True)
def nothing_measured(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is anything measured that an answer can be given in?"""
    if not measured(loaves, trial) and not asks_people(trial):
        yield Spot(
            message=(
                "No column is known here as a loaf's mass, volume or height, or as a score."
                f"{not_understood(loaves, trial)}"
            ),
            fix=(
                'Rename the column, or name it on the card, such as  [columns]  loaf_ml = "…";'
                f" {FROM_FILE}"
            ),
        )


@check(
    "nothing-changed",
    "warning",
    "An answer says what made the difference between loaves.",
    void_too=True,
)
def nothing_changed(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is anything known to have been changed from loaf to loaf?"""
    if len(loaves) and not any(
        name in loaves and loaves[name].nunique() > 1 for name in trial.factors
    ):
        yield Spot(
            message=(
                "No formula, tin, proof time or other factor is known to differ from loaf to loaf."
                f"{not_understood(loaves, trial)}"
            ),
            fix=(
                "Where each sheet holds one formula, write on the card  [columns]  formula ="
                f' "{SHEET}"'
                if SHEET in loaves and "formula" not in loaves
                else 'Name the column of what was changed, such as  [columns]  formula = "…";'
                f" {FROM_FILE}"
            ),
        )


@check("header-not-used", "warning", "What it holds does not reach the answer.", void_too=True)
def headers_not_used(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is every column that seems to hold a mass, a volume or a height used?"""
    for word, name in WORD_OF.items():
        unit = BY_NAME[name].unit if word != "height" else ""
        texts = [
            text
            for own, text in unknown_headers(loaves, trial)
            if loaves[own].dtype.kind == "f"
            and (word in words(text) or unit_of_header(text, "", unit))
        ]
        if texts and name not in loaves:
            yield Spot(
                message=(
                    f"{quoted(texts)} seem{'s' if len(texts) == 1 else ''} to hold a {word}, but"
                    " which one is not known here."
                ),
                column=name,
                fix=(
                    f'Write on the card under [columns]  {name} = "{texts[0]}"; {FROM_FILE}'
                    if len(texts) == 1
                    else f"{FROM_FILE} Where a row holds several loaves, it proposes the rule that"
                    " makes one row a loaf."
                ),
            )


@check(
    "measure-not-said",
    "note",
    "Another measure than specific volume is judged by only where it is named.",
)
def measure_not_said(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is it known which measure to judge by?"""
    if trial.card.measure is not None or holds_values(loaves, "specific_volume"):
        return
    there = measured(loaves, trial)
    if there:
        yield Spot(
            message=(
                "Specific volume cannot be worked out here, and nothing says which other measure"
                f" to judge by; there {'are' if len(there) > 1 else 'is'}"
                f" {listed(there[:MOST_TOLD])}."
            ),
            fix=f'Write on the card  measure = "{there[0]}"  or ask with  --measure {there[0]}',
        )


@check(
    "measure-empty",
    "warning",
    "Nothing can be answered from a column that nobody filled in.",
    void_too=True,
)
def measures_left_empty(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Does every column of a measure hold a value?"""
    asked = (*MEASURES, trial.card.measure, *trial.card.measures)
    unread = set(trial.unreadable["column"])
    empty = [
        text
        for name, text in trial.headers.items()
        if name in asked
        and name in loaves
        and name not in unread
        and not holds_values(loaves, name)
    ]
    if empty and len(loaves):
        yield Spot(
            message=(
                f"There is no value under {quoted(empty)}"
                f"{' on any line' if len(loaves) > 1 else ''}."
            ),
            column=empty[0],
            fix="Fill the column in, or delete it if it was not measured.",
        )


def holds_values(loaves: pd.DataFrame, name: object) -> bool:
    """Return whether a column is there and holds something, where there are loaves at all."""
    return name in loaves and (loaves.empty or not loaves[name].array.isna().all())


def asks_people(trial: Trial) -> bool:
    """Return whether people tasted or looked, or are to."""
    there = trial.tasting is not None or trial.words is not None
    return there or trial.card.tasting.test is not None or bool(trial.card.words)


def measured(loaves: pd.DataFrame, trial: Trial) -> list[str]:
    """Return the measures that were recorded or can be worked out, those that the card names among
    them.
    """
    own = [
        name
        for name in (trial.card.measure, *trial.card.measures)
        if name and holds_values(loaves, name)
    ]
    scores = [
        str(name)
        for name in loaves
        if str(name).startswith(CRUMB_PREFIX) and holds_values(loaves, name)
    ]
    if trial.scores is not None and "attribute" in trial.scores:
        scores += [CRUMB_PREFIX + str(name) for name in distinct(trial.scores["attribute"])]
    return list(
        dict.fromkeys([*own, *(name for name in MEASURES if holds_values(loaves, name)), *scores])
    )


def not_understood(loaves: pd.DataFrame, trial: Trial) -> str:
    """Return the headers that were not understood as a sentence, with a space in front; nothing
    where all were.
    """
    texts = [text for _, text in unknown_headers(loaves, trial)]
    known = [
        label(name) for name in trial.headers if name in BY_NAME and holds_values(loaves, name)
    ]
    if not texts:
        return (
            f" There {'are' if len(known) > 1 else 'is'} only {listed([k.lower() for k in known])}."
            if known
            else ""
        )
    return f" Not understood: {quoted(texts)}."


def quoted(texts: list[str]) -> str:
    """Return headers as a sentence lists them."""
    return listed([f"{text!r}" for text in texts[:MOST_TOLD]], more=len(texts[MOST_TOLD:]))
