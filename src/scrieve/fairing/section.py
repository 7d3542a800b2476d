"""A section: the moulded line of one frame, heel to head, as the fair hull gives it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """One moulded line in its station plane, heel to head, n points evenly spaced by arc length.

    Attributes
    ----------
    frame : str
        The builder's label; empty for a station between frames.
    station_mm : float
        x aft from the datum station [mm].
    s_mm, half_breadth_mm, height_mm : ndarray (n,)
        Arc length from the heel, and the point [mm].
    sd_mm : ndarray (n,)
        One standard deviation of the line, square to itself; nan where it was not asked for [mm].
    bevel_rad : ndarray (n,)
        atan of the hull's slope fore-and-aft, measured square to the moulded line, towards aft: above zero where the
        hull swells going aft [rad].
    curvature_per_mm : ndarray (n,)
        Signed curvature of the moulded line; above zero where the frame is hollow inboard, as at the bilge [1/mm].
    """

    frame: str
    station_mm: float
    s_mm: Array
    half_breadth_mm: Array
    height_mm: Array
    sd_mm: Array
    bevel_rad: Array
    curvature_per_mm: Array

    @property
    def girth_mm(self) -> float:
        """Length of the moulded line from heel to head [mm]."""
        return float(self.s_mm[-1])

    @property
    def points_mm(self) -> Array:
        """(n, 2): half-breadth and height [mm]."""
        return np.column_stack([self.half_breadth_mm, self.height_mm])

    @property
    def direction_rad(self) -> Array:
        """(n,) angle of the line's tangent, heel to head, from 'straight out to the side' [rad]."""
        return np.unwrap(
            np.arctan2(np.gradient(self.height_mm, self.s_mm), np.gradient(self.half_breadth_mm, self.s_mm))
        )
