"""A plan on disk: the key, how it was drawn, and an empty table of loaves; whole or not at all."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Mapping
from importlib.metadata import version
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import pandas as pd

from ..card import FILE
from ..columns import BY_NAME
from ..findings import Finding, TrialError
from ..loading import OWN_DOUGH
from ..reading.card_file import card_text, read_card
from ..reading.files import LARGEST_CARD, PLAN, read_bytes
from ..writing.records_there import records_there
from ..writing.starting import HEADER
from ..writing.whole_files import write_whole

if TYPE_CHECKING:
    from .result import TrialPlan

DRAWN = "plan.json"
LOAVES, BOOK = "loaves.csv", "loaves.xlsx"
EMPTY: Mapping[str, bytes] = MappingProxyType({})
GENERATOR = "NumPy PCG64"
RECORDED = (
    "dough_temp_c",
    "dough_g",
    "loaf_g",
    "cool_min",
    "box_ml",
    "seed_ml",
    "height_mm",
    "void",
    "note",
)


def refused(folder: Path, again: bool = False) -> None:
    """Refuse, before anything is worked out, a folder into which no plan can be written.

    Raises
    ------
    TrialError: loaves are recorded there, or a plan is there and ``again`` was not said.
    """
    faults = [*_records_there(folder), *_plan_there(folder, again)]
    if faults:
        raise TrialError(faults)


def save_plan(
    plan: TrialPlan, folder: Path, again: bool = False, beside: Mapping[str, bytes] = EMPTY
) -> tuple[Path, ...]:
    """Write plan.csv (the key), plan.json (how it was drawn) and an empty loaves.csv into a folder.

    ``again`` : replace a plan that is there, as long as nothing is recorded yet; its seed stays
    written. ``beside`` : pictures that go with them, name → content; those of an earlier plan are
    replaced.

    Raises
    ------
    TrialError: loaves are recorded there, a plan is there and ``again`` was not said, the folder's
    card is another
        one than was planned, or a file cannot be written. Nothing is written then.
    """
    faults = [*_records_there(folder), *_plan_there(folder, again), *_other_card(plan, folder)]
    if faults:
        raise TrialError(faults)
    earlier = _earlier_seeds(folder)
    files = {
        folder / PLAN: csv_bytes(plan.loaves),
        folder / DRAWN: _json_bytes(_how_drawn(plan, folder, earlier)),
        folder / LOAVES: csv_bytes(_empty_loaves(plan, folder)),
    }
    pictures = {folder / name: content for name, content in beside.items()}
    ours = {*files, *pictures} if (folder / DRAWN).exists() else {*files}
    write_whole(files | pictures, replaceable=ours)
    # the empty workbook of the plan that this one replaces
    (folder / BOOK).unlink(missing_ok=True)
    return (*files, *pictures)


def csv_bytes(table: pd.DataFrame) -> bytes:
    """Return a table as CSV in UTF-8, whole numbers without a point, missing cells empty."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(table.columns)
    writer.writerows([_written(cell) for cell in row] for row in table.itertuples(index=False))
    return text.getvalue().encode("utf-8")


def _written(cell: Any) -> str:
    if isinstance(cell, float):
        return "" if pd.isna(cell) else f"{int(cell)}" if cell.is_integer() else repr(cell)
    return str(cell)


