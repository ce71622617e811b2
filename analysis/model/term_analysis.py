"""Every term of one measure, judged: which terms are fitted, their tests, and which of them the
trial cannot answer.

Two rules beside the one of `bearing.py`:

*Tied to a main effect.* An interaction that cannot be told from a main effect is left out, and the
main effect read with that said: the usual reading of a fraction (Box and Hunter 1961).

*Missing combinations.* An interaction with combinations that were never baked is tested on those
that were. Where it is not there (p at or above 1 − confidence), means and main effects come from
the fit without it; where it is, means over a missing combination do not exist and are said not to.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import pandas as pd

from ...trials.frozen import frozen
from ..codes import Inseparable
from .bearing import choose_terms, level_of
from .design import Design, Term, interactions
from .judging import fit_ahead
from .layout import Layout
from .trial_fit import TrialFit, fit_trial

TESTS = ["term", "num_df", "den_df", "f_value", "p_value", "applied_to", "way", "why", "n_units"]


@frozen(kw_only=True)
class NotSeparable:
    """An effect that this trial cannot tell from others, by name.

    kind : "all": nothing of it can be estimated; "part": combinations are missing and the rest is
        answered;
        "read as main": an interaction that was left out because it is tied to a main effect.
    """

    term: str
    tied_to: tuple[str, ...]
    kind: Inseparable


@frozen(kw_only=True)
class TermAnalysis:
    """The fit that means and main effects come from, and a test of every term.

    tests : one row a term, main effects first: term, num_df, den_df, f_value, p_value, applied_to,
        way, why,
        n_units.
    there : interactions that are there. too_many : terms left out by the rule of `bearing.py`.
    """

    fit: TrialFit
    terms: tuple[Term, ...]
    tests: pd.DataFrame
    there: tuple[Term, ...]
    too_many: tuple[Term, ...]
    not_separable: tuple[NotSeparable, ...]


def analyse_terms(
    loaves: pd.DataFrame,
    measure: str,
    factors: Sequence[str],
    layout: Layout,
    *,
    order: int,
    numbers: Mapping[str, int],
    confidence: float,
    alone: Sequence[str] = (),
    fit_terms: Callable[..., TrialFit] = fit_trial,
) -> TermAnalysis:
    """Fit the terms that these loaves can bear and judge each.

    loaves : no factor or measure missing. layout : theirs.
    alone : factors that enter no interaction. fit_terms : how terms are fitted (`Asked.fit`).

    Raises
    ------
    DesignError, NoVariation, NotIdentifiable: the loaves cannot be analysed at all.
    """
    terms, too_many = choose_terms(loaves, _wanted(factors, order, alone), layout, numbers)
    fit = fit_terms(loaves, measure, terms, numbers=numbers, confidence=confidence)
    hidden = tied_to_main_effects(fit.design)
    if hidden:
        terms = tuple(term for term in terms if term.name not in {tie.term for tie in hidden})
        fit = fit.again(loaves, terms, numbers)
    whole = _tests(fit, terms)
    there = tuple(
        term for term in terms if len(term.factors) > 1 and _p(whole, term) < 1 - confidence
    )
    gaps = {tie.term for tie in fit.design.ties} - {term.name for term in there}
    kept = tuple(term for term in terms if len(term.factors) == 1 or term.name not in gaps)
    ties = _separable(fit)
    if len(kept) < len(terms):
        fit = fit.again(loaves, kept, numbers)
        main = _tests(fit, kept)
        whole = pd.concat([main, whole[~whole["term"].isin(main["term"])]])
        order_of = {term.name: i for i, term in enumerate(terms)}
        whole = whole.sort_values("term", key=lambda names: names.map(order_of), kind="stable")
        ties = (*_separable(fit), *(tie for tie in ties if tie.term not in set(main["term"])))
    return TermAnalysis(
        fit=fit,
        terms=terms,
        tests=whole.reset_index(drop=True),
        there=there,
        too_many=too_many,
        not_separable=(*hidden, *dict.fromkeys(ties)),
    )


def _wanted(factors: Sequence[str], order: int, alone: Sequence[str]) -> tuple[Term, ...]:
    """Main effects and the interactions up to this order."""
    every = interactions(factors, min(order, len(factors)))
    return tuple(
        term for term in every if len(term.factors) == 1 or not set(term.factors) & set(alone)
    )


def _p(tests: pd.DataFrame, term: Term) -> float:
    return float(tests.loc[tests["term"] == term.name, "p_value"].iloc[0])


def _tests(fit: TrialFit, terms: Sequence[Term]) -> pd.DataFrame:
    """One row a term; a term of which nothing can be estimated has no F and why "tied"."""
    rows = []
    hypotheses = [fit.design.term_hypothesis(term) for term in terms]
    fit_ahead(fitted for L in hypotheses if len(L) for fitted in fit.rests_on(L))
    for term, L in zip(terms, hypotheses, strict=True):
        row: dict[str, object] = {
            "term": term.name,
            "num_df": len(L),
            "way": "none",
            "why": "tied",
            "applied_to": level_of(term.factors, fit.layout),
        }
        if len(L):
            test = fit.f_test(L)
            row |= {
                "num_df": test.num_df,
                "den_df": test.den_df,
                "f_value": test.f_value,
                "p_value": test.p_value,
                "way": test.way,
                "why": test.why,
                "n_units": test.n_units,
                "applied_to": test.unit,
            }
        rows.append(row)
    return pd.DataFrame(rows).reindex(columns=TESTS)


def tied_to_main_effects(design: Design) -> tuple[NotSeparable, ...]:
    """Interactions that hide a main effect: both would lose everything."""
    lost = {tie.term: tie for tie in design.ties if tie.lost == tie.num_df}
    mains = {term.name for term in design.terms if len(term.factors) == 1}
    found = []
    for term in design.terms:
        hides = tuple(name for name in lost if name in mains and term.name in lost[name].tied_to)
        if term.name in lost and term.name not in mains and hides:
            found.append(NotSeparable(term=term.name, tied_to=hides, kind="read as main"))
    return tuple(found)


def _separable(fit: TrialFit) -> tuple[NotSeparable, ...]:
    return tuple(
        NotSeparable(
            term=tie.term, tied_to=tie.tied_to, kind="all" if tie.lost == tie.num_df else "part"
        )
        for tie in fit.design.ties
    )
