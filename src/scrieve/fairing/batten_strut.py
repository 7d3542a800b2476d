"""A batten of fixed length, in turning-angle form: sprung between two pins, or clamped at one end and loaded.

A batten that slides past its nails (`lay_batten`) is as long as its line; here the length is given, and the unknowns
are the directions at its nodes: E = ½∫θ'² ds less the work of the end load, tridiagonal in the directions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_banded

from scrieve.errors import BadGeometry, above_zero

Array = NDArray[np.float64]

_ROUNDS = 60


@dataclass(frozen=True, eq=False)
class SprungBatten:
    """A batten of given length at rest, first end at the origin.

    Attributes
    ----------
    points_mm : ndarray (N, 2)
        Nodes, evenly along the batten [mm].
    s_mm, direction_rad, curvature_per_mm : ndarray (N,)
        Length along it [mm], direction [rad], curvature [1/mm].
    load_per_mm2 : float
        End load over stiffness, P/EI [1/mm²]: along the line of the pins, or square to the clamped direction.
    """

    points_mm: Array
    s_mm: Array
    direction_rad: Array
    curvature_per_mm: Array
    load_per_mm2: float

    @property
    def length_mm(self) -> float:
        """Length along the batten [mm]."""
        return float(self.s_mm[-1])

    @property
    def span_mm(self) -> float:
        """How far the last end lies from the first along the first axis; below zero where they have crossed [mm]."""
        return float(self.points_mm[-1, 0])

    @property
    def sag_mm(self) -> float:
        """Greatest distance of the batten from the first axis [mm]."""
        return float(np.abs(self.points_mm[:, 1]).max())

    @property
    def over_euler(self) -> float:
        """Load over the load at which a pinned straight batten of that length first gives way, π² EI/L² [-]."""
        return self.load_per_mm2 * self.length_mm**2 / np.pi**2


def strut(length_mm: float, end_slope_rad: float, *, nodes: int = 200) -> SprungBatten:
    """Batten pushed together between two pins until its ends stand at a slope to the line of the pins.

    Parameters
    ----------
    length_mm : float
        Length of the batten [mm].
    end_slope_rad : float
        Slope at the pins, above 0 and below π [rad].
    nodes : int
        Segments along it; an even number is taken.

    Raises
    ------
    BadGeometry
        No such length or slope.

    References
    ----------
    .. [1] Timoshenko & Gere, Theory of Elastic Stability, art. 2.7.

    Examples
    --------
    >>> round(strut(1000, 1e-3).over_euler, 4)  # hardly bent: Euler's load
    1.0
    """
    length = float(above_zero("length", length_mm, "mm", BadGeometry))
    if not 1e-6 <= end_slope_rad <= np.pi - 1e-3:
        raise BadGeometry(f"end slope {np.degrees(end_slope_rad):g}°; give one between 0 and 180°.")
    half = max(nodes // 2, 10)
    s = np.linspace(0.0, 0.5, half + 1)
    angle, load = end_slope_rad * np.cos(np.pi * s), np.pi**2
    slopes = np.linspace(min(end_slope_rad, 1.0), end_slope_rad, 1 + int(end_slope_rad / 0.1))
    for slope in slopes:  # small steps of slope: each is a good start for the next
        angle, load = _pinned(angle * slope / angle[0], load, float(slope), s[1])
    whole = np.r_[angle, -angle[-2::-1]]
    return _drawn(whole, length, load / length**2)


def _pinned(angle: Array, load: float, slope: float, step: float) -> tuple[Array, float]:
    """Directions from pin to middle (where the direction is that of the line of pins) and load, by Newton."""
    angle = angle.copy()
    angle[0], angle[-1] = slope, 0.0
    n = len(angle) - 1
    part = np.ones(n)
    part[0] = 0.5
    for _ in range(_ROUNDS):
        bend = np.diff(angle) / step
        force = step * part * np.sin(angle[:-1])
        rest = np.r_[-bend[0], bend[:-1] - bend[1:]] - load * force
        # unknowns: directions at nodes 1..n-1; the load is found from the balance at the pin, node 0
        diagonal = 2 / step - load * step * np.cos(angle[1:n])
        band = np.zeros((3, n - 1))
        band[0, 1:] = band[2, :-1] = -1 / step
        band[1] = diagonal
        by_rest, by_load = solve_banded((1, 1), band, np.column_stack([-rest[1:], force[1:]])).T
        more = (step * -rest[0] + by_rest[0]) / (-step * force[0] - by_load[0])
        change = by_rest + more * by_load
        angle[1:n] += change
        load += float(more)
        if np.abs(change).max() < 1e-12 and abs(more) < 1e-10 * load:
            return angle, load
    raise BadGeometry(f"no rest found at an end slope of {np.degrees(slope):.1f}°; take more nodes.")


def cantilever(length_mm: float, load_per_mm2: float, *, nodes: int = 200) -> SprungBatten:
    """Batten clamped along the first axis, with a load at its tip that stays square to that axis.

    Parameters
    ----------
    length_mm : float
        Length of the batten [mm].
    load_per_mm2 : float
        Load over stiffness, P/EI [1/mm²]; above zero to the left.

    Raises
    ------
    BadGeometry
        No such length or load.

    References
    ----------
    .. [1] Bisshopp & Drucker, Quart. Appl. Math. 3 (1945) 272.
    """
    length = float(above_zero("length", length_mm, "mm", BadGeometry))
    if not np.isfinite(load_per_mm2):
        raise BadGeometry(f"load {load_per_mm2:g}; give a finite one.")
    n = max(nodes, 20)
    step = 1 / n
    angle = np.zeros(n + 1)
    part = np.ones(n)
    part[-1] = 0.5
    band = np.zeros((3, n))
    band[0, 1:] = band[2, :-1] = -1 / step
    whole = load_per_mm2 * length**2
    for load in np.linspace(0, whole, 2 + int(abs(whole)))[1:]:
        for _ in range(_ROUNDS):
            bend = np.diff(angle) / step
            rest = bend - np.r_[bend[1:], 0.0] - load * step * part * np.cos(angle[1:])
            band[1] = 2 / step + load * step * part * np.sin(angle[1:])
            band[1, -1] -= 1 / step
            change = solve_banded((1, 1), band, -rest)
            angle[1:] += change
            if np.abs(change).max() < 1e-13 * max(1.0, float(np.abs(angle).max())) * n:
                break
        else:
            raise BadGeometry(f"no rest found at a load of {load:.3g} EI/L²; take more nodes.")
    return _drawn(angle, length, load_per_mm2)


def _drawn(angle: Array, length: float, load: float) -> SprungBatten:
    """Points from directions at even nodes, by the cubic through each four neighbours."""
    n = len(angle) - 1
    step = length / n
    way = np.exp(1j * angle)
    over = (way[:-1] + way[1:]) / 2
    second = np.empty_like(way)
    second[1:-1] = way[2:] - 2 * way[1:-1] + way[:-2]
    second[0], second[-1] = second[1], second[-2]
    z = np.r_[0.0, np.cumsum(step * (over - (second[:-1] + second[1:]) / 24))]
    return SprungBatten(
        np.column_stack([z.real, z.imag]),
        length * np.linspace(0.0, 1.0, n + 1),
        angle,
        np.gradient(angle, step, edge_order=2),
        load,
    )
