"""Six new users with a spreadsheet each, from the sheet to every page. The bakes are invented."""

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.answers import compare_formulas
from fairloaf.analysis.report import AUDIENCES
from fairloaf.analysis.report.sections import report_for
from fairloaf.analysis.report.summary import summarise
from fairloaf.trials import read_trial
from fairloaf.trials.writing.mending import write_mended
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


def a_class_asks_twice() -> pd.DataFrame:
    """Eight tables, three recipes side by side in columns named after what was added; a total row
    below.
    """
    rng = np.random.default_rng(77)
    rows: list[tuple[object, ...]] = []
    for table in range(1, 9):
        masses = rng.normal(252, 2, 3).round()
        rise = np.array([3.6, 3.85, 3.65]) + rng.normal(0, 0.08) + rng.normal(0, 0.08, 3)
        rows.append((table, *masses, *(masses * rise).round()))
    rows.append(("Total", *[""] * 6))
    recipes = ("plain", "with honey", "with lecithin")
    return pd.DataFrame(
        rows,
        columns=[
            "Table",
            *(f"Weight {name} (g)" for name in recipes),
            *(f"Volume {name} (ml)" for name in recipes),
        ],
    )


def une_boulangerie() -> pd.DataFrame:
    """Three recipes in two ovens on four days, in French, litres and decimal commas."""
    rng = np.random.default_rng(78)
    rows = []
    for day in range(4, 8):
        for k, recipe in enumerate(("Témoin", "70 % hydratation", "Avec levain")):
            shift = rng.normal(0, 0.06)
            for oven in ("sole", "rotatif") * 2:
                mass = round(430 + rng.normal(0, 2))
                rise = 3.9 + 0.2 * k + shift - 0.25 * (oven == "sole") + rng.normal(0, 0.07)
                litres = f"{mass * rise / 1000:.3f}".replace(".", ",")
                rows.append(
                    (len(rows) + 1, f"{day}/03/2026", f"{day}{k}", recipe, oven, mass, litres)
                )
    heads = ["N° pain", "Jour de cuisson", "Pétrissée", "Recette", "Four", "Poids cuit (g)"]
    return pd.DataFrame(rows, columns=[*heads, "Volume (l)"])


def yes_or_no() -> pd.DataFrame:
    """Malt or none over six weekends, volumes from a box and the seed left over."""
    rng = np.random.default_rng(79)
    rows = []
    for weekend in range(1, 7):
        for i, malt in enumerate(("No", "Yes")):
            mass = round(820 + rng.normal(0, 5))
            seed = round(4200 - mass * (3.1 + 0.28 * i + rng.normal(0, 0.08)))
            rows.append((weekend, 2 * weekend + i - 1, malt, mass, 4200, seed))
    heads = ["Weekend", "Bread", "Malt", "Baked (g)", "Empty box ml", "Seed left ml"]
    return pd.DataFrame(rows, columns=heads)


CASES = [
    (
        a_class_asks_twice,
        {},
        "specific_volume",
        24,
        ("“with honey” loaves", "“with lecithin” loaves"),
    ),
    (une_boulangerie, {}, "specific_volume", 48, ("Avec levain loaves", "“70 % hydratation”")),
    (
        yes_or_no,
        {"Malt": "formula"},
        "specific_volume",
        12,
        ("“Yes” loaves were bigger than “No”",),
    ),
    (class_of_eight_tables, {}, "specific_volume", 16, ("Honey loaves were bigger", "softness")),
    (three_formulas_in_two_ovens, {}, "specific_volume", 48, ("Malz",)),
    (six_weekends, {"When baked": "day"}, "height_mm", 12, ("Rye mix loaves were shorter",)),
]


@pytest.mark.usefixtures("unprinted")
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
    for audience in AUDIENCES:
        text = str(report_for(summary, audience)).lower()
        assert "not answered" not in text, audience
        named = said[:1] if audience == "wall" else said
        assert all(words.lower() in text for words in named), (audience, summary.answer)
    if "oven" in trial.loaves:
        assert "oven" in summary.comparison.fairness.table.set_index("condition").index
        assert (
            summary.comparison.fairness.table.set_index("condition").loc["oven", "handled"]
            == "in the model"
        )


TOTALS = {
    "de": ("Summe", "Mittelwert", "Brot Nr.;Backtag;Teig;Rezept;Gewicht gebacken (g);Volumen (ml)"),
    "fr": (
        "Total",
        "Moyenne par pain",
        "N° pain;Jour;Pétrissée;Recette;Poids cuit (g);Volume (ml)",
    ),
    "es": ("Suma", "Media", "Pan;Fecha;Amasado;Receta;Peso del pan (g);Volumen (ml)"),
    "it": ("Totale complessivo", "Media", "Pane;Giorno;Impasto;Ricetta;Peso pane (g);Volume (ml)"),
    "nl": ("Totaal", "Gemiddelde", "Brood;Bakdag;Deeg;Recept;Broodgewicht (g);Volume (ml)"),
}


@pytest.mark.parametrize("language", TOTALS)
def test_totals_in_another_language_are_told_mended_away_and_then_answered(language, tmp_path):
    total, mean, head = TOTALS[language]
    rng = np.random.default_rng(80)
    rows = [
        (loaf + 1, loaf // 4, f"T{loaf // 2}", "AB"[loaf // 2 % 2], 402 + loaf % 5, 1600)
        for loaf in range(16)
    ]
    rows = [
        (*row[:5], round(row[4] * (4 + 0.2 * (row[3] == "B") + rng.normal(0, 0.05))))
        for row in rows
    ]
    own = np.array([row[4:] for row in rows], dtype=float)
    below = [(total, *own.sum(axis=0)), (mean, *own.mean(axis=0).round(1))]
    lines = [head, *(";".join(map(str, row)) for row in rows)]
    lines += [f"{label};;;;{mass};{volume}".replace(".", ",") for label, mass, volume in below]
    (tmp_path / "sheet.csv").write_text("\n".join(lines), "utf-8")
    (told,) = read_trial(tmp_path / "sheet.csv").errors
    assert (told.code, told.rows) == ("row-of-totals", (18, 19))
    write_mended(tmp_path / "sheet.csv", tmp_path / "mended.csv")
    begun = start_from(tmp_path / "trial", tmp_path / "mended.csv")
    assert begun.trial.errors == ()
    assert len(begun.trial.loaves) == 16
    assert compare_formulas(begun.trial).difference == pytest.approx(0.2, abs=0.12)
