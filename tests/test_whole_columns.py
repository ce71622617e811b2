"""A whole column in another unit is refused with the unit that would fit, and settled by the header
or the card.
"""

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials.loading import read_trial
from fairloaf.trials.reading.units import find_unit

NAMES = {
    "box_ml": "Box",
    "seed_ml": "Seeds",
    "loaf_ml": "Volume",
    "loaf_g": "Weight after",
    "height_mm": "Height",
    "dough_g": "Weight before",
    "proof_min": "Proof",
}


def bake(*, boxed: bool = True) -> pd.DataFrame:
    """Return 24 invented loaves of two formulas; no header says a unit."""
    rng = np.random.default_rng(3)
    rows = []
    for place in range(24):
        mass = 420 + rng.normal(0, 3)
        volume = mass * (4 + 0.2 * (place // 3 % 2) + rng.normal(0, 0.08))
        rows.append(
            (
                place,
                f"day {place // 6}",
                f"mix {place // 3}",
                "ab"[place // 3 % 2],
                470 + rng.normal(),
                mass,
                4500,
                4500 - volume,
                volume,
                115 + rng.normal(0, 3),
                60,
            )
        )
    columns = [
        "Loaf",
        "Day",
        "Mix",
        "Formula",
        "Weight before",
        "Weight after",
        "Box",
        "Seeds",
        "Volume",
        "Height",
        "Proof",
    ]
    return (
        pd.DataFrame(rows, columns=columns)
        .drop(columns="Volume" if boxed else ["Box", "Seeds"])
        .round(1)
    )


def read(table: pd.DataFrame, folder, card: str = ""):
    table.to_csv(folder / "loaves.csv", index=False)
    (folder / "trial.toml").write_text(card, "utf-8")
    trial = read_trial(folder)
    return trial, [f for f in trial.findings if f.severity == "error"]


@pytest.fixture(scope="module")
def as_baked(tmp_path_factory):
    """Return the loaves in our units, with a box and without one, each read once."""
    return {
        boxed: read(bake(boxed=boxed), tmp_path_factory.mktemp("right")) for boxed in (True, False)
    }


CASES = [
    (True, ("box_ml", "seed_ml"), "L", "litres"),
    (True, ("seed_ml",), "L", "litres"),
    (True, ("box_ml",), "L", "litres"),
    (True, ("box_ml", "seed_ml"), "cL", "centilitres"),
    (True, ("box_ml", "seed_ml"), "dL", "decilitres"),
    (True, ("box_ml", "seed_ml"), "in³", "cubic inches"),
    (False, ("loaf_ml",), "L", "litres"),
    (False, ("loaf_ml",), "in³", "cubic inches"),
    (True, ("loaf_g",), "kg", "kilograms"),
    (True, ("loaf_g",), "oz", "ounces"),
    (False, ("loaf_g",), "lb", "pounds"),
    (True, ("dough_g",), "kg", "kilograms"),
    (True, ("dough_g", "loaf_g"), "oz", "ounces"),
    (True, ("height_mm",), "cm", "centimetres"),
    (True, ("height_mm",), "in", "inches"),
    (True, ("proof_min",), "h", "hours"),
    (False, ("loaf_g", "loaf_ml"), "kg L", "kilograms"),
]


@pytest.mark.parametrize(("boxed", "columns", "unit", "words"), CASES, ids=lambda v: str(v))
def test_a_column_in_another_unit_is_named_and_settled(
    as_baked, boxed, columns, unit, words, tmp_path
):
    right, none = as_baked[boxed]
    assert none == []
    units = dict(zip(columns, unit.split() * len(columns), strict=False))
    wrong = bake(boxed=boxed)
    for name, symbol in units.items():
        wrong[NAMES[name]] = wrong[NAMES[name]] / find_unit(symbol).factor
    _, errors = read(wrong, tmp_path)
    assert {e.code for e in errors} == {"column-unit"}
    assert words in " ".join(e.message for e in errors)
    card = "[columns]\n" + "\n".join(
        f'{name} = "{NAMES[name]} ({symbol})"' for name, symbol in units.items()
    )
    in_header = wrong.rename(
        columns={NAMES[name]: f"{NAMES[name]} ({symbol})" for name, symbol in units.items()}
    )
    for settled, errors in (read(in_header, tmp_path), read(wrong, tmp_path, card)):
        assert errors == []
        assert settled.loaves["specific_volume"].to_numpy() == pytest.approx(
            right.loaves["specific_volume"], rel=1e-6
        )


def test_columns_exchanged_or_impossible_are_refused(tmp_path):
    exchanged = bake(boxed=False).rename(
        columns={"Volume": "Weight after", "Weight after": "Volume"}
    )
    assert (
        "one another's column"
        in read(exchanged.drop(columns="Weight before"), tmp_path)[1][0].message
    )
    typed = bake()[["Loaf", "Mix", "Formula"]].assign(
        **{"Specific volume": np.linspace(0.2, 0.3, 24)}
    )
    assert "too small for any bread" in read(typed, tmp_path)[1][0].message


def test_small_breads_are_bread_and_a_stated_unit_is_believed(tmp_path):
    """Rolls of 13 g with a volume are believed; without one, only where the header says the
    unit.
    """
    rolls = bake(boxed=False).drop(columns=["Weight before", "Height"])
    rolls[["Weight after", "Volume"]] /= 32
    assert read(rolls, tmp_path)[1] == []
    alone = bake(boxed=False)[["Loaf", "Mix", "Formula", "Height"]].assign(Height=15)
    assert read(alone, tmp_path)[1][0].code == "column-unit"
    assert read(alone.rename(columns={"Height": "Height (mm)"}), tmp_path)[1] == []


def test_a_stated_height_too_flat_for_its_volume_is_a_warning(tmp_path):
    flat = bake().rename(columns={"Height": "height_mm"})
    flat["height_mm"] /= 10
    trial, errors = read(flat, tmp_path)
    assert errors == []
    assert "height-flat" in [f.code for f in trial.findings]