def _json_bytes(data: Any) -> bytes:
    return (json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def plan_digest(raw: bytes) -> str:
    """Return the fingerprint of plan.csv (SHA-256), whatever its line ends are."""
    lines = raw.removeprefix(b"\xef\xbb\xbf").splitlines()
    return hashlib.sha256(b"\n".join(lines)).hexdigest()


def _how_drawn(plan: TrialPlan, folder: Path, earlier: list[int]) -> dict[str, Any]:
    """Return what is written down of how a plan was drawn."""
    card = folder / FILE
    whole = plan.to_dict()
    kept = (
        "title",
        "seed",
        "draws",
        "layout",
        "inside",
        "loads",
        "centre_points",
        "made_per",
        "tied",
        "restrictions",
        "balance",
    )
    return {
        "generator": GENERATOR,
        "version": version("fairloaf"),
        "plan_sha256": plan_digest(csv_bytes(plan.loaves)),
        "card_sha256": hashlib.sha256(card.read_bytes()).hexdigest() if card.is_file() else None,
        **{name: whole[name] for name in kept},
        "earlier_seeds": earlier,
        "findings": whole["findings"],
    }


def _empty_loaves(plan: TrialPlan, folder: Path) -> pd.DataFrame:
    """Return the table to fill in: the codes in the order of measuring, and columns for what is
    recorded.

    Not in the order of baking, in which loaves of one dough would stand together: who measures is
    blind.
    """
    columns = [*RECORDED]
    measure = plan.card.measure
    if measure and measure not in columns and not (measure in BY_NAME and BY_NAME[measure].derived):
        columns.insert(columns.index("void"), measure)
    columns = [name for name in columns if name not in plan.loaves]
    named = {
        key: header
        for key, header in plan.card.columns.items()
        if header != OWN_DOUGH and key != "loaf"
    }
    begun = _header(folder / LOAVES)
    own = (
        []
        if ",".join(begun) == HEADER.strip()
        else [n for n in begun if n not in ("loaf", *columns, *plan.loaves)]
    )
    own += [header for key, header in named.items() if key not in columns and header not in own]
    headers = [*columns[:-2], *own, *columns[-2:]]
    empty = dict.fromkeys([named.get(name, name) for name in headers], "")
    order = plan.loaves.assign(day=plan.loaves["day"].astype(int)).sort_values(
        ["day", "measure_order"]
    )
    return order[["loaf"]].assign(**empty)


def _header(path: Path) -> list[str]:
    """Return the headers of a table without records, as the baker left them; none where there is no
    such table.
    """
    rows = list(csv.reader(path.read_text("utf-8-sig").splitlines())) if path.is_file() else []
    return [text.strip() for text in rows[0] if text.strip()] if rows else []


def _records_there(folder: Path) -> list[Finding]:
    """Return an error where the folder's loaves hold more than codes."""
    there = records_there(folder)
    if not there:
        return []
    return [
        Finding(
            code="records-there",
            severity="error",
            file=there,
            message=f"{there} holds records already.",
            why=(
                "A plan comes before the bake; loaves that are baked keep the plan they were"
                " baked to."
            ),
            fix="Plan in a new folder:  fairloaf new another_trial  . Nothing was written.",
        )
    ]


def _plan_there(folder: Path, again: bool) -> list[Finding]:
    """Return an error where a plan is there and nobody said that it may be replaced."""
    if again or not any((folder / name).exists() for name in (PLAN, DRAWN)):
        return []
    return [
        Finding(
            code="plan-there",
            severity="error",
            file=PLAN,
            message="There is a plan already.",
            why="Drawing until one likes the plan is no longer drawing by lot.",
            fix=(
                "Use it as it is, or draw another with --again; earlier seeds stay written in"
                " plan.json."
            ),
        )
    ]


def _other_card(plan: TrialPlan, folder: Path) -> list[Finding]:
    """Return an error where the folder's card is not the one that was planned."""
    path = folder / FILE
    if (
        not path.is_file()
        or read_card(card_text(read_bytes(path, folder, LARGEST_CARD))) == plan.card
    ):
        return []
    return [
        Finding(
            code="plan-other-card",
            severity="error",
            file=FILE,
            message=f"The card in {folder} is not the one that was planned.",
            fix="Plan again from this folder, or save into another one. Nothing was written.",
        )
    ]


def _earlier_seeds(folder: Path) -> list[int]:
    """Return the seeds of the plans that were drawn here before, oldest first.

    Raises
    ------
    TrialError: plan.json is there and cannot be read, so that they would be lost.
    """
    path = folder / DRAWN
    if not path.exists():
        return []
    try:
        old = json.loads(path.read_text("utf-8"))
        return [*map(int, old["earlier_seeds"]), int(old["seed"])]
    except (OSError, ValueError, KeyError, TypeError):
        raise TrialError.one(
            "plan-unreadable",
            f"{DRAWN} cannot be read, so that earlier seeds would be lost.",
            f"Move {DRAWN} away, or put it back as it was. Nothing was written.",
            file=DRAWN,
        ) from None
