"""From the card to what is to be laid out: how many days, mixes and loaves, and which factor is
changed with what.

Loaves give way before mixes: where oven, tins or mixer take less, a mix is cut into fewer loaves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from difflib import get_close_matches

from ..card import FILE, Level, TrialCard
from ..findings import Finding, TrialError, gathering
from ..frozen import frozen
from ..kitchen import Kitchen, Unit
from ..reading.kitchen_sections import LIMITS
from ..words.lists import counted
from .usual_units import toml_key, unit_of, unknown_unit

KITCHEN_LINES = "\n".join(["[kitchen]", *(f"{key} = {count}" for key, count in LIMITS.items())])


@frozen(kw_only=True)
class Task:
    """What is to be laid out.

    levels : factor → its levels; made_per : factor → what it is changed with
    days, bakers, mixes (a baker and day), loaves (a mix), loads (a day; 0 where loaves go in as
    they are proofed)
    divided : every mix is divided over the loads, because there are not enough mixes for each load
        to hold a turn
    """

    card: TrialCard
    kitchen: Kitchen
    levels: dict[str, tuple[Level, ...]]
    made_per: dict[str, Unit]
    days: int
    bakers: int
    mixes: int
    loaves: int
    loads: int
    divided: bool
    findings: tuple[Finding, ...] = ()

    @property
    def blocks(self) -> int:
        """Return how many groups of mixes are compared within: days, and on each day every
        baker.
        """
        return self.days * self.bakers

    def factors(self, unit: Unit) -> tuple[str, ...]:
        """Return the factors that are laid out with this unit; where a mix is one loaf, loaves are
        mixes.
        """
        if self.loaves == 1 and unit in ("mix", "loaf"):
            wanted: tuple[Unit, ...] = ("mix", "loaf") if unit == "mix" else ()
        else:
            wanted = (unit,)
        return tuple(name for name, own in self.made_per.items() if own in wanted)

    def combinations(self, unit: Unit) -> int:
        """Return how many combinations of levels the factors of a unit have, 1 where there are
        none.
        """
        return math.prod(len(self.levels[name]) for name in self.factors(unit))

    def contrasts(self, unit: Unit) -> int:
        """Return the number of independent differences between levels of the factors of a unit."""
        return sum(len(self.levels[name]) - 1 for name in self.factors(unit))


def task_of(card: TrialCard, after: Sequence[Finding] = ()) -> Task:
    """Return what the card asks to be laid out.

    ``after`` : faults that are told already, of which what is missing here may be the consequence.

    Raises
    ------
    TrialError: the card has no kitchen or no factors, or what it asks cannot be planned; names
    every reason.
    """
    told = {fault.code for fault in after}
    faults: list[Finding] = []
    if card.kitchen is None and not any("[kitchen" in fault.message for fault in after):
        faults.append(
            Finding(
                code="plan-no-kitchen",
                severity="error",
                message="The card does not say what the kitchen can do.",
                fix=(
                    "Copy to the end of the card, each on a line of its own, and put your own"
                    f" numbers in:\n{KITCHEN_LINES}"
                ),
            )
        )
    if card.factors or not told:
        faults += _faults_of_factors(card)
    if faults or card.kitchen is None or not card.factors:
        raise TrialError(replace(fault, file=FILE) for fault in faults)
    made_per = {name: unit for name in card.factors if (unit := unit_of(name, card))}
    task = Task(
        card=card,
        kitchen=card.kitchen,
        levels=dict(card.factors),
        made_per=made_per,
        days=card.kitchen.days,
        bakers=card.kitchen.bakers,
        mixes=card.kitchen.mixes_a_day,
        loaves=card.kitchen.loaves_a_mix,
        loads=card.kitchen.loads_a_day or 0,
        divided=False,
    )
    task = _with_loads(task)
    with gathering(faults):
        task = _with_loaves(task)
    faults += _too_few(task)
    if faults:
        raise TrialError(replace(fault, file=FILE) for fault in faults)
    return task


def _faults_of_factors(card: TrialCard) -> list[Finding]:
    """Return what is wrong with the factors themselves."""
    faults = []
    if not card.factors:
        faults.append(
            Finding(
                code="plan-one-level",
                severity="error",
                message="The card names nothing to change.",
                fix='Write  [factors]  and below it  formula = ["house", "malted"]',
            )
        )
    for name, levels in card.factors.items():
        if len(levels) < 2:
            faults.append(
                Finding(
                    code="plan-one-level",
                    severity="error",
                    message=f"{name} has one level only: {_level(levels[0])}.",
                    fix=(
                        "Give it a second level to compare with, or take it out of [factors]: what"
                        " is kept the same needs no line."
                    ),
                )
            )
        if name == "proof_min" and card.proof_to == "height":
            faults.append(
                Finding(
                    code="proof-is-an-outcome",
                    severity="error",
                    message=(
                        "proof_min is a factor, but the dough is proofed to height: then the dough"
                        " decides the time."
                    ),
                    fix='Take proof_min out of [factors], or write  proof_to = "time"',
                )
            )
        elif unit_of(name, card) is None:
            faults.append(unknown_unit(name))
    for name in card.made_per:
        near = get_close_matches(name, card.factors, n=1)
        if name not in card.factors and near:
            faults.append(
                Finding(
                    code="plan-made-per",
                    severity="error",
                    message=f"[made_per] names {name}, which is not changed.",
                    fix=f"Did you mean {near[0]!r}?",
                )
            )
    return faults


def _level(level: Level) -> str:
    return level if isinstance(level, str) else f"{level:g}"


# --- loads -------------------------------------------------------------------------------------


def _with_loads(task: Task) -> Task:
    """Return the task with the loads that a day needs, and whether each mix is divided over
    them.
    """
    o, t, m = task.combinations("load"), task.combinations("mix"), task.mixes
    if o == 1:
        return replace(task, loads=_whole_loads(task) if task.loads else 0)
    turns = m // t if m % t == 0 else m
    if m >= o * t and m % (o * t) == 0:
        return replace(task, loads=_most(task.loads, o, turns) or task.loads)
    return replace(
        task, loads=o * (task.loads // o) if task.loads >= o else task.loads, divided=True
    )


def _whole_loads(task: Task) -> int:
    """Return into how many loads the mixes of a day go: whole turns of all combinations where there
    are turns.
    """
    t, m = task.combinations("mix"), task.mixes
    places = task.kitchen.oven_places or math.inf
    turns = m // t if m % t == 0 else 1
    by_turns = _most(task.loads, 1, turns)
    if m // by_turns * task.bakers <= places:
        return by_turns
    return min(task.loads, m)


def _most(loads: int, step: int, turns: int) -> int:
    """Return the largest number up to ``loads`` that is a multiple of ``step`` and divides
    ``turns``, or 0.
    """
    return next((n for n in range(loads, 0, -1) if n % step == 0 and turns % n == 0), 0)


# --- loaves ------------------------------------------------------------------------------------


def _with_loaves(task: Task) -> Task:
    """Return the task with as many loaves a mix as everything takes, and what is to be said of
    it.
    """
    wanted = task.loaves
    limits = {"the card": wanted, "the oven": _oven_takes(task), "the tins": _tins_take(task)}
    findings: list[Finding] = []
    limits["the mixer"] = _mixer_takes(task, findings)
    least = min(limits.values())
    loaves = max(int(least), 1)
    inside = task.combinations("loaf") * (task.combinations("load") if task.divided else 1)
    whole = inside * (loaves // inside) if loaves > inside else loaves
    loads = task.combinations("load")
    if task.divided and loaves >= loads:
        whole = max(loads * (whole // loads), loads)
    what = min((name for name in limits if name != "the card"), key=lambda name: limits[name])
    take = "take" if what == "the tins" else "takes"
    if least < 1:
        code = "dough-too-large" if what == "the mixer" else "too-few-places"
        raise TrialError.one(
            code,
            f"{what[0].upper()}{what[1:]} {take} less than one loaf of every mix of a day.",
            FIX_OF_LIMIT[what],
        )
    if loaves < wanted:
        findings.append(
            Finding(
                code="fewer-loaves",
                severity="warning",
                message=(
                    f"The card has {wanted} loaves a mix, but {what} {take} {loaves}: each mix is"
                    f" cut into {whole}."
                ),
                why="Mixes are what a formula is judged by; loaves give way first.",
                fix=f"{FIX_OF_LIMIT[what]} Or leave it so.",
            )
        )
    elif whole < loaves:
        findings.append(
            Finding(
                code="whole-sets",
                severity="note",
                message=(
                    f"Each mix is cut into {whole} loaves, not {wanted}: whole sets of the {inside}"
                    " combinations."
                ),
                fix=(
                    f"Write  loaves_a_mix = {inside * (loaves // inside + 1)}  for one more set,"
                    " where oven and mixer take it."
                ),
            )
        )
    return replace(task, loaves=whole, findings=(*task.findings, *findings))


FIX_OF_LIMIT = {
    "the oven": "More oven_places or loads_a_day would take all.",
    "the tins": "Borrow tins.",
    "the mixer": "Scale smaller pieces, or use a larger mixer.",
}


def _oven_takes(task: Task) -> float:
    """Return how many loaves of each mix the oven takes."""
    places = task.kitchen.oven_places
    if places is None:
        return math.inf
    if not task.loads:
        return places
    if task.divided:
        return task.loads * (places // (task.mixes * task.bakers))
    return places // (math.ceil(task.mixes / task.loads) * task.bakers)


def _tins_take(task: Task) -> float:
    """Return how many loaves of each mix the tins take, all loaves of a day standing in tins at
    once.
    """
    card, doughs = task.card, task.mixes * task.bakers
    kinds = [
        str(level)
        for level in task.levels.get("tin", tuple(card.tins) if len(card.tins) == 1 else ())
    ]
    owned = [tin.owned for kind in kinds if (tin := card.tins.get(kind)) and tin.owned is not None]
    if not owned:
        return math.inf
    unit = task.made_per.get("tin")
    if unit == "loaf" and task.loaves > 1:
        return len(kinds) * (min(owned) // doughs)
    return min(owned) // (math.ceil(doughs / len(kinds)) if unit == "mix" else doughs)


def _mixer_takes(task: Task, findings: list[Finding]) -> float:
    """Return how many loaves of each mix the mixer takes; a dough too small for it is told."""
    dough = task.card.dough
    piece = piece_g(task.card)
    if dough is None or dough.mixer_g is None or piece is None:
        return math.inf
    least, most = dough.mixer_g
    each = piece / (1 - (dough.waste_pct or 0) / 100)
    takes = math.floor(most / each + 1e-9)
    made = each * min(task.loaves, max(takes, 1))
    if made < least:
        findings.append(
            Finding(
                code="dough-too-small",
                severity="warning",
                message=f"A dough has {made:.0f} g; the mixer needs {least:g} g.",
                why="A dough too small for the mixer is not kneaded as usual.",
                fix=(
                    f"Cut {math.ceil(least / each)} loaves from a mix, or mix by hand and write the"
                    " least into  mixer_g."
                ),
            )
        )
    return takes


def piece_g(card: TrialCard) -> float | None:
    """Return the heaviest dough piece that the card asks for, or None where it does not say."""
    if "dough_g" in card.factors:
        return max(float(level) for level in card.factors["dough_g"])
    kinds = card.factors.get("tin", tuple(card.tins))
    by_tin = [
        tin.dough_g
        for kind in kinds
        if (tin := card.tins.get(str(kind))) and tin.dough_g is not None
    ]
    return max(by_tin) if by_tin else card.dough.piece_g if card.dough else None


# --- too few -----------------------------------------------------------------------------------


def _too_few(task: Task) -> list[Finding]:
    """Return an error where there are fewer mixes, loads or days than there is to tell apart."""
    faults = []
    mixes, needs = task.blocks * task.mixes, task.blocks + task.contrasts("mix")
    if mixes < needs:
        faults.append(
            Finding(
                code="too-few-mixes",
                severity="error",
                message=(
                    f"{_mixes(mixes)} cannot tell apart what is changed: {_blocks(task)} and"
                    f" {counted(task.contrasts('mix'), 'difference')} between levels need {needs}"
                    " at least."
                ),
                fix=_enough_mixes(task),
            )
        )
    o = task.combinations("load")
    if o > 1 and (task.loads < o or task.loads * task.days < task.days + task.contrasts("load")):
        said = (
            f"{counted(task.loads, 'oven load')} a day"
            if task.loads
            else "Loaves that go in as they are proofed"
        )
        faults.append(
            Finding(
                code="too-few-mixes",
                severity="error",
                message=(
                    f"{said} cannot hold {o} settings of the oven"
                    f" ({', '.join(task.factors('load'))})."
                ),
                fix=(
                    f"Write  loads_a_day = {o} {_loaves_for(task, o)} under [kitchen], or leave the"
                    f" oven the same.{_loaf_by_loaf(task)}"
                ),
            )
        )
    elif task.divided and task.loaves < o:
        faults.append(
            Finding(
                code="too-few-mixes",
                severity="error",
                message=f"A mix of {task.loaves} cannot be divided over {o} settings of the oven.",
                fix=(
                    f"Write  loaves_a_mix = {o}  under [kitchen], or  mixes_a_day ="
                    f" {o * task.combinations('mix')}."
                ),
            )
        )
    if task.days < 1 + task.contrasts("day"):
        faults.append(
            Finding(
                code="too-few-mixes",
                severity="error",
                message=(
                    f"{counted(task.days, 'day')} cannot tell apart what is changed by the day "
                    f"({', '.join(task.factors('day'))})."
                ),
                fix=f"Bake on {1 + task.contrasts('day')} days at least, better on twice as many.",
            )
        )
    return faults


def _loaves_for(task: Task, loads: int) -> str:
    """Return the loaves that a mix must be cut into besides, where it is divided over the loads."""
    turn = loads * task.combinations("mix")
    if task.mixes % turn == 0 or task.kitchen.loaves_a_mix >= loads:
        return ""
    return f" and  loaves_a_mix = {loads} "


def _loaf_by_loaf(task: Task) -> str:
    """Return how baking times are compared where every loaf comes out by itself; else nothing."""
    if task.loads or task.factors("load") != ("bake_min",):
        return ""
    return ' Where loaves come out one by one, write  [made_per]  and below it  bake_min = "loaf" .'


def _enough_mixes(task: Task) -> str:
    """Return the fewest days or mixes that would do."""
    a_day = 1 + math.ceil(task.contrasts("mix") / task.blocks)
    fix = f"{a_day} mixes a day would just do"
    if task.mixes > 1:
        days = math.ceil(task.contrasts("mix") / (task.mixes - 1) / task.bakers)
        fix += f", or {days} days"
    fix += "; more would also show how much mixes vary."
    if task.mixes == 1 and task.days > 1 + task.contrasts("mix"):
        per_day = "  ,  ".join(f'{toml_key(name)} = "day"' for name in task.factors("mix"))
        fix += (
            " Where one is all that the kitchen can do, compare day with day: write  [made_per] "
            f" and below it  {per_day} ."
        )
    return fix


def _blocks(task: Task) -> str:
    days = counted(task.days, "day")
    return days if task.bakers == 1 else f"{days} of {counted(task.bakers, 'baker')}"


def _mixes(n: int) -> str:
    return "One mix" if n == 1 else f"{n} mixes"
