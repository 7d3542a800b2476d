"""Spiling: marks on a batten that lay flat on the frames -> the edges of the plank, in the batten's plane."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import make_interp_spline
from scipy.optimize import least_squares

from scrieve.errors import BadPlank
from scrieve.planking.choice import Edge, SpilingBatten, SpilingMark
from scrieve.planking.fair_edge import FairEdge, fair_edge

Array = NDArray[np.float64]

#: A point nearer than this to where its neighbours put it is not taken for a mirrored one.
MIRRORED_MM = 3.0
#: Arcs that cross at less than this leave the point badly placed along them.
LEAST_CROSSING_DEG = 25.0


@dataclass(frozen=True, slots=True)
class EdgePoint:
    """One point of a plank's edge in the batten's plane [mm], and how it was found.

    `misses_mm` (arcs only): how far the point lies outside each arc. `crossing_deg` (arcs only): the best angle at
    which two of its arcs cross, `other_mm` their other crossing, on the far side of the centres.
    """

    name: str
    frame: str
    edge: Edge
    x_mm: float
    y_mm: float
    kind: str
    misses_mm: tuple[float, ...] = ()
    crossing_deg: float | None = None
    other_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class SpiledEdges:
    """Both edges of a spiled plank, as faired lines y(x) in the batten's plane, with the points they pass."""

    lower: FairEdge
    upper: FairEdge
    lower_points: tuple[EdgePoint, ...]
    upper_points: tuple[EdgePoint, ...]


def from_offsets(marks: Sequence[SpilingMark]) -> list[EdgePoint]:
    """Edge points from offsets written square to the batten's datum line: they are the points."""
    return [_point(mark, mark.x_mm, mark.y_mm) for mark in marks]


def from_block(marks: Sequence[SpilingMark]) -> list[EdgePoint]:
    """Edge points from marks made along a block of one width held to the plank's edge.

    The marks lie on a line parallel to the edge: the block's width is set off square to the fair line through them.

    Raises
    ------
    BadPlank
        Fewer than two marks of one edge, blocks of different widths, or two marks at one place.
    """
    marks = sorted(marks, key=lambda mark: mark.x_mm)
    edge = marks[0].edge
    if len({(mark.opening_mm, mark.side) for mark in marks}) > 1:
        widths = ", ".join(f"{width:g}" for width in sorted({mark.opening_mm for mark in marks}))
        raise BadPlank(
            f"{edge} edge: block marks of widths {widths} mm, or on both sides; keep one block along one edge."
        )
    if len(marks) < 2:
        raise BadPlank(f"{edge} edge: one block mark; two or more are needed to set the block square to their line.")
    x, y = np.array([[mark.x_mm, mark.y_mm] for mark in marks]).T
    if np.any(np.diff(x) < 0.5):
        where = float(x[int(np.argmin(np.diff(x)))])
        raise BadPlank(f"{edge} edge: two block marks at {where:.0f} mm along; keep one.")
    line = make_interp_spline(x, y, k=min(3, len(x) - 1))
    slope = np.asarray(line(x, 1))
    length = np.hypot(1, slope)
    off = np.array([mark.side * mark.opening_mm for mark in marks])
    return [
        _point(mark, float(a), float(b))
        for mark, a, b in zip(marks, x - off * slope / length, y + off / length, strict=True)
    ]


