"""Several models of one response each, climbed together: a trial without each of its mixes, or
adjusted for each condition.

Models with equally many variances are laid beside one another: every step of the climb is then one
round of matrix products, however many the models. One with fewer columns is given further loaves,
each with a column and nothing else of its own: the restricted likelihood is the same, since what
such a loaf adds to log|V| its column takes from log|XᵀV⁻¹X|. Each ends where it would end alone.
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

# models of more columns than this times another's stand apart: they cost as their square
WIDER = 1.5


def fit_together(
    models: Sequence[PreparedModel], responses: Sequence[NDArray]
) -> tuple[RemlFits, ...]:
    """Fit each model to its own response (n, 1), as `PreparedModel.fit_many` does by itself."""
    starts = [least_squares(Y, model.basis) for model, Y in zip(models, responses, strict=True)]
    fits = {
        i: fit
        for members in _alike(models, [not start.exact[0] for start in starts])
        for i, fit in zip(
            members,
            _climbed([models[i] for i in members], [starts[i] for i in members]),
            strict=True,
        )
    }
    return tuple(
        fits[i] if i in fits else models[i].fit_many(responses[i]) for i in range(len(models))
    )


def _alike(models: Sequence[PreparedModel], varied: Sequence[bool]) -> list[list[int]]:
    """Places of the models that are climbed together, of those that varied."""
    groups: list[list[int]] = []
    for i in sorted(np.flatnonzero(varied).tolist(), key=lambda i: models[i].kind):
        first = models[groups[-1][0]].kind if groups else (0, 0)
        n_variances, n_columns = models[i].kind
        if first[0] != n_variances or n_columns > WIDER * first[1]:
            groups.append([])
        groups[-1].append(i)
    return groups


def _climbed(models: Sequence[PreparedModel], starts: Sequence[LeastSquares]) -> list[RemlFits]:
    """The fits of models with equally many variances."""
    state, converged = maximise(beside_one_another(models, starts), bounded=False)
    return [
        RemlFits(
            model.basis,
            model.reduced,
            start,
            state.take(own).of_columns(model.kind[1]),
            converged[own],
            bounded=False,
        )
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
    the residual's variance, which is in every model. Its further loaves are of the first pattern of
    size 1, which is that of what lies outside the groups.
    """
    d, there = len(parts), [part for part in parts if part is not None]
    widths = [model.kind[1] for model in models]
    further = [max(widths) - width if size == 1 else 0 for width in widths]
    most = max(piece.copies.shape[1] for piece, _ in there)
    n_rows = max(
        len(part[1]) + more for part, more in zip(parts, further, strict=True) if part is not None
    )
    H = np.zeros((d, len(models[0].reduced.names), most, size, size))
    H[:, -1] = np.eye(size)
    copies = np.zeros((d, most))
    X = np.zeros((d, n_rows, size, max(widths)))
    pattern = np.zeros((d, n_rows), int)
    Y = np.zeros((d, n_rows, size))
    for i, part in enumerate(parts):
        if part is not None:
            piece, y = part
            g, n, p = piece.copies.shape[1], len(y), widths[i]
            H[i, :, :g], copies[i, :g] = piece.H[0], piece.copies[0]
            X[i, :n, :, :p], pattern[i, :n], Y[i, :n] = piece.X[0], piece.pattern[0], y
            copies[i, 0] += further[i]
            X[i, n : n + further[i], 0, p : p + further[i]] = np.eye(further[i])
    return Piece(H, copies, X, pattern), Y
