"""How mixes and loaves vary: as the caller, a past trial or the card says, or by a rule of
thumb.
"""

from __future__ import annotations

import numpy as np

from ...trials import Trial, TrialError
from ...trials.card import TrialCard
from ...trials.columns import BY_NAME
from ...trials.frozen import frozen
from ...trials.kitchen import Variation
from ...trials.words.lists import capital
from ..asking.question import asked_factors, read_question
from ..methods.power import possible_variances
from ..mixed_model.fitting import NotIdentifiable, NoVariation
from ..model.bearing import error_df
from ..model.coding import DesignError
from ..model.term_analysis import analyse_terms
from .planned_model import Variances
from .result import Source

# of the level, where nobody knows better (rule of thumb, no source)
SHARE_MIX, SHARE_LOAF = 0.03, 0.03
WHOLE = 100.0  # the level in percent of itself, where its usual size is not known
POINTS = 20  # quantiles of each variance


@frozen
class Assumption:
    """What is assumed of the scatter, where it comes from, and how well it is known.

    mix_df, loaf_df : degrees of freedom behind the mean squares of a past trial, loaves_a_mix in
        it; NaN otherwise
    """

    variation: Variation
    source: Source
    mix_df: float = np.nan
    loaf_df: float = np.nan
    loaves_a_mix: float = np.nan

    @property
    def variances(self) -> Variances:
        """Return the variances assumed, each (1,)."""
        named = {
            "mix": self.variation.mix,
            "loaf": self.variation.loaf,
            "load": self.variation.load,
        }
        return {name: np.array([(sd or 0.0) ** 2]) for name, sd in named.items()}

    def possible(self) -> Variances | None:
        """Return variances (m,) as the past trial leaves them possible: a grid of its two mean
        squares over ν/χ².
        """
        if not (self.mix_df > 0 and self.loaf_df > 0):
            return None
        now, n = self.variances, self.loaves_a_mix
        between = (n * now["mix"] + now["loaf"]) * possible_variances(self.mix_df, POINTS)
        inside = now["loaf"] * possible_variances(self.loaf_df, POINTS)
        between, inside = (part.ravel() for part in np.meshgrid(between, inside))
        return {
            "mix": np.maximum(0.0, (between - inside) / n),
            "loaf": inside,
            "load": np.full(len(inside), now["load"][0]),
        }


def planned_measure(card: TrialCard) -> str:
    """Return the measure that a plan is made for."""
    return card.measure or "specific_volume"


def assumption_for(
    card: TrialCard, variation: Variation | None, like: Trial | None, measure: str
) -> Assumption:
    """Return what is assumed: the call's word first, then a past trial's, the card's, a rule of
    thumb.

    Raises
    ------
    TrialError: the past trial cannot tell (no such measure, or no mix was repeated).
    """
    if variation is not None:
        return Assumption(_whole(variation), "call")
    if like is not None:
        return learnt(like, measure)
    if card.variation is not None and (
        card.variation.mix is not None or card.variation.loaf is not None
    ):
        return Assumption(_whole(card.variation), "card")
    level = usual_level(measure)
    return Assumption(
        Variation(mix=SHARE_MIX * (level or WHOLE), loaf=SHARE_LOAF * (level or WHOLE), load=0.0),
        "rough" if level else "rough share",
    )


def usual_level(measure: str) -> float | None:
    """Return what a loaf of 460 g of dough usually has of a measure: the vocabulary's example
    (common practice, no source); None of a measure that only the trial knows.
    """
    known = BY_NAME.get(measure)
    return float(known.example) if known is not None and known.example else None


def _whole(variation: Variation) -> Variation:
    return Variation(
        mix=variation.mix or 0.0, loaf=variation.loaf or 0.0, load=variation.load or 0.0
    )


def learnt(like: Trial, measure: str) -> Assumption:
    """Return the scatter of a past trial of the same measure.

    Raises
    ------
    TrialError: it cannot tell: no such measure, or no mix was repeated.
    """
    try:
        asked = read_question(like, measure, asked_factors(like), 0.95)
        fit = analyse_terms(
            asked.table,
            measure,
            asked.factors,
            asked.layout,
            order=asked.order,
            numbers=asked.numbers,
            confidence=0.95,
        ).fit
        variances = fit.variances
        arrangement = fit.model.arranged(fit.layout.blocks)
        left = error_df(arrangement.design.matrix, fit.layout.labels)
    except (TrialError, DesignError, NoVariation, NotIdentifiable) as fault:
        raise _cannot_tell(like, measure, str(fault)) from None
    if "mix" not in variances or left.get("mix", 0) < 1 or left["loaf"] < 1:
        raise _cannot_tell(
            like, measure, "no formula was mixed again, or no mix was cut into two loaves"
        )
    n = fit.n_loaves / fit.n_mixes
    return Assumption(
        Variation(
            mix=max(variances["mix"], 0.0) ** 0.5,
            loaf=variances["residual"] ** 0.5,
            load=max(variances.get("oven_load", 0.0), 0.0) ** 0.5,
        ),
        "past trial",
        mix_df=left["mix"],
        loaf_df=left["loaf"],
        loaves_a_mix=n,
    )


def _cannot_tell(like: Trial, measure: str, why: str) -> TrialError:
    return TrialError.one(
        "like-cannot-tell",
        f"{like.name} cannot tell how {measure} varies from mix to mix."
        f" {capital(why.rstrip('.'))}.",
        "Name a past trial with this measure, two mixes or more of a formula and two loaves or more"
        " of a mix, or write the standard deviations under [variation].",
    )