def from_arcs(marks: Sequence[SpilingMark]) -> EdgePoint:
    """One edge point from the centres of two or more compass arcs through it.

    Two arcs cross exactly, twice; the crossing on the plank's side is taken. Three or more are met by least squares,
    starting from the crossing of the two centres furthest apart.

    Parameters
    ----------
    marks : sequence of SpilingMark
        Centres and openings of one point; all of one side.

    Raises
    ------
    BadPlank
        One arc only, arcs that do not meet, or centres one on the other.
    """
    first = marks[0]
    name = _name(first)
    if not (first.frame or first.point):
        raise BadPlank(f"{name}: an arc without frame or point; name them, so that the arcs of one point are known.")
    if len({mark.side for mark in marks}) > 1:
        raise BadPlank(f"{name}: its arcs are on both sides; say above or below the same way in each row.")
    if len(marks) < 2:
        raise BadPlank(f"{name}: one arc; swing it from two or more centres to place the point.")
    centres = np.array([[mark.x_mm, mark.y_mm] for mark in marks])
    radii = np.array([mark.opening_mm for mark in marks])
    apart = np.linalg.norm(centres[:, None] - centres, axis=-1)
    i, j = (int(k) for k in np.unravel_index(int(np.argmax(apart)), apart.shape))
    distance = apart[i, j]
    if distance < 1.0:
        raise BadPlank(f"{name}: the centres of its arcs lie one on the other; prick them further apart.")
    if distance > radii[i] + radii[j] or distance < abs(radii[i] - radii[j]):
        raise BadPlank(
            f"{name}: arcs of {radii[i]:.0f} and {radii[j]:.0f} mm do not meet from centres {distance:.0f} mm apart; "
            "was the opening changed?"
        )
    along = (centres[j] - centres[i]) / distance
    a = (radii[i] ** 2 - radii[j] ** 2 + distance**2) / (2 * distance)
    height = np.sqrt(max(radii[i] ** 2 - a**2, 0.0))
    square = np.array([-along[1], along[0]])
    if square[1] * first.side < 0:
        square = -square
    point, other = (centres[i] + a * along + sign * height * square for sign in (1, -1))
    if len(marks) > 2:

        def outside(at: Array) -> Array:
            return np.asarray(np.linalg.norm(at - centres, axis=1) - radii)

        point, other = (np.asarray(least_squares(outside, at, xtol=1e-12, ftol=1e-12).x) for at in (point, other))
    rays = centres - point
    directions = rays / np.linalg.norm(rays, axis=1, keepdims=True)
    sines = np.abs(directions[:, None, 0] * directions[:, 1] - directions[:, None, 1] * directions[:, 0])
    misses = tuple(float(miss) for miss in np.linalg.norm(rays, axis=1) - radii) if len(marks) > 2 else ()
    crossing = float(np.degrees(np.arcsin(min(1.0, float(sines.max())))))
    return EdgePoint(name, first.frame, first.edge, float(point[0]), float(point[1]), "arc", misses, crossing,
                     (float(other[0]), float(other[1])))  # fmt: skip


def spiled_edges(batten: SpilingBatten, *, tolerance_mm: float = 0.0, keep: Sequence[str] = ()) -> SpiledEdges:
    """Both edges of a plank from its spiling batten.

    Parameters
    ----------
    batten : SpilingBatten
        All its marks; the kinds may be mixed along one edge.
    tolerance_mm : float
        How far the faired edge may pass from a point that is not suspect.
    keep : sequence of str
        Names of points ('12 upper') not to be judged.

    Raises
    ------
    BadPlank
        An edge has fewer than two points, marks that give no point, the edges cross, or a point to be kept is not
        there; the message says where.
    """
    lower_points = _points([mark for mark in batten.marks if mark.edge == "lower"], "lower")
    lower = _faired(lower_points, "lower", tolerance_mm, keep)
    upper_marks = [mark for mark in batten.marks if mark.edge == "upper"]
    widths = [mark for mark in upper_marks if mark.kind == "width"]
    upper_points = _points([mark for mark in upper_marks if mark.kind != "width"], "upper", at_least=0 if widths else 2)
    upper_points = sorted([*upper_points, *_from_widths(widths, lower)], key=lambda point: point.x_mm)
    upper = _faired(upper_points, "upper", tolerance_mm, keep)
    names = [point.name for point in (*lower_points, *upper_points)]
    if strange := [name for name in keep if name not in names]:
        raise BadPlank(f"point {strange[0]!r} is to be kept, but no such point was spiled; take it off those kept. The "
                       f"points are {', '.join(names)}.")  # fmt: skip
    first, last = max(lower.x[0], upper.x[0]), min(lower.x[-1], upper.x[-1])
    if first >= last:
        raise BadPlank("the lower and the upper edge have no length in common; spile both along the whole plank.")
    x = np.linspace(first, last, 401)
    gap = upper(x) - lower(x)
    if np.min(gap) <= 2.0:
        where = float(x[int(np.argmin(gap))])
        raise BadPlank(
            f"the upper edge lies {np.min(gap):.0f} mm above the lower at {where:.0f} mm along; are the edges swapped, "
            "or was the wrong crossing of two arcs taken (column side)?"
        )
    return SpiledEdges(lower, upper, tuple(lower_points), tuple(upper_points))


