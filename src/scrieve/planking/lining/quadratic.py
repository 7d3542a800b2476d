"""Least squares with linear limits, by an interior-point method on a band: the sum behind lining off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_solve_banded, cholesky_banded
from scipy.sparse import csr_array

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_ROUNDS = 50
#: Price of passing a limit, against curvatures of the sum of about 1: only limits that cannot be kept are passed.
_PRICE = 1e5


@dataclass(frozen=True, slots=True, eq=False)
class Solved:
    """The answer (n,), the half sum of squares, how far each limit is passed (m,), and the rounds it took."""

    z: Array
    value: float
    passed: Array
    rounds: int


def least_squares_within(rows: csr_array, wanted: Array, limits: csr_array, most: Array) -> Solved:
    """Make ½‖A z − b‖² least subject to C z ≤ d; where no z keeps all limits, pass them by the least in sum.

    Parameters
    ----------
    rows, wanted : (p, n) sparse and (p,)
        A and b; A of full column rank.
    limits, most : (m, n) sparse and (m,)
        C and d.

    Notes
    -----
    Mehrotra's predictor-corrector on ½‖A z − b‖² + ρΣe with C z − e + s = d, e and s not below zero. Both are
    eliminated, so each round factors AᵀA + CᵀWC once, as a band: cheap where unknowns couple with near ones only.
    Slacks stay above zero, so the answer keeps every limit that can be kept.

    References
    ----------
    .. [1] Nocedal and Wright, Numerical Optimization, 2nd ed., chapters 16.6 (the method) and 17.2 (exact penalty).
    """
    scale = float(1 / np.sqrt((rows.multiply(rows)).sum(axis=0).max()))
    a, b = (rows * scale).tocsr(), wanted * scale
    packed = _band(a)
    toward = a.T @ b

    def value(z: Array) -> float:
        return float(np.sum((a @ z - b) ** 2) / 2 / scale**2)

    z = np.asarray(_solve(packed, toward))
    excess = limits @ z - most
    if limits.shape[0] == 0 or float(excess.max()) <= 0:  # the limits do not bite
        return Solved(z, value(z), np.zeros(limits.shape[0]), 1)
    pairs = _pairs(limits, len(packed) - 1)
    c, ct = limits.tocsr(), limits.T.tocsr()
    at, m = a.T.tocsr(), len(most)
    s, e = np.maximum(-excess, 1.0), np.maximum(excess, 1.0)
    pull = np.full(m, 1.0)
    turn = 0
    for turn in range(1, _ROUNDS + 1):  # noqa: B007
        spare = _PRICE - pull
        dual = at @ (a @ z) - toward + ct @ pull
        primal = c @ z - e + s - most
        gap = float(s @ pull + e @ spare) / (2 * m)
        if gap < 1e-7 and np.abs(primal).max() < 1e-7 and np.abs(dual).max() < 1e-6:
            break
        weight = 1 / (e / spare + s / pull)
        full = packed.copy()
        full.ravel()[:] += np.bincount(pairs.cell, weight[pairs.row] * pairs.value, minlength=full.size)
        factor = cholesky_banded(full, lower=True, overwrite_ab=True, check_finite=False)

        def step(first: Array, second: Array, *, now: tuple[Array, ...], factor: Array) -> tuple[Array, ...]:
            s, e, pull, spare, weight, primal, dual = now
            moved = primal - second / spare + first / pull
            dz = cho_solve_banded((factor, True), -dual - ct @ (weight * moved), check_finite=False)
            dp = weight * (c @ dz + moved)
            return dz, (first - s * dp) / pull, (second + e * dp) / spare, dp

        now = (s, e, pull, spare, weight, primal, dual)
        _, ds, de, dp = step(-s * pull, -e * spare, now=now, factor=factor)
        reach = min(_reach(s, ds), _reach(e, de), _reach(pull, dp), _reach(spare, -dp))
        ahead = (s + reach * ds) @ (pull + reach * dp) + (e + reach * de) @ (spare - reach * dp)
        centre = gap * (float(ahead) / (2 * m) / gap) ** 3
        dz, ds, de, dp = step(centre - s * pull - ds * dp, centre - e * spare + de * dp, now=now, factor=factor)
        reach = 0.995 * min(_reach(s, ds), _reach(e, de), _reach(pull, dp), _reach(spare, -dp))
        z, s, e, pull = z + reach * dz, s + reach * ds, e + reach * de, pull + reach * dp
    return Solved(z, value(z), np.maximum(c @ z - most, 0.0), turn)


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """Where each limit's products fall in the lower band, laid out flat."""

    row: Index
    cell: Index
    value: Array


def _band(a: csr_array) -> Array:
    """AᵀA as a lower band."""
    square = (a.T @ a).tocoo()
    gap = square.row - square.col
    low = gap >= 0
    packed = np.zeros((int(gap.max()) + 1, square.shape[0]))
    packed[gap[low], square.col[low]] = square.data[low]
    return packed


def _pairs(limits: csr_array, band: int) -> _Pairs:
    matrix = limits.tocsr()
    count = np.diff(matrix.indptr)
    rows: list[Index] = []
    cells: list[Index] = []
    values: list[Array] = []
    n = matrix.shape[1]
    for many in np.unique(count[count > 0]):
        these = np.flatnonzero(count == many)
        at = matrix.indptr[these][:, None] + np.arange(many)
        index, value = matrix.indices[at].astype(np.intp), matrix.data[at]
        for i in range(many):
            for j in range(many):
                keep = index[:, i] >= index[:, j]
                gap = index[keep, i] - index[keep, j]
                if gap.size and int(gap.max()) > band:
                    raise AssertionError("a limit reaches past the band of the sum")
                rows.append(these[keep])
                cells.append(gap * n + index[keep, j])
                values.append((value[:, i] * value[:, j])[keep])
    return _Pairs(np.concatenate(rows), np.concatenate(cells), np.concatenate(values))


def _reach(value: Array, step: Array) -> float:
    with np.errstate(divide="ignore"):
        return float(min(1.0, np.min(np.where(step < 0, -value / np.minimum(step, -1e-300), np.inf))))


def _solve(packed: Array, right: Array) -> Array:
    return np.asarray(cho_solve_banded((cholesky_banded(packed, lower=True), True), right))
