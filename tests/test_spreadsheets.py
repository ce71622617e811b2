"""Spreadsheets of newcomers in six languages and every wide form: read right, or refused with the
reason.

Every bake here is invented. Each sheet holds the same 16 loaves; whatever it looks like, the loaves
that are read must be those loaves, or the sheet must be refused in words that say what is wrong.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials.loading import read_trial
from fairloaf.trials.writing.starting_from import start_from

# In the order of LONG: loaf, mix, day, formula, dough mass, baked mass, loaf volume, height, note.
HEADERS = {
    "en": [
        "Loaf no.",
        "Dough batch",
        "Bake day",
        "Recipe",
        "Weight before",
        "Weight after",
        "Volume",
        "Height",
        "Remarks",
    ],
    "de": [
        "Brot Nr.",
        "Teig",
        "Backtag",
        "Rezept",
        "Teigeinlage",
        "Gewicht nach dem Backen",
        "Volumen",
        "Höhe",
        "Bemerkung",
    ],
    "fr": [
        "N° pain",
        "Pétrissée",
        "Jour",
        "Recette",
        "Poids du pâton",
        "Poids après cuisson",
        "Volume du pain",
        "Hauteur",
        "Remarques",
    ],
    "es": [
        "Pan",
        "Amasado",
        "Fecha",
        "Receta",
        "Peso masa",
        "Peso del pan",
        "Volumen",
        "Altura",
        "Observaciones",
    ],
    "it": [
        "Numero",
        "Impasto",
        "Giorno",
        "Ricetta",
        "Peso impasto",
        "Peso dopo la cottura",
        "Volume pane",
        "Altezza",
        "Note",
    ],
    "nl": [
        "Broodnummer",
        "Deeg",
        "Bakdag",
        "Recept",
        "Deeggewicht",
        "Gewicht na het bakken",
        "Volume",
        "Hoogte",
        "Opmerking",
    ],
}
LONG = ["loaf", "mix", "day", "formula", "dough_g", "loaf_g", "loaf_ml", "height_mm", "note"]
TABLE = {"en": "Table", "de": "Tisch", "fr": "Équipe", "es": "Mesa", "it": "Tavolo", "nl": "Tafel"}
FORMULAS = ("plain", "honey")


def loaves() -> pd.DataFrame:
    """Return 16 loaves: 8 mixes, two formulas on each of four days, two loaves a mix."""
    rng = np.random.default_rng(11)
    rows = []
    for mix in range(8):
        for place in range(2):
            mass = round(402 + rng.normal(0, 3), 1)
            rows.append(
                (
                    2 * mix + place + 1,
                    f"M{mix + 1}",
                    f"d{mix // 2 + 1}",
                    FORMULAS[mix % 2],
                    round(460 + rng.normal(), 1),
                    mass,
                    round(mass * (4 + 0.2 * (mix % 2) + rng.normal(0, 0.05))),
                    round(118 + rng.normal(0, 3)),
                    "",
                )
            )
    return pd.DataFrame(rows, columns=LONG)


def one_a_formula() -> pd.DataFrame:
    """Return the first loaf of every mix: a row a table, a column a formula, is made of these."""
    return loaves().iloc[::2].reset_index(drop=True)


def named(table: pd.DataFrame, language: str) -> pd.DataFrame:
    return table.rename(columns=dict(zip(LONG, HEADERS[language], strict=True)))


def by_formula(language: str, pattern: str = "{measure} {level}") -> pd.DataFrame:
    """Return a row a table with a mass and a volume for each formula."""
    table, name = one_a_formula(), dict(zip(LONG, HEADERS[language], strict=True))
    wide = pd.DataFrame({TABLE[language]: range(1, 5)})
    for measure in ("loaf_g", "loaf_ml"):
        for level in FORMULAS:
            values = table.loc[table["formula"] == level, measure].to_numpy()
            wide[pattern.format(measure=name[measure], level=level)] = values
    return wide


def by_loaf(language: str) -> pd.DataFrame:
    """Return a row a mix with the masses and volumes of its two loaves beside one another."""
    name = dict(zip(LONG, HEADERS[language], strict=True))
    first, second = (
        loaves().iloc[::2].reset_index(drop=True),
        loaves().iloc[1::2].reset_index(drop=True),
    )
    wide = first[["mix", "day", "formula"]].rename(columns=name)
    for measure in ("loaf_g", "loaf_ml"):
        wide[f"{name[measure]} 1"], wide[f"{name[measure]} 2"] = first[measure], second[measure]
    return wide


def with_assessors(language: str) -> pd.DataFrame:
    """Return a row a loaf with a column of scores for each of three people."""
    table = named(loaves().drop(columns="note").assign(note=""), language)
    return table.assign(
        Ana=[3 + i % 5 for i in range(16)], Ben=[4 + i % 4 for i in range(16)], Cem=[5] * 16
    )


def write(table: pd.DataFrame, folder, form: str):
    file = folder / f"sheet.{'xlsx' if form == 'xlsx' else 'csv'}"
    if form == "xlsx":
        table.to_excel(file, index=False)
    elif form == "turned":
        table.T.to_csv(file, header=False)
    elif form == "semicolons":
        table.to_csv(file, index=False, sep=";", decimal=",")
    else:
        table.to_csv(file, index=False)
    return file


def begun(table: pd.DataFrame, folder, form: str = "csv"):
    file = write(table, folder, form)
    before = file.read_bytes()
    started = start_from(folder / "trial", file)
    assert file.read_bytes() == before
    assert started.trial is not None, started.stopped
    assert [f for f in read_trial(folder / "trial").findings if f.severity == "error"] == []
    return started


def same(read: pd.DataFrame, expected: pd.DataFrame, columns) -> None:
    """Assert that the loaves read are those expected, whatever their order."""

    def rows(table: pd.DataFrame) -> list[tuple]:
        return sorted(
            tuple(round(v, 6) if isinstance(v, float) else v for v in row)
            for row in (
                table[list(columns)]
                .astype({c: float for c in columns if c != "formula"})
                .to_numpy()
            )
        )

    assert rows(read) == rows(expected)


@pytest.mark.parametrize("form", ["csv", "semicolons", "turned"])
@pytest.mark.parametrize("language", HEADERS)
def test_a_row_a_loaf(language, form, tmp_path):
    trial = begun(named(loaves(), language), tmp_path, form).trial
    same(trial.loaves, loaves(), ["formula", "dough_g", "loaf_g", "loaf_ml", "height_mm"])
    assert trial.loaves["mix"].nunique() == 8
    assert trial.loaves["day"].nunique() == 4
    assert trial.loaves["loaf"].astype(str).tolist() == [str(n) for n in range(1, 17)]


@pytest.mark.parametrize("language", HEADERS)
def test_units_in_headers_and_kilograms(language, tmp_path):
    table = loaves()
    table["loaf_g"] /= 1000
    name = dict(zip(LONG, HEADERS[language], strict=True))
    trial = begun(
        table.rename(columns=name).rename(columns={name["loaf_g"]: name["loaf_g"] + " (kg)"}),
        tmp_path,
    ).trial
    same(trial.loaves, loaves(), ["formula", "loaf_g", "loaf_ml"])


@pytest.mark.parametrize(
    "pattern", ["{measure} {level}", "{level} {measure}", "{measure} ({level})"]
)
@pytest.mark.parametrize("language", HEADERS)
def test_a_row_a_table_with_a_column_a_formula(language, pattern, tmp_path):
    trial = begun(by_formula(language, pattern), tmp_path).trial
    same(trial.loaves, one_a_formula(), ["formula", "loaf_g", "loaf_ml"])
    assert trial.loaves["table"].nunique() == 4
    assert trial.factors == ("formula",)


@pytest.mark.parametrize("language", HEADERS)
def test_a_row_a_mix_with_a_column_a_loaf(language, tmp_path):
    trial = begun(by_loaf(language), tmp_path).trial
    same(trial.loaves, loaves(), ["formula", "loaf_g", "loaf_ml"])
    assert trial.loaves["mix"].nunique() == 8
    assert trial.loaves["loaf"].nunique() == 16


@pytest.mark.parametrize("language", HEADERS)
def test_a_row_a_loaf_with_a_column_an_assessor(language, tmp_path):
    trial = begun(with_assessors(language), tmp_path).trial
    same(trial.loaves, loaves(), ["formula", "loaf_g", "loaf_ml"])
    assert len(trial.scores) == 48
    assert set(trial.scores["assessor"]) == {"Ana", "Ben", "Cem"}


@pytest.mark.parametrize("language", HEADERS)
def test_a_workbook(language, tmp_path):
    trial = begun(named(loaves(), language), tmp_path, "xlsx").trial
    same(trial.loaves, loaves(), ["formula", "dough_g", "loaf_g", "loaf_ml"])


@pytest.mark.parametrize("language", HEADERS)
def test_a_wide_sheet_without_a_card_gets_no_answer_and_no_all_clear(language, tmp_path):
    for at, table in enumerate((by_formula(language), by_loaf(language))):
        file = tmp_path / f"sheet{at}.csv"
        table.to_csv(file, index=False)
        found = read_trial(file).findings
        assert any(f.severity == "error" or f.code == "header-not-used" for f in found)


def test_bare_levels_with_a_unit_and_days_as_columns(tmp_path):
    table = by_formula("en", "{level} {measure}").rename(
        columns={
            "plain Weight after": "plain (g)",
            "honey Weight after": "honey (g)",
            "plain Volume": "plain (mL)",
            "honey Volume": "honey (mL)",
        }
    )
    same(begun(table, tmp_path).trial.loaves, one_a_formula(), ["formula", "loaf_g", "loaf_ml"])


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (
            "What,1,2,3\nformula,a,b,a\nweight after,400,410,402\nvolume,1600,1700,1650\n",
            "sheet-turned",
        ),
        ("alpha,beta,gamma\n1,2,3\n4,5,6\n", "no-known-header"),
    ],
)
def test_what_cannot_be_read_is_refused_with_the_reason(text, code, tmp_path):
    from fairloaf.trials import TrialError

    (tmp_path / "x.csv").write_text(text, "utf-8")
    with pytest.raises(TrialError) as stop:
        read_trial(tmp_path / "x.csv")
    assert stop.value.findings[0].code == code
    assert stop.value.findings[0].fix
