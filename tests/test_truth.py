"""No sentence is said against its condition, and none contradicts another on the same page: random
trials.
"""

import os
import re

import numpy as np
import pytest
from fairloaf.analysis import compare_formulas, factor_effects
from fairloaf.analysis.verdict import verdict
from fairloaf.analysis.wording.comparison import comparison_lines, settle_lines, steadiness_lines
from fairloaf.trials import TrialError
from fairloaf.trials.words.numbers import ENGLISH

from .random_trials import random_trial
from .seeds import seeds
from .truth_table import (
    BESIDE,
    COMPARISON,
    HEADLINE,
    OF_A_FACTOR,
    VERDICTS,
    known,
    real,
    tied,
    tied_effect,
    undoing,
    undoing_effect,
)

TRIALS = int(os.environ.get("FAIRLOAF_TRUTH_TRIALS", "10"))
FROM_ZERO = re.compile(r"likely between [−]?0(?:\.0+)? (?:% )?and|and [−]?0(?:\.0+)?(?: %)?[;)]")
ADJUSTED, TIED = "too: adjusted for it,", "too, and nothing here can tell what came from which"
SPAN = re.compile(r"by about ([\d.]+)")


def broken_by_comparison(trial):
    """Return every sentence of a comparison that is said against its condition."""
    try:
        c = compare_formulas(trial)
    except TrialError:
        return []
    m = c.matters
    beside = [
        *comparison_lines(c, style=ENGLISH),
        *steadiness_lines(c),
        *settle_lines(c, style=ENGLISH),
    ]
    wrong = [
        words for words, allowed in COMPARISON.items() if words in c.sentence and not allowed(c, m)
    ]
    wrong += [
        words
        for words, allowed in BESIDE.items()
        if any(words in line for line in (c.sentence, *beside)) and not allowed(c)
    ]
    rows = [c, *c.pairs.itertuples(), *c.by_level.itertuples()]
    wrong += [
        f"{row.verdict} of {row.ci_low} to {row.ci_high}"
        for row in rows
        if not VERDICTS[row.verdict](row, m)
    ]
    wrong += [line for line in (c.sentence, *beside) if FROM_ZERO.search(line)]
    if len(undoing(c, m)) != c.sentence.count(ADJUSTED):
        wrong.append("what undoes the verdict is not said with it")
    if tied(c, c.fairness.table[c.fairness.apart], m) != (TIED in c.sentence):
        wrong.append("what cannot be told from the difference is not said with it")
    wrong += _opens_alike(c)
    wrong += _reached_through(trial, c)
    if any("stays the same without any" in b for b in beside) and any(
        "hangs on" in b for b in beside
    ):
        wrong.append("the verdict stays, and hangs on something")
    wrong += [
        finding.message
        for finding in c.findings
        if finding.code == "drift-over-baking-order"
        and (size := SPAN.search(finding.message))
        and float(size.group(1)) > np.ptp(trial.counted[c.measure].dropna())
    ]
    return wrong


def _opens_alike(c):
    """Exactly one sentence says how it stands, and the pair told has the row that the table has."""
    said = [
        words
        for words in COMPARISON
        if words in c.sentence
        and (
            "settled" in words
            or "matters" in words
            or "least" in words
            or "smaller than" in words
            or "reaches" in words
        )
    ]
    own = c.pairs[(c.pairs["formula"] == c.formula) & (c.pairs["against"] == c.against)]
    return ([f"{len(said)} verdicts: {said}"] if len(said) != 1 else []) + (
        ["the pair told is not the table's"] if list(own["verdict"]) != [c.verdict] else []
    )


def _reached_through(trial, c):
    """A pair was reached through others just where its loaves alone share no tin or proof time."""
    own = trial.counted[trial.counted["formula"].isin([c.formula, c.against])].dropna(
        subset=[c.measure]
    )
    apart = [
        name
        for name in trial.factors
        if name != "formula"
        and len(own) == len(own.dropna(subset=[name]))
        and not set(own.loc[own["formula"] == c.formula, name])
        & set(own.loc[own["formula"] == c.against, name])
    ]
    return ["told without saying through what"] if apart and c.reached is None else []


