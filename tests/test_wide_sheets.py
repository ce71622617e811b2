"""Sheets whose rows hold several things: what is one loaf, what is a reading of it, and what is no
loaf at all. The loaves are those of the newcomers' spreadsheets; nobody baked them.
"""

import openpyxl
import pandas as pd
import pytest
from fairloaf.analysis.wording.beginning import begun_text
from fairloaf.trials.loading import read_trial
from fairloaf.trials.writing.starting_from import start_from
from fairloaf.trials.writing.tidy import write_tidy

from .test_spreadsheets import loaves, one_a_formula, same

SAME = ("formula", "loaf_g", "loaf_ml")
PLAIN = {"loaf": "Loaf", "formula": "Formula", "loaf_g": "Weight after (g)", "loaf_ml": "Volume"}


def sheet(*names: str) -> pd.DataFrame:
    """Return columns of the loaves under headers of a clerk's, volumes in mL."""
    return loaves()[list(names or PLAIN)].rename(columns=PLAIN)


def begun(table: pd.DataFrame, folder, header: bool = True):
    table.to_csv(folder / "sheet.csv", index=False, header=header)
    return start_from(folder / "trial", folder / "sheet.csv")


def by_formula() -> pd.DataFrame:
    """Return table, mass of plain and honey, volume of plain and honey: a row a table."""
    one = one_a_formula()
    wide = [range(1, 5)] + [
        one.loc[one["formula"] == level, name].to_numpy()
        for name in ("loaf_g", "loaf_ml")
        for level in ("plain", "honey")
    ]
    return pd.DataFrame(dict(enumerate(wide)))


def errors(found) -> list[str]:
    return [f.code for f in found.findings if f.severity == "error"]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Volume 1 (ml)", "Volume 2 (ml)"),
        ("Reading 1 (ml)", "Reading 2 (ml)"),
        ("1. Messung (ml)", "2. Messung (ml)"),
        ("Volumen 1 (ml)", "Volumen 2 (ml)"),
    ],
)
def test_two_readings_of_a_loaf_are_no_two_loaves(one, other, tmp_path):
    table = sheet("loaf", "formula", "loaf_g").assign(
        **{one: loaves()["loaf_ml"] - 5, other: loaves()["loaf_ml"] + 5}
    )
    started = begun(table.assign(**{"Mean volume (ml)": loaves()["loaf_ml"]}), tmp_path)
    same(started.trial.loaves, loaves(), SAME)
    assert len(started.trial.readings) == 32
    assert started.proposal.wide.over == "reading"
    assert set(started.proposal.unplaced) == {"Mean volume (ml)"}
    said = begun_text(started, tmp_path / "sheet.csv")
    assert "The mean of each loaf's readings is its volume." in said
    assert errors(read_trial(tmp_path / "trial")) == []


def test_two_fillings_of_seed_with_one_box(tmp_path):
    seed = 4500 - loaves()["loaf_ml"]
    table = sheet("loaf", "formula", "loaf_g").assign(
        **{"Empty box (ml)": 4500, "Seed left 1 (ml)": seed - 5, "Seed left 2 (ml)": seed + 5}
    )
    same(begun(table, tmp_path).trial.loaves, loaves(), SAME)


@pytest.mark.parametrize(
    "more",
    [
        ("Length (cm)", "Width (cm)"),
        ("Tin + loaf (g)", "Tin (g)"),
        ("Flour (g)", "Water (g)"),
        ("Height left (mm)", "Height right (mm)"),
        ("Proof 1 (min)", "Proof 2 (min)"),
    ],
)
def test_two_columns_of_one_loaf_are_no_two_loaves(more, tmp_path):
    started = begun(sheet().assign(**{more[0]: 101.5, more[1]: 202.5}), tmp_path)
    assert started.proposal.wide is None
    same(started.trial.loaves, loaves(), SAME)
    assert set(more) <= set(started.proposal.unplaced)


@pytest.mark.parametrize("mean", ["mean", "average", "Mittel", "moyenne", "total", "SD"])
def test_a_mean_beside_its_columns_is_no_formula(mean, tmp_path):
    wide = by_formula().astype(float)
    wide.columns = [
        "Table",
        *(f"{m} {f}" for m in ("Weight", "Volume") for f in ("plain", "honey")),
    ]
    for name in ("Weight", "Volume"):
        wide[f"{name} {mean}"] = wide[[f"{name} plain", f"{name} honey"]].mean(axis=1)
    started = begun(wide, tmp_path)
    same(started.trial.loaves, one_a_formula(), SAME)
    assert set(started.proposal.unplaced) == {f"Weight {mean}", f"Volume {mean}"}


