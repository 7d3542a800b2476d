"""Edges and faces of a plank: backing out, stock thickness, edge bevels and the opening of the seam."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

from scrieve.errors import BadPlank, above_zero
from scrieve.planking.choice import SeamRule
from scrieve.planking.curvature import Patch, bends, unit
from scrieve.units import MM_PER_INCH

Array = NDArray[np.float64]

#: Seam open outside, per mm of thickness: British yards 3 to 4 mm in 25 mm; the inch rule is about half of that.
SEAM_OPENING: dict[str, float] = {"metric": 3.5 / 25, "inch": 1 / 16}
#: The inch rule is given with a limit of about 1/8 in.
SEAM_LIMIT_MM: dict[str, float] = {"metric": np.inf, "inch": MM_PER_INCH / 8}
SEAM_SOURCE: dict[str, str] = {
    "metric": "3 to 4 mm in 25 mm plank: yard practice as told by British builders; disputed, a setting",
    "inch": "1/16 in per inch of thickness, up to about 1/8 in: common practice, no source; disputed, a setting",
}


def backing_out(radius: ArrayLike, width: ArrayLike) -> Array:
    """Depth to which the inside of a plank is hollowed to lie on a round frame.

    Parameters
    ----------
    radius : array_like
        Outside radius of the frame across the plank; infinite where it is straight [mm].
    width : array_like, broadcast with `radius`
        Width of the plank, straight across [mm].

    Returns
    -------
    ndarray
        r − √(r² − (w/2)²) [mm].

    Raises
    ------
    BadPlank
        A value is not above zero, or a plank is wider than the frame is round.

    References
    ----------
    .. [1] docs/planking.md, "Backing out".

    Examples
    --------
    >>> round(float(backing_out(600, 120)), 7)
    3.0075377
    """
    r, w = np.broadcast_arrays(np.asarray(radius, dtype=float), above_zero("width", width, "mm", BadPlank))
    straight = np.isinf(r)
    above_zero("radius", np.where(straight, 1.0, r), "mm", BadPlank)
    if np.any(w > 2 * r):
        bad = int(np.flatnonzero(w > 2 * r)[0])
        raise BadPlank(
            f"a plank {w.flat[bad]:.0f} mm wide cannot lie on a frame of radius {r.flat[bad]:.0f} mm; divide it."
        )
    half = w / 2
    with np.errstate(invalid="ignore"):
        depth = half**2 / (r + np.sqrt(r**2 - half**2))  # the same, without losing digits where r is large
    return np.asarray(np.where(straight, 0.0, depth))


def across(patch: Patch, u: Array, points: int = 33) -> tuple[Array, Array, Array]:
    """The hull square across a plank: width straight across, hollow and radius at each `u`.

    The curvature of the hull square to the plank's run, at `points` places from edge to edge, is integrated twice to
    the curve on which the plank's inside lies; width is its chord and hollow its rise, below zero where the hull is
    hollow outside (the plank's inside is rounded there). The radius is that of the arc of the same chord and rise.

    Parameters
    ----------
    patch : Patch
        The strip as it follows the hull (not straight across).

    Returns
    -------
    width, hollow, radius : ndarrays, shape of `u` [mm]
        Radius below zero where hollow is; infinite where there is none.
    """
    u = np.atleast_1d(np.asarray(u, dtype=float))
    w = np.linspace(0, 1, points)
    uu, ww = np.broadcast_arrays(u[:, None], w)
    bent = bends(patch, np.ascontiguousarray(uu), np.ascontiguousarray(ww))
    turn = CubicSpline(w, bent.across * bent.reach, axis=1).antiderivative()(w)
    x = CubicSpline(w, np.cos(turn) * bent.reach, axis=1).antiderivative()(w)
    y = CubicSpline(w, np.sin(turn) * bent.reach, axis=1).antiderivative()(w)
    width = np.hypot(x[:, -1], y[:, -1])
    fall = (y[:, -1:] * x - x[:, -1:] * y) / width[:, None]  # of the curve below its chord: the hull turns upwards
    finely = CubicSpline(w, fall, axis=1)(np.linspace(0, 1, 16 * points))
    deepest = np.argmax(np.abs(finely), axis=1)
    hollow = finely[np.arange(len(u)), deepest]
    with np.errstate(divide="ignore"):
        radius = np.where(np.abs(hollow) > 1e-6, (width**2 / 4 + hollow**2) / (2 * hollow), np.inf)
    return width, hollow, radius


def edge_bevels(patch: Patch, u: Array) -> tuple[Array, Array]:
    """Angle of the seams from square to the board's face, before any opening, at each `u`.

    A seam stands square to the hull, so that it halves the angle between two planks alike in width; the board's face
    is parallel to the straight line across it from seam to seam. Measured in the plane square to the seam.

    Parameters
    ----------
    patch : Patch
        The strip as it follows the hull (not straight across).

    Returns
    -------
    lower, upper : ndarrays, shape of `u` [rad]
        Above zero where the plank is wider outside than inside, as on a round bilge.
    """
    u = np.atleast_1d(np.asarray(u, dtype=float))
    zero, one = np.zeros_like(u), np.ones_like(u)
    start, along_low, over_low = patch(u, zero)
    end, along_high, over_high = patch(u, one)
    line_across = end - start
    angles = []
    for along, over, outward in ((along_low, over_low, -1.0), (along_high, over_high, 1.0)):
        seam = unit(along)
        outside = -unit(np.cross(along, over))
        plank = unit(line_across - np.sum(line_across * seam, axis=-1, keepdims=True) * seam)
        face = -np.cross(seam, plank)
        angles.append(np.arctan2(outward * np.sum(outside * plank, axis=-1), np.sum(outside * face, axis=-1)))
    return angles[0], angles[1]


def seam_opening(thickness_mm: float, rule: SeamRule = "metric") -> float:
    """Opening of a caulked seam at the outside, both edges together [mm]; tight inside.

    Examples
    --------
    >>> round(seam_opening(25, "metric"), 9), seam_opening(25.4, "inch") / 25.4
    (3.5, 0.0625)
    """
    thickness = float(above_zero("thickness", thickness_mm, "mm", BadPlank))
    return float(min(SEAM_OPENING[rule] * thickness, SEAM_LIMIT_MM[rule]))


def outgauge_angle(opening_mm: float, thickness_mm: float) -> float:
    """Angle by which each edge is eased so that a seam opens by `opening_mm` at the outside [rad]."""
    return float(np.arctan2(opening_mm / 2, float(above_zero("thickness", thickness_mm, "mm", BadPlank))))


def standing_wood(bevel_rad: ArrayLike, thickness_mm: float) -> float:
    """Wood outside the inside face's line that one edge needs where its bevel is standing, at the worst place [mm].

    Examples
    --------
    >>> standing_wood([-0.1, -0.05], 28), round(standing_wood([0.1, 0.05], 28), 3)
    (0.0, 2.809)
    """
    return float(thickness_mm * np.tan(max(0.0, float(np.max(np.asarray(bevel_rad, dtype=float))))))


def stock_thickness(thickness_mm: float, hollow_mm: float, planing_mm: float) -> float:
    """Least thickness of the board: finished thickness, the deepest hollow or rounding of either sign, and planing."""
    return thickness_mm + abs(hollow_mm) + planing_mm
