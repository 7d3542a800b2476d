"""Hull, frames and planks where they stand on the boat: x aft, y to starboard, z up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from shapely.geometry import LineString

from scrieve.fairing.result import FairHull
from scrieve.fairing.section import Section
from scrieve.frames.choice import FrameChoice
from scrieve.frames.shape.faces import finished_faces
from scrieve.frames.shape.line import line_of
from scrieve.frames.shape.outline import draw_outline, far_station, settle_moulding_edge
from scrieve.geometry.surface import Surface
from scrieve.planking.choice import StrakeChoice
from scrieve.planking.lining.result import Lining
from scrieve.planking.seams import Hull, Strip, strake_strip, strip_between
from scrieve.solids.body import Array, Kind, Net, Solid, loft, sheet, swept

#: The moulded line of a frame is taken at steps of this, for a picture.
STEP_MM = 8.0
#: Nets of points: of one side of the hull, along and round; of a plank, along and across.
HULL_NET = (97, 33)
PLANK_NET = (49, 4)
#: A moulded line is drawn within this of itself.
LINE_WITHIN_MM = 1.0

SIDES: tuple[Literal["P", "S"], ...] = ("P", "S")


def hull_solids(hull: Hull) -> tuple[Solid, ...]:
    """The moulded surface of both sides, as one net of points each."""
    x, v = np.linspace(*hull.x_range, HULL_NET[0]), np.linspace(0, 1, HULL_NET[1])
    net = hull.point(x[::-1, None], v[None, :])
    return _both("hull", "hull", "Moulded surface", sheet(net))


def line_solid(section: Section, label: str) -> tuple[Solid, ...]:
    """The moulded line of a frame that has not been designed, on both sides."""
    kept = np.asarray(LineString(section.points_mm).simplify(LINE_WITHIN_MM, preserve_topology=False).coords)
    points = np.column_stack([np.full(len(kept), section.station_mm), kept])
    edges = np.column_stack([np.arange(len(kept) - 1), np.arange(1, len(kept))]).astype(np.int64)
    none = np.zeros((0, 3), np.int64)
    return _both(f"line {label}", "line", f"Frame {label}", Net(points, none, edges, none))


def sections_of(
    hull: FairHull, frames: Sequence[tuple[str | float, FrameChoice]], points: int
) -> list[tuple[Section, Section | None]]:
    """Moulded line of each frame, and the hull's section at its far face, None past the hull's ends; without their ±.

    Parameters
    ----------
    hull : FairHull
    frames : sequence of (label or station [mm], choice)
    points : int
        Of each section.

    Raises
    ------
    NoSuchFrame
        One is neither a frame of this hull nor a station within the marks.
    """
    near = hull.sections([at for at, _ in frames], points)
    low, high = hull.x_range
    at = [
        far_station(section, choice, settle_moulding_edge(section, choice.moulding_edge))
        for section, (_, choice) in zip(near, frames, strict=True)
    ]
    within = [x for x in at if low - 1e-6 <= x <= high + 1e-6]
    far = dict(zip(within, hull.sections(within, points), strict=True))
    return [(section, far.get(x)) for section, x in zip(near, at, strict=True)]


def frame_solids(section: Section, choice: FrameChoice, label: str, far: Section | None) -> tuple[Solid, ...]:
    """The finished pair of a designed frame: both faces with bevels, end cuts and notches; port, then starboard.

    Of a frame made for one hand only that one.

    Parameters
    ----------
    section : Section
        The moulded line at the frame's station.
    choice : FrameChoice
        As the builder settled it.
    label : str
        The frame's label.
    far : Section or None
        The hull's section at the far face, its true shape; None past the hull's ends.

    Raises
    ------
    BadLamination, BadGeometry
        As for the design itself: depth, bevel, cuts or notches that no frame can have.
    """
    line = line_of(section, STEP_MM)
    edge = settle_moulding_edge(section, choice.moulding_edge)
    at = far_station(section, choice, edge)
    faces = finished_faces(line, draw_outline(section, line, choice, edge, far), choice)
    body = loft(faces.moulding_mm, faces.far_mm, section.station_mm, at)
    both = _both(f"frame {label}", "frame", f"Frame {label}", body)
    return {"pair": both, "port": both[:1], "starboard": both[1:]}[choice.hands]


def plank_solid(hull: Hull, choice: StrakeChoice, key: str, name: str) -> tuple[Solid, ...]:
    """A strake on the hull, as thick as it is; on the side it is for, or on both.

    Raises
    ------
    BadPlank, NoSuchFrame
        Its seams do not lie on the hull; the message says where.
    """
    strip = strake_strip(hull, choice, straight=choice.across == "straight")
    return _shell(hull, strip, choice.thickness_mm, choice.side, key, name)


def strake_solid(lining: Lining, number: int, thickness_mm: float) -> tuple[Solid, ...]:
    """A strake of a side that is lined off, as far as it reaches; 1 the lowest.

    Raises
    ------
    BadPlank
        It lies between no two seams.
    """
    there = np.flatnonzero(np.isfinite(lining.width_mm[number - 1]))
    x = [lining.frames[int(k)].x_mm for k in there]
    name = f"strake {number}"
    lower, upper = lining.seams[number - 1], lining.seams[number]
    first, last = max(x[0], lower.first_mm, upper.first_mm), min(x[-1], lower.last_mm, upper.last_mm)
    strip = strip_between(lining.hull, lower, upper, name=name, first=f"{first}", last=f"{last}")
    return _shell(lining.hull, strip, thickness_mm, lining.choice.side, name, name.capitalize())


def _shell(hull: Surface, strip: Strip, thickness_mm: float, side: str, key: str, name: str) -> tuple[Solid, ...]:
    """The strip, so thick, on its side or on both."""
    u, w = np.meshgrid(np.linspace(0, 1, PLANK_NET[0]), np.linspace(0, 1, PLANK_NET[1]), indexing="ij")
    x = strip.station(u)
    share = strip.lower(x) + w * (strip.upper(x) - strip.lower(x))
    inner = hull.point(x, share)
    outer = inner + thickness_mm * outward(hull, x, share)
    both = _both(key, "plank", name, swept(inner[::-1], outer[::-1]))
    return tuple(each for each in both if side in ("", each.hand))


def outward(hull: Surface, x: Array, v: Array) -> Array:
    """Outward unit normal of the surface in space (..., 3)."""
    by_x, by_v = hull.partials(x, v)
    normal = np.cross(by_v, by_x)
    return np.asarray(normal / np.linalg.norm(normal, axis=-1, keepdims=True))


def _both(key: str, kind: Kind, name: str, net: Net) -> tuple[Solid, ...]:
    """One body to starboard, and its mirror image to port; port first."""
    starboard = Solid(f"{key} S", kind, *net, f"{name}, starboard", "S")
    return starboard.mirrored(f"{key} P", f"{name}, port", "P"), starboard
