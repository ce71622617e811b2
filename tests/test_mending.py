"""`write_mended`: obvious slips are put right and logged with the old and the new value; nothing
else is touched.
"""

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials import TrialError
from fairloaf.trials.loading import read_trial
from fairloaf.trials.reading.records import read_records
from fairloaf.trials.writing.mending import mended_copy, write_mended


def loaves() -> pd.DataFrame:
    rng = np.random.default_rng(8)
    mass = 400 + rng.normal(0, 3, 24)
    return (
        pd.DataFrame(
            {
                "loaf": range(1, 25),
                "mix": [f"m{i // 3}" for i in range(24)],
                "formula": ["plain", "oat"] * 12,
                "loaf_g": mass.round(1),
                "loaf_ml": (mass * (4 + rng.normal(0, 0.06, 24))).round(),
            }
        )
        .assign(formula=lambda d: ["plain" if i // 3 % 2 else "oat" for i in range(24)])
        .astype(object)
    )


def mended(table, folder):
    table.to_csv(folder / "loaves.csv", index=False)
    return mended_copy(read_records(folder / "loaves.csv"))


@pytest.mark.parametrize(
    ("row", "column", "was", "now"),
    [
        (3, "loaf_g", "0.4012", "401.2"),
        (4, "loaf_g", "14.15", "401.146"),
        (5, "formula", " Oat", "oat"),
        (6, "loaf_g", "402,5", "402.5"),
        (8, "loaf_ml", "1.62", "1620"),
    ],
)
def test_one_slip_is_put_right_and_logged(row, column, was, now, tmp_path):
    table = loaves()
    if column == "formula":
        row = int(np.flatnonzero(table["formula"] == "oat")[1])
    table.loc[row, column] = was
    copy = mended(table, tmp_path)
    assert copy.table[column].iloc[row] == now
    log = copy.changes[(copy.changes["line"] == row + 2) & (copy.changes["column"] == column)]
    assert log["now"].tolist()[-1] == now
    assert (log["was"] != log["now"]).all()
    others = copy.table.drop(index=row).reset_index(drop=True)
    assert (
        others["loaf_g"].astype(float).tolist()
        == table.drop(index=row)["loaf_g"].astype(float).tolist()
    )


def test_a_swap_is_exchanged_and_a_total_is_left_out(tmp_path):
    table = loaves()
    table.loc[9, ["loaf_g", "loaf_ml"]] = table.loc[9, ["loaf_ml", "loaf_g"]].to_numpy()
    table.loc[24] = ["Mean", "", "", table["loaf_g"].mean(), table["loaf_ml"].mean()]
    copy = mended(table, tmp_path)
    assert float(copy.table["loaf_g"].iloc[9]) == pytest.approx(float(table["loaf_ml"].iloc[9]))
    assert len(copy.table) == 24
    copy.table.to_csv(tmp_path / "mended.csv", index=False)
    assert [f for f in read_trial(tmp_path / "mended.csv").findings if f.severity == "error"] == []


def test_what_is_not_certain_stays_and_nothing_is_overwritten(tmp_path):
    table = loaves()
    table.loc[3, "loaf_g"] = 520  # far off, and no unit brings it back
    table.loc[4, "formula"] = "pl4in"
    copy = mended(table, tmp_path)
    assert copy.table["loaf_g"].iloc[3] == "520"
    assert copy.table["formula"].iloc[4] == "pl4in"
    write_mended(tmp_path / "loaves.csv", tmp_path / "new.csv")
    assert (tmp_path / "new_changes.csv").exists()
    with pytest.raises(TrialError, match="would be overwritten"):
        write_mended(tmp_path / "loaves.csv", tmp_path / "new.csv")


def test_a_copy_for_a_reader_with_decimal_commas_reads_back_the_same(tmp_path):
    from fairloaf.trials.words.numbers import number_style
    from fairloaf.trials.writing.tidy import write_tidy

    loaves().assign(loaf=[f"{i}.1" for i in range(24)]).to_csv(tmp_path / "loaves.csv", index=False)
    write_tidy(tmp_path / "loaves.csv", tmp_path / "de.csv", style=number_style("de"))
    text = (tmp_path / "de.csv").read_text("utf-8")
    assert text.startswith("loaf;mix;formula;loaf_g;loaf_ml")
    first, again = (read_trial(tmp_path / name).loaves for name in ("loaves.csv", "de.csv"))
    assert again["loaf"].tolist() == first["loaf"].tolist()
    assert again["loaf_g"].tolist() == first["loaf_g"].tolist()


def test_headers_units_and_decimal_marks_stay_as_the_baker_wrote_them(tmp_path):
    """Only the slips are in the log: a German sheet in kilograms and litres is one afterwards."""
    table = loaves()
    sheet = pd.DataFrame(
        {
            "Brotnummer": table["loaf"],
            "Teig": table["mix"],
            "Rezept": table["formula"],
            "Gewicht gebacken (kg)": (table["loaf_g"].astype(float) / 1000).map("{:.4f}".format),
            "Volumen (l)": (table["loaf_ml"].astype(float) / 1000).map("{:.3f}".format),
            "Backofen links?": "ja",
        }
    ).map(lambda cell: str(cell).replace(".", ","))
    sheet.loc[3, "Gewicht gebacken (kg)"] = "401,2"  # grams, as it were
    oat = int(np.flatnonzero(table["formula"] == "oat")[1])
    sheet.loc[oat, "Rezept"] = "OAT"
    sheet.to_csv(tmp_path / "loaves.csv", index=False, sep=";")
    copy = write_mended(tmp_path / "loaves.csv", tmp_path / "new.csv")
    written = pd.read_csv(tmp_path / "new.csv", sep=";", dtype=str)
    assert list(written) == list(sheet)
    changed = written.ne(sheet.astype(str))
    assert changed.to_numpy().sum() == 2
    assert written.loc[3, "Gewicht gebacken (kg)"] == "0,4012"
    assert written.loc[oat, "Rezept"] == "oat"
    log = copy.changes.set_index("line")
    assert sorted(log.index) == sorted([5, oat + 2])
    assert (log.loc[5, "was"], log.loc[5, "now"]) == ("401,2", "0,4012")
    assert [f for f in read_trial(tmp_path / "new.csv").findings if f.severity == "error"] == []