def mirrored_crossings(edges: SpiledEdges) -> tuple[str, ...]:
    """Names of arc points whose other crossing lies on the edge through the other points, and their own does not.

    Each is held against the cubic through the two points on either side of it. A point off by less than 3 mm is left
    alone, and so is one whose other crossing is not at least four times nearer.
    """
    found = []
    for points in (list(edges.lower_points), list(edges.upper_points)):
        while True:  # the worst is put on its other side before the rest are judged: it misleads its neighbours
            worst = max(((_mirrored(points, i), i) for i in range(len(points))), default=(0.0, 0))
            if worst[0] <= 0:
                break
            point = points[worst[1]]
            assert point.other_mm is not None
            points[worst[1]] = replace(point, x_mm=point.other_mm[0], y_mm=point.other_mm[1], other_mm=None)
            found.append(point.name)
    return tuple(found)


def _mirrored(points: Sequence[EdgePoint], i: int) -> float:
    """How far point i lies off its neighbours, where its other crossing lies on them; else 0 [mm]."""
    point = points[i]
    rest = sorted((p for j, p in enumerate(points) if j != i), key=lambda other: abs(other.x_mm - point.x_mm))[:4]
    near = sorted(rest, key=lambda other: other.x_mm)
    if point.other_mm is None or len(near) < 3 or np.min(np.diff([other.x_mm for other in near])) < 0.5:
        return 0.0
    line = make_interp_spline([p.x_mm for p in near], [p.y_mm for p in near], k=len(near) - 1)
    own, across = (abs(y - float(line(x))) for x, y in ((point.x_mm, point.y_mm), point.other_mm))
    return own if own > MIRRORED_MM and 4 * across < own else 0.0


def _points(marks: Sequence[SpilingMark], edge: Edge, at_least: int = 2) -> list[EdgePoint]:
    found: list[EdgePoint] = []
    if block := [mark for mark in marks if mark.kind == "block"]:
        found += from_block(block)
    found += from_offsets([mark for mark in marks if mark.kind == "offset"])
    arcs: dict[tuple[str, str], list[SpilingMark]] = {}
    for mark in marks:
        if mark.kind == "arc":
            arcs.setdefault((mark.frame, mark.point), []).append(mark)
    found += [from_arcs(group) for group in arcs.values()]
    if len(found) < at_least:
        raise BadPlank(
            f"{edge} edge: {len(found)} point(s) spiled; two or more are needed, and one to each frame is usual."
        )
    return sorted(found, key=lambda point: point.x_mm)


def _from_widths(marks: Sequence[SpilingMark], lower: FairEdge) -> list[EdgePoint]:
    found = []
    for mark in marks:
        if not lower.x[0] - 1 <= mark.x_mm <= lower.x[-1] + 1:
            raise BadPlank(
                f"{_name(mark)}: a width at {mark.x_mm:.0f} mm along, where there is no lower edge; it runs from "
                f"{lower.x[0]:.0f} to {lower.x[-1]:.0f} mm."
            )
        slope = float(lower.slope(mark.x_mm))
        length = float(np.hypot(1, slope))
        found.append(
            _point(
                mark,
                mark.x_mm - mark.opening_mm * slope / length,
                float(lower(mark.x_mm)) + mark.opening_mm / length,
            )
        )
    return found


def _faired(points: Sequence[EdgePoint], edge: Edge, tolerance_mm: float, keep: Sequence[str]) -> FairEdge:
    return fair_edge(
        [point.x_mm for point in points],
        [point.y_mm for point in points],
        tolerance_mm=tolerance_mm,
        keep=[point.name in keep for point in points],
        name=f"{edge} edge",
    )


def _name(mark: SpilingMark) -> str:
    """Return the name by which the builder knows the point: '12 upper', '12 b upper', or '1430 mm upper'."""
    label = " ".join(part for part in (mark.frame, mark.point) if part) or f"{mark.x_mm:.0f} mm"
    return f"{label} {mark.edge}"


def _point(mark: SpilingMark, x: float, y: float) -> EdgePoint:
    return EdgePoint(_name(mark), mark.frame, mark.edge, x, y, mark.kind)
