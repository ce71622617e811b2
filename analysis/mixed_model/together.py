"""Several models of one response each, climbed together: a trial without each of its mixes, or
adjusted for each condition.

Models with equally many variances and columns are laid beside one another: every step of the climb
is then one round of matrix products, however many the models. Each ends where it would end alone.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from .ascent import maximise
from .fitting import PreparedModel
from .least_squares import LeastSquares, least_squares
from .many_fits import RemlFits
from .reml import Likelihood
from .sufficient import Piece


def fit_together(
    models: Sequence[PreparedModel], responses: Sequence[NDArray]
) -> tuple[RemlFits, ...]:
    """Fit each model to its own response (n, 1), as `PreparedModel.fit_many` does by itself."""
    starts = [least_squares(Y, model.basis) for model, Y in zip(models, responses, strict=True)]
    alike: dict[tuple[int, int], list[int]] = {}
    for i, (model, start) in enumerate(zip(models, starts, strict=True)):
        if not start.exact[0]:
            kind = len(model.reduced.names), model.basis.Q.shape[1]
            alike.setdefault(kind, []).append(i)
    fits = {
        i: fit
        for members in alike.values()
        for i, fit in zip(
            members,
            _climbed([models[i] for i in members], [starts[i] for i in members]),
            strict=True,
        )
    }
    return tuple(
        fits[i] if i in fits else models[i].fit_many(responses[i]) for i in range(len(models))
    )


def _climbed(models: Sequence[PreparedModel], starts: Sequence[LeastSquares]) -> list[RemlFits]:
    """The fits of models with equally many variances and columns."""
    state, converged = maximise(beside_one_another(models, starts), bounded=False)
    return [
        RemlFits(model.basis, model.reduced, start, state.take(own), converged[own], bounded=False)
        for model, start, own in zip(models, starts, np.arange(len(models))[:, None], strict=True)
    ]


def beside_one_another(
    models: Sequence[PreparedModel], starts: Sequence[LeastSquares]
) -> Likelihood:
    """The likelihood of one response a model."""
    rows = [
        model.reduced.responses(start.residuals)
        for model, start in zip(models, starts, strict=True)
    ]
    parts = [
        {piece.size: (piece, y[0]) for piece, y in zip(model.reduced.pieces, own, strict=True)}
        for model, own in zip(models, rows, strict=True)
    ]
    sizes = sorted({size for part in parts for size in part})
    laid = [_laid([part.get(size) for part in parts], models, size) for size in sizes]
    return Likelihood(tuple(piece for piece, _ in laid), tuple(y for _, y in laid))


def _laid(
    parts: Sequence[tuple[Piece, NDArray] | None], models: Sequence[PreparedModel], size: int
) -> tuple[Piece, NDArray]:
    """The pieces of one size as one, and the responses' rows (d, rows, q).

    A model with fewer patterns or rows has empty ones besides: no copies, nothing but zeros, and
    the residual's variance, which is in every model.
    """
    d, there = len(parts), [part for part in parts if part is not None]
    most = max(piece.copies.shape[1] for piece, _ in there)
    n_rows = max(len(y) for _, y in there)
    H = np.zeros((d, len(models[0].reduced.names), most, size, size))
    H[:, -1] = np.eye(size)
    copies = np.zeros((d, most))
    X = np.zeros((d, n_rows, size, models[0].basis.Q.shape[1]))
    pattern = np.zeros((d, n_rows), int)
    Y = np.zeros((d, n_rows, size))
    for i, part in enumerate(parts):
        if part is not None:
            piece, y = part
            g, n = piece.copies.shape[1], len(y)
            H[i, :, :g], copies[i, :g] = piece.H[0], piece.copies[0]
            X[i, :n], pattern[i, :n], Y[i, :n] = piece.X[0], piece.pattern[0], y
    return Piece(H, copies, X, pattern), Y
