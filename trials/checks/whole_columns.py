"""A whole column in another unit: every loaf agrees with every other, and all of them lie where no
bread is.

Slips of single cells are found beside the other loaves (``slips``); where all cells share the slip,
only what bread can be tells it. What bread can be is common practice, no source, and wide; what it
usually is stands in ``columns``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd

from ..columns import BY_NAME
from ..frozen import frozen
from ..reading.units import Unit, find_unit, quantity_of
from ..trial import Trial
from .check import Spot, check

# beyond these there is no bread: dough is about 0.9 mL/g
CAN_BE: dict[str, tuple[float, float]] = {
    "specific_volume": (0.8, 15),
    "dough_g": (1, 20_000),
    "loaf_g": (1, 20_000),
    "loaf_ml": (2, 100_000),
    "box_ml": (20, 200_000),
    "height_mm": (3, 600),
    "bake_loss_pct": (1, 45),
}
# else as in ``columns``
USUAL: dict[str, tuple[float, float]] = {"height_mm": (20, 400), "seed_ml": (30, 50_000)}
UNITS: dict[str, tuple[str, ...]] = {
    "mass": ("kg", "oz", "lb"),
    "volume": ("L", "cL", "dL", "in³"),
    "length": ("cm", "in", "m"),
    "time": ("h",),
}
WORDS = {
    "kg": "kilograms",
    "oz": "ounces",
    "lb": "pounds",
    "L": "litres",
    "cL": "centilitres",
    "dL": "decilitres",
    "in³": "cubic inches",
    "cm": "centimetres",
    "in": "inches",
    "m": "metres",
    "h": "hours",
}
MADE_OF_VOLUMES = ("loaf_ml", "box_ml", "seed_ml")
SEED_LEFT = (0.05, 0.95)  # seed left over / empty box, where the two are in one unit
EXCHANGED = "Mass and volume may stand in one another's column."
# height / cube root of volume below which a loaf is flatter than most flat breads
FLAT = 0.2
PARTED = 1000.0  # 1.500 is 1500 where a point parts thousands


@frozen
class Fit:
    """Columns that one other unit would bring to where bread is."""

    columns: tuple[str, ...]
    unit: Unit


@check(
    "column-unit",
    "error",
    "Every loaf would be wrong alike, so that the answer looks right and is not.",
)
def columns_in_another_unit(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Is no whole column in another unit?"""
    told = False
    if "specific_volume" in loaves and most_outside(
        loaves["specific_volume"], CAN_BE["specific_volume"]
    ):
        yield _impossible_volumes(loaves, trial)
        told = True
    for name in (
        "dough_g",
        "loaf_g",
        "loaf_ml",
        "box_ml",
        "height_mm",
        "proof_min",
        "bake_loss_pct",
    ):
        if (
            name not in loaves
            or name not in trial.headers
            or (told and name in ("loaf_g", "loaf_ml", "box_ml"))
        ):
            continue
        values = loaves[name]
        bounds = CAN_BE.get(name) if _is_settled(name, loaves, trial) else _usual(name)
        positive = values[values > 0]
        if bounds and most_outside(positive, bounds):
            fits = [
                unit
                for unit in _units(name)
                if not most_outside(unit.to_canonical(positive), _usual(name))
            ]
            if fits:
                yield _spot(
                    loaves, trial, (name,), fits, values, f"values of {BY_NAME[name].label.lower()}"
                )
    if not told and "seed_ml" in trial.headers and {"box_ml", "seed_ml"} <= set(loaves.columns):
        yield from _seed_beside_box(loaves, trial)


