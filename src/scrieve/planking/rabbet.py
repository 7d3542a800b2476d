"""The rabbet: how the groove is cut in which a plank's hood end, or the garboard's lower edge, lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scrieve.planking.curvature import Patch, unit

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RabbetCut:
    """The rabbet at one place; lengths in mm.

    `angle_rad` lies between the plank's inside and the side of the stem, keel or sternpost, in the plane square to the
    rabbet line. The plank's end or edge is square to its face: then the bearding line, where its inside comes out,
    lies `bearding_mm` from the rabbet line, and the middle line `depth_mm` below the side (below zero: above it, the
    plank stands off more than square).
    """

    place: str
    angle_rad: float
    bearding_mm: float
    depth_mm: float


def rabbet_cut(place: str, angle_rad: float, thickness_mm: float) -> RabbetCut:
    """The cut for a plank that meets the side at an angle: t/sin θ to the bearding line, t·cos θ deep.

    With the plank's end square to its face, rabbet line, middle line and bearding line are a right-angled triangle:
    its short side t is the plank's end, the angle at the bearding line θ.

    Examples
    --------
    >>> cut = rabbet_cut("first end", np.radians(30), 24)
    >>> round(cut.bearding_mm, 6), round(cut.depth_mm, 6)
    (48.0, 20.78461)
    """
    return RabbetCut(place, angle_rad, float(thickness_mm / np.sin(max(angle_rad, 1e-3))),
                     float(thickness_mm * np.cos(angle_rad)))  # fmt: skip


def hood_angles(patch: Patch, end: float) -> tuple[float, float, float]:
    """Angle of the plank to the stem's side at one end, at its lower edge, middle and upper edge [rad].

    Parameters
    ----------
    patch : Patch
        The strip as the plank lies.
    end : float
        0 the first end, 1 the last.
    """
    w = np.array([0.0, 0.5, 1.0])
    _, along, over = patch(np.full(3, end), w)
    found = _angles(unit(over), along if end == 0 else -along, np.cross(along, over))
    return float(found[0]), float(found[1]), float(found[2])


def edge_angles(patch: Patch, u: Array) -> Array:
    """Angle of the plank to the keel's side along its lower edge, at each `u` [rad]."""
    _, along, over = patch(u, np.zeros_like(u))
    return _angles(unit(along), over, np.cross(along, over))


def _angles(line: Array, into: Array, inboard: Array) -> Array:
    """Angles between planks that run `into` the hull from a rabbet `line`, and the centreplane, square to the line."""
    plank = unit(into - np.sum(into * line, axis=-1, keepdims=True) * line)
    side = unit(np.cross(line, np.array([0.0, 1.0, 0.0])))
    side = side * np.where(np.sum(side * inboard, axis=-1, keepdims=True) >= 0, 1.0, -1.0)
    return np.asarray(np.arccos(np.clip(np.sum(plank * side, axis=-1), -1, 1)))
