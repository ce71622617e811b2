"""Was it a fair test? What speaks against comparing two formulas in these records: every check in
one tuple.
"""

from __future__ import annotations

from collections.abc import Iterator

from ..checks.check import Spot
from ..findings import Finding, worst_first
from ..words.lists import listed
from ..words.naming import set_apart
from .conditions import Pair
from .confounding import CONFOUNDED, apart_in, tied_to
from .fair_check import FairCheck, fair, words_for
from .order import baking_order, measuring_order

# formulas differ in a condition: by this many standard deviations of loaves, and …
IN_SD = 1.0
# … by this much (common practice, no source), or …
PRACTICAL = {"dough_temp_c": 1.0, "cool_min": 15.0}
PRACTICAL_SHARE = {"dough_g": 0.01, "proof_min": 0.05}  # … by this share of the mean (likewise)


def fairness_findings(pair: Pair) -> tuple[Finding, ...]:
    """Return all that speaks against comparing this pair of formulas, worst first."""
    return worst_first(finding for one in FAIRNESS for finding in one.run(pair))


def not_told_apart(pair: Pair) -> tuple[Finding, ...]:
    """Return what makes a comparison of this pair impossible."""
    return tuple(
        finding for one in FAIRNESS if one.severity == "error" for finding in one.run(pair)
    )


@fair(
    "one-mix-of-a-formula",
    "warning",
    "The mix is the unit: loaves of one dough are repeat looks at one trial of the formula.",
)
def one_mix(pair: Pair) -> Iterator[Spot]:
    """Was every formula mixed more than once?"""
    alone = [set_apart(name) for name, n in pair.n_mixes.items() if n == 1]
    if alone:
        yield Spot(
            message=(
                f"There is only one mix of {listed(alone)}: however many loaves were cut from it, "
                "nothing shows how much another mix would have differed."
            ),
            column="mix",
            fix="Make each formula again, as a new dough, at least once and better three times.",
        )


@fair(
    "mixes-not-recorded",
    "warning",
    "Loaves of one dough are alike; taken as separate doughs they make a chance difference look"
    " real.",
)
def mixes_not_recorded(pair: Pair) -> Iterator[Spot]:
    """Is it recorded which loaves came from one dough?"""
    if "mix" not in pair.loaves or pair.loaves["mix"].isna().all():
        yield Spot(
            message=(
                "No column says which mix each loaf was cut from, so every loaf was taken as a mix"
                " of its own. If several loaves came from one dough, the answer looks surer than"
                " it is."
            ),
            column="mix",
            fix="Add a column mix with one name for each dough.",
        )


@fair(
    "mixes-assumed",
    "note",
    "This is the cautious reading: loaves that may share a dough are not counted as trials of their"
    " own.",
)
def mixes_assumed(pair: Pair) -> Iterator[Spot]:
    """Did the records name the mixes?"""
    headers = pair.trial.headers
    if headers and not {"mix"} & {*headers, *pair.trial.card.columns} and "mix" in pair.loaves:
        told = listed([f"{n} of {set_apart(name)}" for name, n in pair.n_mixes.items()])
        yield Spot(
            message=(
                "No column says which mix each loaf was cut from; as many were assumed as there"
                f" must have been at least: {told}."
            ),
            column="mix",
            fix=(
                'Add a column mix; or write  mix = "loaf"  under [columns] if every loaf had its'
                " own dough."
            ),
        )


@fair("unequal-mixes", "note", "The formula with fewer mixes limits how sure the answer can be.")
def unequal_mixes(pair: Pair) -> Iterator[Spot]:
    """Was every formula mixed equally often?"""
    ours, theirs = (pair.n_mixes[name] for name in (pair.formula, pair.against))
    if ours != theirs:
        yield Spot(
            message=(
                f"{set_apart(pair.formula)} was mixed {_times(ours)},"
                f" {set_apart(pair.against)} {_times(theirs)}."
            ),
            column="mix",
            fix="Plan the same number of mixes of each.",
        )


def differs_in(name: str) -> FairCheck:
    """Return the check that both formulas had the same of a condition that is a number."""
    words = words_for(name)

    @fair(
        f"formulas-differ-in-{name.replace('_', '-')}",
        "warning",
        "Part of the difference may come from it.",
        title=f"Did both formulas have the same {words}?",
    )
    def differs(pair: Pair) -> Iterator[Spot]:
        found = next((c for c in pair.conditions if c.name == name and c.status == "drifted"), None)
        if found is None or found.kind == "category":
            return
        practical = PRACTICAL.get(name, PRACTICAL_SHARE.get(name, 0.0) * pair.loaves[name].mean())
        if abs(found.difference) >= practical and abs(found.in_sd) >= IN_SD:
            yield Spot(
                message=(
                    f"{found.label} differs: {found.formula_value:.4g} {found.unit} on average with"
                    f" {set_apart(pair.formula)}, {found.against_value:.4g} {found.unit} with"
                    f" {set_apart(pair.against)}."
                ),
                column=name,
                fix=f"Keep the {words} the same; look at the difference adjusted for it.",
            )

    return differs


@fair(
    "proof-time-is-an-outcome",
    "warning",
    "Proofed to a height, the dough decides the time: adjusting for it takes part of the formula's"
    " effect away.",
)
def proof_time_used(pair: Pair) -> Iterator[Spot]:
    """Was proof time left alone where dough was proofed to height?"""
    if pair.trial.card.proof_to == "height" and "proof_min" in pair.trial.factors:
        yield Spot(
            message=(
                "The card names proof time as a factor, but the dough was proofed to height. Proof"
                " time is an outcome then, and was not used."
            ),
            column="proof_min",
            fix=(
                'Take proof_min out of [factors], or write  proof_to = "time"  if that is what was'
                " done."
            ),
        )


def _times(n: int) -> str:
    return {1: "once", 2: "twice"}.get(n, f"{n} times")


FAIRNESS: tuple[FairCheck, ...] = (
    *map(tied_to, CONFOUNDED),
    one_mix,
    mixes_not_recorded,
    *map(apart_in, CONFOUNDED),
    proof_time_used,
    baking_order,
    measuring_order,
    *map(differs_in, ("dough_g", "dough_temp_c", "proof_min", "cool_min")),
    mixes_assumed,
    unequal_mixes,
)
