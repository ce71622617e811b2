"""How the engine takes groupings apart and squeezes loaves into few rows: nothing may be lost on
the way.
"""

import numpy as np
import pytest
from fairloaf.analysis.mixed_model.by_setting import BySetting
from fairloaf.analysis.mixed_model.fitting import fit_reml, prepare
from fairloaf.analysis.mixed_model.groupings import read_groupings
from fairloaf.analysis.mixed_model.reml import Likelihood, plain_information
from fairloaf.analysis.mixed_model.sufficient import reduce_design

from .published import group_effects


def marks(groupings, kinds):
    """Z of some groupings, all groups beside one another."""
    Z = np.zeros((groupings.n, groupings.n_groups))
    for kind in kinds:
        Z[np.arange(groupings.n), groupings.codes[kind]] = 1
    return Z


def some_layout(kind, rng):
    """Groupings of 40 loaves, with gaps."""
    mix = rng.integers(0, 12, 40)
    return {
        "nested": {"mix": mix, "day": mix // 3},
        "crossed": {"mix": mix, "assessor": rng.integers(0, 5, 40)},
        "three deep": {"day": mix // 6, "mix": mix, "load": mix // 2},
        "apart": {
            "a": np.where(mix < 6, mix, 6 + mix // 8),
            "b": np.where(mix < 6, mix % 2, 2 + mix % 3),
        },
    }[kind]


@pytest.mark.parametrize("kind", ["nested", "crossed", "three deep", "apart"])
def test_coordinates_give_back_every_grouping(kind):
    groupings = read_groupings(some_layout(kind, np.random.default_rng(5)), 40)
    for k in range(len(groupings.names)):
        Z, together = marks(groupings, [k]), np.zeros((40, 40))
        for block in groupings.blocks:
            for groups, pattern in zip(block.groups, block.pattern, strict=True):
                U = marks(groupings, range(len(groupings.names)))[:, groups] @ block.T[pattern]
                together += U @ block.H[k, pattern] @ U.T
        assert together == pytest.approx(Z @ Z.T, abs=1e-12)


def test_components_share_no_loaf_and_leave_out_no_group():
    groupings = read_groupings(some_layout("apart", np.random.default_rng(6)), 40)
    all_groups = np.concatenate([block.groups.ravel() for block in groupings.blocks])
    assert sorted(all_groups) == list(range(groupings.n_groups))
    component = {
        group: (b, c)
        for b, block in enumerate(groupings.blocks)
        for c, groups in enumerate(block.groups)
        for group in groups
    }
    first, second = groupings.codes
    assert all(component[a] == component[b] for a, b in zip(first, second, strict=True))


def test_days_that_look_alike_share_a_pattern_however_they_are_named():
    # 15 days of 2 oven loads of 2 and 1 mixes (3 loaves each), 10 days of one load of 2 mixes of 2
    # loaves
    rng = np.random.default_rng(8)
    big = [
        (d, f"{d}/{load}", f"{d}/{load}/{mix}")
        for d in range(15)
        for load, mixes in ((0, 2), (1, 1))
        for mix in range(mixes)
        for _ in range(3)
    ]
    small = [
        (d, f"{d}/0", f"{d}/0/{mix}") for d in range(15, 25) for mix in range(2) for _ in range(2)
    ]
    rows = rng.permutation(np.array(big + small, dtype=object))
    names = {label: f"{rng.integers(10**9)}-{label}" for label in np.unique(rows[:, 2].astype(str))}
    mixes = [names[label] for label in rows[:, 2]]
    groupings = read_groupings({"mix": mixes, "load": rows[:, 1], "day": rows[:, 0]}, len(rows))
    assert [block.copies.tolist() for block in groupings.blocks] == [[10.0], [15.0]]


def test_many_days_in_few_rows_are_the_dense_formulas():
    # 80 unbalanced days that are squeezed into the rows of a few patterns.
    rng = np.random.default_rng(9)
    mix = np.repeat(np.arange(160), 3)[rng.random(480) < 0.9]
    labels = {"day": mix // 2, "mix": mix}
    X = np.column_stack([np.ones(len(mix)), mix % 2])
    reduced = reduce_design(read_groupings(labels, len(mix)), BySetting.of(X))
    assert sum(piece.X.shape[1] for piece in reduced.pieces) < 60
    state_is_dense(reduced, labels, X, theta=[0.7, -0.1, 1.2])


@pytest.mark.parametrize("lost", [0, 1])
def test_a_complete_panel_is_taken_apart_into_single_coordinates(lost):
    # 7 mixes of 6 loaves that 4 people scored, all of them and each of two formulas in their own
    # way; where one score is lost, the groupings of its formula do not commute.
    score = np.arange(7 * 6 * 4 - lost)
    loaf, person, mix = score // 4, score % 4, score // 24
    formula = (mix > 3).astype(int)
    labels = {"mix": mix, "loaf": loaf, "person × formula": person + 4 * formula}
    X = np.column_stack([np.ones(len(score)), formula, loaf % 2, person == 1])
    reduced = reduce_design(read_groupings(labels, len(score)), BySetting.of(X))
    assert [piece.size for piece in reduced.pieces] == ([1, 25] if lost else [1])
    state_is_dense(reduced, labels, X, theta=[0.3, 0.5, -0.02, 1.2])


def state_is_dense(reduced, labels, X, theta):
    """Every quantity at a fixed θ is that of the dense formulas."""
    y, theta = np.random.default_rng(1).normal(size=len(X)), np.array(theta)
    state = Likelihood(reduced.pieces, reduced.responses(y[:, None])).at(theta[None])
    G = [np.equal.outer(code, code).astype(float) for code in labels.values()] + [np.eye(len(y))]
    V = sum(t * g for t, g in zip(theta, G, strict=True))
    W = np.linalg.inv(V)
    C = X.T @ W @ X
    P = W - W @ X @ np.linalg.inv(C) @ X.T @ W
    assert state.value[0] == pytest.approx(
        np.linalg.slogdet(V)[1] + np.linalg.slogdet(C)[1] + y @ P @ y
    )
    assert state.beta[0] == pytest.approx(np.linalg.solve(C, X.T @ W @ y))
    assert state.score[0] == pytest.approx([(y @ P @ g @ P @ y - np.trace(P @ g)) / 2 for g in G])
    assert state.expected[0] == pytest.approx(
        np.array([[np.sum((P @ a) * (P @ b).T) / 2 for b in G] for a in G])
    )
    assert state.average[0] == pytest.approx(
        np.array([[y @ P @ a @ P @ b @ P @ y / 2 for b in G] for a in G])
    )
    assert state.P[0] == pytest.approx(np.array([-X.T @ W @ g @ W @ X for g in G]))
    assert state.Q[0] == pytest.approx(
        np.array([[X.T @ W @ a @ W @ b @ W @ X for b in G] for a in G])
    )


def test_predicted_effects_solve_the_mixed_model_equations():
    # (ZᵀZ + σ² D⁻¹) u = Zᵀ (y − Xβ): Henderson's equations (Searle, Casella & McCulloch 1992, ch.
    # 7).
    rng = np.random.default_rng(10)
    labels = {"mix": np.repeat(np.arange(10), 4), "assessor": rng.integers(0, 5, 40)}
    y = (
        rng.normal(size=40)
        + 2 * rng.normal(size=10)[labels["mix"]]
        + 2 * rng.normal(size=5)[labels["assessor"]]
    )
    X = np.column_stack([np.ones(40), np.tile([0.0, 1.0], 20)])
    m = fit_reml(y, X, labels)
    Z = np.hstack([np.equal.outer(code, np.unique(code)).astype(float) for code in labels.values()])
    theta = np.repeat([m.variances["mix"], m.variances["assessor"]], [10, 5])
    u = np.concatenate([list(effects.values()) for effects in group_effects(m).values()])
    left = Z.T @ (y - X @ m.coefficients)
    assert (Z.T @ Z + np.diag(m.variances["residual"] / theta)) @ u == pytest.approx(left)
    assert m.residuals == pytest.approx(y - X @ m.coefficients - Z @ u)
    assert m.fitted + m.residuals == pytest.approx(y)


@pytest.mark.parametrize("kind", ["nested", "crossed", "three deep", "apart"])
def test_the_plain_information_is_that_of_the_likelihood_where_loaves_share_nothing(kind):
    rng = np.random.default_rng(6)
    design = np.column_stack([np.ones(40), rng.normal(size=(40, 2))])
    pieces = prepare(design, some_layout(kind, rng)).reduced.pieces
    theta = np.eye(1, pieces[0].H.shape[1], pieces[0].H.shape[1] - 1)
    nothing = tuple(np.zeros((1, *piece.X.shape[1:3])) for piece in pieces)
    expected = Likelihood(pieces, nothing).at(theta).expected[0]
    assert plain_information(pieces) == pytest.approx(2 * expected, rel=1e-12)
