"""The climb to the top of the restricted likelihood: Newton's method in the variances themselves.

First the optimum with every grouping's variance at or above zero (small unbalanced trials can have
two: where the first one found lies on a bound, another start is tried); from there, where a
variance is held at zero, on to the *local* optimum with V positive definite. (The global one can be
a spurious spike at the edge of that region.) Newton uses the observed information where it is
positive definite and the expected elsewhere, and halves its step until −2 log-likelihood falls. It
has converged when the decrement gᵀE⁻¹g, which is free of units, is below 10⁻⁶.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .reml import Likelihood, State, definite

CONVERGED = 1e-6
# one more Newton step from a decrement below this is exact to about its square
LAST_STEP = 1e-10
NEGLIGIBLE = 1e-20  # decrement (or gain) that rounding alone can make
# with 200 and 40 instead, one fit fewer in 2,000 unbalanced trials ends at the edge
MAX_STEPS = 40
MAX_HALVINGS = 15
# least eigenvalue of an information matrix scaled to unit diagonal that is trusted
POSITIVE = 1e-8


@dataclass(slots=True)
class Step:
    """A proposed step of m responses, and how far it may go (length ≤ 1) before a variance meets
    zero.
    """

    direction: NDArray  # (m, k + 1)
    length: NDArray  # (m,)
    meets_zero: NDArray  # (m, k + 1) the variance that is zero at the full length
    decrement: NDArray  # (m,)


def maximise(likelihood: Likelihood, bounded: bool) -> tuple[State, NDArray]:
    """The state at the optimum, and where it converged (m,).

    likelihood : of responses whose residual variance under least squares is 1
    bounded : stop at the optimum with no grouping's variance below zero
    """
    state, held, converged = best_within_bounds(likelihood)
    below = np.flatnonzero(held.any(1) | ~converged)
    if not bounded and state.theta.shape[1] > 1 and len(below):
        inner = state.take(below)
        free = np.zeros_like(held[below])
        converged[below] = climb(inner, free, likelihood.of(below), bounded=False)
        state.put(below, inner)
    return state, converged


def best_within_bounds(likelihood: Likelihood) -> tuple[State, NDArray, NDArray]:
    """The optimum with no grouping's variance below zero, the variances held there, and where it
    converged.
    """
    state = likelihood.at(scoring_guess(likelihood))
    held = state.theta <= 0
    converged = climb(state, held, likelihood, bounded=True)
    doubtful = np.flatnonzero(held.any(1) | ~converged)
    if len(doubtful):
        k1 = state.theta.shape[1]
        other = likelihood.of(doubtful).at(np.full((len(doubtful), k1), 1 / k1))
        other_held = np.zeros_like(held[doubtful])
        well = climb(other, other_held, likelihood.of(doubtful), bounded=True)
        higher = well & (~converged[doubtful] | (other.value < state.value[doubtful] - CONVERGED))
        state.put(doubtful[higher], other.take(np.flatnonzero(higher)))
        held[doubtful[higher]] = other_held[higher]
        converged[doubtful[higher]] = True
    return state, held, converged


def scoring_guess(likelihood: Likelihood) -> NDArray:
    """One scoring step from θ = (0, …, 0, 1), which is MINQUE(0), cut back to θₖ ≥ 0 and a residual
    above zero.
    """
    theta = np.zeros((len(likelihood), likelihood.n_variances))
    theta[:, -1] = 1
    state = likelihood.at(theta)
    theta = theta + np.linalg.solve(state.expected, state.score[..., None])[..., 0]
    theta[:, :-1] = np.maximum(theta[:, :-1], 0)
    theta[:, -1] = np.maximum(theta[:, -1], 0.05)
    return theta


def climb(state: State, held: NDArray, likelihood: Likelihood, *, bounded: bool) -> NDArray:
    """Move `state` and `held` (variances kept at zero) to the optimum, in place; returns where it
    converged.
    """
    m = len(state.value)
    converged, last, going = np.zeros(m, bool), np.full(m, np.inf), np.arange(m)
    now, fixed = state, held  # of those that are going
    for _ in range(MAX_STEPS):
        step = newton_step(now, fixed, bounded)
        near = step.decrement < CONVERGED
        converged[going] = near
        freed = release(now, fixed, near)
        finished = near & ((step.decrement < NEGLIGIBLE) | (step.decrement > last / 4)) & ~freed
        moving = np.flatnonzero(~finished & ~freed)
        now, stuck = advance(now, fixed, step, moving, near, likelihood)
        last = np.where(freed, np.inf, step.decrement)
        finished[stuck] = True
        finished |= (step.decrement < LAST_STEP) & ~freed
        if finished.any():
            state.put(going, now)
            held[going] = fixed
            left = np.flatnonzero(~finished)
            if not len(left):
                return converged
            now, fixed, likelihood = now.take(left), fixed[left], likelihood.of(left)
            going, last = going[left], last[left]
    state.put(going, now)
    held[going] = fixed
    return converged


def newton_step(state: State, fixed: NDArray, bounded: bool) -> Step:
    """Newton's step in the variances that are not fixed, cut where a variance would pass zero if
    bounded.
    """
    scale = 1 / np.sqrt(np.diagonal(state.expected, axis1=1, axis2=2))
    g = np.where(fixed, 0, state.score * scale)
    observed = 2 * state.average - state.expected
    (by_expected, by_observed), positive = solve(
        np.stack([state.expected, observed]) * scale[:, :, None] * scale[:, None, :], g, fixed
    )
    direction = np.where(fixed, 0, scale * np.where(positive[1][:, None], by_observed, by_expected))
    length, meets_zero = np.ones(len(g)), np.zeros(g.shape, bool)
    if bounded:
        falling = ~fixed & (direction < 0)
        falling[:, -1] = False
        reach = np.where(falling, state.theta / np.where(falling, -direction, 1), np.inf)
        length = np.minimum(reach.min(1), 1)
        meets_zero = falling & (reach <= length[:, None])
    return Step(direction, length, meets_zero, (g * by_expected).sum(1))


def solve(M: NDArray, g: NDArray, fixed: NDArray) -> tuple[NDArray, NDArray]:
    """M⁻¹g by the eigenvalues of the free part of information matrices M (…, m, k + 1, k + 1) at
    unit scale; where all of these are positive.
    """
    free = ~fixed
    size, E = np.linalg.eigh(np.where(free[:, :, None] & free[:, None, :], M, np.eye(g.shape[1])))
    along = (g[:, None] @ E)[..., 0, :] / np.maximum(size, POSITIVE)
    return (E @ along[..., None])[..., 0], size[..., 0] > POSITIVE


def release(state: State, fixed: NDArray, near: NDArray) -> NDArray:
    """Free, in place, the fixed variance that would raise the likelihood most; returns where one
    was freed.
    """
    spread = np.diagonal(state.expected, axis1=1, axis2=2)
    gain = np.where(fixed & (state.score > 0), state.score**2 / spread, 0)
    freed = near & (gain.max(1) > NEGLIGIBLE)
    fixed[np.flatnonzero(freed), gain[freed].argmax(1)] = False
    return freed


def advance(
    state: State, fixed: NDArray, step: Step, moving: NDArray, near: NDArray, likelihood: Likelihood
) -> tuple[State, NDArray]:
    """Take the steps of the `moving` responses, each halved until it helps; returns where they
    stand then, and those it never helped. `state` and `fixed` are overwritten.

    Near the optimum, where rounding hides the change in likelihood, any step that keeps V positive
    definite is taken.
    """
    full = step.length.copy()
    for halving in range(MAX_HALVINGS):
        if not len(moving):
            break
        theta = state.theta[moving] + step.length[moving, None] * step.direction[moving]
        arrived = step.meets_zero[moving] & (step.length == full)[moving, None]
        theta[arrived] = 0
        every = len(moving) == len(likelihood)
        theirs = likelihood if every else likelihood.of(moving)
        # on the way to the edge most are refused, which is seen without all the rest
        if not halving or definite(theta, theirs.spectra(theta)).any():
            trial = theirs.at(theta)
            good = (trial.value <= state.value[moving]) | (near[moving] & np.isfinite(trial.value))
            if every and good.all():
                fixed |= arrived
                return trial, moving[:0]
            state.put(moving[good], trial.take(np.flatnonzero(good)))
            fixed[moving[good]] |= arrived[good]
            moving = moving[~good]
        step.length[moving] /= 2
    return state, moving
