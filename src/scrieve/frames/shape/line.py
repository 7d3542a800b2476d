"""A line in the plane of a frame, finely sampled: offsets of it, and curves built from their curvature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import make_interp_spline

from scrieve.errors import BadGeometry, BadLamination
from scrieve.fairing.section import Section
from scrieve.frames.parts import Array

#: Fewest points of a section from which a frame's line is taken.
LEAST_POINTS = 8


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A plane line, n points by arc length `s_mm`; hollow to its left where `curvature_per_mm` is above zero.

    `points_mm` is (n, 2); `angle_rad` (n,) the tangent's angle from the first axis, unwrapped.
    """

    s_mm: Array
    points_mm: Array
    angle_rad: Array
    curvature_per_mm: Array

    @property
    def length_mm(self) -> float:
        """Arc length from end to end [mm]."""
        return float(self.s_mm[-1] - self.s_mm[0])

    @property
    def turn_rad(self) -> float:
        """Angle turned from end to end, above zero to the left [rad]."""
        return float(self.angle_rad[-1] - self.angle_rad[0])

    @property
    def left(self) -> Array:
        """(n, 2) unit vectors square to the line, to its left: inboard, for a line that runs heel to head."""
        return np.column_stack([-np.sin(self.angle_rad), np.cos(self.angle_rad)])


