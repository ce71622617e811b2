"""From n loaves to the few rows that the restricted likelihood needs (sufficient statistics).

The likelihood sees the loaves only through the cross-products, over the components of a pattern, of
their coordinates UᵀX and Uᵀy, and of what lies outside every U. Any rows with the same
cross-products do as well, so many components of one pattern are squeezed by a QR decomposition into
q·p rows for X, and q more for what y adds.
"""

from __future__ import annotations

from functools import reduce

import numpy as np
from numpy.typing import NDArray

from ...trials.frozen import frozen
from .by_setting import BySetting, Centred
from .groupings import Block, Groupings, is_diagonal

# of a column of length one: a smaller part than this outside every U is rounding
NOTHING_OUTSIDE = 1e-10


@frozen
class Piece:
    """Parts of one size q, with g patterns: of one design (d = 1), or of d designs beside one
    another (`together`).

    H : (d, k + 1, g, q, q) the Gᵢ of a pattern; copies : (d, g) how many parts have it
    X : (d, rows, q, p); pattern : (d, rows) pattern of a row
    """

    H: NDArray
    copies: NDArray
    X: NDArray
    pattern: NDArray

    @property
    def size(self) -> int:
        """q, how many coordinates a part has."""
        return self.X.shape[2]

    def of(self, chosen: NDArray) -> Piece:
        """The piece of some of the responses: the same for all where there is one design."""
        parts = (self.H, self.copies, self.X, self.pattern)
        return self if len(self.X) == 1 else Piece(*(part[chosen] for part in parts))


@frozen
class Parts:
    """What V is made of in a block, with q coordinates each: whole components, or single
    coordinates. H (k + 1, g, q, q), pattern (parts,) and copies (g,) as of `Block`.
    """

    H: NDArray
    pattern: NDArray
    copies: NDArray


@frozen
class Squeeze:
    """How the parts of a block become rows: `kept` as they are, the others through an orthonormal
    Q.
    """

    size: int  # q of a part
    kept: NDArray  # parts
    # the parts of a pattern, and Q (parts, rows)
    squeezed: tuple[tuple[NDArray, NDArray], ...]


