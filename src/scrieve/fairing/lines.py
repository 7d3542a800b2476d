"""Feature lines: heel, sheer and knuckles, each a fair space curve through its marks, before the surface is fitted.

The share of the girth is counted between these lines, so one bad heel mark must never move them.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.fairing.placing import Placing, Stand
from scrieve.fairing.settling import first_look, leave_out, settle
from scrieve.fairing.smoother import Fit, Grid
from scrieve.geometry.bspline import Basis

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Line:
    """One fair line along the hull: `fit` gives half-breadth and height over the station; `kept` marks lie on it."""

    fit: Fit
    kept: Flags
    scatter_mm: float

    def at(self, x: ArrayLike) -> Array:
        """Half-breadth and height (n, 2) at stations x (n,)."""
        return self.fit.value(x, 0.5)

    def sd_mm(self, x: ArrayLike) -> Array:
        """One standard deviation (n, 2) of half-breadth and of height at stations x (n,)."""
        spread = self.fit.point_covariance(x, 0.5)
        return np.asarray(np.sqrt(np.maximum(np.einsum("nii->ni", spread), 0.0)))


def along_breaks(stations: Array) -> Array:
    """Where the pieces along the length meet: at the stations, none crowded, wide gaps filled."""
    at = np.unique(stations)
    usual = float(np.median(np.diff(at)))
    kept = [at[0]]
    for x in at[1:-1]:
        if x - kept[-1] > 0.35 * usual and at[-1] - x > 0.35 * usual:
            kept.append(x)
    kept.append(at[-1])
    parts = [
        np.linspace(a, b, max(int(np.ceil((b - a) / (1.6 * usual))), 1), endpoint=False)
        for a, b in itertools.pairwise(kept)
    ]
    return np.append(np.concatenate(parts), at[-1])


def start_shape(grid: Grid, x: Array, v: Array, points: Array) -> Array:
    """Spline that stands for the plain start: a parabola along, a straight line round, by least squares."""
    middle, reach = float(np.mean(x)), max(float(np.ptp(x)), 1.0)
    powers = [(i, j) for i in range(min(3, len(np.unique(x)))) for j in range(2 if np.ptp(v) > 0 else 1)]

    def terms(at: Array, share: Array) -> Array:
        u = (at - middle) / reach
        return np.column_stack([u**i * share**j for i, j in powers])

    solved = np.linalg.lstsq(terms(x, v), points, rcond=None)[0]

    # a B-spline's coefficients stand at the means of its inner knots: exact for straight lines, near for parabolas
    def greville(basis: Basis) -> Array:
        if basis.degree == 0:
            return np.array([0.5])
        return np.array([basis.knots[i + 1 : i + 1 + basis.degree].mean() for i in range(basis.size)])

    at, share = np.meshgrid(greville(grid.along), greville(grid.around), indexing="ij")
    shape = np.zeros(grid.blocks * grid.block)
    values = (terms(at.ravel(), share.ravel()) @ solved).ravel()
    shape[: values.size] = values
    return shape


def fit_line(x: Array, points: Array, covariance: Array, held: Flags, girth: float) -> Line:
    """Fit one feature line robustly.

    Parameters
    ----------
    x : ndarray (n,)
        Stations [mm], at least three different ones.
    points : ndarray (n, 2)
        Half-breadth and height [mm].
    covariance : ndarray (n, 2, 2)
        Measuring error of half-breadth and height [mm²].
    held : ndarray of bool (n,)
        Marks that the builder keeps whatever the others say.
    girth : float
        Usual length of the frames [mm].
    """
    grid = Grid.of_size(Basis(along_breaks(x)), Basis(np.array([0.0, 1.0]), degree=0), girth)
    n = len(x)
    v = np.full(n, 0.5)
    start = start_shape(grid, x, v * 0, points)
    every = np.ones(n, bool)
    upright = np.tile([1.0, 0.0], (n, 1))
    placing = Placing(Stand(grid, x, v, points, upright, covariance, every, 1.0, 1.0 * every), every)
    none = np.zeros(n, bool)
    fit, placing = first_look(placing, start, np.array([*np.subtract(grid.usual, 3.0), 0.0]), held=held, dropped=none)
    fit, placing = settle(placing, start, fit.stiffness, held=held, dropped=none)
    fit, placing = leave_out(placing, start, fit, held=held, dropped=none)
    off = np.hypot(*placing.stand.residual(fit).T)
    scatter = 1.4826 * float(np.median(off)) / 1.18
    return Line(fit, placing.active, scatter)
