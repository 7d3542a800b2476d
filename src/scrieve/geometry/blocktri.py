"""Symmetric positive-definite matrices made of a band of blocks: factor, solve, log-determinant, part of the inverse.

A tensor spline couples only neighbours along the hull, so its normal equations are block tridiagonal. Everything that
a smoothing spline asks (the solution, its determinant, its covariance near any one place) costs one sweep each way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dtrtri, dtrtrs

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

    def inner(self, other: Blocks) -> float:
        """Trace of the product of two such matrices: with a covariance, the trace that a smoother asks for."""
        return float(np.vdot(self.diagonal, other.diagonal) + 2 * np.vdot(self.below, other.below))


@dataclass(frozen=True, slots=True, eq=False)
class Factor:
    """Cholesky factor of `Blocks`: lower triangles on the diagonal and the blocks below them."""

    diagonal: Array
    below: Array

    @classmethod
    def of(cls, matrix: Blocks) -> Factor:
        """Factor a positive-definite matrix.

        Raises
        ------
        BadGeometry
            The matrix is not positive definite to working accuracy.
        """
        diagonal, below = np.empty_like(matrix.diagonal), np.empty_like(matrix.below)
        rest = matrix.diagonal[0]
        for k in range(len(diagonal)):
            diagonal[k], fault = dpotrf(rest, lower=1, clean=1)
            if fault:
                raise BadGeometry("the marks do not settle a surface: too few, or too badly spread.")
            if k < len(below):
                below[k] = dtrtrs(diagonal[k], matrix.below[k].T, lower=1)[0].T
                rest = matrix.diagonal[k + 1] - below[k] @ below[k].T
        return cls(diagonal, below)

    @property
    def logdet(self) -> float:
        """Natural logarithm of the determinant of the matrix."""
        return float(2 * np.sum(np.log(np.diagonal(self.diagonal, axis1=1, axis2=2))))

    def solve(self, rhs: Array) -> Array:
        """Solve for one right-hand side (k·b,) or several (k·b, m)."""
        k, b = self.diagonal.shape[:2]
        x = np.array(rhs, dtype=float).reshape(k, b, -1)
        for i in range(k):
            if i:
                x[i] -= self.below[i - 1] @ x[i - 1]
            x[i] = dtrtrs(self.diagonal[i], x[i], lower=1)[0]
        for i in range(k - 1, -1, -1):
            if i < k - 1:
                x[i] -= self.below[i].T @ x[i + 1]
            x[i] = dtrtrs(self.diagonal[i], x[i], lower=1, trans=1)[0]
        return np.asarray(x.reshape(rhs.shape))

    def inverse(self) -> Blocks:
        """The blocks of the inverse that lie on and next to the diagonal.

        Takahashi's recurrence, written for blocks, backwards from the last.
        """
        k = len(self.diagonal)
        diagonal, below = np.empty_like(self.diagonal), np.empty_like(self.below)
        for i in range(k - 1, -1, -1):
            root = dtrtri(self.diagonal[i], lower=1)[0]
            diagonal[i] = root.T @ root
            if i < k - 1:
                gain = self.below[i] @ root
                below[i] = -diagonal[i + 1] @ gain
                diagonal[i] -= gain.T @ below[i]
        return Blocks(diagonal, below)


def gather(index: NDArray[np.intp], value: Array, weight: Array, blocks: int, size: int) -> Blocks:
    """Sum of weightₙ · valueₙ valueₙᵀ over sparse rows n, as blocks.

    Parameters
    ----------
    index : ndarray of int, shape (n, m)
        Which unknowns each row touches; no two of one row further apart than one block.
    value : ndarray, shape (n, m)
    weight : ndarray, shape (n,)
    blocks, size : int
        Number of blocks and their size.
    """
    diagonal, below = np.zeros((blocks, size, size)), np.zeros((max(blocks - 1, 0), size, size))
    low = index.min(axis=1) // size
    root = np.sqrt(weight)
    for block in np.unique(low):
        here = np.flatnonzero(low == block)
        rows = np.zeros((len(here), 2 * size))
        np.put_along_axis(rows, index[here] - block * size, value[here] * root[here, None], axis=1)
        square = rows.T @ rows
        diagonal[block] += square[:size, :size]
        if block + 1 < blocks:
            diagonal[block + 1] += square[size:, size:]
            below[block] += square[size:, :size]
    return Blocks(diagonal, below)
