"""The ± of the fair hull's own bevels, from the same covariance of the surface as the ± of its lines."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.fairing.result import FairHull

Array = NDArray[np.float64]

#: Points on which a share of the girth is found from an arc length: chords of so many are the arc within 0.01 mm.
_POINTS = 1601


def bevel_sd(hull: FairHull, x: ArrayLike, v: ArrayLike) -> Array:
    """One standard deviation of the hull's own bevel [rad] (n,), at each (x, v).

    With t the direction of the moulded line and n square to it, tan β = n·S_x. A small change of the surface moves
    S_x, and by turning t it turns n: δ tan β = n·δS_x − (t·S_x)(n·δS_v)/|S_v|, a row of the surface's unknowns, so that
    its variance follows from their covariance, and δβ = cos²β·δ tan β.

    Parameters
    ----------
    hull : FairHull
    x : array_like, shape (n,) or scalar
        Stations [mm].
    v : array_like, broadcast with `x`
        Shares of the girth, 0 at the heel to 1 at the head [-].

    References
    ----------
    .. [1] JCGM 100:2008, Evaluation of measurement data (GUM), 5.1.2 and 5.2.2: propagation through first derivatives.
    """
    at, share = np.broadcast_arrays(np.atleast_1d(np.asarray(x, dtype=float)), np.asarray(v, dtype=float))
    fore_and_aft, round_it = hull.fit.value(at, share, by_x=1), hull.fit.value(at, share, by_v=1)
    speed = np.hypot(*round_it.T)
    tangent = round_it / speed[:, None]
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]])
    slope = np.einsum("ij,ij->i", normal, fore_and_aft)
    turns = np.einsum("ij,ij->i", tangent, fore_and_aft) / speed
    index, by_x = hull.fit.grid.rows(at, share, normal, by_x=1)
    _, by_v = hull.fit.grid.rows(at, share, normal, by_v=1)
    row = by_x - turns[:, None] * by_v
    variance = hull.fit.row_covariance(index[:, None], row[:, None])[:, 0, 0]
    return np.asarray(np.sqrt(np.maximum(variance, 0.0)) / (1 + slope**2))


def share_at(hull: FairHull, station_mm: float, s_mm: ArrayLike) -> Array:
    """Share of the girth (n,) at arc lengths from the heel of one section [mm]."""
    v = np.linspace(0.0, 1.0, _POINTS)
    steps = np.hypot(*np.diff(hull.fit.value(np.full(_POINTS, station_mm), v), axis=0).T)
    return np.asarray(np.interp(np.atleast_1d(s_mm), np.concatenate([[0.0], np.cumsum(steps)]), v))