def test_a_name_of_two_words_is_one_level(tmp_path):
    wide = by_formula()
    names = (
        "Plain bread mass after",
        "Honey bread mass after",
        "Plain bread volume",
        "Honey bread volume",
    )
    wide.columns = ["Table", *names]
    trial = begun(wide, tmp_path).trial
    assert len(trial.loaves) == 8
    assert set(trial.loaves["formula"]) == {"Plain bread", "Honey bread"}


def test_softness_of_two_breads_is_no_column_an_assessor(tmp_path):
    table = pd.DataFrame({"Table": range(1, 7), "Softness plain": [3, 4, 3, 2, 3, 4]})
    started = begun(table.assign(**{"Softness honey": [4, 4, 5, 3, 4, 5]}), tmp_path)
    assert started.proposal.wide.over == "formula"
    assert set(started.trial.loaves["formula"]) == {"plain", "honey"}


@pytest.mark.parametrize(
    ("levels", "name"), [(("open", "lidded"), "tin"), (("steam", "dry"), None)]
)
def test_columns_that_differ_in_the_tin_or_in_something_else(levels, name, tmp_path):
    one, two = loaves().iloc[::2].reset_index(), loaves().iloc[1::2].reset_index()
    table = one[["day", "formula"]]
    for header, own in (("Weight", "loaf_g"), ("Volume", "loaf_ml")):
        for level, half in zip(levels, (one, two), strict=True):
            table = table.assign(**{f"{header} {level}": half[own]})
    trial = begun(table, tmp_path).trial
    same(trial.loaves, loaves(), SAME)
    assert trial.factors == ("formula", name or "condition")
    assert set(trial.loaves[trial.factors[1]]) == set(levels)


TWO_LINES = {
    "measure over formula": [
        ("Table", "Weight (g)", "", "Volume (ml)", ""),
        ("", "plain", "honey", "plain", "honey"),
    ],
    "with a line of units": [
        ("Table", "Weight", "", "Volume", ""),
        ("", "plain", "honey", "plain", "honey"),
        ("", "g", "g", "mL", "mL"),
    ],
    "in German": [
        ("Tisch", "Gewicht (g)", "", "Volumen (ml)", ""),
        ("", "plain", "honey", "plain", "honey"),
    ],
}


@pytest.mark.parametrize("lines", TWO_LINES.values(), ids=TWO_LINES)
def test_a_header_of_two_lines_is_read(lines, tmp_path):
    table = pd.concat([pd.DataFrame(lines), by_formula()])
    started = begun(table, tmp_path, header=False)
    same(started.trial.loaves, one_a_formula(), SAME)
    assert errors(started.trial) == []
    assert any("lines 1 and 2 are read as one header" in a for a in started.trial.assumptions)
    again = read_trial(tmp_path / "trial")  # by the rule on the card
    same(again.loaves, one_a_formula(), SAME)
    # without a card it is said that nothing is understood, and what would help
    assert "nothing-measured" in errors(read_trial(tmp_path / "sheet.csv"))


def test_a_title_merged_over_its_columns(tmp_path):
    book = openpyxl.Workbook()
    page = book.active
    page.append(["Table", "plain", None, "honey", None])
    page.append([None, "Weight (g)", "Volume (ml)", "Weight (g)", "Volume (ml)"])
    for row in by_formula()[[0, 1, 3, 2, 4]].itertuples(index=False):
        page.append([float(value) for value in row])
    for place in ("A1:A2", "B1:C1", "D1:E1"):
        page.merge_cells(place)
    book.save(tmp_path / "sheet.xlsx")
    started = start_from(tmp_path / "trial", tmp_path / "sheet.xlsx")
    same(started.trial.loaves, one_a_formula(), SAME)
    assert errors(started.trial) == []


def test_two_tables_side_by_side_are_refused(tmp_path):
    own = sheet()
    both = pd.concat([own[:8], own[8:].reset_index(drop=True)], axis=1)
    titles = [("Plain bread", "", "", "", "Honey bread", "", "", ""), tuple(both.columns)]
    table = pd.DataFrame([*titles, *map(tuple, both.to_numpy())])
    started = begun(table, tmp_path, header=False)
    assert "header-two-lines" in errors(started.trial)
    assert "account-does-not-add-up" not in errors(started.trial)


def test_titles_above_a_whole_header_stay_titles(tmp_path):
    titles = [("Trial: spring", "", "Baker: B2", ""), tuple(sheet().columns)]
    table = pd.DataFrame([*titles, *map(tuple, sheet().to_numpy())])
    same(begun(table, tmp_path, header=False).trial.loaves, loaves(), SAME)


