"""A plan read back from its folder, as it was drawn."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pandas as pd

from ..findings import Finding, TrialError
from ..reading.files import LARGEST_CARD, PLAN, read_bytes
from ..reading.grid import LARGEST_FILE
from .plan import card_in
from .result import ORDERS, TrialPlan, mixes_of
from .saving import DRAWN


def load_plan(folder: str | Path = ".") -> TrialPlan:
    """Return the plan that was saved in a folder.

    Raises
    ------
    TrialError: there is no plan, or its files are not as they were written.
    """
    folder = Path(folder)
    missing = [name for name in (PLAN, DRAWN) if not (folder / name).is_file()]
    if missing:
        raise TrialError.one(
            "no-plan",
            f"There is no {' and no '.join(missing)} in {str(folder.resolve())!r}.",
            f"Plan the trial first:  fairloaf plan {folder}",
        )
    card = card_in(folder)
    try:
        drawn = json.loads(read_bytes(folder / DRAWN, folder, LARGEST_CARD * 10))
        text = read_bytes(folder / PLAN, folder, LARGEST_FILE).decode("utf-8-sig")
        loaves = pd.DataFrame(list(csv.DictReader(text.splitlines())), dtype=object)
        numbers = [name for name, levels in card.factors.items() if isinstance(levels[0], float)]
        loaves = loaves.astype(dict.fromkeys(ORDERS, int) | dict.fromkeys(numbers, float))
        made_per = {str(name): unit for name, unit in drawn["made_per"].items()}
        absent = [name for name in ("loaf", "day", "mix", *made_per) if name not in loaves]
        if absent or tuple(made_per) != tuple(card.factors):
            raise KeyError(", ".join(absent) or "factors")
        return TrialPlan(
            card=card,
            seed=int(drawn["seed"]),
            draws=int(drawn["draws"]),
            loaves=loaves,
            made_per=made_per,
            mixes=mixes_of(loaves, made_per, drawn["loads"]),
            layout=drawn["layout"],
            inside=drawn["inside"],
            loads=drawn["loads"],
            tied=tuple(tuple(group) for group in drawn["tied"]),
            balance=pd.DataFrame(
                drawn["balance"], columns=["factor", "against", "spread", "promised"]
            ),
            centre_points=int(drawn["centre_points"]),
            restrictions=tuple(drawn["restrictions"]),
            earlier_seeds=tuple(map(int, drawn["earlier_seeds"])),
            folder=folder,
            findings=tuple(
                Finding(**finding | {"rows": tuple(finding["rows"])})
                for finding in drawn["findings"]
            ),
        )
    except (ValueError, KeyError, TypeError, AttributeError):
        raise TrialError.one(
            "plan-unreadable",
            f"{PLAN} and {DRAWN} do not fit the card, or are not as they were written.",
            "Put them and the card back as they were; or, where nothing is baked yet, draw anew"
            " with --again.",
            file=PLAN,
        ) from None
