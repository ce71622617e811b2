"""How assessors are described and who stands apart. How often:
tests/benchmarks/test_assessor_finding.py.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from fairloaf.analysis.crumb.assessors import describe_assessors, score_cube
from fairloaf.analysis.crumb.standing_apart import Smallest, chance_above, chance_below
from fairloaf.analysis.crumb.traits import Ratio, points_above, traits
from scipy import stats

REFERENCE = Path(__file__).parent / "reference"
BREAD = pd.read_csv(REFERENCE / "bread_panel.csv").rename(
    columns={"judge": "assessor", "bread": "loaf"}
)


def panel(cube: np.ndarray) -> pd.DataFrame:
    """Return the long table of scores (assessors, loaves, attributes); NaN cells are not there."""
    who, loaf, attribute = np.indices(cube.shape).reshape(3, -1)
    table = pd.DataFrame(
        {
            "assessor": [f"A{i + 1}" for i in who],
            "loaf": loaf.astype(str),
            "attribute": [f"attribute {i}" for i in attribute],
            "score": cube.ravel(),
        }
    )
    return table.dropna()


def clean(seed: int = 1, shape: tuple[int, int, int] = (8, 12, 4)) -> np.ndarray:
    """Return scores of assessors who are alike but for chance and a little mildness."""
    rng = np.random.default_rng(seed)
    m, loaves, k = shape
    return (
        5.5
        + 1.2 * rng.normal(size=(1, loaves, k))
        + 0.2 * rng.normal(size=(m, 1, 1))
        + rng.normal(size=(m, loaves, k))
    )


def describe(cube: np.ndarray):
    return describe_assessors(panel(cube), width=9, step=1)


def directions(cube: np.ndarray) -> dict[str, set[str]]:
    """Return assessor → what was said of all attributes together."""
    apart = describe(cube).apart
    return {who: set(rows.direction) for who, rows in apart.groupby("assessor")}


def test_nobody_is_named_in_a_clean_panel():
    assert directions(clean()) == {}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda own, rng: own - 2.5, {"harsher"}),
        (lambda own, rng: own + 2.5, {"milder"}),
        (lambda own, rng: 5.5 + 0.15 * (own - 5.5), {"narrower"}),
        (lambda own, rng: rng.uniform(1, 10, own.shape), {"own way"}),
    ],
    ids=["harsh", "mild", "narrow", "random"],
)
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


def test_points_above_in_one_attribute_is_named_there():
    cube = clean(seed=7)
    cube[4, :, 1] -= 5
    apart = describe(cube).apart
    assert set(apart.assessor) == {"A5"}
    assert "attribute 1" in set(apart.attribute)


def test_fewer_than_four_are_never_told_apart():
    cube = clean(shape=(3, 12, 4))
    cube[0] -= 6
    assert describe(cube).apart.empty


def test_points_above_that_is_a_trifle_beside_the_scale_is_left_in_peace():
    # hardly any scatter: 0.5 points stand out, but do not matter
    cube = 0.05 * clean(seed=8) + 5
    cube[0] -= 0.5
    assert "harsher" not in {d for said in directions(cube).values() for d in said}


def test_table_of_a_hand_made_panel():
    # Three loaves: A and B agree, C scores one point higher and twice as widely.
    cube = np.array([[4.0, 5, 6], [4, 5, 6], [4, 6, 8]])[:, :, None]
    table = describe(cube).table.set_index("assessor")
    assert table.above_others.tolist() == pytest.approx([-0.5, -0.5, 1.0])
    assert table.use_of_scale["A3"] == pytest.approx(2.0)
    assert table.use_of_scale["A1"] == pytest.approx(np.sqrt(1 / 2.5))
    assert table.ranks_like_others.tolist() == pytest.approx([1, 1, 1])
    assert table.n_scores.tolist() == [3, 3, 3]


def test_the_same_loaf_twice_is_the_pooled_sd_of_repeats():
    first = panel(clean(shape=(4, 5, 2)))
    again = first[first.assessor == "A2"].assign(score=lambda rows: rows.score + 1)
    table = describe_assessors(pd.concat([first, again]), 9, 1).table.set_index("assessor")
    assert table.same_loaf_twice["A2"] == pytest.approx(np.sqrt(0.5))
    assert table.same_loaf_twice.isna().sum() == 3


def test_points_above_is_least_squares_where_scores_are_missing():
    cube = clean(seed=9, shape=(6, 8, 2))
    cube[np.random.default_rng(4).random((6, 8)) < 0.35] = np.nan
    for a in range(2):
        who, loaf = np.nonzero(~np.isnan(cube[:, :, a]))
        design = np.zeros((len(who), 14))
        design[np.arange(len(who)), who] = design[np.arange(len(who)), 6 + loaf] = 1
        effect = np.linalg.lstsq(design, cube[who, loaf, a], rcond=None)[0][:6]
        assert points_above(cube)[:, a] == pytest.approx(effect - effect.mean())


def test_gaps_do_not_make_a_fair_assessor_harsh():
    # The bad loaves were scored by one assessor only beside the others' shared good ones.
    true = np.r_[np.full(4, 8.0), np.full(4, 2.0)]
    cube = np.repeat(true[None, :], 6, axis=0)[:, :, None].copy()
    cube[1:4, 4:] = np.nan
    assert points_above(cube).ravel() == pytest.approx(np.zeros(6), abs=1e-9)


def test_one_who_shares_no_loaf_is_not_compared():
    cube = clean(shape=(5, 8, 2))
    cube[:4, 6:] = np.nan
    cube[4, :6] = np.nan
    found = describe(cube)
    assert found.unlinked == ("A5",)
    assert np.isnan(found.table.set_index("assessor").above_others["A5"])


def residual_squares(table: np.ndarray) -> float:
    """Residual sum of squares of an additive fit of assessors and loaves (m, loaves) with gaps."""
    who, loaf = np.nonzero(~np.isnan(table))
    design = np.zeros((len(who), sum(table.shape)))
    design[np.arange(len(who)), who] = design[np.arange(len(who)), len(table) + loaf] = 1
    fitted = design @ np.linalg.lstsq(design, table[who, loaf], rcond=None)[0]
    return float(((table[who, loaf] - fitted) ** 2).sum())


@pytest.mark.parametrize(("gaps", "close"), [(0.0, 1e-9), (0.2, 0.1)], ids=["complete", "gaps"])
def test_scatter_is_what_an_assessor_adds_to_the_residual_squares(gaps, close):
    cube = clean(seed=3, shape=(6, 12, 1))
    cube[np.random.default_rng(1).random((6, 12)) < gaps] = np.nan
    table = cube[:, :, 0]
    scatter = traits(cube, step=0)[2]
    for i in range(6):
        rest = residual_squares(np.delete(table, i, axis=0))
        added = residual_squares(table) - rest
        assert scatter.value[i, 0] == pytest.approx(
            added / scatter.df[i, 0] / (rest / scatter.usual_df[i, 0]), rel=close
        )
    if not gaps:
        assert (scatter.df == 11).all()
        assert (scatter.usual_df == 44).all()


def test_points_above_is_known_as_well_as_its_mean_of_so_many_scores():
    above, _, scatter = traits(clean(seed=4, shape=(7, 9, 2)), step=0)
    pooled = (
        (scatter.value * scatter.df + scatter.usual_df)
        * scatter.usual
        / (scatter.df + scatter.usual_df)
    )
    assert above.noise == pytest.approx(pooled / 9)
    assert above.together().noise == pytest.approx(above.noise.sum(axis=1, keepdims=True) / 4)


def test_what_severities_owe_to_single_attributes_is_told_from_the_others():
    cube = clean(seed=4, shape=(7, 9, 3))
    special = traits(cube, step=0)[0].special
    for i in range(7):
        # analysis of variance, assessor by attribute
        means = np.delete(cube, i, axis=0).mean(axis=1)
        rest = means - means.mean(axis=1, keepdims=True) - means.mean(axis=0) + means.mean()
        assert special[i, 0] == pytest.approx((rest**2).sum() / (5 * 2))
    assert np.isnan(traits(cube[:, :, :1], step=0)[0].special).all()


def test_use_of_the_scale_has_the_moments_of_scores_that_share_the_bread():
    # 9,000 panels of one bread: the variance of an assessor's use is 2 (use)^2 / df (Patnaik
    # 1949).
    rng = np.random.default_rng(8)
    bread = rng.normal(size=(1, 10, 1))
    cube = bread + rng.normal(size=(40, 10, 300))
    use = traits(cube, step=0)[1]
    own = use.value * use.usual
    assert own.var() / own.mean() ** 2 == pytest.approx(2 / use.df.mean(), rel=0.05)
    assert use.df.mean() > 10


# NIST/SEMATECH e-Handbook, 1.3.6.7.3: the upper 5 % point of F with 5 and 10 degrees of freedom is
# 3.326.
def test_where_people_are_alike_by_nature_variances_are_compared_by_the_f_test():
    ratio = Ratio(*(np.array([x]) for x in (3.326, 5.0, 1.0, 10.0)))
    upside_down = Ratio(*(np.array([x]) for x in (1 / 3.326, 10.0, 1.0, 5.0)))
    assert chance_above(ratio, np.zeros(1), np.full(1, 30.0)) == pytest.approx(0.05, abs=2e-4)
    assert chance_below(upside_down, np.zeros(1), np.full(1, 30.0)) == pytest.approx(0.05, abs=2e-4)


@pytest.mark.parametrize("chance", [0.02, 1e-3, 1e-4])
def test_where_scores_are_many_variances_are_compared_by_how_people_differ(chance):
    # Nothing is left to sampling, so that the logarithm of the ratio of SDs is as good as t times
    # its nature.
    furthest = np.exp(2 * 0.2 * stats.t.isf(chance, 12))
    ratio = Ratio(*(np.array([x]) for x in (furthest, 1e5, 1.0, 1e6)))
    assert chance_above(ratio, np.full(1, 0.2), np.full(1, 12.0)) == pytest.approx(chance, rel=0.25)


def test_who_stands_as_far_apart_as_is_said_is_named_and_half_as_far_is_not():
    cube = clean(seed=12)
    smallest = describe(cube).smallest
    assert 1 < smallest.above_others < 3
    assert smallest.narrower < 1 < min(smallest.wider, smallest.scatter)
    cube[3] -= smallest.above_others
    assert directions(cube) == {"A4": {"harsher"}}
    cube[3] += smallest.above_others / 2
    assert directions(cube) == {}


def test_more_scores_show_less():
    few, many = (
        describe(clean(seed=2, shape=shape)).smallest for shape in ((6, 6, 1), (12, 24, 8))
    )
    assert many.above_others < few.above_others
    assert many.narrower > few.narrower
    assert np.isnan(few.scatter) or many.scatter < few.scatter


@pytest.mark.parametrize("shape", [(3, 12, 4), (4, 2, 1)], ids=["three people", "two loaves"])
def test_too_few_scores_show_nothing_of_anyone(shape):
    found = describe(5.5 + 3 * (clean(shape=shape) - 5.5))
    assert found.smallest == Smallest()
    assert found.apart.empty


@pytest.mark.parametrize("seed", range(40))
def test_any_panel_is_described_without_a_complaint(seed):
    rng = np.random.default_rng(seed)
    cube = np.rint(rng.normal(5, rng.choice([0, 1, 3]), rng.integers(1, 8, 3)))
    cube[rng.random(cube.shape) < rng.choice([0, 0.3, 0.8])] = np.nan
    cube[0, 0, 0] = 5
    assert len(describe(cube).table) == np.isfinite(cube).any(axis=(1, 2)).sum()


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
    assert moved.table.above_others.to_numpy() == pytest.approx(still.table.above_others.to_numpy())


def test_order_of_rows_changes_nothing():
    cube = clean(seed=5)
    cube[2] -= 2.5
    shuffled = panel(cube).sample(frac=1, random_state=2)
    pd.testing.assert_frame_equal(describe_assessors(shuffled, 9, 1).apart, describe(cube).apart)


def test_a_panel_in_two_halves_alike_is_described_half_by_half():
    """Neither half is the one that counts: each is held against its own mean, in any order."""
    cube = np.full((4, 8, 1), np.nan)
    cube[:2, :4, 0] = [[5, 6, 7, 8], [7, 8, 9, 10]]
    cube[2:, 4:, 0] = [[1, 2, 3, 4], [5, 6, 7, 8]]
    assert points_above(cube)[:, 0] == pytest.approx([-1, 1, -2, 2])
    assert points_above(cube[::-1])[:, 0] == pytest.approx([2, -2, 1, -1])
