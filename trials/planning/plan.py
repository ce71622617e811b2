"""Plan a trial: what the card asks, laid out and drawn by lot until the fair-test checks have
nothing to say.
"""

from __future__ import annotations

import secrets
from itertools import combinations
from pathlib import Path

import numpy as np
import pandas as pd

from ..card import FILE, TrialCard
from ..fairness.conditions import Pair
from ..fairness.fairness import fairness_findings
from ..findings import Finding, TrialError, gathering
from ..reading.card_file import card_and_faults, card_text
from ..reading.files import LARGEST_CARD, read_bytes
from ..trial import Trial
from .draw import Draw, draw, ties
from .mixes_to_days import CENTRE
from .result import Loads, TrialPlan, mixes_of
from .task import Task, task_of
from .weigh_out import dough_faults

MOST_DRAWS = 200
# draws after which a warning that spoke at every one is the layout's, not the draw's
ALWAYS_SPEAKS = 10
# of formulas, ten of them, that are all checked; sixty formulas would make 1,770
MOST_PAIRS = 45
LARGEST_SEED = 1_000_000


def plan_trial(
    card_or_folder: TrialCard | str | Path = ".", *, seed: int | None = None
) -> TrialPlan:
    """Return a randomised layout for what a card asks, within its kitchen's limits.

    The same card and seed give the same plan on every machine; without a seed one is drawn and
    written down.

    Raises
    ------
    TrialError: the folder has no card, or what it asks cannot be planned; names every reason, each
    with its fix.
    """
    folder = None if isinstance(card_or_folder, TrialCard) else Path(card_or_folder)
    faults: list[Finding] = []
    if isinstance(card_or_folder, TrialCard):
        card = card_or_folder
    else:
        card, faults = card_as_far_as_read(Path(card_or_folder))
    task = _task_or_every_fault(card, faults)
    seed = secrets.randbelow(LARGEST_SEED) if seed is None else seed
    rng = np.random.Generator(np.random.PCG64(seed))
    drawn, draws = _fair_draw(task, rng)
    made_per, loads = {name: task.made_per[name] for name in task.levels}, _loads(task)
    centres = (drawn.dealt.settings == CENTRE).any(axis=1)
    return TrialPlan(
        card=card,
        seed=seed,
        draws=draws,
        loaves=drawn.loaves,
        made_per=made_per,
        loads=loads,
        mixes=mixes_of(drawn.loaves, made_per, loads),
        layout=drawn.dealt.layout,
        inside=drawn.inside.inside,
        tied=tuple(ties(task, drawn)),
        balance=drawn.balance,
        centre_points=int(centres.sum()),
        restrictions=tuple(_restrictions(task, drawn)),
        folder=folder,
        findings=(*task.findings, *_shows_nothing(task, drawn)),
    )


def _task_or_every_fault(card: TrialCard, faults: list[Finding]) -> Task:
    """Return the task; or raise, with the card's ``faults``, what would have stopped the plan
    later.
    """
    told = list(faults)
    task = None
    with gathering(told):
        task = task_of(card, after=faults)
    if task is None or told:
        raise TrialError([*told, *dough_faults(card)])
    return task


def card_in(folder: Path) -> TrialCard:
    """Return the card in a folder.

    Raises
    ------
    TrialError: there is none, or it cannot be read.
    """
    card, faults = card_as_far_as_read(folder)
    if faults:
        raise TrialError(faults)
    return card


def card_as_far_as_read(folder: Path) -> tuple[TrialCard, list[Finding]]:
    """Return the card in a folder without what is at fault in it, and the faults.

    Raises
    ------
    TrialError: there is none, or it is no TOML.
    """
    path = folder if folder.name == FILE else folder / FILE
    if not path.is_file():
        raise TrialError.one(
            "plan-no-card",
            f"There is no {FILE} in {str(folder.resolve())!r}.",
            "A plan begins with a card:  fairloaf new my_trial  makes one to fill in.",
        )
    return card_and_faults(card_text(read_bytes(path, None, LARGEST_CARD)))


