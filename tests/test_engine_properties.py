"""What must hold whatever the records: order, names, unit and zero point change nothing but the
unit.
"""

import numpy as np
import pytest
from fairloaf.analysis.mixed_model.fitting import (
    NotIdentifiable,
    NoVariation,
    RankDeficient,
    fit_reml,
    prepare,
)
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

L = np.array([0.0, 1.0, 0.0])


@st.composite
def trials(draw):
    """A trial of up to 8 mixes of up to 5 loaves, perhaps on days; formula on mixes, tin on
    loaves.
    """
    sizes = draw(st.lists(st.integers(1, 5), min_size=4, max_size=8))
    mix = np.repeat(np.arange(len(sizes)), sizes)
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    spread = draw(st.sampled_from([0.0, 0.5, 3.0]))
    y = rng.normal(size=len(mix)) + spread * rng.normal(size=len(sizes))[mix]
    X = np.column_stack([np.ones(len(mix)), mix % 2, rng.integers(0, 2, len(mix))]).astype(float)
    groups = {"mix": mix} | ({"day": mix // 2} if draw(st.booleans()) else {})
    return y, X, groups


def fitted(y, X, groups):
    """The fit, when these records can be fitted and give an interval."""
    try:
        m = fit_reml(y, X, groups)
    except (NotIdentifiable, RankDeficient):
        assume(False)
    assume(not m.at_edge)
    return m


def same(m, other, unit=1.0, shift=0.0, rel=1e-6):
    """Two fits are the same up to the unit and the zero point of the response."""
    assert list(other.variances.values()) == pytest.approx(
        [unit**2 * v for v in m.variances.values()], rel=rel, abs=rel * unit**2
    )
    a, b = m.contrast(L), other.contrast(L)
    assert (b.estimate, b.standard_error, b.ci_low, b.ci_high) == pytest.approx(
        (unit * a.estimate, unit * a.standard_error, unit * a.ci_low, unit * a.ci_high),
        rel=rel,
        abs=rel * unit,
    )
    assert (b.df, b.t_value, b.p_value) == pytest.approx(
        (a.df, a.t_value, a.p_value), rel=rel, abs=rel
    )
    assert other.coefficients[0] == pytest.approx(
        unit * m.coefficients[0] + shift, rel=rel, abs=rel * unit
    )


@given(trials(), st.randoms(use_true_random=False))
def test_row_order_changes_nothing(trial, random):
    y, X, groups = trial
    order = list(range(len(y)))
    random.shuffle(order)
    same(
        fitted(*trial),
        fit_reml(y[order], X[order], {name: label[order] for name, label in groups.items()}),
    )


@given(trials())
def test_names_of_groups_change_nothing(trial):
    y, X, groups = trial
    renamed = {
        name: np.array([f"{name} {7 * code % 11}/{code}" for code in label])
        for name, label in groups.items()
    }
    same(fitted(*trial), fit_reml(y, X, renamed))
    same(
        fitted(*trial),
        fit_reml(y, X, {name: 3 * label.max() - label for name, label in groups.items()}),
    )


@given(trials(), st.sampled_from([1e-9, 0.001, 28.35, 1e9]))
def test_a_change_of_unit_changes_the_unit(trial, unit):
    y, X, groups = trial
    same(fitted(*trial), fit_reml(unit * y, X, groups), unit=unit)


@given(trials(), st.sampled_from([-273.15, 5.0, 1e6, 1e9]))
def test_a_shifted_zero_point_changes_the_mean_alone(trial, shift):
    y, X, groups = trial
    # the shifted numbers themselves are rounded to about 1e-16 · shift
    same(fitted(*trial), fit_reml(y + shift, X, groups), shift=shift, rel=1e-6 + 1e-13 * abs(shift))


@given(trials(), st.sampled_from([1e-6, 1000.0]), st.sampled_from([0.0, 2026.0]))
def test_the_unit_of_a_column_changes_its_coefficient_alone(trial, unit, shift):
    y, X, groups = trial
    m = fitted(*trial)
    other = fit_reml(y, np.column_stack([X[:, :2], unit * X[:, 2] + unit * shift]), groups)
    assert other.contrast([0, 0, unit]).ci_low == pytest.approx(
        m.contrast([0, 0, 1]).ci_low, rel=1e-5, abs=1e-6
    )
    assert other.contrast(L).df == pytest.approx(m.contrast(L).df, rel=1e-5)


@given(trials(), st.integers(0, 2), st.floats(0.1, 10))
def test_a_repeated_column_is_refused_by_name(trial, repeated, times):
    y, X, groups = trial
    fitted(*trial)
    names = ["mean", "formula", "tin", "copy"]
    told = rf"column 3 \(copy\) follows from column {repeated} \({names[repeated]}\)"
    with pytest.raises(RankDeficient, match=told):
        fit_reml(y, np.column_stack([X, times * X[:, repeated]]), groups, column_names=names)


@given(trials())
def test_an_added_loaf_that_is_a_mix_of_its_own_weighs_as_one(trial):
    # A mix of one loaf enters through V = σ² + θ alone: its weight in the mean of a one-column
    # model is the generalised least squares one, 1 / (σ² + θ), beside n / (σ² + nθ) for a mix of n.
    y, _, groups = trial
    mix = np.append(groups["mix"], groups["mix"].max() + 1)
    y = np.append(y, 0.3)
    m = fitted(y, np.ones((len(y), 1)), {"mix": mix})
    sizes = np.bincount(mix)
    weight = sizes / (m.variances["residual"] + sizes * m.variances["mix"])
    means = np.bincount(mix, y) / sizes
    assert m.coefficients[0] == pytest.approx(weight @ means / weight.sum(), rel=1e-8, abs=1e-8)


ANY = arrays(
    float,
    12,
    elements=st.one_of(
        st.sampled_from([0.0, 1.0, 1.0, 5.5, -3.0]), st.floats(-1e12, 1e12, allow_nan=False)
    ),
)


@given(ANY, arrays(int, 12, elements=st.integers(0, 4)), st.booleans())
def test_whatever_the_numbers_no_nan_leaves_without_a_reason(y, mix, bounded):
    X = np.column_stack([np.ones(12), np.tile([0.0, 1.0], 6)])
    try:
        m = fit_reml(y, X, {"mix": mix}, bounded=bounded)
    except (NotIdentifiable, NoVariation):
        return
    c, f = m.contrast([0, 1]), m.f_test(np.eye(2))
    assert np.isfinite(
        [c.estimate, *m.coefficients, *m.variances.values(), *m.residuals, m.log_likelihood]
    ).all()
    told = [*c.to_dict().values(), f.f_value, f.den_df, f.p_value, *m.covariance.ravel()]
    assert m.at_edge or np.isfinite(told).all()


@given(arrays(float, (12, 3), elements=st.sampled_from([0.0, 1.0, 2.0, 7.0])))
def test_many_fits_say_which_ones_have_no_answer(Y):
    X = np.column_stack([np.ones(12), np.tile([0.0, 1.0], 6)])
    many = prepare(X, {"mix": np.repeat([0, 1, 2, 3], 3)}).fit_many(Y)
    estimate, error, df = many.contrast([0, 1])
    assert np.isfinite(estimate).all()
    no_answer = many.at_edge | many.no_variation
    assert (np.isnan(error) == no_answer).all()
    assert (np.isnan(df) == no_answer).all()
    assert (many.no_variation == [np.ptp(y[::2]) == 0 and np.ptp(y[1::2]) == 0 for y in Y.T]).all()
