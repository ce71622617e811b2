"""A fit without a mix or a day, from the codes of all loaves, is that of the loaves left alone."""

from itertools import combinations

import numpy as np
import pytest
from fairloaf.analysis.asking.question import read_question
from fairloaf.analysis.comparison.formula_fit import compared_factors, fit_asked, refit
from fairloaf.analysis.mixed_model.fitting import NotIdentifiable, NoVariation
from fairloaf.analysis.model.coding import DesignError
from fairloaf.trials import load_trial

from .random_trials import random_trial
from .report_examples import ROOT

NUMBERS = ("estimate", "standard_error", "df", "p_value", "ci_low", "ci_high")
WORDS = ("way", "why", "unit", "n_units", "between", "ignored")


def judged(fitted):
    """What is said of each pair of formulas that is left; why nothing is, where nothing is."""
    try:
        again = fitted()
        pairs = combinations([str(level) for level in again.fit.design.levels["formula"]], 2)
        found = [again.difference(*pair) for pair in pairs]
    except (DesignError, NotIdentifiable, NoVariation) as fault:
        return type(fault), str(fault)
    return [[getattr(each, name) for name in NUMBERS] for each in found], [
        [getattr(each, name) for name in WORDS] for each in found
    ]


def same(fitted):
    labels = fitted.fit.layout.labels
    gone = [labels[kind] == code for kind in labels for code in labels[kind].unique()[:3]]
    gone = [away for away in gone if not away.all()]
    for away in gone:
        numbers, words = judged(lambda away=away: fitted.without(away))
        expected, said = judged(lambda away=away: refit(fitted, fitted.loaves[~away]))
        assert words == said
        if isinstance(numbers, list):
            np.testing.assert_allclose(numbers, expected, rtol=1e-7, atol=1e-9)
        else:
            assert numbers == expected
    return len(gone)


@pytest.mark.parametrize("seed", range(6))
def test_as_fitted_to_the_loaves_left(seed):
    trial = random_trial(seed)
    asked = read_question(trial, None, compared_factors(trial), 0.95)
    assert same(fit_asked(asked, asked.table)) > 3


def test_scores_as_fitted_to_the_loaves_left():
    trial = load_trial(ROOT / "example_trials" / "small_bakery")
    asked = read_question(trial, "crumb_openness", compared_factors(trial), 0.95)
    assert same(fit_asked(asked, asked.table)) > 3
