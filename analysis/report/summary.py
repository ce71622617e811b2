"""Everything that a report says, worked out once, before anything is written or drawn."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import field
from functools import partial
from typing import TypeVar

from ...trials import Trial, TrialError
from ...trials.frozen import frozen
from ...trials.words.numbers import ENGLISH, NumberStyle
from ..answers import compare_formulas, crumb_scores, factor_effects
from ..answers_of_tasting import tasting_answers, words_seen
from ..comparison.measuring_error import MeasuringError, measuring_error
from ..comparison.other_measures import other_difference, other_measures
from ..comparison.result import Comparison, Difference
from ..crumb.result import CrumbScores
from ..factors.baking_order import BakingOrder, baking_order
from ..factors.result import FactorEffects
from ..second_process import Ask, here
from ..tasting.result import TastingAnswers, WordsSeen
from ..wording.comparison import inseparable_from as comparison_inseparable_from
from ..wording.comparison import undone_by as comparison_undone_by
from ..wording.factors import effect_verdict
from ..wording.factors import inseparable_from as factors_inseparable_from
from ..wording.factors import undone_by as factors_undone_by
from ..wording.report import STEPS, answer_text, undone_label, verdict_label

Result = TypeVar("Result")

# what is worked out beside the comparison of the formulas: the factors, what people scored, tasted
# and ticked, the other measures
PARTS = ("factors", "people", "others")
# what of it these readers' pages show, where the formulas were compared; the others' show all
SHOWN = {"class": ("people",), "wall": ()}


@frozen(kw_only=True)
class Summary:
    """What a trial shows. A part that could not be answered is None, and ``unanswered`` says why.

    comparison : the formulas by the card's measure; others : by the other measures
    measuring : measuring error of the card's measure; order : the loaves in the order of baking
    tasting : what was served and answered; seen : the words that people ticked
    unanswered : part ("comparison", "factors", "crumb", or a measure) → why
    """

    trial: Trial
    confidence: float
    style: NumberStyle = ENGLISH
    comparison: Comparison | None = None
    others: tuple[Difference, ...] = ()
    factors: FactorEffects | None = None
    crumb: CrumbScores | None = None
    measuring: MeasuringError | None = None
    order: BakingOrder | None = None
    tasting: TastingAnswers | None = None
    seen: WordsSeen | None = None
    unanswered: dict[str, str] = field(default_factory=dict)

    @property
    def measure(self) -> str:
        """Return the measure that the answer is about."""
        if self.comparison is not None:
            return self.comparison.measure
        return self.factors.measure if self.factors is not None else (self.trial.card.measure or "")

    @property
    def answer(self) -> str:
        """Return the answer in one sentence: of the formulas, or else of the factors, or of the
        scores.
        """
        if self.comparison is not None:
            return self.comparison.sentence
        if self.factors is not None:
            return self.factors.sentence
        if self.crumb is not None:
            return self.crumb.sentence
        people = self.tasting or self.seen
        return people.sentence if people is not None else ""

    @property
    def verdict(self) -> str | None:
        """Return the verdict on the formulas, or on the factor told first; None where neither can
        be judged.
        """
        if self.comparison is not None:
            return self.comparison.verdict
        return effect_verdict(self.factors) if self.factors is not None else None

    @property
    def undone_by(self) -> list[str]:
        """Return the conditions that the verdict does not outlive."""
        if self.comparison is not None:
            return comparison_undone_by(self.comparison)
        return factors_undone_by(self.factors) if self.factors is not None else []

    @property
    def inseparable_from(self) -> list[str]:
        """Return the conditions that nothing can tell from what the verdict is on."""
        if self.comparison is not None:
            return comparison_inseparable_from(self.comparison)
        return factors_inseparable_from(self.factors) if self.factors is not None else []

    @property
    def has_formulas(self) -> bool:
        """Return whether the trial is one of formulas, compared or not."""
        counted = self.trial.counted
        return "formula" in counted and counted["formula"].nunique() > 1

    @property
    def asked(self) -> bool:
        """Return whether somebody said what difference of the measure matters."""
        return self.trial.card.matters_for(self.measure) is not None

    @property
    def verdict_label(self) -> str:
        """Return what the verdict is called, and what undoes it; empty where there is none."""
        if not self.verdict:
            return ""
        return undone_label(verdict_label(self.verdict, self.asked), self.undone_by)

    @property
    def text(self) -> str:
        """Return what a person is told before anything is drawn."""
        return answer_text(self.answer, self.verdict_label, self.warnings)

    @property
    def warnings(self) -> tuple[str, ...]:
        """Return what the records give to mind beside the answer, with what to do."""
        found = (*self.trial.findings, *(self.comparison.findings if self.comparison else ()))
        return tuple(
            dict.fromkeys(f"{f.message} {f.fix}".strip() for f in found if f.severity == "warning")
        )


@frozen
class People:
    """What people scored, tasted and ticked; ``stops``: part → why it could not be answered."""

    crumb: CrumbScores | None
    tasting: TastingAnswers | None
    seen: WordsSeen | None
    stops: dict[str, TrialError]


def summarise(
    trial: Trial,
    confidence: float = 0.95,
    style: NumberStyle = ENGLISH,
    tell: Callable[[str], None] = lambda words: None,
    ask: Ask = here,
    parts: Collection[str] = PARTS,
    compared: Callable[[Summary], None] = lambda summary: None,
) -> Summary:
    """Return what a report of this trial says.

    ask : asks who works out the people's answers, while the formulas are compared here
    parts : those of PARTS that are wanted; all, where the formulas cannot be compared
    compared : is told when the comparison is known, and nothing else

    Raises
    ------
    TrialError: neither formulas nor factors nor scores nor servings nor ticked words can be
    analysed; names every
        reason.
    """
    stops: dict[str, TrialError] = {}
    told_by_people = (ask if "people" in parts else here)(of_people, trial, confidence, style)
    tell(STEPS["compare"])
    comparison = _attempt(
        stops, "comparison", lambda: compare_formulas(trial, confidence=confidence, style=style)
    )
    if comparison is None:
        parts = PARTS
    else:
        compared(Summary(trial=trial, confidence=confidence, style=style, comparison=comparison))
    factors = None
    if "factors" in parts:
        tell(STEPS["factors"])
        factors = _attempt(
            stops, "factors", lambda: factor_effects(trial, confidence=confidence, style=style)
        )
    others: tuple[Difference, ...] = ()
    unmeasured: dict[str, TrialError] = {}
    if "others" in parts and comparison is not None:
        tell(STEPS["measures"])
        others = _others(unmeasured, trial, comparison, confidence)
    people = People(None, None, None, {})
    if "people" in parts:
        tell(STEPS["scores"])
        people = told_by_people()
        stops |= people.stops
    if all(
        part is None for part in (comparison, factors, people.crumb, people.tasting, people.seen)
    ):
        raise TrialError(
            list(dict.fromkeys(finding for stop in stops.values() for finding in stop.findings))
        )
    checks = factors.residual_checks if factors is not None else None
    measure = (
        comparison.measure
        if comparison is not None
        else factors.measure
        if factors is not None
        else ""
    )
    return Summary(
        trial=trial,
        confidence=confidence,
        style=style,
        comparison=comparison,
        factors=factors,
        crumb=people.crumb,
        tasting=people.tasting,
        seen=people.seen,
        others=others,
        measuring=measuring_error(trial, measure),
        order=baking_order(trial, measure, checks.loaves) if checks is not None else None,
        unanswered={part: str(stop) for part, stop in (stops | unmeasured).items()},
    )


def of_people(trial: Trial, confidence: float, style: NumberStyle) -> People:
    """Return what people scored, tasted and ticked; None where nobody did."""
    stops: dict[str, TrialError] = {}
    crumb = tasting = seen = None
    if has_scores(trial):
        crumb = _attempt(
            stops, "crumb", lambda: crumb_scores(trial, confidence=confidence, style=style)
        )
    if trial.tasting is not None:
        tasting = _attempt(
            stops, "tasting", lambda: tasting_answers(trial, confidence=confidence, style=style)
        )
    if trial.words is not None:
        seen = _attempt(stops, "seen", lambda: words_seen(trial, style=style))
    return People(crumb, tasting, seen, stops)


def _others(
    stops: dict[str, TrialError], trial: Trial, comparison: Comparison, confidence: float
) -> tuple[Difference, ...]:
    """Return how far the two formulas lie apart in every other measure."""
    pair = (comparison.formula, comparison.against)
    found = (
        _attempt(stops, name, partial(other_difference, trial, *pair, name, confidence))
        for name in other_measures(trial, comparison.measure)
    )
    return tuple(other for other in found if other is not None)


def _attempt(stops: dict[str, TrialError], part: str, work: Callable[[], Result]) -> Result | None:
    """Return what the work finds; None where the records stop it, and ``stops`` says why."""
    try:
        return work()
    except TrialError as stop:
        stops[part] = stop
        return None


def has_scores(trial: Trial) -> bool:
    """Return whether anybody scored the crumb."""
    return trial.scores is not None or any(str(name).startswith("crumb_") for name in trial.loaves)
