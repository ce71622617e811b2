"""A plan with its weigh-out and what it will show; or everything that stops it, told at once."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

from ..trials import Trial, TrialError, TrialPlan, load_trial, plan_trial, weigh_out
from ..trials.findings import Finding, gathering
from ..trials.frozen import frozen
from ..trials.planning.plan import card_as_far_as_read
from ..trials.planning.saving import refused
from ..trials.planning.weigh_out import WeighOut
from ..trials.words.numbers import ENGLISH, NumberStyle
from .answers import plan_power
from .planning.result import PlanPower
from .planning.variation import learnt, planned_measure


@frozen(kw_only=True)
class Planned:
    """A plan, what its doughs are weighed out from, and what it will show."""

    plan: TrialPlan
    weighed: WeighOut
    shows: PlanPower


def planned(
    folder: Path,
    *,
    seed: int | None = None,
    like: Path | None = None,
    writes: bool = False,
    again: bool = False,
    style: NumberStyle = ENGLISH,
) -> Planned:
    """Return the plan of the card in a folder.

    seed : of the draw; like : a past trial that tells how mixes and loaves vary; writes : whether
    it is to be saved there, in place of an earlier plan if ``again``

    Raises
    ------
    TrialError: names every reason at once: what is in the folder's way, what is at fault in the
        card, the kitchen, the doughs and the past trial.
    """
    faults: list[Finding] = []
    past: Trial | None = None
    if writes:
        with gathering(faults):
            refused(folder, again)
    if like is not None:
        with gathering(faults):
            past = load_trial(like)
    with gathering(faults):
        plan = plan_trial(folder, seed=seed)
        weighed = weigh_out(plan)
        faults += [finding for finding in weighed.findings if finding.severity == "error"]
    if faults:
        raise TrialError([*faults, *_of_past(folder, past)])
    return Planned(plan=plan, weighed=weighed, shows=plan_power(plan, like=past, style=style))


def _of_past(folder: Path, past: Trial | None) -> list[Finding]:
    """Return why a past trial cannot tell how the card's measure varies, where there is no
    plan.
    """
    faults: list[Finding] = []
    if past is not None:
        with suppress(TrialError):  # a card that cannot be read is told already
            card, _ = card_as_far_as_read(folder)
            with gathering(faults):
                learnt(past, planned_measure(card))
    return faults