def test_one_header_twice_is_an_error_and_no_fault_of_ours(tmp_path):
    table = pd.DataFrame([(*sheet().columns, "Volume"), *[(*r, 1) for r in sheet().to_numpy()]])
    started = begun(table, tmp_path, header=False)
    assert errors(started.trial) == ["headers-same"]


@pytest.mark.parametrize("header", ["Weight (g)", "Gewicht (g)", "Poids (g)", "Mass"])
def test_the_only_mass_beside_a_volume_is_taken_for_the_loafs_with_a_warning(header, tmp_path):
    table = sheet().rename(columns={"Weight after (g)": header})
    table.to_csv(tmp_path / "sheet.csv", index=False)
    trial = read_trial(tmp_path / "sheet.csv")
    same(trial.loaves, loaves(), SAME)
    told = [f for f in trial.findings if f.code == "header-unclear"]
    assert [(f.severity, f.column) for f in told] == [("warning", "loaf_g")]
    assert told[0].fix == (
        f"Write in the card under [columns]  loaf_g = {header!r}  if that is right, or  dough_g ="
        f" {header!r}"
    )


@pytest.mark.parametrize("beside", ["Dough mass (g)", "Height (mm)"])
def test_another_mass_or_no_volume_leaves_it_open(beside, tmp_path):
    table = sheet("loaf", "formula", "loaf_g").rename(columns={"Weight after (g)": "Weight (g)"})
    more = {"Volume": loaves()["loaf_ml"]} if "mass" in beside else {}
    table.assign(**{beside: loaves()["dough_g"]}, **more).to_csv(tmp_path / "x.csv", index=False)
    trial = read_trial(tmp_path / "x.csv")
    assert "loaf_g" not in trial.loaves
    assert any(f.code == "header-unclear" for f in trial.findings)


@pytest.mark.parametrize("pattern", ["{} {}", "{1} {0}", "{} ({})"])
def test_breads_called_by_a_letter(pattern, tmp_path):
    wide = by_formula()
    names = [(m, f) for m in ("Weight", "Volume") for f in "AB"]
    wide.columns = ["Table", *(pattern.format(*name) for name in names)]
    trial = begun(wide, tmp_path).trial
    assert set(trial.loaves["formula"]) == {"A", "B"}
    same(trial.loaves, one_a_formula().replace({"plain": "A", "honey": "B"}), SAME)


def test_sheets_that_hold_a_formula_each(tmp_path):
    with pd.ExcelWriter(tmp_path / "sheet.xlsx") as book:
        for level in ("plain", "honey"):
            own = sheet("loaf", "loaf_g", "loaf_ml")[loaves()["formula"] == level]
            own.to_excel(book, sheet_name=level, index=False)
    started = start_from(tmp_path / "trial", tmp_path / "sheet.xlsx")
    same(started.trial.loaves, loaves(), SAME)
    assert started.proposal.meant["formula"].startswith("a guess: ")


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        ([("A", "plain bread"), ("B", "with honey")], "lines 18 and 19 ('A' and 'B')"),
        ([("checked", "B2")], "line 18 ('checked')"),
        ([("", "B2")], "line 18"),
    ],
)
def test_a_legend_below_the_loaves_is_told(rows, said, tmp_path):
    below = pd.DataFrame(rows, columns=["Loaf", "Formula"])
    pd.concat([sheet(), below]).to_csv(tmp_path / "sheet.csv", index=False)
    found = {f.code: f for f in read_trial(tmp_path / "sheet.csv").findings}
    assert found["nothing-on-line"].message == f"Nothing is measured on {said}."
    assert found["nothing-on-line"].severity == "warning"
    assert "value-missing" not in found


def test_masses_under_unknown_headers_are_told_by_their_unit(tmp_path):
    table = sheet("loaf", "formula", "loaf_ml").assign(**{"Before (g)": 460.0, "After (g)": 402.5})
    table.to_csv(tmp_path / "sheet.csv", index=False)
    found = [f for f in read_trial(tmp_path / "sheet.csv").findings if f.code == "header-not-used"]
    assert [f.message for f in found] == [
        "'Before (g)' and 'After (g)' seem to hold a mass, but which one is not known here."
    ]


def test_a_clean_copy_says_which_columns_it_does_not_hold(tmp_path):
    volume = loaves()["loaf_ml"]
    table = sheet("loaf", "formula", "loaf_g").assign(**{"Volume 1": volume, "Volume 2": volume})
    begun(table, tmp_path)
    copy = write_tidy(tmp_path / "trial", tmp_path / "clean.csv")
    told = copy.changes[copy.changes["why"] == "readings: not in this copy of the loaves"]
    assert told["was"].tolist() == ["Volume 1", "Volume 2"]
