"""Clinker: a strake that laps its neighbour below, and the land planed on its upper edge for the one above."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from scrieve.errors import BadPlank
from scrieve.planking.curvature import unit
from scrieve.planking.seams import Strip, girths, place

Array = NDArray[np.float64]

#: Rule of thumb for clinker boats: the lap is twice the thickness (3/8 in plank, 3/4 in lap).
LAP_TO_THICKNESS = 2.0
#: Least thickness left at the edge of a land, as a share of the plank's (shop default).
LEFT_SHARE = 0.5
_FINE = 241
#: A seam this near the heel or the head, as a share of the girth, is the rabbet or the sheer.
_EDGE = 1e-3


@dataclass(frozen=True, slots=True)
class Land:
    """The land on a strake's upper edge at one frame.

    `lap_mm` is its width square to the edge, `bevel_rad` the angle between this strake's face and the next one's,
    `depth_mm` what is planed off the outside at the edge (below zero: off the inside of the strake above, at its lower
    edge), `left_mm` the thickness left at the edge.
    """

    frame: str
    lap_mm: float
    bevel_rad: float
    depth_mm: float
    left_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Ruled:
    """A strip of straight lines between two curves in space, as `expand` takes it; u along, w from lower to upper."""

    lower: CubicSpline
    upper: CubicSpline

    def __call__(self, u: Array, w: Array) -> tuple[Array, Array, Array]:
        """Points and derivatives by u and w, each (..., 3) [mm]."""
        low, high = self.lower(u), self.upper(u)
        by_low, by_high = self.lower(u, 1), self.upper(u, 1)
        share = np.asarray(w, dtype=float)[..., None]
        return low + share * (high - low), by_low + share * (by_high - by_low), high - low


def lapped(strip: Strip, lap_mm: float, thickness_mm: float, name: str) -> Ruled:
    """The inside face of a clinker strake.

    Its upper edge lies on the frames, along the upper seam of the strip. Its lower edge lies `lap_mm` below the lower
    seam, which is the upper edge of the strake below, on that one's outside; a lower seam in the rabbet has no lap.

    Raises
    ------
    BadPlank
        The lap would run below the heel; the message says where.
    """
    u = np.linspace(0, 1, _FINE)
    x = strip.station(u)
    low, high = np.clip(strip.lower(x), 0, 1), np.clip(strip.upper(x), 0, 1)
    bottom = strip.hull.point(x, low)
    if not in_rabbet(strip):
        bottom = _outside(strip, x, _below(strip, x, low, lap_mm, name), thickness_mm)
    return Ruled(CubicSpline(u, bottom), CubicSpline(u, strip.hull.point(x, high)))


def lands(
    strip: Strip, face: Ruled, labels: tuple[str, ...], u: Array, lap_mm: float, thickness_mm: float, name: str
) -> tuple[Land, ...]:
    """The land at each frame; none where the upper seam is the sheer.

    The strake above is taken to be as wide as this one, or to reach the sheer where there is less room.
    """
    if at_sheer(strip) or not labels:
        return ()
    x = strip.station(u)
    low, high = np.clip(strip.lower(x), 0, 1), np.clip(strip.upper(x), 0, 1)
    v, girth = girths(strip.hull, x)
    top = np.array([
        np.interp(min(2 * np.interp(high[i], v, girth[i]) - np.interp(low[i], v, girth[i]), girth[i, -1]), girth[i], v)
        for i in range(len(u))
    ])  # fmt: skip
    start = _outside(strip, x, _below(strip, x, high, lap_mm, name), thickness_mm)
    _, along, over = face(u, np.ones_like(u))
    seam = unit(along)
    own, next_ = (_square(direction, seam) for direction in (over, strip.hull.point(x, top) - start))
    inboard = np.cross(seam, own)  # u aft, w up: the inside of the hull
    bevel = np.arctan2(np.sum(next_ * inboard, axis=-1), np.sum(next_ * own, axis=-1))
    depth = lap_mm * np.tan(bevel)
    return tuple(
        Land(label, lap_mm, float(bevel[i]), float(depth[i]), float(thickness_mm - max(depth[i], 0.0)))
        for i, label in enumerate(labels)
    )


def in_rabbet(strip: Strip) -> bool:
    """Whether the lower seam is the rabbet all along."""
    return bool(np.all(strip.lower(strip.station(np.linspace(0, 1, 41))) < _EDGE))


def at_sheer(strip: Strip) -> bool:
    """Whether the upper seam is the sheer all along."""
    return bool(np.all(strip.upper(strip.station(np.linspace(0, 1, 41))) > 1 - _EDGE))


def _below(strip: Strip, x: Array, share: Array, lap_mm: float, name: str) -> Array:
    """Shares of the girth that lie a lap below a seam, square to it."""
    by_x, by_v = strip.hull.partials(x, share)
    slope = np.gradient(share, x) if len(x) > 1 else np.zeros_like(x)
    run, up = unit(by_x + by_v * slope[:, None]), unit(by_v)
    square = np.sqrt(np.maximum(1 - np.sum(run * up, axis=-1) ** 2, 0.05))
    v, girth = girths(strip.hull, x)
    found = np.array([np.interp(share[i], v, girth[i]) for i in range(len(x))]) - lap_mm / square
    if np.any(found < 0):
        at = place(strip.hull, float(x[int(np.argmin(found))]))  # type: ignore[arg-type]
        raise BadPlank(
            f"{name}: a lap of {lap_mm:.0f} mm runs below the heel at {at}; the seam is too near the rabbet."
        )
    return np.array([np.interp(found[i], girth[i], v) for i in range(len(x))])


def _outside(strip: Strip, x: Array, share: Array, thickness_mm: float) -> Array:
    by_x, by_v = strip.hull.partials(x, share)
    return np.asarray(strip.hull.point(x, share) - thickness_mm * unit(np.cross(by_x, by_v)))


def _square(direction: Array, seam: Array) -> Array:
    return unit(direction - np.sum(direction * seam, axis=-1, keepdims=True) * seam)
