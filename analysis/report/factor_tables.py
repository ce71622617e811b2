"""Tables of the factors: every effect, test, mean, pair and variance."""

from __future__ import annotations

from ...trials import Trial
from ...trials.columns import label, unit
from ..factors import FactorEffects
from ..residuals import ResidualChecks
from ..wording.numbers import listed
from ..wording.tables import CAPTIONS, heading, term_words
from .document import Column, Rounded, Table
from .frames import level_words, places, shared_places, table_of


def effects_table(f: FactorEffects, trial: Trial) -> Table:
    """Return the factors by the size of what they did."""
    in_unit = unit(f.measure, trial.card)
    digits = shared_places(f.effects, "size")
    frame = f.effects.assign(factor=[term_words(x) for x in f.effects["factor"]],
                             low_level=[level_words(x) for x in f.effects["low_level"]],
                             high_level=[level_words(x) for x in f.effects["high_level"]])
    return table_of(frame, {
        "factor": ("", None), "low_level": ("", None), "high_level": ("", None), "size": (in_unit, digits),
        "ci_low": (in_unit, digits), "ci_high": (in_unit, digits), "p_value": ("", 4), "adjustment": ("", None),
    }, CAPTIONS["effects"].format(label(f.measure, trial.card)), "Factors")


def tests_table(f: FactorEffects, trial: Trial) -> Table:
    """Return every F test with its degrees of freedom and how it was judged."""
    frame = f.tests.assign(term=[term_words(x) for x in f.tests["term"]])
    return table_of(frame, {
        "term": ("", None), "num_df": ("", 0), "den_df": ("", 1), "f_value": ("", 2), "p_value": ("", 4),
        "p_holm": ("", 4), "applied_to": ("", None), "way": ("", None), "why": ("", None), "n_units": ("", 0),
    }, CAPTIONS["tests"].format(label(f.measure, trial.card)), "Tests")


def factor_means_table(f: FactorEffects, trial: Trial) -> Table:
    """Return the marginal mean of every level and combination of levels."""
    in_unit = unit(f.measure, trial.card)
    digits = shared_places(f.means, "mean")
    frame = f.means.assign(term=[term_words(x) for x in f.means["term"]],
                           level=[level_words(x) for x in f.means["level"]])
    return table_of(frame, {
        "level": ("", None), "term": ("", None), "mean": (in_unit, digits), "standard_error": (in_unit, digits + 1),
        "df": ("", 1), "ci_low": (in_unit, digits), "ci_high": (in_unit, digits),
    }, CAPTIONS["factor means"].format(label(f.measure, trial.card)), "Factor means")


def contrasts_table(f: FactorEffects, trial: Trial) -> Table:
    """Return every pair of levels."""
    in_unit = unit(f.measure, trial.card)
    digits = shared_places(f.contrasts)
    frame = f.contrasts.assign(term=[term_words(x) for x in f.contrasts["term"]],
                               first=[level_words(x) for x in f.contrasts["first"]],
                               second=[level_words(x) for x in f.contrasts["second"]])
    return table_of(frame, {
        "first": ("", None), "second": ("", None), "term": ("", None), "difference": (in_unit, digits),
        "ci_low": (in_unit, digits), "ci_high": (in_unit, digits), "df": ("", 1), "p_value": ("", 4),
        "adjustment": ("", None),
    }, CAPTIONS["contrasts"].format(label(f.measure, trial.card)), "Pairs of levels")


def variances_table(f: FactorEffects, trial: Trial) -> Table:
    """Return where the scatter comes from."""
    in_unit = unit(f.measure, trial.card)
    frame = f.variances.assign(source=[term_words(x) for x in f.variances["source"]],
                               share=100 * f.variances["share"])
    return table_of(frame, {
        "source": ("", None), "kind": ("", None), "variance": (f"({in_unit})²" if in_unit else "", None),
        "share": ("%", 0),
    }, CAPTIONS["variances"].format(label(f.measure, trial.card)), "Variances")


def layout_table(f: FactorEffects) -> Table:
    """Return what each factor was applied to."""
    frame = f.layout.factors.assign(
        factor=[term_words(x) for x in f.layout.factors["factor"]],
        levels=[listed([level_words(level) for level in levels]) for levels in f.layout.factors["levels"]])
    shown = ("factor", "applied_to", "kind", "levels")
    return table_of(frame, dict.fromkeys(shown, ("", None)), CAPTIONS["layout"], "Layout")


def units_table(f: FactorEffects) -> Table:
    """Return how many days, oven loads, mixes and loaves there were."""
    shown = {"grouping": ("", None), "n": ("", 0), "kept": ("", None), "reason": ("", None)}
    return table_of(f.layout.units, shown, CAPTIONS["units"], "Units")


def strange_table(checks: ResidualChecks, in_unit: str) -> Table:
    """Return the loaf and the mix that lie farthest off, and whether that is strange."""
    rows = tuple(
        (s.label, s.unit, Rounded(s.residual, places([s.residual], [])), s.standardised, s.n,
         s.p_value, "yes" if s.strange else "no") for s in checks.strange)
    columns = (
        Column(heading("label_of_unit")), Column(heading("unit_of_trial")),
        Column(heading("residual"), True, in_unit),
        Column(heading("standardised"), True, "", 2), Column(heading("n"), True, "", 0),
        Column(heading("p_value"), True, "", 4), Column(heading("strange")))
    return Table(CAPTIONS["residuals"], columns, rows, "Farthest off")
