"""A plan read back from its folder, as long as it is the plan that was drawn."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..card import TrialCard
from ..findings import TrialError
from ..reading.files import LARGEST_CARD, PLAN, read_bytes
from ..words.lists import on_lines
from .plan import card_in, plan_trial
from .result import TrialPlan
from .saved import load_plan
from .saving import DRAWN, csv_bytes, plan_digest

LARGEST_PLAN = 5_000_000  # bytes; a thousand loaves take about 60,000
SHORT = 6  # letters of a fingerprint that stand on every sheet


def plan_mark(plan: TrialPlan) -> str:
    """Return the six characters by which the sheets of one draw are told from those of another."""
    return plan_digest(csv_bytes(plan.loaves))[:SHORT].upper()


def kept_plan(folder: str | Path) -> TrialPlan:
    """Return the plan in a trial's folder.

    Raises
    ------
    TrialError: there is none (``no-plan``), or plan.csv is no longer what was drawn
    (``plan-changed``).
    """
    folder = Path(folder)
    if not (folder / PLAN).is_file():
        raise TrialError.one(
            "no-plan",
            f"There is no plan in {str(folder)!r}.",
            f"Draw it first:  fairloaf plan {folder}",
            file=PLAN,
        )
    card = card_in(folder)
    raw = read_bytes(folder / PLAN, folder, LARGEST_PLAN)
    drawn = _how_it_was_drawn(folder)
    if plan_digest(raw) != drawn.get("plan_sha256"):
        raise _changed(folder, card, raw, drawn)
    return load_plan(folder)


def _how_it_was_drawn(folder: Path) -> Mapping[str, Any]:
    """Return what plan.json says, nothing where it cannot be read."""
    try:
        read = json.loads(read_bytes(folder / DRAWN, folder, LARGEST_PLAN + LARGEST_CARD))
    except (TrialError, ValueError):
        return {}
    return read if isinstance(read, dict) else {}


def _changed(folder: Path, card: TrialCard, raw: bytes, drawn: Mapping[str, Any]) -> TrialError:
    """Return the error for a plan.csv that is not what was drawn, with the lines that differ where
    they can be told.
    """
    again = f"draw again:  fairloaf plan {folder} --again"
    if "plan_sha256" not in drawn:
        return TrialError.one(
            "plan-changed",
            f"{DRAWN}, which says how {PLAN} was drawn, is gone or cannot be read.",
            f"Put it back, or {again}",
            file=DRAWN,
        )
    lines = _lines_that_differ(card, raw, drawn)
    where = (
        on_lines(lines)
        if lines
        else "somewhere (the card was changed too, so that the lines cannot be told)"
    )
    return TrialError.one(
        "plan-changed",
        f"{PLAN} is not as it was drawn: it differs on {where}.",
        f"Put it back as it was, or {again}",
        rows=lines,
        file=PLAN,
        why="Sheets of one draw and a key of another would give loaves the wrong formula.",
    )


def _lines_that_differ(card: TrialCard, raw: bytes, drawn: Mapping[str, Any]) -> tuple[int, ...]:
    """Return the lines that differ from the plan drawn anew, none where that is not the one that
    was kept.
    """
    try:
        anew = csv_bytes(plan_trial(card, seed=int(drawn["seed"])).loaves)
    except (TrialError, KeyError, ValueError, TypeError):
        return ()
    if plan_digest(anew) != drawn["plan_sha256"]:
        return ()
    was, now = anew.splitlines(), raw.removeprefix(b"\xef\xbb\xbf").splitlines()
    padded = max(len(was), len(now))
    was += [b""] * (padded - len(was))
    now += [b""] * (padded - len(now))
    return tuple(i for i, (a, b) in enumerate(zip(was, now, strict=True), 1) if a != b)
