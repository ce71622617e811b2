"""Which factor changed the loaf: tests, means, sizes, curves and what the trial cannot tell apart.

    f = factor_effects(trial, "specific_volume")
    f.effects        # the factors by size: what a baker looks at first
    f.tests          # F tests, each term judged at its own level

Every term is judged by the rule in `mix_rule.py`. Sources: F tests, Kenward and Roger 1997
(Biometrics 53, 983-997); marginal means, Searle, Speed and Milliken 1980 (American Statistician 34,
216-221).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from ...trials import Trial, TrialCard, TrialError
from ...trials.columns import label, label_inside, unit
from ...trials.measuring.lids import capped_loaves
from ..asking.question import Asked, read_question
from ..methods.multiplicity import holm
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.coding import DesignError
from ..model.term_analysis import TESTS, NotSeparable
from ..plain_data import significant
from .curves import numeric_curve
from .effect_sizes import CONTRASTS, EFFECTS, MEANS, Row, contrasts_of, effect_of, means_of
from .parts import LID, Part, analyse_parts
from .residuals import check_residuals
from .result import FactorEffects, FactorSizes
from .single_runs import single_run_tables
from .sources import sources
from .stood_apart import STOOD_APART, stood_apart_in
from .unreplicated import Unreplicated, find_unreplicated


def analyse_factors(
    trial: Trial,
    measure: str | None = None,
    factors: Sequence[str] | None = None,
    three_way: bool = False,
    confidence: float = 0.95,
) -> FactorEffects:
    """Return what each factor did to a measure (the card's measure and factors where none are
    named).

    Raises
    ------
    TrialError: no such measure or factor, fewer than two levels, or nothing left to analyse; names
    all of them.
    """
    asked = read_question(trial, measure, factors, confidence)
    found = _analysed(trial, asked, three_way)
    if isinstance(found, Unreplicated):
        return _from_single_runs(trial, asked, found)
    return _from_parts(trial, asked, found)


def factor_sizes(
    trial: Trial, measure: str, factors: Sequence[str] | None = None, confidence: float = 0.95
) -> FactorSizes:
    """Return how far each factor moved a measure, without what stands beside it; errors as of
    `analyse_factors`.
    """
    asked = read_question(trial, measure, factors, confidence)
    found = _analysed(trial, asked, three_way=False)
    if isinstance(found, Unreplicated):
        return _from_single_runs(trial, asked, found)
    mains = _main_contrasts(found, trial.card.control)
    return FactorSizes(**_named(trial, asked), **_size_tables(found, mains))


def _analysed(trial: Trial, asked: Asked, three_way: bool) -> list[Part] | Unreplicated:
    """Return the analyses of what was asked, or the effects of single runs where no combination was
    baked twice.
    """
    capped = capped_loaves(asked.table, trial.card, asked.measure)
    try:
        if not capped.any():
            single = find_unreplicated(
                asked.table, asked.measure, asked.factors, asked.layout, asked.confidence
            )
            if single is not None:
                return single
        return analyse_parts(asked, capped, 3 if three_way else asked.order)
    except (DesignError, NoVariation, NotIdentifiable) as fault:
        raise TrialError.one(
            "cannot-analyse",
            f"{asked.measure!r} cannot be analysed: {fault}.",
            "Bake combinations again, or ask about fewer factors.",
        ) from None


def _main_contrasts(parts: Sequence[Part], control: str | None) -> dict[str, list[Row]]:
    """Factor → the differences between its levels (`contrasts_of`)."""
    return {
        term.name: contrasts_of(part.analysis.fit, term, control)
        for part in parts
        for term in part.terms
        if len(term.factors) == 1
    }


def _size_tables(parts: Sequence[Part], mains: Mapping[str, Sequence[Row]]) -> dict[str, Any]:
    """The tables of `FactorSizes`."""
    tests = _gather(TESTS, (part.keep(part.analysis.tests) for part in parts))
    tests = _with_holm(
        tests.sort_values("term", key=lambda names: names.map(_width), kind="stable")
    )
    means = [
        row for part in parts for term in part.terms for row in means_of(part.analysis.fit, term)
    ]
    effects = [effect_of(factor, contrasts) for factor, contrasts in mains.items()]
    return {
        "tests": tests,
        "means": pd.DataFrame(means, columns=MEANS),
        "interactions": _interactions(tests, _there(parts)),
        "effects": _by_size(effect for effect in effects if effect),
    }


def _there(parts: Sequence[Part]) -> set[str]:
    """The interactions that are there."""
    return {term.name for part in parts for term in part.analysis.there if part.answers(term.name)}


def _from_parts(trial: Trial, asked: Asked, parts: Sequence[Part]) -> FactorEffects:
    """Gather what the analyses answer."""
    capped = capped_loaves(asked.table, trial.card, asked.measure)
    main, there, mains = parts[0], _there(parts), _main_contrasts(parts, trial.card.control)
    sizes = _size_tables(parts, mains)
    unanswered = [name for name in asked.factors if name not in set(sizes["tests"]["term"])]
    return FactorEffects(
        **_named(trial, asked),
        **sizes,
        n_loaves=len(asked.table) - (0 if _tin_kept(parts) else int(capped.sum())),
        n_mixes=asked.layout.n("mix"),
        contrasts=pd.DataFrame(
            [
                row
                for part in parts
                for term in part.terms
                if term.name in mains or term.name in there
                for row in mains.get(term.name)
                or contrasts_of(part.analysis.fit, term, trial.card.control)
            ],
            columns=CONTRASTS,
        ),
        variances=sources(main.analysis.fit, main.keep(main.analysis.tests), sizes["means"]),
        curves=tuple(
            curve
            for part in parts
            for name in asked.factors
            if _has_curve(part, name)
            if (curve := numeric_curve(part.loaves, part.analysis.fit, name)) is not None
        ),
        layout=asked.layout,
        left_out_terms=tuple(
            dict.fromkeys(
                term.name
                for part in parts
                for term in part.analysis.too_many
                if part.answers(term.name)
            )
        ),
        not_separable=(
            *(
                tie
                for part in parts
                for tie in part.analysis.not_separable
                if part.answers(tie.term)
            ),
            *(NotSeparable(term=name, tied_to=(LID,), kind="lid") for name in unanswered),
        ),
        left_out=_with_lidded(asked, capped, "all but tin" if _tin_kept(parts) else "all"),
        unreplicated=None,
        residual_checks=check_residuals(main.analysis.fit, main.loaves, capped=bool(main.with_lid)),
        stood_apart=stood_apart_in(trial, asked, parts, sizes["effects"]),
    )


def _from_single_runs(trial: Trial, asked: Asked, single: Unreplicated) -> FactorEffects:
    """The same tables from the effects of single runs."""
    return FactorEffects(
        **_named(trial, asked),
        n_loaves=len(asked.table),
        n_mixes=asked.layout.n("mix"),
        curves=(),
        layout=asked.layout,
        left_out_terms=(),
        left_out=asked.left_out,
        unreplicated=single,
        residual_checks=None,
        stood_apart=pd.DataFrame(columns=STOOD_APART),
        **single_run_tables(asked, single),
    )


def _named(trial: Trial, asked: Asked) -> dict[str, Any]:
    """What was asked, and the words for it."""
    card, every = trial.card, (*asked.factors, *asked.never_varied)
    return {
        "measure": asked.measure,
        "label": label(asked.measure, card),
        "label_inside": label_inside(asked.measure, card),
        "unit": unit(asked.measure, card),
        "matters": card.matters_for(asked.measure),
        "factors": asked.factors,
        "never_varied": asked.never_varied,
        "confidence": asked.confidence,
        "factor_labels": {name: factor_label(name, card) for name in every},
        "factor_units": {name: unit(name, card) for name in every},
    }


def factor_label(name: str, card: TrialCard) -> str:
    """Return a factor inside a sentence: ``proof time``; a name of the trial's own keeps its
    capitals.
    """
    return label_inside(name, card)


def _tin_kept(parts: Sequence[Part]) -> bool:
    return any(part.with_lid for part in parts)


def _width(name: str) -> int:
    return name.count(" × ")


def _gather(columns: list[str], tables: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """One table of these columns, empty ones left out."""
    found = [table for table in tables if len(table)]
    return pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=columns)


def _by_size(effects: Iterable[Row]) -> pd.DataFrame:
    largest_first = sorted(effects, key=lambda row: significant(row["size"]), reverse=True)
    return pd.DataFrame(largest_first, columns=EFFECTS)


def _with_holm(tests: pd.DataFrame) -> pd.DataFrame:
    """Holm's adjustment across the factors, and by itself across the interactions."""
    main = (tests["term"].map(_width) == 0).to_numpy()
    p_holm = np.full(len(tests), np.nan)
    for family in (main, ~main):
        p_holm[family] = holm(tests["p_value"].to_numpy(float)[family])
    tests = tests.assign(p_holm=p_holm)
    return tests[
        ["term", "num_df", "den_df", "f_value", "p_value", "p_holm", *TESTS[5:]]
    ].reset_index(drop=True)


def _interactions(tests: pd.DataFrame, there: set[str]) -> pd.DataFrame:
    found = tests.loc[tests["term"].map(_width) > 0, ["term", "p_value", "p_holm"]]
    return found.assign(there=found["term"].isin(there)).reset_index(drop=True)


def _has_curve(part: Part, name: str) -> bool:
    """A number with three or more values, answered by this analysis."""
    levels = part.analysis.fit.design.levels.get(name, ())
    return (
        part.answers(name) and len(levels) > 2 and pd.api.types.is_numeric_dtype(part.loaves[name])
    )


def _with_lidded(asked: Asked, capped: pd.Series, from_terms: str) -> pd.DataFrame:
    """The loaves left out, those that fill a lidded tin among them."""
    lidded = asked.table[capped]
    if lidded.empty:
        return asked.left_out
    rows = pd.DataFrame(
        {
            "line": lidded.get("line"),
            "loaf": lidded.get("loaf"),
            "reason": "lid",
            "from_terms": from_terms,
        },
        index=lidded.index,
    )
    return pd.concat([asked.left_out, rows] if len(asked.left_out) else [rows], ignore_index=True)
