"""Which words tell the breads apart, and do people mean the same by them?

seen = judge_words(trial)
seen.words, seen.pairs, seen.shares
"""

from __future__ import annotations

from itertools import combinations
from typing import Literal

import numpy as np
import pandas as pd

from ...trials import Trial, TrialError
from ...trials.reading.headers import tidy_name
from ...trials.tasting.looks import read_looks
from ..methods.multiplicity import holm
from ..methods.preferences import p_turned_round
from ..methods.shuffled import looks, n_parts, shuffled_test
from ..methods.tick_agreement import tick_agreement
from .choosing import not_joined
from .doughs import FORMULA_COLUMNS, word_by_formula
from .result import WordsSeen

ALPHA = 0.05
WORD_COLUMNS = (
    "word",
    "heading",
    "n_assessors",
    "ticks",
    "q",
    "df",
    "p_value",
    "p_adjusted",
    "p_chi2",
    "same_answer",
    "by_chance",
    "kappa",
    "kappa_low",
    "kappa_high",
    "tells_apart",
)
PAIR_COLUMNS = (
    "word",
    "loaf",
    "against",
    "formula",
    "against_formula",
    "only_first",
    "only_second",
    "p_value",
    "p_holm",
    "differs",
)
TWIN_COLUMNS = ("loaf", "code", "against_code", "n_units", "same_answer", "same_elsewhere")


def judge_words(trial: Trial, by: Literal["loaf", "formula"] = "loaf") -> WordsSeen:
    """Return what the ticks in ``words.csv`` show of the loaves, or, by formula, of dough against
    dough.

    With a ``table`` column tables count and not people: a table's ticks are averaged and shuffled
    whole.

    Raises
    ------
    TrialError: nobody looked, fewer than two loaves or people, breads that nobody joins, no
    formulas.
    """
    if by not in ("loaf", "formula"):
        raise TrialError.one(
            "by-unknown", f"Words are not judged by {by}.", 'Give by="loaf" or by="formula".'
        )
    given = read_looks(trial)
    if trial.words is None or given.empty:
        raise TrialError.one(
            "no-words",
            "The trial has no words.csv with looks that count.",
            "Write one row a person and bread: assessor, code, and a column a word.",
        )
    given, unit = _with_units(given)
    loaves = _loaves(trial, given)
    words = list(dict.fromkeys(given["word"]))
    table = _means(given, "unit", "loaf", list(loaves["loaf"]), words)
    had = np.isfinite(table).any(axis=2)
    if not had.any():
        raise TrialError.one(
            "words-too-few",
            "No word was judged: every cell under a word is  ?.",
            "Leave a cell blank where the word was not ticked;  ?  is for words not judged.",
        )
    if min(table.shape[:2]) < 2:
        raise TrialError.one(
            "words-too-few",
            f"There are ticks by {table.shape[0]} (counting {unit}s) for {table.shape[1]} of the"
            " breads.",
            "Telling apart takes two breads at least, and two who look at both.",
        )
    if n_parts(had) > 1:
        raise not_joined("looked at")
    told = _words(trial, table, words)
    shares, counts = _shares(given, loaves, told[0]["word"])
    return WordsSeen(
        name=trial.name,
        by=by,
        unit=unit,
        n_assessors=given["assessor"].nunique(),
        n_units=len(table),
        n_looks=given["line"].nunique(),
        loaves=loaves,
        words=told[0],
        p_together=told[1],
        pairs=_pairs(table, words, loaves, told[0]),
        shares=shares,
        counts=counts,
        twins=_twins(given),
        formulas=(
            pd.DataFrame(columns=list(FORMULA_COLUMNS))
            if by == "loaf"
            else word_by_formula(trial, shares)
        ),
    )


def _with_units(given: pd.DataFrame) -> tuple[pd.DataFrame, str]:
    """Return the looks with the unit that counts: the table where people sat at tables, else the
    person.
    """
    person = "person " + given["assessor"].astype(str)
    if "table" not in given or given["table"].isna().all():
        return given.assign(unit=person), "assessor"
    return (
        given.assign(
            unit=("table " + given["table"].astype("string"))
            .astype(object)
            .where(given["table"].notna(), person)
        ),
        "table",
    )


def _loaves(trial: Trial, given: pd.DataFrame) -> pd.DataFrame:
    """Return the loaves that were looked at, formula by formula, with how many looks and ticks each
    got.
    """
    about = trial.loaves.drop_duplicates("loaf").set_index(
        trial.loaves["loaf"].drop_duplicates().astype(str)
    )
    names = sorted(given["loaf"].dropna().astype(str).unique(), key=lambda name: (len(name), name))
    listed = [str(level) for level in trial.card.factors.get("formula", ())]

    def label(loaf: str, column: str) -> str:
        cell: object = about.loc[loaf, column] if column in about and loaf in about.index else None
        return str(cell) if isinstance(cell, str) else ""

    formula = {name: label(name, "formula") for name in names}
    place = {name: i for i, name in enumerate(listed)}
    names.sort(key=lambda name: (place.get(formula[name], len(listed)), formula[name]))
    looks_of, ticks = (
        given.drop_duplicates("line")["loaf"].value_counts(),
        given.groupby("loaf")["tick"].sum(),
    )
    return pd.DataFrame(
        {
            "loaf": names,
            "formula": [formula[n] for n in names],
            "mix": [label(n, "mix") for n in names],
            "n_looks": [int(looks_of[n]) for n in names],
            "ticks": [int(ticks[n]) for n in names],
        }
    )