@check(
    "height-flat",
    "warning",
    "The height may be in centimetres or inches.",
    needs=["height_mm", "loaf_ml"],
    after=["column-unit"],
)
def heights_too_flat(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Do heights suit the volumes?"""
    shape = loaves["height_mm"] / (1000 * loaves["loaf_ml"].where(loaves["loaf_ml"] > 0)) ** (1 / 3)
    if most_outside(shape, (FLAT, 5.0)) and shape.median() < FLAT:
        yield Spot(
            message=(
                f"Heights such as {loaves['height_mm'].dropna().iloc[0]:g} mm are very low for"
                " loaves of such a volume."
            ),
            column="height_mm",
            rows=loaves.loc[shape < FLAT, "line"],
            fix=(
                "Look whether the heights are in cm; write the unit in the header, such as  Height"
                " (cm)"
            ),
        )


def most_outside(values: pd.Series, bounds: tuple[float, float]) -> bool:
    """Return whether more than half of the values that are there lie outside the bounds."""
    there = values.to_numpy(dtype=float)
    there = there[np.isfinite(there)]
    outside = (there < bounds[0]) | (there > bounds[1])
    return len(there) > 0 and bool(outside.mean() > 0.5)


def _usual(name: str) -> tuple[float, float]:
    column = BY_NAME[name]
    return USUAL.get(name, (column.low or 0.0, column.high or np.inf))


def _units(name: str) -> list[Unit]:
    if name == "bake_loss_pct":
        return [Unit("share of 1", "share", 100.0)]
    quantity = quantity_of(BY_NAME[name].unit)
    return [unit for symbol in UNITS.get(quantity or "", ()) if (unit := find_unit(symbol))]


def _is_settled(name: str, loaves: pd.DataFrame, trial: Trial) -> bool:
    """Return whether the file or the card states the unit, or a believable specific volume speaks
    for it.
    """
    if name in trial.stated_units:
        return True
    if name not in ("loaf_g", "loaf_ml") or "specific_volume" not in loaves:
        return False
    return not most_outside(loaves["specific_volume"], (1.5, 8.0))


def _impossible_volumes(loaves: pd.DataFrame, trial: Trial) -> Spot:
    """Return what is said of specific volumes that no bread has, with the unit that would make
    bread of them.
    """
    values = loaves["specific_volume"]
    small = float(values.median()) < CAN_BE["specific_volume"][0]
    n = int(values.notna().sum())
    fits = [
        fit
        for columns in _sources(loaves, trial)
        for unit in _units(columns[0])
        if not most_outside(_again(loaves, fit := Fit(columns, unit)), (1.5, 8.0))
        and _believable(loaves, fit)
    ]
    exchanged = {"loaf_g", "loaf_ml"} <= set(loaves.columns) and not most_outside(
        loaves["loaf_g"] / loaves["loaf_ml"], (1.5, 8.0)
    )
    if fits:
        first = [fit for fit in fits if fit.columns == fits[0].columns]
        return _spot(
            loaves,
            trial,
            first[0].columns,
            [fit.unit for fit in first],
            values,
            f"specific volumes ({_range(values)} mL/g)",
            values.median() / _again(loaves, first[0]).median(),
            EXCHANGED if exchanged else "",
        )
    why = EXCHANGED if exchanged else "No unit that is known here makes bread of them."
    return Spot(
        message=(
            f"{_all(n, len(values))} specific volumes are {_range(values)} mL/g, too "
            f"{'small' if small else 'large'} for any bread. {why}"
        ),
        column="specific_volume",
        rows=loaves["line"],
        fix=(
            "Look in which units mass and volume were written, and which column is "
            "which; write the units in the headers, such as  Weight (g)"
        ),
    )


def _sources(loaves: pd.DataFrame, trial: Trial) -> list[tuple[str, ...]]:
    """Return the columns that one unit may have gone wrong in, those first whose header states
    none.
    """
    if not {"loaf_g", "loaf_ml"} <= set(loaves.columns):
        return []  # a specific volume that was typed in
    volumes = tuple(name for name in MADE_OF_VOLUMES if name in trial.headers)
    by_box = "box_ml" in volumes and "seed_ml" in volumes
    ways = [("box_ml", "seed_ml"), ("seed_ml",), ("box_ml",)] if by_box else []
    ways += [] if by_box else [("loaf_ml",)]
    ways += [("loaf_g",)] if "loaf_g" in trial.headers else []
    return sorted(ways, key=lambda way: sum(name in trial.stated_units for name in way))


def _again(loaves: pd.DataFrame, fit: Fit) -> pd.Series:
    """Return the specific volumes as they would be, had these columns been in the unit."""
    table = loaves.assign(**{name: fit.unit.to_canonical(loaves[name]) for name in fit.columns})
    boxed = set(fit.columns) & {"box_ml", "seed_ml"}
    volume = table["box_ml"] - table["seed_ml"] if boxed else table["loaf_ml"]
    return volume / table["loaf_g"]


def _believable(loaves: pd.DataFrame, fit: Fit) -> bool:
    values = {name: fit.unit.to_canonical(loaves[name]) for name in fit.columns}
    if {"box_ml", "seed_ml"} & set(values):
        table = loaves.assign(**values)
        return not most_outside(table["seed_ml"] / table["box_ml"], SEED_LEFT)
    return all(not most_outside(column, _usual(name)) for name, column in values.items())


def _seed_beside_box(loaves: pd.DataFrame, trial: Trial) -> Iterator[Spot]:
    """Yield a spot where seed and box are in two units, though their difference looks like
    bread.
    """
    share = loaves["seed_ml"] / loaves["box_ml"]
    if "seed_ml" in trial.stated_units or not most_outside(
        share[loaves["seed_ml"] > 0], (0.01, 100.0)
    ):
        return
    fits = [
        unit for unit in _units("seed_ml") if not most_outside(unit.to_canonical(share), SEED_LEFT)
    ]
    if fits:
        yield _spot(
            loaves, trial, ("seed_ml",), fits, loaves["seed_ml"], "volumes of seed left over"
        )


def _spot(
    loaves: pd.DataFrame,
    trial: Trial,
    columns: Sequence[str],
    fits: Sequence[Unit],
    values: pd.Series,
    what: str,
    off: float = np.nan,
    more: str = "",
) -> Spot:
    """Return what is said of columns that another unit would fit; ``off`` is by how much, where it
    is not the unit.
    """
    unit = fits[0]
    headers = [trial.headers.get(name, name) for name in columns]
    words = " or ".join(WORDS.get(one.symbol, one.symbol) for one in fits)
    n = int(values.notna().sum())
    named = " and ".join(f"{header!r}" for header in headers)
    bare = [
        BY_NAME[name].label if header == name else header.split("(")[0].strip()
        for name, header in zip(columns, headers, strict=True)
    ]
    write = "  ".join(
        f'{name} = "{text.split("(")[0].strip()} ({unit.symbol})"'
        for name, text in zip(columns, headers, strict=True)
    )
    fix = (
        f"Write the unit in the header, such as  {bare[0]} ({unit.symbol})  or on the card under"
        f" [columns]:  {write}"
        if unit.symbol in WORDS
        else f"Write {named} in percent."
    )
    if unit.factor == PARTED and set(columns) & trial.stated_units:
        words += ", or a point that parts thousands,"
        fix = f"Write 1500 where 1.500 means that. {fix}"
    by = _times(off if off > 0 else 1 / unit.factor)
    said = f"{_all(n, len(values))} {what} are about {by}: {words} under {named}? {more}"
    return Spot(message=said.rstrip(), column=columns[0], rows=loaves["line"], fix=fix)


def _all(n: int, of: int) -> str:
    return f"All {n}" if n == of else f"Most of {n}"


def _times(ratio: float) -> str:
    """Return how far off something is: ``1,000 times too small``."""
    by, way = (1 / ratio, "small") if ratio < 1 else (ratio, "large")
    return f"{round(by, -int(np.floor(np.log10(by))) + 1):,g} times too {way}"


def _range(values: pd.Series) -> str:
    low, high = (f"{values.min():.3g}", f"{values.max():.3g}")
    return low if low == high else f"{low} to {high}"
