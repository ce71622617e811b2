"""Which columns of a design are independent, and which contrasts its data can estimate.

Source: a row L is estimable when L n = 0 for every n with X n = 0 (Searle 1971, Linear Models, ch.
5).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..methods.ties import largest

TOLERANCE = 1e-9  # columns are scaled to about 1, so this is relative
CLEARLY = 1e-3  # independent beyond doubt: no column needs to be picked before another


def independent_columns(matrix: np.ndarray, owner: Sequence[str]) -> np.ndarray:
    """Indices of independent columns, taken owner by owner in the order given (pivoted inside
    each).
    """
    if _plainly_independent(matrix, owner):
        return np.arange(matrix.shape[1])
    kept: list[int] = []
    basis = np.empty((len(matrix), 0))
    columns_of: dict[str, list[int]] = {}
    for column, name in enumerate(owner):
        columns_of.setdefault(name, []).append(column)
    for columns in columns_of.values():
        block = matrix[:, columns]
        rest = block - basis @ (basis.T @ block)
        rest -= basis @ (basis.T @ rest)
        size = np.sqrt(np.sum(block**2, axis=0).max(initial=0.0))
        q, r = np.linalg.qr(rest)
        if len(r) == len(columns) and (np.abs(np.diag(r)) > CLEARLY * size).all():
            kept += columns
            basis = np.hstack([basis, q])
            continue
        q, order = _largest_first(rest, TOLERANCE * size)
        kept += sorted(columns[place] for place in order)
        basis = np.hstack([basis, q])
    return np.array(kept, dtype=int)


def _largest_first(columns: np.ndarray, least: float) -> tuple[np.ndarray, list[int]]:
    """An orthonormal basis (n, rank) of columns (n, k), and which they are: the one that is largest
    beside those before it is taken next, as long as one is larger than ``least``.

    Source: QR with column pivoting: Golub & Van Loan, Matrix Computations (4th ed. 2013), 5.4.2.
    """
    rest, basis, order = columns.copy(), [], []
    for _ in range(min(columns.shape)):
        sizes = np.sqrt(np.sum(rest**2, axis=0))
        first = largest(sizes)[0]
        if not sizes[first] > least:
            break
        unit = rest[:, first] / sizes[first]
        rest -= np.outer(unit, unit @ rest)
        rest -= np.outer(unit, unit @ rest)
        basis.append(unit)
        order.append(first)
    return np.reshape(basis, (-1, len(columns))).T, order


def _plainly_independent(matrix: np.ndarray, owner: Sequence[str]) -> bool:
    """Whether every column stands clear of those before it, beside its owner's size."""
    if matrix.shape[1] > matrix.shape[0]:
        return False
    widest: dict[str, float] = {}
    for name, length in zip(owner, np.sum(matrix**2, axis=0).tolist(), strict=True):
        widest[name] = max(length, widest.get(name, 0.0))
    clear = np.abs(np.diag(np.linalg.qr(matrix, mode="r")))
    return bool((clear > CLEARLY * np.sqrt([widest[name] for name in owner])).all())


def null_vectors(matrix: np.ndarray, kept: np.ndarray) -> np.ndarray:
    """A basis (columns, dropped) of the null space: each dropped column with what makes it up."""
    if len(kept) == matrix.shape[1]:
        return np.zeros((len(kept), 0))
    dropped = np.setdiff1d(np.arange(matrix.shape[1]), kept)
    null = np.zeros((matrix.shape[1], len(dropped)))
    parts = np.linalg.lstsq(matrix[:, kept], matrix[:, dropped], rcond=None)[0]
    null[kept] = np.where(np.abs(parts) > TOLERANCE, -parts, 0.0)
    null[dropped, np.arange(len(dropped))] = 1.0
    return null


def is_estimable(L: np.ndarray, null: np.ndarray) -> np.ndarray:
    """bool (q,) for the rows of L (q, columns)."""
    if not null.shape[1]:
        return np.ones(len(L), dtype=bool)
    size = np.abs(L).max(axis=1, initial=0.0)
    return np.abs(L @ null).max(axis=1, initial=0.0) <= 1e-7 * size


def estimable_part(L: np.ndarray, null: np.ndarray) -> np.ndarray:
    """The combinations of the rows of L that can be estimated (L itself when all can)."""
    if is_estimable(L, null).all():
        return L
    from scipy.linalg import null_space

    return null_space((L @ null).T, rcond=1e-9).T @ L


def independent_rows(L: np.ndarray) -> np.ndarray:
    """Independent rows that span the rows of L: L itself when it has none to spare."""
    _, sizes, rows = np.linalg.svd(L, full_matrices=False)
    rank = int(np.sum(sizes > TOLERANCE * sizes.max(initial=0.0)))
    return L if rank == len(L) else rows[:rank]
