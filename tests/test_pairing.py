"""Which formula is held against which, where some of it was not asked."""

import pandas as pd
import pytest
from fairloaf.trials import TrialError
from fairloaf.trials.fairness.pairing import choose_pairs

from .bakes import as_trial


def trial_of(*formulas: str, **card):
    return as_trial(pd.DataFrame({"formula": formulas}), **({"control": None} | card))


@pytest.mark.parametrize(
    ("trial", "ask", "pairs", "family", "choice"),
    [
        (trial_of("a", "b"), ("a", "b"), [("a", "b")], "one pair", ""),
        (trial_of("a", "b"), ("b", None), [("b", "a")], "one pair", "the other"),
        (trial_of("a", "b"), (None, "b"), [("a", "b")], "one pair", ""),
        (trial_of("a", "b"), (None, None), [("b", "a")], "one pair", "first as control"),
        (trial_of("a", "b", control="b"), (None, None), [("a", "b")], "one pair", "control"),
        (trial_of("a", "b", "c", control="b"), ("c", None), [("c", "b")], "one pair", "control"),
        (
            trial_of("a", "b", "c", control="b"),
            (None, None),
            [("a", "b"), ("c", "b")],
            "all against one",
            "control",
        ),
        (trial_of("a", "b", "c"), (None, "a"), [("b", "a"), ("c", "a")], "all against one", ""),
        (
            trial_of("a", "b", "c"),
            (None, None),
            [("b", "a"), ("c", "a"), ("c", "b")],
            "all pairs",
            "all pairs",
        ),
        (
            trial_of("b", "a", factors={"formula": ("a", "b")}),
            (None, None),
            [("b", "a")],
            "one pair",
            "first as control",
        ),
    ],
)
def test_what_is_chosen(trial, ask, pairs, family, choice):
    chosen = choose_pairs(trial, *ask)
    assert (list(chosen.pairs), chosen.family, chosen.choice) == (pairs, family, choice)


@pytest.mark.parametrize(
    ("trial", "ask", "message"),
    [
        (
            trial_of("a", "b", "c"),
            ("b", None),
            "It is not said what b is to be compared with. Name one of: a, c",
        ),
        (trial_of("a", "a"), (None, None), "there is only a"),
        (
            trial_of("house", "malted", control="hause"),
            (None, None),
            "'hause'. Did you mean 'house'",
        ),
        (trial_of("House", "Malted"), ("house", "Malted"), "'house'. Did you mean 'House'"),
        (trial_of("a", "b"), ("rye", None), "'rye'. There are: a, b."),
    ],
)
def test_what_cannot_be_chosen(trial, ask, message):
    with pytest.raises(TrialError) as stop:
        choose_pairs(trial, *ask)
    assert message in str(stop.value)
