"""From files to a Trial: find them, read them, give columns their names and units, and work out the measures."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pandas as pd

from . import measures
from .card import FILE, TrialCard, read_card
from .columns import BY_NAME, CRUMB_PREFIX
from .formula import flour_share
from .trial import Trial, TrialError

FACTOR_COLUMNS = ("formula", "tin", "proof_min", "oven_place")
MOST_LEVELS_OF_A_NUMBER = 6


def load_trial(path: str | Path = ".", *, sheet: str | None = None) -> Trial:
    """Return the trial in a folder, or in a single file of loaves, when nothing in its records stops an analysis.

    ``sheet`` names the sheet of loaves in a workbook; it is found by its headers otherwise.

    Raises
    ------
    TrialError: the records cannot be read, or hold errors; lists every one, each with its fix.
    """
    trial = read_trial(path, sheet=sheet)
    if trial.errors:
        raise TrialError(trial.errors)
    return trial


def read_trial(path: str | Path = ".", *, sheet: str | None = None) -> Trial:
    """Return the trial with all that reading and the checks found, errors included (what ``fairloaf check`` shows).

    Raises
    ------
    TrialError: a file or the card cannot be read at all.
    """
    path = Path(path)
    folder = path if path.is_dir() else None
    card_text = (path / FILE).read_text("utf-8") if folder and (path / FILE).exists() else ""
    card = read_card(card_text) if card_text else TrialCard()
    file = path / "loaves.csv" if folder else path
    if not file.exists():
        raise TrialError.one("no-file", f"There is no {file.name}.", "Give a trial's folder or a file of loaves.")
    raw = file.read_bytes()
    loaves = _loaves(pd.read_csv(file, dtype=str), card)
    scores = pd.read_csv(path / "scores.csv") if folder and (path / "scores.csv").exists() else None
    return Trial(
        name=path.resolve().stem, card=card, loaves=loaves, scores=scores, factors=planned_factors(loaves, card),
        sources={file.name: hashlib.sha256(raw).hexdigest()},
    )


def _loaves(raw: pd.DataFrame, card: TrialCard) -> pd.DataFrame:
    named = raw.rename(columns={header: name for name, header in card.columns.items()})
    loaves = named.copy()
    for name in loaves.columns:
        numbers = pd.to_numeric(loaves[name], errors="coerce")
        known = BY_NAME.get(name)
        is_number = known.kind == "number" if known else numbers.notna().sum() == loaves[name].notna().sum() > 0
        if is_number or name.startswith(CRUMB_PREFIX):
            loaves[name] = numbers.astype(float)
    loaves["line"] = range(2, len(loaves) + 2)
    return with_measures(loaves, card)


def with_measures(loaves: pd.DataFrame, card: TrialCard) -> pd.DataFrame:
    """Return the loaves with every measure that their columns allow."""
    table = loaves.copy()
    have = table.columns.union(["line"])
    if "loaf_ml" not in have and {"box_ml", "seed_ml"} <= set(have):
        table["loaf_ml"] = measures.volume_by_displacement(table["box_ml"], table["seed_ml"])
    if {"loaf_ml", "loaf_g"} <= set(table.columns):
        table["specific_volume"] = measures.specific_volume(table["loaf_ml"], table["loaf_g"])
        table["air_fraction"] = measures.air_fraction(table["loaf_ml"], table["loaf_g"])
    if {"dough_g", "loaf_g"} <= set(table.columns):
        table["bake_loss_pct"] = measures.bake_loss_pct(table["dough_g"], table["loaf_g"])
    if {"formula", "loaf_ml", "dough_g"} <= set(table.columns) and card.formulas:
        share = table["formula"].map({name: flour_share(parts) for name, parts in card.formulas.items()})
        table["volume_per_100g_flour"] = measures.volume_per_100g_flour(table["loaf_ml"], table["dough_g"], share)
    return table


def planned_factors(loaves: pd.DataFrame, card: TrialCard) -> tuple[str, ...]:
    """Return what was changed on purpose: the card's factors, or the usual columns that vary when it is silent."""
    if card.factors:
        return tuple(card.factors)
    varied = []
    for name in FACTOR_COLUMNS:
        if name not in loaves or (name == "proof_min" and card.proof_to == "height"):
            continue
        counts = loaves[name].value_counts()
        is_number = loaves[name].dtype.kind == "f"
        if len(counts) > 1 and not (is_number and (len(counts) > MOST_LEVELS_OF_A_NUMBER or counts.min() < 2)):
            varied.append(name)
    return tuple(varied)
