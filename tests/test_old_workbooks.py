"""Workbooks of the old kind (.xls): what their cells show beside values, and damaged ones."""

from __future__ import annotations

import contextlib
import random
from pathlib import Path

import pytest
import xlwt
from fairloaf.trials import TrialError, read_trial


@pytest.mark.parametrize("loaves", [12, 400])
def test_errors_and_unworked_formulas_of_an_old_workbook_are_told_with_their_cells(
    tmp_path, loaves
):
    """A small one keeps its records in the small sectors of the compound file, a large one not."""
    book = xlwt.Workbook()
    sheet = book.add_sheet("Loaves", cell_overwrite_ok=True)
    rows = [["loaf", "formula", "mix", "loaf_g", "loaf_ml"]] + [
        [i + 1, ["house", "malted"][i % 2], f"M{i % 4}", 400 + i % 7, 1600 + 13 * i % 90]
        for i in range(loaves)
    ]
    for i, row in enumerate(rows):
        for j, value in enumerate(row):
            sheet.write(i, j, value)
    sheet.row(3).set_cell_error(4, 0x07)
    sheet.row(5).set_cell_error(3, 0x2A)
    sheet.write(7, 4, xlwt.Formula("800*2"))
    sheet.row(9).hidden = True
    book.save(tmp_path / "old.xls")
    trial = read_trial(tmp_path / "old.xls")
    messages = {f.code: f.message for f in trial.findings}
    assert messages["cell-error-value"] == (
        "Sheet 'Loaves': E4 and D6 hold errors in place of values."
    )
    assert messages["formula-not-saved"].startswith("Sheet 'Loaves': E8 holds a formula")
    assert messages["row-hidden"] == "Sheet 'Loaves': line 10 is hidden, and read like any other."
    assert len(trial.loaves) == loaves


def test_an_old_workbook_that_is_cut_off_or_scribbled_on_ends_in_no_traceback(tmp_path):
    whole = (Path(__file__).parent / "corpus" / "old_workbook.xls").read_bytes()
    draw = random.Random(3)
    for i in range(12):
        broken = bytearray(whole[: draw.randrange(100, len(whole))] if i % 2 else whole)
        for _ in range(40):
            broken[draw.randrange(8, len(broken))] = draw.randrange(256)
        (tmp_path / "old.xls").write_bytes(bytes(broken))
        with contextlib.suppress(TrialError):
            read_trial(tmp_path / "old.xls")