@frozen
class Reduced:
    """A design and its groupings in few rows; `responses` brings a response into the same rows."""

    groupings: Groupings
    pieces: tuple[Piece, ...]
    squeezes: tuple[Squeeze, ...]
    # what X has outside every U, and (p, k) what makes orthonormal columns of it
    outside: Centred
    orthonormal: NDArray

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the variances, the residual last."""
        return (*self.groupings.names, "residual")

    def responses(self, Y: NDArray) -> tuple[NDArray, ...]:
        """Y (n, m) in the rows of the pieces: one (m, rows, q) a piece."""
        coordinates, rest = split(self.groupings, Y)
        rows = [
            squeeze_response(np.moveaxis(in_parts(t, s.size), 2, 0), s)
            for t, s in zip(coordinates, self.squeezes, strict=True)
        ]
        inside = self.orthonormal.T @ self.outside.products(rest)
        length = np.linalg.norm(rest - self.outside @ (self.orthonormal @ inside), axis=0)
        outside = np.vstack([inside, length]).T[..., None]
        singles = [row for row in rows if row.shape[2] == 1]
        others = (row for row in rows if row.shape[2] > 1)
        return np.concatenate([outside, *singles], axis=1), *others


def reduce_design(groupings: Groupings, X: BySetting) -> Reduced:
    """Bring the design (n, p) into few rows; what lies outside every U is one more pattern of size
    1.
    """
    coordinates, fitted = in_groups(groupings, X)
    pieces, squeezes = [], []
    for block, t in zip(groupings.blocks, coordinates, strict=True):
        parts = parts_of(block)
        squeeze, rows, pattern = squeeze_design(in_parts(t, parts.H.shape[-1]), parts)
        squeezes.append(squeeze)
        pieces.append(Piece(parts.H[None], parts.copies[None], rows[None], pattern[None]))
    outside = Centred(X, [fitted] * len(groupings.codes), groupings.codes)
    _, size, directions = np.linalg.svd(outside.root())
    there = size > NOTHING_OUTSIDE
    size = np.where(there, size, 0.0)
    rows = np.zeros((X.shape[1] + 1, X.shape[1]))
    rows[: len(size)] = size[:, None] * directions[: len(size)]
    singles = [piece for piece in pieces if piece.size == 1]
    others = (piece for piece in pieces if piece.size > 1)
    first = reduce(join, singles, outside_piece(groupings, rows))
    orthonormal = np.zeros((X.shape[1], X.shape[1]))
    orthonormal[:, : len(size)][:, there] = directions[: len(size)][there].T / size[there]
    return Reduced(groupings, (first, *others), tuple(squeezes), outside, orthonormal)


def parts_of(block: Block) -> Parts:
    """The components of a block, or their coordinates where all Gᵢ are diagonal."""
    if block.H.shape[-1] == 1 or not is_diagonal(block.H):
        return Parts(block.H, block.pattern, block.copies)
    k1, g, q = block.H.shape[:3]
    sizes = np.diagonal(block.H, axis1=2, axis2=3).reshape(k1, g * q)
    _, one, alike = np.unique(np.round(sizes, 9), axis=1, return_index=True, return_inverse=True)
    pattern = alike.reshape(g, q)[block.pattern].ravel()
    return Parts(sizes[:, one, None, None], pattern, np.bincount(pattern).astype(float))


def in_parts(t: NDArray, size: int) -> NDArray:
    """Coordinates (components, q, c) of parts with `size` of them: (parts, size, c)."""
    components, q, c = t.shape
    return t.reshape(components * q // size, size, c)


def outside_piece(groupings: Groupings, X: NDArray) -> Piece:
    """The directions outside every U, where V is σ²."""
    H = np.zeros((1, len(groupings.names) + 1, 1, 1, 1))
    H[:, -1] = 1.0
    inside = sum(block.copies.sum() * block.T.shape[-1] for block in groupings.blocks)
    copies = np.array([[groupings.n - inside]])
    return Piece(H, copies, X[None, :, None, :], np.zeros((1, len(X)), int))


def join(a: Piece, b: Piece) -> Piece:
    """Two pieces of the same size and design as one."""
    return Piece(
        np.concatenate([a.H, b.H], axis=2),
        np.concatenate([a.copies, b.copies], axis=1),
        np.concatenate([a.X, b.X], axis=1),
        np.concatenate([a.pattern, b.pattern + a.copies.shape[1]], axis=1),
    )


def split(groupings: Groupings, columns: NDArray) -> tuple[list[NDArray], NDArray]:
    """Uᵀ columns of every component, one (components, q, c) a block, and what the U leave of the
    columns (n, c).
    """
    coordinates, fitted = in_groups(groupings, BySetting.of(columns))
    return coordinates, columns - groupings.spread(fitted)


def in_groups(groupings: Groupings, columns: BySetting) -> tuple[list[NDArray], NDArray]:
    """Uᵀ columns of every component, one (components, q, c) a block, and (groups, c) what each
    group adds to UUᵀ columns.
    """
    sums = groupings.sums(columns)
    fitted = np.empty_like(sums)
    coordinates = []
    for block in groupings.blocks:
        T = block.T[block.pattern]
        t = T.swapaxes(1, 2) @ sums[block.groups]
        fitted[block.groups] = T @ t
        coordinates.append(t)
    return coordinates, fitted


def squeeze_design(t: NDArray, parts: Parts) -> tuple[Squeeze, NDArray, NDArray]:
    """Decide which patterns to squeeze; returns how, the rows (rows, q, p), and their patterns."""
    q, p = t.shape[1:]
    many = parts.copies > q * (p + 1)
    kept = np.flatnonzero(~many[parts.pattern])
    squeezed, rows, pattern = [], [t[kept]], [parts.pattern[kept]]
    for g in np.flatnonzero(many):
        members = np.flatnonzero(parts.pattern == g)
        Q, R = np.linalg.qr(t[members].reshape(len(members), q * p))
        squeezed.append((members, Q))
        rows += [R.reshape(-1, q, p), np.zeros((q, q, p))]
        pattern.append(np.full(len(R) + q, g))
    return Squeeze(q, kept, tuple(squeezed)), np.concatenate(rows), np.concatenate(pattern)


def squeeze_response(t: NDArray, squeeze: Squeeze) -> NDArray:
    """Coordinates (m, parts, q) of m responses in the rows of the design: (m, rows, q)."""
    rows = [t[:, squeeze.kept]]
    for members, Q in squeeze.squeezed:
        inside = Q.T @ t[:, members]
        extra = t[:, members] - Q @ inside
        rows += [inside, root(extra.swapaxes(1, 2) @ extra)]
    return np.concatenate(rows, axis=1)


def root(gram: NDArray) -> NDArray:
    """R with RᵀR = gram, for positive semidefinite matrices on the last two axes."""
    size, E = np.linalg.eigh(gram)
    return np.sqrt(np.clip(size, 0, None))[..., None] * E.swapaxes(-1, -2)
