"""Symmetric positive-definite matrices made of a band of blocks: factor, solve, log-determinant, part of the inverse.

A tensor spline couples only neighbours along the hull, so its normal equations are block tridiagonal. Everything that
a smoothing spline asks (the solution, its determinant, its covariance near any one place) costs one sweep each way.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, partial
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dtrtri

from scrieve.errors import BadGeometry

Array = NDArray[np.float64]
P = TypeVar("P")
T = TypeVar("T")

#: Numbers that stay at hand while they are reckoned with.
_AT_HAND = 20_000


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
            all_of = [getattr(each, name) for each in (out, *parts)]
            # large ones block by block, while each is at hand
            for into, *blocks in [all_of] if all_of[0].size < _AT_HAND else zip(*all_of, strict=True):
                np.multiply(blocks[0], weights[0], out=into)
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
    """Cholesky factor of `Blocks`: the inverses of its diagonal triangles (`root`) and the blocks beside them.

    The blocks are taken out from both ends towards the one in the middle, which the two arms have nothing to do with
    each other before: one core each. `below` holds what couples a block to the next one inwards. An inverse of a
    triangle costs a third of a product, and spares every later sweep the slow solving with triangles.
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
        into = matrix if consume else matrix.copy()
        root, below = into.diagonal, into.below
        middle, arms = _arms(root, below)
        (logdet, taken), (other_logdet, other_taken) = _at_once(_take_out, arms, root.shape[1])
        root[middle], last = _root(root[middle] - taken - other_taken)
        return cls(root, below, logdet + other_logdet + last)

    def solve(self, rhs: Array) -> Array:
        """Solve for one right-hand side (k·b,) or several (k·b, m)."""
        blocks, size = self.root.shape[:2]
        x = np.array(rhs, dtype=float).reshape(blocks, size, -1)
        middle, arms = _arms(self.root, self.below)
        ways = (x[:middle], x[middle + 1 :][::-1])
        for (roots, belows), way in zip(arms, ways, strict=True):
            carried: Array | float = 0.0
            for root, below, here in zip(roots, belows, way, strict=True):
                here[:] = root @ (here - carried)
                carried = below @ here
            x[middle] -= carried
        x[middle] = self.root[middle].T @ (self.root[middle] @ x[middle])
        for (roots, belows), way in zip(arms, ways, strict=True):
            inward = x[middle]
            for root, below, here in zip(roots[::-1], belows[::-1], way[::-1], strict=True):
                here[:] = root.T @ (here - below.T @ inward)
                inward = here
        return np.asarray(x.reshape(rhs.shape))

    def inverse(self, *, consume: bool = False) -> Blocks:
        """The blocks of the inverse that lie on and next to the diagonal; `consume` puts them where the factor was.

        Takahashi's recurrence, written for blocks, outwards from the middle.
        """
        diagonal, below = (self.root, self.below) if consume else (self.root.copy(), self.below.copy())
        middle, arms = _arms(diagonal, below)
        diagonal[middle] = diagonal[middle].T @ diagonal[middle]
        _at_once(partial(_spread_out, diagonal[middle]), arms, diagonal.shape[1])
        return Blocks(diagonal, below)


#: Blocks of fewer unknowns are reckoned sooner than they are handed to another thread.
_WORTH_A_THREAD = 60
Arm = tuple[Array, Array]


def _arms(diagonal: Array, below: Array) -> tuple[int, tuple[Arm, Arm]]:
    """The middle block, and the two arms that lead to it from either end: blocks, and what couples each inwards."""
    middle = len(diagonal) // 2
    return middle, (
        (diagonal[:middle], below[:middle]),
        (diagonal[middle + 1 :][::-1], below[middle:][::-1].swapaxes(1, 2)),
    )


def _take_out(arm: Arm) -> tuple[float, Array | float]:
    """Factor an arm where it stands: its log-determinant, and what is left to take off the middle block."""
    logdet, taken = 0.0, cast("Array | float", 0.0)
    for block, below in zip(*arm, strict=True):
        block[:], more = _root(block - taken)
        logdet += more
        coupling = below @ block.T
        below[:] = coupling
        taken = coupling @ coupling.T
    return logdet, taken


def _spread_out(inward: Array, arm: Arm) -> None:
    """Put the inverse's blocks where an arm's factor was, from the block inwards of it."""
    for block, below in zip(arm[0][::-1], arm[1][::-1], strict=True):
        gain = below @ block
        below[:] = beside = -(inward @ gain)
        block[:] = block.T @ block - gain.T @ beside
        inward = block


def _root(block: Array) -> tuple[Array, float]:
    """Inverse of a block's Cholesky triangle, and the block's log-determinant."""
    triangle, fault = dpotrf(block, lower=1, clean=1)
    if fault:
        raise BadGeometry("the marks do not settle a surface: too few, or too badly spread.")
    return _inverse_of_triangle(triangle), 2 * float(np.log(np.diagonal(triangle)).sum())


@cache
def _other_core() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(1, "blocks")


os.register_at_fork(after_in_child=_other_core.cache_clear)  # threads do not go along


def _at_once(job: Callable[[P], T], parts: tuple[P, P], size: int) -> tuple[T, T]:
    """Do both parts of a job on blocks of a size, each on a core of its own where that is worth its while."""
    one, two = parts
    if size < _WORTH_A_THREAD:
        return job(one), job(two)
    other = _other_core().submit(job, two)
    try:
        return job(one), other.result()
    finally:
        other.exception()  # it writes into the same memory: nobody goes on before it has ended


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
