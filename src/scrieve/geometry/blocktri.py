"""Symmetric positive-definite matrices made of a band of blocks: factor, solve, log-determinant, part of the inverse.

A tensor spline couples only neighbours along the hull, so its normal equations are block tridiagonal. Everything that
a smoothing spline asks (the solution, its determinant, its covariance near any one place) costs one sweep each way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dtrtri

from scrieve.errors import BadGeometry

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """A symmetric block tridiagonal matrix: `diagonal` (k, b, b) and `below` (k-1, b, b), block k+1 against block k."""

    diagonal: Array
    below: Array

    def __add__(self, other: Blocks) -> Blocks:
        """Sum, block by block."""
        return Blocks(self.diagonal + other.diagonal, self.below + other.below)

    def __mul__(self, factor: float) -> Blocks:
        """All blocks times a number."""
        return Blocks(self.diagonal * factor, self.below * factor)

    __rmul__ = __mul__

    def dot(self, vector: Array) -> Array:
        """Matrix times vector (k·b,)."""
        parts = vector.reshape(len(self.diagonal), -1)
        out = np.einsum("kij,kj->ki", self.diagonal, parts)
        out[1:] += np.einsum("kij,kj->ki", self.below, parts[:-1])
        out[:-1] += np.einsum("kji,kj->ki", self.below, parts[1:])
        return np.asarray(out.ravel())

    @classmethod
    def combined(
        cls, weights: Sequence[float], parts: Sequence[Blocks], out: Blocks | None = None, ridge: float = 0.0
    ) -> Blocks:
        """Σ weight · part + ridge · 1 in one pass, into `out` where given: fresh memory costs more than the sums."""
        if out is None:
            out = cls(np.empty_like(parts[0].diagonal), np.empty_like(parts[0].below))
        for name in ("diagonal", "below"):
            for into, *blocks in zip(getattr(out, name), *(getattr(part, name) for part in parts), strict=True):
                np.multiply(blocks[0], weights[0], out=into)  # block by block, while it is at hand
                for weight, block in zip(weights[1:], blocks[1:], strict=True):
                    into += weight * block
        np.einsum("kii->ki", out.diagonal)[...] += ridge
        return out

    @classmethod
    def zeros(cls, blocks: int, size: int) -> Blocks:
        """Nothing, in so many blocks of a size."""
        return cls(np.zeros((blocks, size, size)), np.zeros((max(blocks - 1, 0), size, size)))

    def copy(self) -> Blocks:
        """The same in memory of its own."""
        return Blocks(self.diagonal.copy(), self.below.copy())

    def inner(self, other: Blocks) -> float:
        """Trace of the product of two such matrices: with a covariance, the trace that a smoother asks for."""
        return float(np.vdot(self.diagonal, other.diagonal) + 2 * np.vdot(self.below, other.below))


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """Cholesky factor of `Blocks`: the inverses of its diagonal triangles (`root`) and the blocks below them.

    An inverse costs a third of a product, and spares every later sweep the slow solving with triangles.
    """

    root: Array
    below: Array
    logdet: float

    @classmethod
    def of(cls, matrix: Blocks, *, consume: bool = False) -> Factor:
        """Factor a positive-definite matrix; `consume` puts the factor where the matrix was.

        Raises
        ------
        BadGeometry
            The matrix is not positive definite to working accuracy.
        """
        root, below = matrix.diagonal, matrix.below
        if not consume:
            root, below = np.empty_like(root), np.empty_like(below)
        rest, logdet = matrix.diagonal[0], 0.0
        for k in range(len(root)):
            triangle, fault = dpotrf(rest, lower=1, clean=1)
            if fault:
                raise BadGeometry("the marks do not settle a surface: too few, or too badly spread.")
            logdet += 2 * float(np.log(np.diagonal(triangle)).sum())
            root[k] = _inverse_of_triangle(triangle)
            if k < len(below):
                below[k] = matrix.below[k] @ root[k].T
                rest = matrix.diagonal[k + 1] - below[k] @ below[k].T
        return cls(root, below, logdet)

    def solve(self, rhs: Array) -> Array:
        """Solve for one right-hand side (k·b,) or several (k·b, m)."""
        k, b = self.root.shape[:2]
        x = np.array(rhs, dtype=float).reshape(k, b, -1)
        for i in range(k):
            if i:
                x[i] -= self.below[i - 1] @ x[i - 1]
            x[i] = self.root[i] @ x[i]
        for i in range(k - 1, -1, -1):
            if i < k - 1:
                x[i] -= self.below[i].T @ x[i + 1]
            x[i] = self.root[i].T @ x[i]
        return np.asarray(x.reshape(rhs.shape))

    def inverse(self, *, consume: bool = False) -> Blocks:
        """The blocks of the inverse that lie on and next to the diagonal; `consume` puts them where the factor was.

        Takahashi's recurrence, written for blocks, backwards from the last.
        """
        diagonal, below = self.root, self.below
        if not consume:
            diagonal, below = np.empty_like(diagonal), np.empty_like(below)
        for i in range(len(diagonal) - 1, -1, -1):
            root = self.root[i]
            if i < len(below):
                gain = self.below[i] @ root
                below[i] = -(diagonal[i + 1] @ gain)
                diagonal[i] = root.T @ root - gain.T @ below[i]
            else:
                diagonal[i] = root.T @ root
        return Blocks(diagonal, below)


def _inverse_of_triangle(lower: Array) -> Array:
    """Inverse of a lower triangle, by halves: products are quicker than the library's column by column."""
    n = len(lower)
    if n <= 48:
        return np.asarray(dtrtri(lower, lower=1)[0])
    half = n // 2
    out = np.zeros_like(lower)
    out[:half, :half] = first = _inverse_of_triangle(lower[:half, :half])
    out[half:, half:] = last = _inverse_of_triangle(lower[half:, half:])
    out[half:, :half] = -last @ (lower[half:, :half] @ first)
    return out


def gather(index: NDArray[np.intp], value: Array, weight: Array, onto: Blocks, sign: float = 1.0) -> None:
    """Add the sum of weightₙ · valueₙ valueₙᵀ over sparse rows n to a matrix, or with a sign of −1 take it off.

    Parameters
    ----------
    index : ndarray of int, shape (n, m)
        Which unknowns each row touches; no two of one row further apart than one block.
    value : ndarray, shape (n, m)
    weight : ndarray, shape (n,)
    onto : Blocks
        Changed in place.
    """
    size = onto.diagonal.shape[1]
    first, root = index.min(axis=1), np.sqrt(weight)
    low = first // size
    for block in np.unique(low):
        here = np.flatnonzero(low == block)
        begin = int(first[here].min()) - block * size  # the few columns that are touched at all
        rows = np.zeros((len(here), int(index[here].max()) + 1 - block * size - begin))
        np.put_along_axis(rows, index[here] - (block * size + begin), value[here] * root[here, None], axis=1)
        square = sign * (rows.T @ rows)
        end, over = min(begin + len(square), size), begin + len(square) - size
        cut = end - begin
        onto.diagonal[block, begin:end, begin:end] += square[:cut, :cut]
        if over > 0:
            onto.diagonal[block + 1, :over, :over] += square[cut:, cut:]
            onto.below[block, :over, begin:] += square[cut:, :cut]
