"""How assessors are described and who stands apart. How often: tests/benchmarks/test_assessor_finding.py."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.scoring.assessors import describe_assessors, score_cube, severities

REFERENCE = Path(__file__).parent / "reference"
BREAD = pd.read_csv(REFERENCE / "bread_panel.csv").rename(columns={"judge": "assessor", "bread": "loaf"})


def panel(cube: np.ndarray) -> pd.DataFrame:
    """Return the long table of scores (assessors, loaves, attributes); NaN cells are not there."""
    who, loaf, attribute = np.indices(cube.shape).reshape(3, -1)
    table = pd.DataFrame({"assessor": [f"A{i + 1}" for i in who], "loaf": loaf.astype(str),
                          "attribute": [f"attribute {i}" for i in attribute], "score": cube.ravel()})
    return table.dropna()


def clean(seed: int = 1, shape: tuple[int, int, int] = (8, 12, 4)) -> np.ndarray:
    """Return scores of assessors who are alike but for chance and a little severity."""
    rng = np.random.default_rng(seed)
    m, loaves, k = shape
    return (5.5 + 1.2 * rng.normal(size=(1, loaves, k)) + 0.2 * rng.normal(size=(m, 1, 1))
            + rng.normal(size=(m, loaves, k)))


def describe(cube: np.ndarray):
    return describe_assessors(panel(cube), width=9, step=1)


def directions(cube: np.ndarray) -> dict[str, set[str]]:
    """Return assessor → what was said of all attributes together."""
    apart = describe(cube).apart
    return {who: set(rows.direction) for who, rows in apart.groupby("assessor")}


def test_nobody_is_named_in_a_clean_panel():
    assert directions(clean()) == {}


@pytest.mark.parametrize(("change", "said"), [
    (lambda own, rng: own - 2.5, {"harsher"}),
    (lambda own, rng: own + 2.5, {"milder"}),
    (lambda own, rng: 5.5 + 0.15 * (own - 5.5), {"narrower"}),
    (lambda own, rng: rng.uniform(1, 10, own.shape), {"own way"}),
], ids=["harsh", "mild", "narrow", "random"])
def test_one_who_stands_apart_is_named_with_the_reason(change, said):
    cube = clean(seed=5)
    cube[2] = change(cube[2], np.random.default_rng(3))
    assert directions(cube) == {"A3": said}


def test_three_odd_assessors_do_not_hide_one_another():
    cube = clean(seed=6, shape=(10, 12, 5))
    cube[0] -= 2.5
    cube[1] = np.random.default_rng(2).uniform(0.5, 10.5, cube[1].shape)
    cube[2] = 5.5 + 0.2 * (cube[2] - 5.5)
    found = directions(cube)
    assert set(found) == {"A1", "A2", "A3"}
    assert "harsher" in found["A1"]
    assert "own way" in found["A2"]
    assert "narrower" in found["A3"]


def test_severity_in_one_attribute_is_named_there():
    cube = clean(seed=7)
    cube[4, :, 1] -= 5
    apart = describe(cube).apart
    assert set(apart.assessor) == {"A5"}
    assert "attribute 1" in set(apart.attribute)


def test_fewer_than_four_are_never_told_apart():
    cube = clean(shape=(3, 12, 4))
    cube[0] -= 6
    assert describe(cube).apart.empty


def test_severity_that_is_a_trifle_beside_the_scale_is_left_in_peace():
    cube = 0.05 * clean(seed=8) + 5           # hardly any scatter: 0.5 points stand out, but do not matter
    cube[0] -= 0.5
    assert "harsher" not in {d for said in directions(cube).values() for d in said}


def test_table_of_a_hand_made_panel():
    # Three loaves: A and B agree, C scores one point higher and twice as widely.
    cube = np.array([[4.0, 5, 6], [4, 5, 6], [4, 6, 8]])[:, :, None]
    table = describe(cube).table.set_index("assessor")
    assert table.severity.tolist() == pytest.approx([-0.5, -0.5, 1.0])
    assert table.spread["A3"] == pytest.approx(2.0)
    assert table.spread["A1"] == pytest.approx(np.sqrt(1 / 2.5))
    assert table.agreement.tolist() == pytest.approx([1, 1, 1])
    assert table.n_scores.tolist() == [3, 3, 3]


def test_repeatability_is_the_pooled_sd_of_repeats():
    first = panel(clean(shape=(4, 5, 2)))
    again = first[first.assessor == "A2"].assign(score=lambda rows: rows.score + 1)
    table = describe_assessors(pd.concat([first, again]), 9, 1).table.set_index("assessor")
    assert table.repeatability["A2"] == pytest.approx(np.sqrt(0.5))
    assert table.repeatability.isna().sum() == 3


def test_severity_is_least_squares_where_scores_are_missing():
    cube = clean(seed=9, shape=(6, 8, 2))
    cube[np.random.default_rng(4).random((6, 8)) < 0.35] = np.nan
    for a in range(2):
        who, loaf = np.nonzero(~np.isnan(cube[:, :, a]))
        design = np.zeros((len(who), 14))
        design[np.arange(len(who)), who] = design[np.arange(len(who)), 6 + loaf] = 1
        effect = np.linalg.lstsq(design, cube[who, loaf, a], rcond=None)[0][:6]
        assert severities(cube)[:, a] == pytest.approx(effect - effect.mean())


def test_gaps_do_not_make_a_fair_assessor_harsh():
    # The bad loaves were scored by one assessor only beside the others' shared good ones.
    true = np.r_[np.full(4, 8.0), np.full(4, 2.0)]
    cube = np.repeat(true[None, :], 6, axis=0)[:, :, None].copy()
    cube[1:4, 4:] = np.nan
    assert severities(cube).ravel() == pytest.approx(np.zeros(6), abs=1e-9)


def test_one_who_shares_no_loaf_is_not_compared():
    cube = clean(shape=(5, 8, 2))
    cube[:4, 6:] = np.nan
    cube[4, :6] = np.nan
    found = describe(cube)
    assert found.unlinked == ("A5",)
    assert np.isnan(found.table.set_index("assessor").severity["A5"])


def test_a_cube_holds_every_score_in_its_place():
    names, attributes, cube = score_cube(BREAD)
    assert (cube.shape, len(names), len(attributes)) == ((8, 10, 11), 8, 11)
    assert np.nansum(cube) == BREAD.score.sum()


@pytest.mark.parametrize("change", [lambda x: x + 3, lambda x: x * 1.0], ids=["shifted", "same"])
def test_a_shifted_scale_changes_nobody(change):
    cube = clean(seed=5)
    cube[2] -= 2.5
    moved, still = describe(change(cube)), describe(cube)
    pd.testing.assert_frame_equal(moved.apart, still.apart)
    assert moved.table.severity.to_numpy() == pytest.approx(still.table.severity.to_numpy())


def test_order_of_rows_changes_nothing():
    cube = clean(seed=5)
    cube[2] -= 2.5
    shuffled = panel(cube).sample(frac=1, random_state=2)
    pd.testing.assert_frame_equal(describe_assessors(shuffled, 9, 1).apart, describe(cube).apart)