def _means(
    given: pd.DataFrame, unit: str, item: str, items: list[str], words: list[str]
) -> np.ndarray:
    """Return the share of ticks by unit, bread and word: (units, breads, words), NaN where not
    judged.
    """
    means = (
        given.groupby([unit, item, "word"], sort=True)["tick"]
        .mean()
        .unstack("word")
        .reindex(columns=words)
    )
    units = sorted(given[unit].unique())
    rows = pd.MultiIndex.from_product([units, items], names=[unit, item])
    return means.reindex(rows).to_numpy(dtype=float).reshape(len(units), len(items), len(words))


def _words(trial: Trial, table: np.ndarray, words: list[str]) -> tuple[pd.DataFrame, float]:
    """Return the table of words, the told ones first, and the p-value of all words together."""
    found = shuffled_test(looks(table, np.isfinite(table).any(axis=2)))
    headings = {
        tidy_name(word): heading for heading, under in trial.card.words.items() for word in under
    }
    rows = []
    for w, word in enumerate(words):
        agreed = tick_agreement(table[:, :, w])
        rows.append(
            (
                word,
                headings.get(tidy_name(word), ""),
                int(np.isfinite(table[:, :, w]).any(axis=1).sum()),
                float(np.nansum(table[:, :, w])),
                found.s[w],
                found.df,
                found.p_shuffled[w],
                found.p_adjusted[w],
                found.p_chi2[w],
                agreed.same_answer,
                agreed.by_chance,
                agreed.kappa,
                agreed.kappa_low,
                agreed.kappa_high,
                bool(found.p_adjusted[w] <= ALPHA),
            )
        )
    made = pd.DataFrame(rows, columns=list(WORD_COLUMNS))
    rank = made.assign(
        told=~made["tells_apart"], size=-made["q"].round(9).fillna(-1), few=-made["ticks"]
    )
    return (
        made.loc[rank.sort_values(["told", "size", "few", "word"]).index].reset_index(drop=True),
        found.p_together,
    )


def _pairs(
    table: np.ndarray, words: list[str], loaves: pd.DataFrame, told: pd.DataFrame
) -> pd.DataFrame:
    """Return every pair of loaves for the words that tell apart, Holm inside the word."""
    parts = []
    for word in told.loc[told["tells_apart"], "word"]:
        ticks = table[:, :, words.index(word)]
        rows = []
        for i, j in combinations(range(len(loaves)), 2):
            net = ticks[:, i] - ticks[:, j]
            rows.append(
                (
                    word,
                    loaves["loaf"][i],
                    loaves["loaf"][j],
                    loaves["formula"][i],
                    loaves["formula"][j],
                    int((net > 0).sum()),
                    int((net < 0).sum()),
                    p_turned_round(net, half_of_ties=True),
                )
            )
        part = pd.DataFrame(rows, columns=list(PAIR_COLUMNS[:-2]))
        adjusted = holm(part["p_value"].to_numpy())
        parts.append(part.assign(p_holm=adjusted, differs=adjusted <= ALPHA))
    return (
        pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=list(PAIR_COLUMNS))
    )


def _shares(
    given: pd.DataFrame, loaves: pd.DataFrame, words: pd.Series
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the share and the number of people who ticked, word × loaf."""
    people = given.groupby(["word", "loaf", "assessor"])["tick"].mean().groupby(["word", "loaf"])
    shares, counts = (
        table.unstack("loaf")
        .reindex(index=list(words), columns=list(loaves["loaf"]))
        .rename_axis(index="word", columns=None)
        for table in (people.mean(), people.sum())
    )
    return shares, counts


def _twins(given: pd.DataFrame) -> pd.DataFrame:
    """Return the loaves that stood under two codes: how often people gave the two the same
    answer.
    """
    codes = given.groupby("loaf")["code"].unique()
    wide = given.groupby(["unit", "word", "code"])["tick"].mean().unstack("code")
    loaf_of = {code: loaf for loaf, found in codes.items() for code in found}

    def same(first: str, second: str) -> float:
        both = wide[[first, second]].dropna()
        return float((both[first] - both[second]).abs().lt(1e-9).mean()) if len(both) else np.nan

    every = sorted(loaf_of)
    rows = []
    twins = [(a, b) for a, b in combinations(every, 2) if loaf_of[a] == loaf_of[b]]
    apart = (
        [same(a, b) for a, b in combinations(every, 2) if loaf_of[a] != loaf_of[b]] if twins else []
    )
    for a, b in twins:
        units = wide[[a, b]].dropna().index.get_level_values("unit").nunique()
        rows.append(
            (loaf_of[a], a, b, units, same(a, b), float(np.nanmean(apart)) if apart else np.nan)
        )
    return pd.DataFrame(rows, columns=list(TWIN_COLUMNS))
