"""What people write into a cell beside a day, a mix or a loaf's number is told, and counts as what
it is. The bakes are invented.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
from fairloaf.trials import Trial, read_trial
from fairloaf.trials.reading.days import without_time

from .good_trial import good_records


def bake() -> pd.DataFrame:
    """Return 32 loaves of 8 mixes that nothing is said against."""
    return good_records().loaves[["loaf", "day", "mix", "formula", "tin", "loaf_g", "loaf_ml"]]


def read(loaves: pd.DataFrame, folder: Path) -> Trial:
    file = folder / "bake.csv"
    loaves.to_csv(file, index=False)
    return read_trial(file)


def told(trial: Trial, code: str) -> list[tuple[str, tuple[int, ...]]]:
    return [(f.message, f.rows) for f in trial.findings if f.code == code]


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2026-03-01 AM", "2026-03-01"),
        ("2026-03-01 (p.m.)", "2026-03-01"),
        ("1.3.2026 früh", "1.3.2026"),
        ("Mo-spät", "Mo"),
        ("morning 2026-03-01", "2026-03-01"),
        ("1/3/2026 après-midi", "1/3/2026"),
        ("15 de marzo por la mañana", "15 de marzo"),
        ("giovedì pomeriggio", "giovedì"),
        ("Tag 2 nachmittags", "Tag 2"),
        ("2-3-2026 's middags", "2-3-2026"),
        ("2.3. Nachm.", "2.3."),
        ("am 3.3.2026", "am 3.3.2026"),
        ("6 am", "6 am"),
        ("Morgen", "Morgen"),
        ("3 Mar", "3 Mar"),
        ("house morning", "house morning"),
    ],
)
def test_a_word_for_a_time_of_day_is_no_part_of_the_day(text, day):
    assert without_time(text) == day


def test_mornings_and_evenings_of_one_date_are_one_day_and_it_is_said(tmp_path):
    loaves = bake()
    loaves["day"] += [(" AM", " PM")[row % 2] for row in range(len(loaves))]
    trial = read(loaves, tmp_path)
    assert set(trial.loaves["day"]) == set(bake()["day"])
    assert any("a time of day under 'day' is no part of the day" in a for a in trial.assumptions)


@pytest.mark.parametrize(
    ("names", "alike"),
    [
        (("1", "one"), True),
        (("Mix 1", "eins"), True),
        (("2", "II"), True),
        (("Mix 4", "Mix IV"), True),
        (("4", "cuatro"), True),
        (("1", "II"), False),
        (("a", "i"), False),
    ],
)
def test_numbers_of_mixes_in_words_and_roman_numerals(names, alike, tmp_path):
    loaves = bake()
    first = loaves["mix"] == loaves["mix"].iloc[0]
    loaves["mix"] = "10" + loaves["mix"].str[1:]
    loaves.loc[first, "mix"] = [names[row % 2] for row in range(first.sum())]
    found = told(read(loaves, tmp_path), "names-alike")
    assert bool(found) is alike
    if alike:
        assert found[0][0].startswith(f'The mix "{names[0]}" is also written "{names[1]}" on')


def test_letters_of_mixes_are_no_roman_numerals(tmp_path):
    loaves = bake()
    letters = dict(zip(loaves["mix"].unique(), "abcdhi1j", strict=True))
    loaves["mix"] = loaves["mix"].map(letters)
    assert not told(read(loaves, tmp_path), "names-alike")


@pytest.mark.parametrize("name", ["1-3", "H1 to H3", "4 + 5", "7/8", "10 bis 12"])
def test_several_loaves_on_one_row_are_told(name, tmp_path):
    loaves = bake()
    loaves.loc[5, "loaf"] = name
    assert told(read(loaves, tmp_path), "loaf-of-several") == [
        (f"Several loaves on one row: line 7 ({name}).", (7,))
    ]


@pytest.mark.parametrize("name", ["{mix}-{loaf}", "H{loaf}-{mix}", "3-1", "H1-K2"])
def test_names_with_two_numbers_are_single_loaves(name, tmp_path):
    loaves = bake()
    numbers = [name.format(mix=row // 4 + 1, loaf=row % 4 + 5) for row in range(len(loaves))]
    loaves["loaf"] = numbers if "{" in name else [name, *loaves["loaf"][1:]]
    assert not told(read(loaves, tmp_path), "loaf-of-several")


def test_a_word_beyond_the_headers_makes_no_total_of_its_loaf(tmp_path):
    lines = bake().to_csv(index=False).splitlines()
    lines[5] += ",Average"
    file = tmp_path / "bake.csv"
    file.write_text("\n".join(lines))
    found = {f.code: f.rows for f in read_trial(file).findings if f.severity == "error"}
    assert found == {"row-too-long": (6,)}
    lines[5] = lines[5].replace(",Average", "").replace("house", "Average")
    file.write_text("\n".join(lines))
    assert told(read_trial(file), "row-of-totals")


@pytest.mark.parametrize(
    ("year", "of_days", "said"),
    [
        ("2062-07", 1, "1 bake day lies years from the others: 2062-07-01"),
        ("2062-03", 4, "4 bake days lie years from today: 2062-03-01"),
        ("2023-07", 1, "1 bake day lies years from the others: 2023-07-01"),
        ("2062-03", 1, ""),  # in 2026 it would lie among them: tests/test_checks_shifts.py
        ("2025-07", 1, ""),
    ],
)
def test_a_day_in_a_year_far_off(year, of_days, said, tmp_path):
    loaves = bake()
    wrong = loaves["day"].isin(loaves["day"].unique()[:of_days])
    loaves.loc[wrong, "day"] = year + loaves.loc[wrong, "day"].str[7:]
    found = told(read(loaves, tmp_path), "day-years-away")
    assert len(found) == bool(said)
    assert not said or (found[0][0].startswith(said) and len(found[0][1]) == wrong.sum())


def test_a_point_that_parts_thousands_is_asked_about(tmp_path):
    loaves = bake().rename(columns={"loaf_ml": "volume (ml)"})
    loaves["volume (ml)"] = [f"{value / 1000:.3f}" for value in loaves["volume (ml)"]]
    (found,) = [f for f in read(loaves, tmp_path).findings if f.code == "column-unit"]
    assert "litres, or a point that parts thousands, under 'volume (ml)'?" in found.message
    assert found.fix.startswith("Write 1500 where 1.500 means that.")


@pytest.mark.parametrize(
    "days",
    [
        ("Mo 02.03.2026", "Di 03.03.2026", "Mi 04.03.2026", "Do 05.03.2026"),
        ("Ma 2-3-2026", "Di 3-3-2026", "Wo 4-3-2026", "Do 5-3-2026"),
    ],
)
def test_dates_beside_days_of_the_week_that_mean_two_in_other_languages(days, tmp_path):
    loaves = bake()
    loaves["day"] = loaves["day"].map(dict(zip(loaves["day"].unique(), days, strict=True)))
    assert not [f for f in read(loaves, tmp_path).findings if f.column == "day"]


@pytest.mark.parametrize("header", ["Ausfall", "weggelaten"])
def test_why_a_loaf_fell_out_leaves_it_out(header, tmp_path):
    loaves = bake()
    loaves[header] = ["gefallen", *[None] * (len(loaves) - 1)]
    trial = read(loaves, tmp_path)
    assert len(trial.counted) == len(loaves) - 1
    assert told(trial, "loaves-void") == [("1 of 32 loaves is void: line 2 ('gefallen').", (2,))]