def broken_by_factors(trial):
    """Return every sentence of the factors that is said against its condition."""
    try:
        f = factor_effects(trial)
    except TrialError:
        return []
    first, *others = f.sentences
    wrong = [
        f"{words} | {first}"
        for words, allowed in HEADLINE.items()
        if words in first and not allowed(f, first)
    ]
    for row in f.effects.itertuples():
        name = f.factor_labels[row.factor]
        begins = tuple(f"{name}{words}" for words in (":", " is ", " moved", " cannot"))
        own = [s for s in others if s.lower().startswith(begins)]
        own += (
            [first]
            if name.lower() in first.lower().partition(":")[0]
            and "which" not in first.partition(":")[0]
            else []
        )
        wrong += [
            f"{words} | {s}"
            for s in own
            for words, allowed in OF_A_FACTOR.items()
            if words in s and not allowed(f, row.factor, row)
        ]
        if len(undoing_effect(f, row)) != sum(s.count(ADJUSTED) for s in own):
            wrong.append(f"what undoes the verdict on {name} is not said with it")
        if tied_effect(f, row) != any(TIED in s for s in own):
            wrong.append(f"what cannot be told from {name} is not said with it")
        if not own and len(f.effects) > 1:
            wrong.append(f"{name} has an effect and no sentence")
        if known(row) and any(f"{name} cannot be judged" in s.lower() for s in f.sentences):
            wrong.append(f"{name} is judged, and said not to be")
    wrong += [s for s in f.sentences if FROM_ZERO.search(s)]
    there = set(f.interactions.loc[f.interactions["p_value"] < 1 - f.confidence, "term"])
    together = sum("work together: what one does" in s for s in f.sentences)
    return [
        *wrong,
        *([f"{together} said to work together, {len(there)} do"] if together != len(there) else []),
    ]


@pytest.mark.parametrize("seed", seeds(range(TRIALS), 6))
def test_no_sentence_is_said_against_its_condition(seed):
    trial = random_trial(31_000 + seed, effects=seed % 3 > 0)
    assert [*broken_by_comparison(trial), *broken_by_factors(trial)] == []


@pytest.mark.parametrize("seed", range(4))
def test_what_compare_calls_real_factors_call_real(seed):
    """The same pair in both answers: one is not called real and the other not shown."""
    trial = random_trial(32_000 + seed)
    try:
        c, f = compare_formulas(trial), factor_effects(trial)
    except TrialError:
        return
    row = f.effects[f.effects["factor"] == "formula"]
    if (
        len(row)
        and len(c.n_mixes) == 2
        and f.n_loaves == c.n_loaves
        and known(c)
        and known(row.iloc[0])
    ):
        assert (row["ci_low"].iloc[0] > 0) == real(c)
        undone = f.undone[f.undone["factor"] == "formula"]
        assert list(undone["condition"]) == list(c.undone["condition"])
        tied = c.verdict != "not settled" and len(c.fairness.inseparable) > 0
        assert ("nothing here can tell what came from which" in c.sentence) == tied


@pytest.mark.parametrize("matters", [None, 0.2])
def test_every_verdict_has_its_condition_and_only_its_own(matters):
    """The five verdicts over a grid of ranges: exactly one condition of the table holds for
    each.
    """
    from types import SimpleNamespace

    ends = (-0.5, -0.2, -0.1, 0.0, 0.1, 0.2, 0.5)
    for low in ends:
        for high in (end for end in ends if end >= low):
            row = SimpleNamespace(ci_low=low, ci_high=high)
            holds = [name for name, allowed in VERDICTS.items() if allowed(row, matters)]
            assert holds == [verdict(low, high, matters)], (low, high)