def _fair_draw(task: Task, rng: np.random.Generator) -> tuple[Draw, int]:
    """Return the first draw at which no warning of the fair-test checks speaks that a better draw
    could silence.
    """
    always: set[str] | None = None
    best: Draw | None = None
    fewest: int | None = None
    for draws in range(1, MOST_DRAWS + 1):
        drawn = draw(task, rng)
        spoke = unfair(task.card, drawn.loaves)
        always = spoke if always is None else always & spoke
        if fewest is None or len(spoke) < fewest:
            best, fewest = drawn, len(spoke)
        if not spoke or (draws >= ALWAYS_SPEAKS and spoke == always):
            return drawn, draws
    return best or draw(task, rng), MOST_DRAWS


def unfair(card: TrialCard, loaves: pd.DataFrame) -> set[str]:
    """Return the codes, with their pair, of the fair-test warnings and errors that planned loaves
    would get.
    """
    if "formula" not in loaves:
        return set()
    trial = as_trial(card, loaves)
    found = set()
    for formula, against in pairs_to_check(card):
        pair = Pair(trial=trial, formula=formula, against=against, measure=None)
        found |= {
            f"{finding.code} {formula} {against}"
            for finding in fairness_findings(pair)
            if finding.severity != "note"
        }
    return found


def pairs_to_check(card: TrialCard) -> list[tuple[str, str]]:
    """Return the pairs of formulas that a draw is checked for: all, or of many each with the
    control or the next.
    """
    formulas = [str(level) for level in card.factors["formula"]]
    every = list(combinations(formulas, 2))
    if len(every) <= MOST_PAIRS:
        return every
    if card.control is not None and card.control in formulas:
        return [(formula, card.control) for formula in formulas if formula != card.control]
    return list(zip(formulas, formulas[1:] + formulas[:1], strict=True))


def as_trial(card: TrialCard, loaves: pd.DataFrame) -> Trial:
    """Return planned loaves as a trial without measurements, as its records will be read."""
    orders = {
        name: loaves[name].astype(float) for name in ("mix_order", "bake_order", "measure_order")
    }
    return Trial(
        name="plan",
        card=card,
        loaves=loaves.assign(**orders, line=np.arange(2, len(loaves) + 2)),
        factors=tuple(card.factors),
    )


def _loads(task: Task) -> Loads:
    if not task.loads:
        return "none"
    if task.divided:
        return "mixes divided over loads"
    return "mixes inside loads" if task.factors("load") else "whole mixes"


def _restrictions(task: Task, drawn: Draw) -> list[str]:
    """Return what the draw was held to, a sentence each."""
    said = [
        f"The layout of mixes is {drawn.dealt.layout}; which day, and which level, stands for which"
        " is drawn."
    ]
    if drawn.inside.inside != "loaves alike":
        said.append(f"Loaves are cut from mixes as {drawn.inside.inside}.")
    said.append(
        "Every level, and every combination of levels, comes in each place of the mixing order as"
        " evenly as it can, and equally early on average."
    )
    if task.kitchen.zones:
        said.append("Every level and every mix stands in each oven place as evenly as it can.")
    said.append("Every level and every mix is measured equally early on average.")
    said.append("A draw at which a warning of the fair-test checks spoke was drawn anew.")
    formulas = task.card.factors.get("formula", ())
    if len(formulas) * (len(formulas) - 1) // 2 > MOST_PAIRS:
        said.append(
            "So many formulas were checked each with the control, or with the next one, and not all"
            " pairs."
        )
    return said


def _shows_nothing(task: Task, drawn: Draw) -> list[Finding]:
    """Return a warning where no mix is repeated, so that nothing shows how much mixes vary."""
    spare = task.blocks * (task.mixes - 1) - task.contrasts("mix")
    two_level = sum(len(task.levels[name]) == 2 for name in task.factors("mix")) >= 3
    if spare > 0 or not task.factors("mix") or two_level:
        return []
    days = f"Bake on {2 * task.days} days" if task.mixes > 1 else "Make two mixes a day"
    return [
        Finding(
            code="shows-nothing",
            severity="warning",
            message=(
                f"Nothing is repeated: {task.blocks * task.mixes} mixes just tell"
                f" {' and '.join(task.factors('mix'))} apart, and nothing is left to show how much"
                " mixes differ by themselves."
            ),
            why="However large a difference comes out, it cannot be said to be more than chance.",
            fix=f"{days}, or make more mixes a day: each formula again, as a new dough.",
        )
    ]
