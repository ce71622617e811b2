"""Words by formula: dough against dough, since one dough never speaks for its formula."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pandas as pd

from ...trials import Trial, TrialError
from ...trials.fairness.rearrangement import rearrange, share_as_extreme, smallest_p

FORMULA_COLUMNS = (
    "word",
    "formula",
    "against",
    "doughs",
    "against_doughs",
    "difference",
    "p_value",
    "smallest_p",
)


def word_by_formula(trial: Trial, shares: pd.DataFrame) -> pd.DataFrame:
    """Return each word's difference between formulas, with formulas relabelled among doughs within
    days.

    shares : word × loaf, share of people who ticked; loaves of one dough are averaged.
    Source: Fisher 1935, The Design of Experiments, sec. 21.

    Raises
    ------
    TrialError: the loaves have no formulas, or one only.
    """
    doughs = _doughs(trial, list(shares.columns))
    names = list(dict.fromkeys(doughs["formula"]))
    if len(names) < 2:
        raise TrialError.one(
            "one-formula",
            "The loaves that were looked at have not two formulas.",
            "Leave out  --by formula; or write the formulas in the table of loaves.",
        )
    control = trial.card.control or ""
    pairs = [(name, control) for name in names if name != control]
    if control not in names:
        pairs = [(second, first) for first, second in combinations(names, 2)]
    rows = [
        (word, formula, against, *_difference(shares.loc[word], doughs, formula, against))
        for word in shares.index
        for formula, against in pairs
    ]
    return pd.DataFrame(rows, columns=list(FORMULA_COLUMNS))


def _doughs(trial: Trial, loaves: list[str]) -> pd.DataFrame:
    """Return loaf, formula, mix and day (one where no day was recorded) of these loaves."""
    table = trial.loaves[trial.loaves["loaf"].astype(str).isin(loaves)].drop_duplicates("loaf")
    if "formula" not in table or table["formula"].isna().any():
        raise TrialError.one(
            "label-missing",
            "Not every loaf that was looked at has a formula.",
            "Write it in the table of loaves.",
        )
    day = (
        table["day"].astype("string").fillna("")
        if "day" in table
        else pd.Series("", index=table.index)
    )
    found = pd.DataFrame(
        {
            "loaf": table["loaf"].astype(str),
            "formula": table["formula"].astype(str),
            "mix": table["mix"].astype(str),
            "day": day.astype(str),
        }
    )
    listed = [str(level) for level in trial.card.factors.get("formula", ())]
    place = found["formula"].map({name: i for i, name in enumerate(listed)}).fillna(len(listed))
    return (
        found.assign(place=place)
        .sort_values(["place", "formula", "mix", "loaf"])
        .reset_index(drop=True)
    )


def _difference(
    shares: pd.Series, doughs: pd.DataFrame, formula: str, against: str
) -> tuple[int, int, float, float, float]:
    """Return doughs of each, the difference of their mean shares, its p and the smallest that there
    could be.
    """
    ours = doughs[doughs["formula"].isin([formula, against])]
    of_mixes = (
        ours.assign(share=ours["loaf"].map(shares))
        .groupby(["mix", "formula", "day"], sort=True)["share"]
        .mean()
    )
    means = of_mixes.dropna().reset_index()
    first = (means["formula"] == formula).to_numpy()
    values, blocks = means["share"].to_numpy(dtype=float), means["day"].factorize(sort=True)[0]
    if not first.any() or first.all():
        return int(first.sum()), int((~first).sum()), np.nan, np.nan, np.nan
    difference = float(values[first].mean() - values[~first].mean())
    centred = values - (np.bincount(blocks, values) / np.bincount(blocks))[blocks]
    dealt = rearrange(first, centred, blocks)
    if dealt.count < 2:
        return int(first.sum()), int((~first).sum()), difference, np.nan, 1.0
    return (
        int(first.sum()),
        int((~first).sum()),
        difference,
        share_as_extreme(float(centred[first].sum()), dealt),
        smallest_p(dealt),
    )
