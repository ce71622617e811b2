"""The fit that no slip can bend, the cut it is judged by, and the chances that the checks work
out.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from fairloaf.trials.checks.copies import expected_twins
from fairloaf.trials.checks.far import far_in_mix
from fairloaf.trials.checks.grouping import joint_codes, kinds_in
from fairloaf.trials.checks.handling import losing_so_many
from fairloaf.trials.checks.names import fold, fold_all, one_letter_apart
from fairloaf.trials.checks.panel import order_chance
from fairloaf.trials.checks.robust import Groups, cutoff, free_values, polish, robust_scale, scales
from scipy import stats


def test_group_medians_are_those_of_numpy():
    rng = np.random.default_rng(1)
    codes, values = rng.integers(0, 40, 700), rng.normal(size=700)
    codes = pd.factorize(codes)[0]
    expected = [np.median(values[codes == code]) for code in range(codes.max() + 1)]
    assert Groups.of(codes).medians(values) == pytest.approx(expected, rel=1e-12)


def test_an_additive_table_leaves_nothing_but_the_slip():
    combination, mix = (axis.ravel() for axis in np.indices((4, 5)))
    values = np.array([1.0, 3.0, 2.0, 7.0])[combination] + np.array([0.0, 0.5, -0.2, 0.9, 0.1])[mix]
    values[7] += 100
    residuals = polish(values, (Groups.of(combination), Groups.of(mix)))
    assert residuals[7] == pytest.approx(100, abs=1e-9)
    assert np.delete(residuals, 7) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("layout", [(2, 3, 2, 2), (3, 4, 1, 4), (2, 2, 3, 1)])
def test_free_values_are_rows_less_the_rank_of_the_design(layout):
    f, m, c, _ = (axis.ravel() for axis in np.indices(layout))
    kinds, doughs = f * layout[2] + c, f * layout[1] + m
    design = np.hstack([kinds[:, None] == np.unique(kinds), doughs[:, None] == np.unique(doughs)])
    free = free_values((Groups.of(kinds), Groups.of(doughs)))
    assert free == len(f) - np.linalg.matrix_rank(design.astype(float))


def test_the_scale_leaves_out_the_zeros_that_the_fit_has_made():
    assert robust_scale(np.array([0.0, 0.0, 0.0, 1.0, -2.0, 3.0]), free=3) == 2.0


@pytest.mark.parametrize("alarms", [0.1, 0.025])
def test_the_cut_lets_through_as_many_false_alarms_as_it_says(alarms):
    kinds, doughs = np.repeat(np.arange(2), 24), np.repeat(np.arange(12), 4)
    groupings, tins = (Groups.of(kinds), Groups.of(doughs)), np.zeros(48, int)
    free = free_values(groupings)
    cut = cutoff(groupings, tins, free, alarms)
    residuals = polish(np.random.default_rng(5).standard_normal((48, 4000)), groupings)
    told = (np.abs(residuals) / robust_scale(residuals, free) > cut).sum() / 4000
    assert alarms / 2 < told < alarms * 2
    assert cutoff(groupings, tins, free, alarms, simulated=0) == pytest.approx(cut, rel=0.12)


def test_a_stratum_whose_residuals_are_used_up_takes_the_scale_of_all():
    residuals = np.array([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, -2.0, 3.0, -2.0] * 2)
    strata = np.tile([0] * 8 + [1] * 4, 2)
    assert robust_scale(residuals, 16) == 0.5
    assert set(scales(residuals, strata, 16)) == {0.5}


def test_of_two_loaves_the_one_further_from_its_combination_is_named():
    rows, residuals = np.array([0, 1]), np.array([0.5, -0.5])
    found = far_in_mix(
        rows, residuals, limits=np.array([0.1, 0.1]), from_centre=np.array([0.1, 0.9])
    )
    assert found == {1: pytest.approx(-1.0)}


def test_missing_labels_are_a_code_of_their_own_and_no_kind():
    table = pd.DataFrame({"mix": ["a", "a", None, "b"], "formula": ["x", None, "x", "y"]})
    assert joint_codes(table, ["mix"]).tolist() == [0, 0, 1, 2]
    assert kinds_in(np.array([0, 0, 1, 1]), table["formula"]).tolist() == [1, 2]


@pytest.mark.parametrize(
    ("lost", "baked", "all_lost", "all_baked"), [(4, 12, 4, 24), (5, 8, 9, 40), (30, 100, 41, 1000)]
)
def test_chance_of_losing_is_the_hypergeometric_tail(lost, baked, all_lost, all_baked):
    tail = stats.hypergeom(all_baked, baked, all_lost).sf(lost - 1)
    assert losing_so_many(lost, baked, all_lost, all_baked) == pytest.approx(tail, rel=1e-6)


def test_expected_twins_are_those_of_a_simulation():
    rng = np.random.default_rng(2)
    groups = np.repeat(np.arange(4000), 4)
    values = rng.multivariate_normal([400, 1700], [[9, 40], [40, 900]], size=16000)
    table = pd.DataFrame(
        {"mix": groups, "loaf_g": values[:, 0].round(), "loaf_ml": (values[:, 1] / 5).round() * 5}
    )
    seen = table.duplicated(keep=False).sum() / 2
    assert expected_twins(table, ["loaf_g", "loaf_ml"], ["mix"]) == pytest.approx(seen, rel=0.15)


@pytest.mark.parametrize(
    ("one", "other", "alike"),
    [
        ("malted", "maletd", True),
        ("malted", "malte", True),
        ("malted", "maltedd", True),
        ("malted", "molted", True),
        ("malted", "melted loaf", False),
        ("batch11", "batch12", False),
        ("rye", "rya", False),
        ("malted", "malted", False),
    ],
)
def test_one_letter_apart(one, other, alike):
    assert one_letter_apart(one, other) is alike
    assert one_letter_apart(other, one) is alike


@pytest.mark.parametrize(
    "names", [["House ", "HOUSE", "ho-use"], ["ｍix 1", "Mix 1"], ["a\0b", "ab"], ["--", "?"], []]
)
def test_folding_all_names_is_folding_each(names):
    assert fold_all(names) == [fold(name) for name in names]


def test_order_test_is_kruskal_wallis_when_one_person_scored():
    order = [1.0, 2, 3, 4, 5, 6, 7, 8, 9]
    formula = list("aababcbcc")
    looks = pd.DataFrame({"assessor": "Ana", "order": order, "formula": formula})
    by_formula = looks.groupby("formula")["order"].apply(list)
    assert order_chance(looks) == pytest.approx(stats.kruskal(*by_formula).pvalue, rel=1e-9)
