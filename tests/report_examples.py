"""Reports of the example trials, each made once for all tests."""

import functools
from pathlib import Path

from fairloaf.analysis.answers import factor_effects
from fairloaf.analysis.report import AUDIENCES, FORMS
from fairloaf.analysis.report.rendering import render
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.trials import load_trial

ROOT = Path(__file__).parents[1]
EXAMPLES = ("small_bakery", "class_bake", "open_and_lidded")
EVERY_REPORT = [(name, audience) for name in EXAMPLES for audience in AUDIENCES]


@functools.cache
def trial(name):
    """Return an example trial."""
    return load_trial(ROOT / "example_trials" / name)


@functools.cache
def factors_of(name):
    """Return which factors changed the loaves of an example trial."""
    return factor_effects(trial(name))


@functools.cache
def summary(name):
    """Return what an example trial shows."""
    return summarise(trial(name))


@functools.cache
def report(name, audience):
    """Return an example's report before it has a form."""
    return report_for(summary(name), audience)


@functools.cache
def files(name, audience):
    """Return form → bytes of an example's report."""
    return {form: render(form, report(name, audience), summary(name)) for form in FORMS}
