"""A plan on disk: written whole or not at all, joined to the loaves by their codes, with what
differs told.
"""

import csv
import json

import pandas as pd
import pytest
from fairloaf.trials import TrialError, load_trial, plan_trial, read_trial
from fairloaf.trials.planning.saved import load_plan
from fairloaf.trials.writing.starting import HEADER

from .planned_kitchens import kitchens


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "trial.toml").write_text(kitchens()["small_bakery"]["card"], "utf-8")
    return tmp_path


def rows_of(path):
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def fill(folder, change=lambda row, i: row, skip=()):
    """Record a mass and a volume for every loaf, in the file's order."""
    rows = rows_of(folder / "loaves.csv")
    for i, row in enumerate(rows):
        if i not in skip:
            row |= {
                "loaf_g": str(400 + i % 7),
                "box_ml": "3000",
                "seed_ml": str(1400 + 3 * i % 50),
                "dough_g": "460",
            }
        rows[i] = change(row, i)
    with (folder / "loaves.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(dict.fromkeys(name for row in rows for name in row)))
        writer.writeheader()
        writer.writerows(rows)
    return rows


def codes_of(stopped):
    return [finding.code for finding in stopped.value.findings]


def test_a_plan_is_written_and_read_back_as_it_was(folder):
    plan = plan_trial(folder, seed=11)
    assert sorted(path.name for path in plan.save()) == ["loaves.csv", "plan.csv", "plan.json"]
    assert sorted(path.name for path in folder.iterdir()) == [
        "loaves.csv",
        "plan.csv",
        "plan.json",
        "trial.toml",
    ]
    back = load_plan(folder)
    assert back.to_dict() == plan.to_dict()
    pd.testing.assert_frame_equal(back.mixes, plan.mixes)
    drawn = json.loads((folder / "plan.json").read_text("utf-8"))
    assert (drawn["seed"], drawn["generator"], drawn["earlier_seeds"]) == (11, "NumPy PCG64", [])
    assert len(drawn["card_sha256"]) == 64


def test_the_same_seed_writes_the_same_bytes(folder, tmp_path):
    plan_trial(folder, seed=3).save()
    first = {name: (folder / name).read_bytes() for name in ("plan.csv", "plan.json", "loaves.csv")}
    for name in first:
        (folder / name).unlink()
    plan_trial(folder, seed=3).save()
    assert first == {name: (folder / name).read_bytes() for name in first}


def test_loaves_of_one_dough_do_not_stand_together_where_they_are_measured(folder):
    plan = plan_trial(folder, seed=1)
    plan.save()
    key = plan.loaves.set_index("loaf")
    listed = [row["loaf"] for row in rows_of(folder / "loaves.csv")]
    assert key.loc[listed, "day"].astype(int).is_monotonic_increasing
    assert (
        key.loc[listed].groupby("day", sort=False)["measure_order"].apply(list).tolist()
        == [list(range(1, 13))] * 4
    )


def test_a_plan_is_not_replaced_but_with_again_and_keeps_the_earlier_seeds(folder):
    plan_trial(folder, seed=1).save()
    before = (folder / "plan.csv").read_bytes()
    with pytest.raises(TrialError) as stopped:
        plan_trial(folder, seed=2).save()
    assert codes_of(stopped) == ["plan-there"]
    assert (folder / "plan.csv").read_bytes() == before
    plan_trial(folder, seed=2).save(again=True)
    plan_trial(folder, seed=3).save(again=True)
    assert load_plan(folder).earlier_seeds == (1, 2)


def test_records_are_never_replaced(folder):
    plan_trial(folder, seed=1).save()
    fill(folder)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    with pytest.raises(TrialError) as stopped:
        plan_trial(folder, seed=2).save(again=True)
    assert codes_of(stopped) == ["records-there"]
    assert before == {path.name: path.read_bytes() for path in folder.iterdir()}


def test_a_table_that_was_only_begun_keeps_its_own_columns(folder):
    (folder / "loaves.csv").write_text("loaf,day,formula,loaf_g,smell\n", "utf-8")
    plan_trial(folder, seed=1).save()
    assert "smell" in rows_of(folder / "loaves.csv")[0]
    assert "formula" not in rows_of(folder / "loaves.csv")[0]


def test_a_plan_is_not_saved_beside_another_card(folder):
    plan = plan_trial(folder, seed=1)
    text = (folder / "trial.toml").read_text("utf-8")
    (folder / "trial.toml").write_text(text.replace("matters = 0.2", "matters = 0.3"), "utf-8")
    with pytest.raises(TrialError) as stopped:
        plan.save()
    assert codes_of(stopped) == ["plan-other-card"]


def test_nothing_is_left_where_nothing_can_be_written(folder):
    plan = plan_trial(folder, seed=1)
    (folder / "plan.json").mkdir()
    with pytest.raises(TrialError):
        plan.save(again=True)
    assert sorted(path.name for path in folder.iterdir()) == ["plan.json", "trial.toml"]


def test_recorded_loaves_get_what_was_planned(folder):
    plan = plan_trial(folder, seed=1)
    plan.save()
    fill(folder)
    trial = load_trial(folder)
    joined = trial.loaves.set_index("loaf").loc[plan.loaves["loaf"]].reset_index()
    for name in ("day", "mix", "formula", "tin", "oven_place"):
        assert joined[name].tolist() == plan.loaves[name].tolist()
    for name in ("proof_min", "bake_order", "measure_order", "mix_order"):
        assert joined[name].tolist() == plan.loaves[name].astype(float).tolist()
    assert {f.code for f in trial.findings} & {
        "off-plan",
        "not-baked-yet",
        "mixes-assumed",
    } == set()


def test_what_is_not_baked_yet_is_a_note_and_no_loaf(folder):
    plan_trial(folder, seed=1).save()
    fill(folder, skip=range(40, 48))
    trial = load_trial(folder)
    assert len(trial.loaves) == 40
    finding = next(f for f in trial.findings if f.code == "not-baked-yet")
    assert finding.severity == "note"
    assert finding.message.startswith("8 of 48 planned loaves are not recorded: ")


def test_a_code_that_was_not_planned_is_an_error_with_the_nearest(folder):
    plan_trial(folder, seed=1).save()
    wrong = {}

    def slip(row, i):
        if i == 5:
            wrong["meant"], wrong["written"] = (
                row["loaf"],
                row["loaf"][0] + row["loaf"][2] + row["loaf"][1],
            )
            return row | {"loaf": wrong["written"]}
        return row

    fill(folder, slip)
    with pytest.raises(TrialError) as stopped:
        load_trial(folder)
    finding = next(f for f in stopped.value.findings if f.code == "code-not-planned")
    assert finding.message == f"{wrong['written']} on line 7 is no code of the plan."
    assert wrong["meant"] in finding.fix


def test_what_was_recorded_stands_and_differences_are_told(folder):
    plan = plan_trial(folder, seed=1)
    plan.save()
    key = plan.loaves.set_index("loaf")
    other = {"open": "lidded", "lidded": "open"}
    fill(folder, lambda row, i: row | {"tin": other[key.loc[row["loaf"], "tin"]] if i == 3 else ""})
    trial = read_trial(folder)
    finding = next(f for f in trial.findings if f.code == "off-plan")
    assert (finding.severity, finding.column, finding.rows) == ("warning", "tin", (5,))
    row = trial.loaves[trial.loaves["line"] == 5].iloc[0]
    assert row["tin"] == other[key.loc[row["loaf"], "tin"]]


def test_days_may_be_recorded_as_dates(folder):
    plan = plan_trial(folder, seed=1)
    plan.save()
    key = plan.loaves.set_index("loaf")
    fill(folder, lambda row, i: row | {"day": f"2026-05-0{key.loc[row['loaf'], 'day']}"})
    trial = read_trial(folder)
    assert "off-plan" not in {f.code for f in trial.findings}
    assert trial.loaves["day"].nunique() == 4


def test_a_plan_of_which_nothing_is_baked_says_so(folder):
    plan_trial(folder, seed=1).save()
    trial = read_trial(folder)
    assert {f.code for f in trial.findings if f.severity == "error"} == {"nothing-counted"}
    assert {f.code for f in trial.findings} == {"nothing-counted", "not-baked-yet"}


def test_there_is_no_plan_to_read_where_none_was_saved(folder):
    with pytest.raises(TrialError, match=r"There is no plan\.csv and no plan\.json"):
        load_plan(folder)
    plan_trial(folder, seed=1).save()
    (folder / "plan.json").write_text("{}", "utf-8")
    with pytest.raises(TrialError, match="are not as they were written"):
        load_plan(folder)


def test_headers_that_the_card_names_are_in_the_table_to_fill_in(folder):
    card = folder / "trial.toml"
    text = card.read_text("utf-8")
    card.write_text(text + '\n[columns]\nloaf_g = "Wt 2"\nformula = "Recipe"\n', "utf-8")
    plan_trial(folder, seed=1).save()
    assert {"Wt 2", "Recipe"} <= set(rows_of(folder / "loaves.csv")[0])
    fill(
        folder,
        lambda row, i: {k: v for k, v in row.items() if k != "loaf_g"} | {"Wt 2": str(400 + i % 7)},
    )
    trial = load_trial(folder)
    assert trial.loaves["formula"].nunique() == 2
    assert trial.loaves["loaf_g"].notna().all()


def test_the_columns_of_a_new_trial_are_not_all_kept(folder):
    (folder / "loaves.csv").write_text(HEADER, "utf-8")
    plan_trial(folder, seed=1).save()
    assert "baker" not in rows_of(folder / "loaves.csv")[0]
