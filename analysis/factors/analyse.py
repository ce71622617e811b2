"""Which factor changed the loaf: tests, means, sizes, curves and what the trial cannot tell apart.

    f = factor_effects(trial, "specific_volume")
    f.effects        # the factors by size: what a baker looks at first
    f.tests          # F tests, each term judged at its own level

Every term is judged by the rule in `mix_rule.py`. Sources: F tests, Kenward and Roger 1997 (Biometrics 53,
983-997); marginal means, Searle, Speed and Milliken 1980 (American Statistician 34, 216-221).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from ...trials import Trial, TrialCard, TrialError
from ...trials.columns import BY_NAME, label, unit
from ...trials.measuring.lids import capped_loaves
from ..asking.question import Asked, read_question
from ..methods.multiplicity import holm
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.coding import DesignError
from ..model.layout import Layout
from ..model.term_analysis import TESTS, NotSeparable
from ..plain_data import plain
from .curves import Curve, numeric_curve
from .effect_sizes import CONTRASTS, EFFECTS, MEANS, contrasts_of, effect_of, means_of
from .parts import LID, Part, analyse_parts
from .residuals import ResidualChecks, check_residuals
from .single_runs import single_run_tables
from .sources import sources
from .unreplicated import Unreplicated, find_unreplicated


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorSizes:
    """How far each factor moved one measure. Numbers are in the measure's unit, at full precision.

    Attributes
    ----------
    measure, label, unit : the column analysed, what a person reads for it, its unit ("" where it has none)
    factors, confidence : what was analysed
    factor_labels, factor_units : factor → what a person reads for it ("proof time"), and its unit ("min" or "")
    matters : smallest difference of the measure worth acting on; None where nobody said
    never_varied : factors of the card that had one level only in these loaves
    tests : one row a term, main effects before interactions: term, num_df, den_df, f_value, p_value, p_holm (Holm
        across the factors, and across the interactions), applied_to (the unit that it is judged against: "day",
        "oven_load", "mix", "loaf"), way and why (`judging.py`; "none" and "lenth" with one loaf a combination),
        n_units. NaN where the trial cannot judge the term.
    means : one row a level or combination of levels: term, level ("malted × open"), levels (tuple), mean,
        standard_error, df, ci_low, ci_high. NaN where the mean cannot be estimated. The intervals are for the
        loaves of these days: days are held fixed.
    effects : one row a factor, largest first: factor, low_level, high_level (the lowest and highest mean), size,
        standard_error, df, ci_low, ci_high, p_value, adjustment ("own": the difference's own interval; "tukey": the
        widest of several pairs, Tukey's interval; "lenth": Lenth's margin, one loaf a combination). No row for a
        factor of which nothing can be said.
    interactions : one row an interaction that was tested: term, p_value, p_holm, there (p_value below
        1 − confidence: each on its own, so that a main effect is not read alone where it should not be)
    """

    measure: str
    label: str
    unit: str
    matters: float | None
    factors: tuple[str, ...]
    factor_labels: Mapping[str, str]
    factor_units: Mapping[str, str]
    never_varied: tuple[str, ...]
    confidence: float
    tests: pd.DataFrame
    means: pd.DataFrame
    effects: pd.DataFrame
    interactions: pd.DataFrame


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorEffects(FactorSizes):
    """What each factor did to one measure: its size, and everything that stands behind and beside it.

    Attributes
    ----------
    n_loaves, n_mixes : how many were used
    contrasts : term, first, second (levels), difference (first less second), standard_error, df, ci_low, ci_high,
        p_value, adjustment ("none", "tukey", "dunnett"). Combinations only for interactions that are there: the
        pairs that differ in one factor.
    variances : one row a source: source ("day", "mix", "loaf" or a term), kind ("scatter", "factor"), variance
        (may be negative), share (of the positive ones' sum)
    curves : numeric factors with three or more values
    layout : what was applied to what
    left_out_terms : interactions that the trial cannot bear (the rule: `bearing.py`)
    not_separable : effects that are tied to others, wholly or partly
    left_out : loaves not used: line, loaf, reason ("void: …", "lid", "no specific_volume", "no tin", …), from_terms
        ("all", or "all but tin" for loaves that fill a lidded tin)
    unreplicated : effects and Lenth's limits when no combination was baked twice; then tests hold no F
    residual_checks : did the model hold; None when nothing is left to judge by
    """

    n_loaves: int
    n_mixes: int
    contrasts: pd.DataFrame
    variances: pd.DataFrame
    curves: tuple[Curve, ...]
    layout: Layout
    left_out_terms: tuple[str, ...]
    not_separable: tuple[NotSeparable, ...]
    left_out: pd.DataFrame
    unreplicated: Unreplicated | None
    residual_checks: ResidualChecks | None

    @property
    def sentence(self) -> str:
        """Return the answer in one sentence."""
        return self.sentences[0]

    @property
    def sentences(self) -> tuple[str, ...]:
        """Return everything a baker should read, the answer first."""
        from ..wording.factors import factor_sentences

        return factor_sentences(self)

    def _repr_html_(self) -> str:
        from ..report.notebook import factors_html

        return factors_html(self)

    def to_dict(self) -> dict[str, Any]:
        """Return plain data, as ``--json`` prints it."""
        return plain(self) | {"layout": self.layout.to_dict(), "sentence": self.sentence,
                              "sentences": list(self.sentences)}


def factor_effects(trial: Trial, measure: str | None = None, factors: Sequence[str] | None = None,
                   three_way: bool = False, confidence: float = 0.95) -> FactorEffects:
    """Return what each factor did to a measure (the card's measure and factors where none are named).

    Raises
    ------
    TrialError: no such measure or factor, fewer than two levels, or nothing left to analyse; names all of them.
    """
    asked = read_question(trial, measure, factors, confidence)
    found = _analysed(trial, asked, three_way)
    if isinstance(found, Unreplicated):
        return _from_single_runs(trial, asked, found)
    return _from_parts(trial, asked, found)


def factor_sizes(trial: Trial, measure: str, factors: Sequence[str] | None = None, confidence: float = 0.95
                 ) -> FactorSizes:
    """Return how far each factor moved a measure, without what stands beside it; errors as of `factor_effects`."""
    asked = read_question(trial, measure, factors, confidence)
    found = _analysed(trial, asked, three_way=False)
    if isinstance(found, Unreplicated):
        return _from_single_runs(trial, asked, found)
    return FactorSizes(**_named(trial, asked), **_size_tables(found))


def _analysed(trial: Trial, asked: Asked, three_way: bool) -> list[Part] | Unreplicated:
    """Return the analyses of what was asked, or the effects of single runs where no combination was baked twice."""
    capped = capped_loaves(asked.table, trial.card, asked.measure)
    try:
        if not capped.any():
            single = find_unreplicated(asked.table, asked.measure, asked.factors, asked.layout, asked.confidence)
            if single is not None:
                return single
        return analyse_parts(asked, capped, 3 if three_way else asked.order)
    except (DesignError, NoVariation, NotIdentifiable) as fault:
        raise TrialError.one("cannot-analyse", f"{asked.measure!r} cannot be analysed: {fault}.",
                             "Bake combinations again, or ask about fewer factors.") from None


def _size_tables(parts: Sequence[Part]) -> dict[str, Any]:
    """The tables of `FactorSizes`."""
    tests = _gather(TESTS, (part.keep(part.analysis.tests) for part in parts))
    tests = _with_holm(tests.sort_values("term", key=lambda names: names.map(_width), kind="stable"))
    means = _gather(MEANS, (means_of(part.analysis.fit, term) for part in parts for term in part.terms))
    return {
        "tests": tests, "means": means, "interactions": _interactions(tests, _there(parts)),
        "effects": _by_size(
            effect_of(part.analysis.fit, term, means[means["term"] == term.name])
            for part in parts for term in part.terms if len(term.factors) == 1),
    }


def _there(parts: Sequence[Part]) -> set[str]:
    """The interactions that are there."""
    return {term.name for part in parts for term in part.analysis.there if part.answers(term.name)}


def _from_parts(trial: Trial, asked: Asked, parts: Sequence[Part]) -> FactorEffects:
    """Gather what the analyses answer."""
    capped = capped_loaves(asked.table, trial.card, asked.measure)
    main, there, sizes = parts[0], _there(parts), _size_tables(parts)
    unanswered = [name for name in asked.factors if name not in set(sizes["tests"]["term"])]
    return FactorEffects(
        **_named(trial, asked), **sizes,
        n_loaves=len(asked.table) - (0 if _tin_kept(parts) else int(capped.sum())),
        n_mixes=asked.layout.n("mix"),
        contrasts=_gather(CONTRASTS, (
            contrasts_of(part.analysis.fit, term, trial.card.control) for part in parts for term in part.terms
            if len(term.factors) == 1 or term.name in there)),
        variances=sources(main.analysis.fit, main.keep(main.analysis.tests), sizes["means"]),
        curves=tuple(curve for part in parts for name in asked.factors if _has_curve(part, name)
                     if (curve := numeric_curve(part.loaves, part.analysis.fit, name)) is not None),
        layout=asked.layout,
        left_out_terms=tuple(dict.fromkeys(term.name for part in parts for term in part.analysis.too_many
                                           if part.answers(term.name))),
        not_separable=(*(tie for part in parts for tie in part.analysis.not_separable if part.answers(tie.term)),
                       *(NotSeparable(term=name, tied_to=(LID,), kind="lid") for name in unanswered)),
        left_out=_with_lidded(asked, capped, "all but tin" if _tin_kept(parts) else "all"),
        unreplicated=None,
        residual_checks=check_residuals(main.analysis.fit, main.loaves, capped=bool(main.with_lid)),
    )


def _from_single_runs(trial: Trial, asked: Asked, single: Unreplicated) -> FactorEffects:
    """The same tables from the effects of single runs."""
    return FactorEffects(
        **_named(trial, asked),
        n_loaves=len(asked.table), n_mixes=asked.layout.n("mix"), curves=(), layout=asked.layout,
        left_out_terms=(), left_out=asked.left_out, unreplicated=single, residual_checks=None,
        **single_run_tables(asked, single),
    )


def _named(trial: Trial, asked: Asked) -> dict[str, Any]:
    """What was asked, and the words for it."""
    card, every = trial.card, (*asked.factors, *asked.never_varied)
    return {
        "measure": asked.measure, "label": label(asked.measure, card), "unit": unit(asked.measure, card),
        "matters": card.matters_for(asked.measure), "factors": asked.factors, "never_varied": asked.never_varied,
        "confidence": asked.confidence, "factor_labels": {name: factor_label(name, card) for name in every},
        "factor_units": {name: unit(name, card) for name in every},
    }


def factor_label(name: str, card: TrialCard) -> str:
    """Return a factor inside a sentence: ``proof time``; a name of the trial's own keeps its capitals."""
    said = label(name, card)
    return said.lower() if name in BY_NAME and said == BY_NAME[name].label else name.replace("_", " ")


def _tin_kept(parts: Sequence[Part]) -> bool:
    return any(part.with_lid for part in parts)


def _width(name: str) -> int:
    return name.count(" × ")


def _gather(columns: list[str], tables: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """One table of these columns, empty ones left out."""
    found = [table for table in tables if len(table)]
    return pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=columns)


def _by_size(tables: Iterable[pd.DataFrame]) -> pd.DataFrame:
    return _gather(EFFECTS, tables).sort_values("size", ascending=False, ignore_index=True)


def _with_holm(tests: pd.DataFrame) -> pd.DataFrame:
    """Holm's adjustment across the factors, and by itself across the interactions."""
    main = (tests["term"].map(_width) == 0).to_numpy()
    p_holm = np.full(len(tests), np.nan)
    for family in (main, ~main):
        p_holm[family] = holm(tests["p_value"].to_numpy(float)[family])
    tests = tests.assign(p_holm=p_holm)
    return tests[["term", "num_df", "den_df", "f_value", "p_value", "p_holm", *TESTS[5:]]].reset_index(drop=True)


def _interactions(tests: pd.DataFrame, there: set[str]) -> pd.DataFrame:
    found = tests.loc[tests["term"].map(_width) > 0, ["term", "p_value", "p_holm"]]
    return found.assign(there=found["term"].isin(there)).reset_index(drop=True)


def _has_curve(part: Part, name: str) -> bool:
    """A number with three or more values, answered by this analysis."""
    levels = part.analysis.fit.design.levels.get(name, ())
    return part.answers(name) and len(levels) > 2 and pd.api.types.is_numeric_dtype(part.loaves[name])


def _with_lidded(asked: Asked, capped: pd.Series, from_terms: str) -> pd.DataFrame:
    """The loaves left out, those that fill a lidded tin among them."""
    lidded = asked.table[capped]
    if lidded.empty:
        return asked.left_out
    rows = pd.DataFrame({"line": lidded.get("line"), "loaf": lidded.get("loaf"), "reason": "lid",
                         "from_terms": from_terms}, index=lidded.index)
    return pd.concat([asked.left_out, rows] if len(asked.left_out) else [rows], ignore_index=True)
