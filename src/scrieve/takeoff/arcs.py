"""A block held square to an edge: marks made along it, set off by its width -> points of the section."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import make_interp_spline

from scrieve.errors import BadMarks, above_zero
from scrieve.takeoff.hands import Hand
from scrieve.takeoff.ordinates import SetOff

Array = NDArray[np.float64]

#: Marks of one edge nearer than this tell no direction [mm].
LEAST_APART_MM = 1.0
_STEP_MM = 1e-3


def set_off_block(
    edge: ArrayLike, width: ArrayLike, *, side: Hand, sigma: ArrayLike = 1.0, width_sigma: float = 0.0
) -> SetOff:
    """Set the width of a block off, square to the fair line through marks of a known edge.

    Parameters
    ----------
    edge : array_like (n, 2)
        The marks, in order along the edge, n ≥ 2: half-breadth and height [mm].
    width : array_like, broadcast with n
        Width of the block at each [mm].
    side : {'left', 'right'}
        On which side the points lie, looking along the edge in the order of its marks.
    sigma, width_sigma : array_like, float
        Standard deviation of each mark in each direction, and of the width [mm].

    Returns
    -------
    SetOff
        qᵢ + w·nᵢ, n square to the cubic through the marks by length of chord (a straight line for two). Covariance
        JΣJᵀ + σ_w² nnᵀ, the derivatives J of the points by the marks taken by central differences: a mark's error moves
        the line's direction at its neighbours too. Check values: tests/published/test_ordinates.py.

    Raises
    ------
    BadMarks
        Fewer than two marks, or two on one another.

    Examples
    --------
    >>> set_off_block([[0, 0], [100, 0]], 40, side="left").points_mm.tolist()
    [[0.0, 40.0], [100.0, 40.0]]
    """
    q = np.asarray(edge, dtype=float)
    if q.ndim != 2 or q.shape[1:] != (2,) or len(q) < 2 or not np.all(np.isfinite(q)):
        raise BadMarks(f"an edge of {len(q)} marks; give two or more, so that the block can be set square to it.")
    w = np.broadcast_to(above_zero("width of the block", width, "mm", BadMarks), (len(q),))
    error = np.broadcast_to(above_zero("error of a mark", sigma, "mm", BadMarks), (len(q),))
    steps = np.hypot(*np.diff(q, axis=0).T)
    if np.any(steps < LEAST_APART_MM):
        raise BadMarks(f"marks {int(np.argmin(steps)) + 1} and {int(np.argmin(steps)) + 2} of the edge are one place.")
    sign = 1.0 if side == "left" else -1.0
    points, normal = _set_off(q, sign * w)
    rows = np.empty((len(q), 2, len(q), 2))
    for j, axis in np.ndindex(len(q), 2):
        step = np.zeros_like(q)
        step[j, axis] = _STEP_MM
        rows[:, :, j, axis] = (_set_off(q + step, sign * w)[0] - _set_off(q - step, sign * w)[0]) / (2 * _STEP_MM)
    covariance = np.einsum("iajb,j,icjb->iac", rows, error**2, rows)
    return SetOff(points, np.asarray(covariance + width_sigma**2 * normal[:, :, None] * normal[:, None]))


def _set_off(q: Array, w: Array) -> tuple[Array, Array]:
    """Points `w` to the left of the edge through `q`, and the normals along which they lie."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(q, axis=0).T))])
    slope = np.asarray(make_interp_spline(along, q, k=min(3, len(q) - 1))(along, 1))
    normal = np.column_stack([-slope[:, 1], slope[:, 0]]) / np.hypot(*slope.T)[:, None]
    return q + w[:, None] * normal, normal
