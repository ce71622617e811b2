"""No false all-clear: where nothing could be answered, check says what was not understood and what
would help.
"""

import pandas as pd
import pytest
from fairloaf.analysis.wording.findings import headline
from fairloaf.trials.checks.levels import near_column
from fairloaf.trials.loading import read_trial

ROW = {"loaf": 1, "mix": "m1", "formula": "a", "loaf_g": 400, "loaf_ml": 1600}
GOOD = [
    ROW,
    ROW | {"loaf": 2, "mix": "m2", "formula": "b", "loaf_g": 402, "loaf_ml": 1700},
    ROW | {"loaf": 3, "mix": "m3", "loaf_g": 405, "loaf_ml": 1630},
    ROW | {"loaf": 4, "mix": "m4", "formula": "b", "loaf_g": 399, "loaf_ml": 1740},
]


def read(rows, folder, card=""):
    pd.DataFrame(rows).to_csv(folder / "loaves.csv", index=False)
    (folder / "trial.toml").write_text(card, "utf-8")
    return read_trial(folder)


def told(rows, folder, card=""):
    return {f.code: f"{f.message} {f.fix}" for f in read(rows, folder, card).findings}


def test_a_whole_trial_gets_the_all_clear(tmp_path):
    trial = read(GOOD, tmp_path)
    assert trial.findings == ()
    assert "nothing to say against the records" in headline(trial.findings, trial.name, 4)


@pytest.mark.parametrize(
    "rows",
    [
        [
            {
                "Table": 1,
                "Weight plain": 400,
                "Weight honey": 405,
                "Volume plain": 1600,
                "Volume honey": 1700,
            }
        ]
        * 8,
        [{"Date": "3 May", "A": 1600, "B": 1700}] * 6,
        [{"Name": f"p{i}", "x": i, "y": i} | {"Date": "Mon"} for i in range(6)],
        [{"formula": "ab"[i % 2], "Loaf": i, "Grösse": 1600 + i} for i in range(6)],
        [{"day": i, "note": "x"} for i in range(4)],
    ],
)
def test_sheets_that_were_not_understood_get_none(rows, tmp_path):
    trial = read(rows, tmp_path)
    found = {f.code: f for f in trial.findings}
    assert found["nothing-measured"].severity == "error"
    unknown = [name for name in rows[0] if name in ("Weight plain", "A", "x", "Grösse")]
    assert all(repr(name) in found["nothing-measured"].message for name in unknown)
    assert "nothing to say" not in headline(trial.findings, trial.name, len(rows))


def test_a_trial_in_which_nothing_is_known_to_change_gets_none(tmp_path):
    rows = [
        {"loaf": i, "Sort": "ab"[i % 2], "loaf_g": 400 + i, "loaf_ml": 1600 + 7 * i}
        for i in range(8)
    ]
    said = told(rows, tmp_path)
    assert "'Sort'" in said["nothing-changed"]
    assert '[columns]  formula = "…"' in said["nothing-changed"]
    assert "nothing-changed" not in told(rows, tmp_path, '[columns]\nformula = "Sort"\n')


def test_a_measure_that_was_not_understood_is_named(tmp_path):
    rows = [
        {k: v for k, v in row.items() if k != "loaf_ml"} | {"Honey volume": 1600 + row["loaf"]}
        for row in GOOD
    ]
    said = told(rows, tmp_path)
    assert "'Honey volume' seems to hold a volume" in said["header-not-used"]
    assert "measure-not-said" in said


def test_what_to_judge_by_is_asked_where_it_is_not_specific_volume(tmp_path):
    rows = [{k: v for k, v in row.items() if k != "loaf_g"} for row in GOOD]
    assert "--measure loaf_ml" in told(rows, tmp_path)["measure-not-said"]
    assert told(rows, tmp_path, 'measure = "loaf_ml"\n') == {}


def test_a_measure_on_the_card_that_no_column_carries_is_told_with_the_nearest_name(tmp_path):
    rows = [row | {"crumb_softness": 4 + row["loaf"]} for row in GOOD]
    said = told(rows, tmp_path, "[measures.crumb_sofness]\nmatters = 1\n")
    assert 'Is "crumb_softness" meant?' in said["card-measure-no-column"]


@pytest.mark.parametrize(
    ("header", "card"),
    [
        (
            "Crust 1-5",
            (
                '[columns]\ncrust = "Crust 1-5"\n[scores]\nscale = [1,'
                " 5]\n[measures.crust]\nmatters = 1\n"
            ),
        ),
        (
            "Kruste",
            (
                '[columns]\ncrust = "Kruste"\n[scores]\nscale = [1, 5]\n[measures.crust]\nmatters'
                " = 1\n"
            ),
        ),
        ("Crust (1 to 5)", "[scores]\nscale = [1, 5]\n"),
        ("Taste /10", ""),
    ],
)
def test_the_crust_is_a_score_like_any_other(header, card, tmp_path):
    rows = [row | {header: 1 + row["loaf"] % 4} for row in GOOD]
    trial = read(rows, tmp_path, card)
    name = "crumb_taste" if "Taste" in header else "crumb_crust"
    assert trial.loaves[name].tolist() == [2, 3, 4, 1]
    assert "card-measure-no-column" not in {f.code for f in trial.findings}
    assert trial.card.matters_for(name) == (1 if "matters" in card else None)


@pytest.mark.parametrize(
    ("card", "codes"),
    [("", {"measure-empty"}), ('measure = "height_mm"', {"measure-empty", "measure-no-column"})],
)
def test_a_measure_that_nobody_filled_in_is_no_measure(tmp_path, card, codes):
    findings = told([row | {"height_mm": None} for row in GOOD], tmp_path, card)
    assert findings.keys() == codes
    assert findings["measure-empty"] == (
        "There is no value under 'height_mm' on any line. Fill the column in, or delete it if it"
        " was not measured."
    )


def test_a_table_without_any_value_cannot_be_compared(tmp_path):
    empty = {"loaf_g": None, "loaf_ml": None}
    findings = told([row | empty for row in GOOD], tmp_path)
    assert findings.keys() == {"nothing-measured", "measure-empty"}
    assert "There are only loaf, mix and formula." in findings["nothing-measured"]


def test_the_number_of_a_line_is_never_proposed_as_a_column():
    told = near_column("lines", pd.DataFrame({"line": [2], "loaf": ["1"]}))
    assert "“line”" not in told
    assert '"line"' not in told
