"""Three new users with a spreadsheet each, from the sheet to every page. The bakes are invented."""

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.trials.writing.starting_from import start_from


def class_of_eight_tables() -> pd.DataFrame:
    """A row a table; mass, volume and softness of the plain and the honey bread side by side."""
    rng = np.random.default_rng(1)
    rows = []
    for table in range(1, 9):
        masses = rng.normal(400, 4, 2).round()
        volumes = (masses * np.array([3.9, 4.3]) * np.exp(rng.normal(0, 0.02, 2))).round()
        rows.append((table, *masses, *volumes, *rng.integers(2, 6, 2)))
    return pd.DataFrame(
        rows,
        columns=[
            "Table",
            "Weight plain (g)",
            "Weight honey (g)",
            "Volume plain (ml)",
            "Volume honey (ml)",
            "Softness plain",
            "Softness honey",
        ],
    )


def three_formulas_in_two_ovens() -> pd.DataFrame:
    """A German bakery: three formulas, a dough of each on four days, its loaves in two ovens;
    volumes in litres.
    """
    rng = np.random.default_rng(2)
    rows = []
    for day in range(1, 5):
        for place, recipe in enumerate(("Haus", "Malz", "Dinkel")):
            shift = rng.normal(0, 0.08)
            for loaf in range(4):
                mass = 750 + rng.normal(0, 4)
                rise = 3.6 + 0.3 * (place == 1) + shift + 0.4 * (loaf % 2) + rng.normal(0, 0.07)
                rows.append(
                    (
                        f"Tag {day}",
                        f"T{day}{place}",
                        recipe,
                        ["Etagenofen", "Stikken"][loaf % 2],
                        f"{mass:.0f}",
                        f"{mass * rise / 1000:.3f}".replace(".", ","),
                    )
                )
    return pd.DataFrame(
        rows, columns=["Backtag", "Teig", "Rezept", "Ofen", "Gewicht gebacken (g)", "Volumen (l)"]
    )


def six_weekends() -> pd.DataFrame:
    """A home baker: two recipes each weekend, one loaf of each, with height in cm and no volume."""
    rng = np.random.default_rng(3)
    rows = []
    for weekend in range(1, 7):
        for recipe in ("white", "rye mix"):
            rows.append(
                (
                    f"weekend {weekend}",
                    recipe,
                    905,
                    round(800 + rng.normal(0, 6)),
                    round(11.5 + rng.normal(0, 0.3) - (recipe != "white"), 1),
                )
            )
    return pd.DataFrame(
        rows, columns=["When baked", "Recipe", "Dough weight (g)", "Loaf weight (g)", "Height (cm)"]
    )


CASES = [
    (class_of_eight_tables, {}, "specific_volume", 16, ("Honey loaves were bigger", "softness")),
    (three_formulas_in_two_ovens, {}, "specific_volume", 48, ("Malz",)),
    (six_weekends, {"When baked": "day"}, "height_mm", 12, ("Rye mix loaves were shorter",)),
]


@pytest.mark.parametrize(
    ("sheet", "named", "measure", "n", "said"), CASES, ids=[case[0].__name__ for case in CASES]
)
def test_from_the_sheet_to_every_page(sheet, named, measure, n, said, tmp_path):
    file = tmp_path / "sheet.csv"
    sheet().to_csv(file, index=False, sep=";")
    begun = start_from(tmp_path / "trial", file, named)
    assert begun.trial is not None, begun.stopped
    assert begun.trial.errors == ()
    assert begun.proposal.unplaced == {}
    assert begun.trial.card.measure == measure or measure in begun.trial.loaves
    trial = begun.trial
    if measure == "height_mm":
        from dataclasses import replace

        trial = replace(trial, card=trial.card.asking(measure))
    assert len(trial.loaves) == n
    summary = summarise(trial)
    for audience in ("class", "bakery", "record"):
        text = str(report_for(summary, audience))
        assert "Not answered" not in text, audience
        assert all(words in text for words in said), (audience, summary.answer)
    if "oven" in trial.loaves:
        assert "oven" in summary.comparison.fairness.table.set_index("condition").index
        assert (
            summary.comparison.fairness.table.set_index("condition").loc["oven", "handled"]
            == "in the model"
        )
