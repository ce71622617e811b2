"""What was changed under a header that is not known here is told, and allowed for when mixes and
days are held together.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials import read_trial

DAYS, EACH = 4, 2


def bakes(rng: np.random.Generator) -> pd.DataFrame:
    """Return loaves (32,) of two proof times by two shares of yeast, in one order every day."""
    rows = []
    for day in range(1, DAYS + 1):
        for proof in (45, 60):
            for yeast in (1.0, 1.5):
                mix = rng.normal(0, 10)
                rows += [
                    {
                        "loaf": len(rows) + i + 1,
                        "formula": "house",
                        "day": day,
                        "mix": f"d{day}p{proof}y{yeast}",
                        "proof_min": proof,
                        "Yeast %": yeast,
                        "tin": ("open", "long")[i],
                        "loaf_g": round(440 + rng.normal(0, 2), 1),
                        "loaf_ml": round(1700 + 4 * proof + 300 * yeast + mix + rng.normal(0, 10)),
                    }
                    for i in range(EACH)
                ]
    return pd.DataFrame(rows)


@pytest.fixture
def loaves() -> pd.DataFrame:
    """Return sound loaves in which nothing but the known columns was changed, and the yeast."""
    return bakes(np.random.default_rng(5))


def told(loaves, folder, card=""):
    """Return code → finding of a trial of these loaves."""
    loaves.to_csv(folder / "loaves.csv", index=False)
    (folder / "trial.toml").write_text(card, "utf-8")
    return {finding.code: finding for finding in read_trial(folder).findings}


def test_what_is_laid_out_like_a_factor_is_told_with_its_line_on_the_card(loaves, tmp_path):
    found = told(loaves, tmp_path)
    assert "'Yeast %' is not known here" in found["changed-not-named"].message
    line = found["changed-not-named"].fix.split("[factors]")[1].split("beside")[0].strip()
    assert "beside tin and proof_min" in found["changed-not-named"].fix
    assert "mix-or-day-apart" not in found  # the yeast is no drift through the day
    named = told(
        loaves, tmp_path, f'[factors]\n{line}\nproof_min = [45, 60]\ntin = ["open", "long"]'
    )
    assert not set(named) & {"changed-not-named", "card-unknown-key", "mix-or-day-apart"}


def test_names_of_levels_are_told_as_the_card_takes_them(loaves, tmp_path):
    loaves["Yeast %"] = loaves["Yeast %"].map({1.0: 'the "old"', 1.5: "the new"})
    found = told(loaves, tmp_path)["changed-not-named"]
    line = found.fix.split("[factors]")[1].split("beside")[0].strip()
    assert "changed-not-named" not in told(loaves, tmp_path, f"[factors]\n{line}\n")


@pytest.mark.parametrize(
    ("column", "make"),
    [
        ("as it fell", lambda loaves: ["pale", "dark", "dark"] * 10 + ["pale", "dark"]),
        ("one a day", lambda loaves: 20 + loaves["day"]),
        ("one a proof time", lambda loaves: loaves["proof_min"] / 10),
        ("not filled in", lambda loaves: [1.0] * 31 + [np.nan]),
        ("its number in the mix", lambda loaves: [1, 2] * 16),
        ("every loaf its own", lambda loaves: 500.0 + np.arange(32)),
        ("one mix alone", lambda loaves: loaves["mix"].eq(loaves["mix"][0]).astype(int)),
        ("the same throughout", lambda loaves: ["wheat"] * 32),
    ],
)
def test_what_was_only_written_down_is_not(loaves, tmp_path, column, make):
    beside = loaves.drop(columns="Yeast %").assign(**{column: make(loaves)})
    assert "changed-not-named" not in told(beside, tmp_path)


def test_a_card_by_another_name_is_told(loaves, tmp_path):
    loaves.to_csv(tmp_path / "loaves.csv", index=False)
    for name in ("Card.toml", "trial.toml.txt"):
        (tmp_path / name).write_text('title = "Yeast"', "utf-8")
        found = [f for f in read_trial(tmp_path).findings if f.code == "card-other-name"]
        assert [f.file for f in found] == [name]
        (tmp_path / name).unlink()
    (tmp_path / "trial.toml").write_text('title = "Yeast"', "utf-8")
    (tmp_path / "old.toml").write_text('title = "Yeast"', "utf-8")
    assert not [f for f in read_trial(tmp_path).findings if f.code == "card-other-name"]


def test_loaves_in_a_second_file_are_told(loaves, tmp_path):
    loaves[:16].to_csv(tmp_path / "loaves.csv", index=False)
    loaves[16:].to_csv(tmp_path / "day 3 and 4.csv", index=False, encoding="utf-8-sig")
    loaves[["loaf", "tin"]].to_csv(tmp_path / "tins.csv", index=False)
    found = [f for f in read_trial(tmp_path).findings if f.code == "loaves-not-read"]
    assert [f.file for f in found] == ["day 3 and 4.csv"]
