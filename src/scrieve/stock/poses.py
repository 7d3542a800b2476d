"""Poses: every way a part may lie on a board, either face up, end for end, and at small angles, as profiles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from scrieve.stock.parts import Part, Show
from scrieve.stock.profiles import run_profile, shape_profile
from scrieve.stock.usable import Up

Array = NDArray[np.float64]

#: Outlines are simplified by up to so much, and grown by what that cut off [mm].
SIMPLIFY_MM = 0.2


@dataclass(frozen=True, slots=True)
class Saw:
    """What the saw and the fence ask for; lengths in mm.

    `kerf_mm` is left between neighbours, `margin_mm` around each part besides.
    """

    kerf_mm: float = 4.0
    margin_mm: float = 3.0

    @property
    def apart_mm(self) -> float:
        """Least distance between two parts [mm]."""
        return self.kerf_mm + 2 * self.margin_mm


SAW = Saw()


@dataclass(frozen=True, slots=True)
class Lie:
    """How a part lies, before it is shifted: which face is up, and by what angle it is turned [rad]."""

    up: Up
    angle_rad: float


def laid(points: Sequence[tuple[float, float]] | Array, lie: Lie, x_mm: float = 0.0, y_mm: float = 0.0) -> Array:
    """Return points of a part as they lie on the board: turned over, turned, shifted; (n, 2) [mm]."""
    own = np.asarray(points, dtype=float)
    if lie.up == "outside":
        own = own * [1.0, -1.0]
    cos, sin = math.cos(lie.angle_rad), math.sin(lie.angle_rad)
    return np.asarray(own @ np.array([[cos, sin], [-sin, cos]]) + [x_mm, y_mm])


@dataclass(frozen=True, slots=True, eq=False)
class Poses:
    """All poses of one part with one face up, as profiles that begin at their own left end.

    `lower`, `upper` (poses, pieces, cells) grown by margin and half a kerf; `least_run`, `most_run` (poses, cells) the
    slope of its run; `length_mm` (poses,) grown length; `shift_x` (poses,) x of the part's origin where the grown left
    end is at 0; `middle` (poses,) the height of its centroid.
    """

    part: Part
    lies: tuple[Lie, ...]
    lower: Array
    upper: Array
    least_run: Array
    most_run: Array
    length_mm: Array
    shift_x: Array
    middle: Array
    area_mm2: float

    @property
    def cells(self) -> int:
        """Number of cells."""
        return int(self.lower.shape[-1])


def outer(shape: BaseGeometry) -> Array:
    """Return the outer ring of a polygon, closed, (n, 2)."""
    assert isinstance(shape, Polygon)
    return np.asarray(shape.exterior.coords)


def faces_up(show: Show, best_face: str, turn_over: bool) -> tuple[Up, ...]:
    """Return which face of a part may lie on the board's top face."""
    if show and best_face:
        up: Up = show if best_face == "top" else ("inside" if show == "outside" else "outside")
        return (up,) if up == "inside" or turn_over else ()
    return ("inside", "outside") if turn_over else ("inside",)


def poses_of(part: Part, up: Up, angles_rad: Sequence[float], saw: Saw, cell_mm: float) -> Poses:
    """Return the poses of a part with one face up, at each angle and end for end.

    Parameters
    ----------
    angles_rad : sequence of float
        Angles tried, besides which each is also turned by half a turn.
    """
    grow = saw.margin_mm + saw.kerf_mm / 2
    shape = part.polygon.simplify(SIMPLIFY_MM)
    slack = float(shapely.distance(shapely.points(outer(part.polygon)), shape).max())
    ring = outer(shape.buffer(grow + slack, join_style="mitre") if grow + slack > 0 else shape)
    run = part.run_line()
    lies = tuple(Lie(up, angle + half) for half in (0.0, math.pi) for angle in angles_rad)
    turned = [laid(ring, lie) for lie in lies]
    shift = np.array([-points[:, 0].min() for points in turned])
    length = np.array([float(np.ptp(points[:, 0])) for points in turned])
    count = math.ceil(length.max() / cell_mm - 1e-9)
    shapes = [
        shape_profile(Polygon(points + np.array([dx, 0.0])), 0.0, cell_mm, count)
        for points, dx in zip(turned, shift, strict=True)
    ]
    pieces = max(len(low) for low, _ in shapes)
    lower, upper = (np.full((len(lies), pieces, count), sign * np.inf) for sign in (1, -1))
    for row, (low, high) in enumerate(shapes):
        lower[row, : len(low)], upper[row, : len(high)] = low, high
    runs = [run_profile(laid(run, lie, dx), 0.0, cell_mm, count) for lie, dx in zip(lies, shift, strict=True)]
    centre = np.array(part.polygon.centroid.coords)
    middle = np.array([laid(centre, lie)[0, 1] for lie in lies])
    return Poses(part, lies, lower, upper, np.array([r[0] for r in runs]), np.array([r[1] for r in runs]), length,
                 shift, middle, part.area_mm2)  # fmt: skip