def line_of(section: Section, step_mm: float = 1.0) -> Line:
    """The moulded line of a section, sampled at most `step_mm` apart.

    A quintic spline through the section's points by arc length gives tangent and curvature, so that the curvature
    integrates back to the points.

    Raises
    ------
    BadGeometry
        The section has fewer than 8 points, points that are not finite, or arc lengths that do not rise.
    """
    points, s = section.points_mm, section.s_mm
    where = f"frame {section.frame}" if section.frame else f"station {section.station_mm:g} mm"
    if len(s) < LEAST_POINTS:
        raise BadGeometry(f"{where}: the section has {len(s)} points; give {LEAST_POINTS} or more.")
    if not (np.isfinite(points).all() and np.isfinite(s).all() and np.all(np.diff(s) > 0)):
        raise BadGeometry(f"{where}: the section's points are not finite, or do not run heel to head; fair it again.")
    spline = make_interp_spline(s, points, k=5)
    fine = np.linspace(s[0], s[-1], max(int(np.ceil((s[-1] - s[0]) / step_mm)), 2) + 1)
    first, second = spline(fine, 1), spline(fine, 2)
    speed = np.hypot(first[:, 0], first[:, 1])
    if np.any(np.abs(speed - 1) > 0.05):
        worst = float(fine[np.argmax(np.abs(speed - 1))])
        raise BadGeometry(
            f"{where}, {worst:.0f} mm along: the points do not lie by arc length (a knuckle, perhaps, or a loop); "
            "give the frame in two lengths that meet there."
        )
    curvature = (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / speed**3
    angle = np.unwrap(np.arctan2(first[:, 1], first[:, 0]))
    return Line(fine, np.asarray(spline(fine)), angle, curvature)


def offset(line: Line, distance_mm: float, what: str = "the offset line") -> Line:
    """The parallel line at a distance to the left (below zero: right).

    Raises
    ------
    BadLamination
        The distance reaches the centre of curvature somewhere, so that the line would fold back on itself.

    References
    ----------
    .. [1] Parallel curves: ds' = (1 - κd) ds, κ' = κ / (1 - κd).
    """
    stretch = unfolded(line, distance_mm, what)
    s = _running(stretch, line.s_mm)
    points = line.points_mm + distance_mm * line.left
    return Line(s, points, line.angle_rad, line.curvature_per_mm / stretch)


def offset_varied(line: Line, distance_mm: Array, what: str = "the offset line") -> Line:
    """The line at a distance (n,) to the left of each point, taken as locally parallel.

    Where the distance steps (a lamination dropped) the points step with it; arc length and angle are those of the
    parallel line on either side.

    Raises
    ------
    BadLamination
        The distance reaches the centre of curvature somewhere.
    """
    stretch = unfolded(line, distance_mm, what)
    points = line.points_mm + distance_mm[:, None] * line.left
    return Line(_running(stretch, line.s_mm), points, line.angle_rad, line.curvature_per_mm / stretch)


def offset_points(line: Line, distance_mm: Array, what: str) -> Array:
    """(n, 2) points at a distance (n,) to the left of each point of the line, square to it.

    Raises
    ------
    BadLamination
        The distance reaches the centre of curvature somewhere.
    """
    unfolded(line, distance_mm, what)
    return np.asarray(line.points_mm + distance_mm[:, None] * line.left)


def offset_length(line: Line, distance_mm: float) -> float:
    """Length of the parallel line at a distance to the left: length less distance × turn [mm].

    References
    ----------
    .. [1] Parallel curves: ∫(1 - κd) ds = s - d Δθ.
    """
    return line.length_mm - distance_mm * line.turn_rad


def from_curvature(s_mm: Array, curvature_per_mm: Array, start_mm: Array, angle_rad: float) -> Line:
    """The line of given curvature by arc length, from a point and a direction.

    Angles by the trapezoid rule, positions by the midpoint rule with each chord shortened for its curvature: exact on
    a circle, and within 0.001 mm over 3 m at steps of 1 mm.
    """
    return from_angle(s_mm, angle_rad + _running(curvature_per_mm, s_mm), curvature_per_mm, start_mm)


def from_angle(s_mm: Array, angle: Array, curvature_per_mm: Array, start_mm: Array) -> Line:
    """The line of given direction by arc length, from a point; each step an arc."""
    step = np.diff(s_mm)
    middle, turned = (angle[1:] + angle[:-1]) / 2, np.diff(angle)
    chord = step * np.sinc(turned / (2 * np.pi))
    walk = np.column_stack([chord * np.cos(middle), chord * np.sin(middle)])
    points = np.vstack([start_mm, start_mm + np.cumsum(walk, axis=0)])
    return Line(s_mm, points, angle, curvature_per_mm)


def lengthened(line: Line, by_mm: float, step_mm: float = 1.0) -> Line:
    """The line run on past both ends by a length, keeping the curvature it has there."""
    if by_mm == 0:
        return line
    count = max(int(np.ceil(by_mm / step_mm)), 1)
    run = np.linspace(0, by_mm, count + 1)[1:]
    s = np.concatenate([line.s_mm[0] - run[::-1], line.s_mm, line.s_mm[-1] + run])
    before, after = line.curvature_per_mm[0], line.curvature_per_mm[-1]
    curvature = np.concatenate([np.full(count, before), line.curvature_per_mm, np.full(count, after)])
    way = np.concatenate([[0.0], run])
    heel = from_curvature(way, np.full(count + 1, -before), line.points_mm[0], float(line.angle_rad[0]) + np.pi)
    head = from_curvature(way, np.full(count + 1, after), line.points_mm[-1], float(line.angle_rad[-1]))
    points = np.vstack([heel.points_mm[:0:-1], line.points_mm, head.points_mm[1:]])
    angle = np.concatenate([heel.angle_rad[:0:-1] - np.pi, line.angle_rad, head.angle_rad[1:]])
    return Line(s, points, angle, curvature)


def tightest_radius(line: Line) -> float:
    """The least radius of the line, whichever way it bends [mm]; inf where it is straight throughout."""
    most = float(np.abs(line.curvature_per_mm).max())
    return 1 / most if most > 1e-12 else float("inf")


def _running(rate: Array, s: Array) -> Array:
    return np.concatenate([[0.0], np.cumsum(np.diff(s) * (rate[1:] + rate[:-1]) / 2)])


def unfolded(line: Line, distance: Array | float, what: str) -> Array:
    """(n,) 1 - κd: length of the line at a distance (n,) to the left, or one for all, for each mm of the line.

    Raises
    ------
    BadLamination
        The distance reaches the centre of curvature somewhere; `what` is named.
    """
    stretch = 1 - line.curvature_per_mm * distance
    worst = int(np.argmin(stretch))
    if stretch[worst] <= 0:
        across, up = line.points_mm[worst]
        away = float(np.abs(np.broadcast_to(distance, stretch.shape)[worst]))
        raise BadLamination(
            f"{what} folds {line.s_mm[worst]:.0f} mm along from the heel (half-breadth {across:.0f}, height {up:.0f}): "
            f"the moulded line turns there on a radius of {abs(1 / line.curvature_per_mm[worst]):.0f} mm and the line "
            f"lies {away:.0f} mm towards its centre; take a smaller moulded depth, or a joint there."
        )
    return np.asarray(stretch)
