"""One body in space, and the ways in which bodies are made: between two outlines, along two faces, a box."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient

from scrieve.errors import BadGeometry

Array = NDArray[np.float64]
Index = NDArray[np.int64]
Kind = Literal["hull", "line", "frame", "plank", "jig", "packet"]

#: An outline is drawn with as few points as keep it within this of itself.
OUTLINE_WITHIN_MM = 0.5


class Net(NamedTuple):
    """Corners (n, 3), the triangles (m, 3) between them, and the edges (k, 2) to be drawn."""

    points: Array
    faces: Index
    edges: Index


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """One body: its corners and the triangles and edges between them.

    Attributes
    ----------
    key : str
        Names it among all bodies of a picture.
    kind : str
        What it is.
    points_mm : ndarray (n, 3)
        x aft, y to starboard, z up: a right-handed set.
    faces : ndarray (m, 3) of int
        Corners of each triangle, anticlockwise seen from outside where the body is closed.
    edges : ndarray (k, 2) of int
        Lines to be drawn.
    name : str
        What a person calls it.
    hand : 'P', 'S' or ''
        The side it belongs to.
    """

    key: str
    kind: Kind
    points_mm: Array
    faces: Index
    edges: Index
    name: str = ""
    hand: Literal["P", "S", ""] = ""

    @property
    def volume_mm3(self) -> float:
        """Volume inside a closed body [mm³]: the sum of tetrahedra to the first corner (divergence theorem)."""
        a, b, c = (self.points_mm[self.faces[:, i]] - self.points_mm[0] for i in range(3))
        return float((np.cross(a, b) * c).sum() / 6)

    @property
    def closed(self) -> bool:
        """Whether every edge of a triangle is met by exactly one other triangle, the other way round."""
        ways = np.concatenate([self.faces[:, [0, 1]], self.faces[:, [1, 2]], self.faces[:, [2, 0]]])
        there = {(int(a), int(b)) for a, b in ways}
        return len(there) == len(ways) and all((b, a) in there for a, b in there)

    def mirrored(self, key: str, name: str, hand: Literal["P", "S", ""]) -> Solid:
        """The same on the other side of the middle line."""
        return Solid(key, self.kind, self.points_mm * [1, -1, 1], self.faces[:, ::-1], self.edges, name, hand)


def loft(near: ArrayLike, far: ArrayLike, near_at: float, far_at: float) -> Net:
    """The body between two outlines in parallel planes, such as the two faces of a frame.

    Parameters
    ----------
    near, far : array_like (m, 2), (l, 2)
        Closed outlines, first point = last; they need not have the same number of points.
    near_at, far_at : float
        Where their planes stand, along the third axis [mm].

    Returns
    -------
    Net
        Closed; its points have the third axis first: (station, first axis, second axis).

    Raises
    ------
    BadGeometry
        An outline encloses nothing.

    Notes
    -----
    The outlines are paired by their shares of the way round, starting where each comes nearest to the other's first
    corner; each step goes forward on the outline whose next corner comes first.
    """
    rings = [_ring(each, what) for each, what in ((near, "near"), (far, "far"))]
    a, b = rings
    b = np.roll(b, -int(np.argmin(((b - a[0]) ** 2).sum(axis=1))), axis=0)
    points = np.vstack([np.column_stack([np.full(len(ring), at), ring]) for ring, at in ((a, near_at), (b, far_at))])
    n, m = len(a), len(b)
    share_a, share_b = (_shares(ring) for ring in (a, b))
    faces: list[tuple[int, int, int]] = []
    i = j = 0
    while i < n or j < m:
        here, there = i % n, n + j % m
        if j == m or (i < n and share_a[i + 1] <= share_b[j + 1]):
            faces.append((here, (i + 1) % n, there))
            i += 1
        else:
            faces.append((here, n + (j + 1) % m, there))
            j += 1
    found = np.array([*faces, *_cap(a, 0, turned=True), *_cap(b, n, turned=False)], dtype=np.int64)
    if near_at > far_at:
        found = found[:, ::-1]
    run = [np.column_stack([np.arange(k), np.roll(np.arange(k), -1)]) + start for k, start in ((n, 0), (m, n))]
    return Net(points, found, np.vstack(run))


def _ring(given: ArrayLike, what: str) -> Array:
    polygon = Polygon(np.asarray(given, dtype=float)).simplify(OUTLINE_WITHIN_MM)
    if not isinstance(polygon, Polygon) or not polygon.area > 0:
        raise BadGeometry(f"the {what} outline encloses nothing; no body can be drawn from it.")
    polygon = orient(polygon)
    return np.asarray(polygon.exterior.coords, dtype=float)[:-1]


def _shares(ring: Array) -> Array:
    steps = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    return np.concatenate([[0.0], np.cumsum(steps) / steps.sum()])


def _cap(ring: Array, start: int, *, turned: bool) -> list[tuple[int, int, int]]:
    """Triangles that fill an outline, its corners numbered from `start`."""
    number = {(x, y): start + i for i, (x, y) in enumerate(ring.tolist())}
    pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(Polygon(ring)))
    corners = shapely.get_coordinates(pieces).reshape(-1, 4, 2)[:, :3]  # the fourth is the first again
    ahead, aside = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    left = ahead[:, 0] * aside[:, 1] - ahead[:, 1] * aside[:, 0] > 0
    found = []
    for (a, b, c), anticlockwise in zip(corners.tolist(), left.tolist(), strict=True):
        one, two, three = number[tuple(a)], number[tuple(b)], number[tuple(c)]
        found.append((three, two, one) if turned == anticlockwise else (one, two, three))
    return found


def sheet(points: ArrayLike) -> Net:
    """A surface through a net of points (n, m, 3): its triangles and the lines round it."""
    net = np.asarray(points, dtype=float)
    n, m = net.shape[:2]
    number = np.arange(n * m).reshape(n, m)
    a, b, c, d = (each.ravel() for each in (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]))
    faces = np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])
    rim = np.concatenate([number[:-1, 0], number[-1, :-1], number[:0:-1, -1], number[0, :0:-1]])
    return Net(net.reshape(-1, 3), faces, np.column_stack([rim, np.roll(rim, -1)]))


def swept(inner: ArrayLike, outer: ArrayLike) -> Net:
    """The body between two faces, each a net of points (n, m, 3) whose corners face each other.

    The outer face lies on the side from which its rows, then its columns, turn anticlockwise.
    """
    below, above = (np.asarray(each, dtype=float) for each in (inner, outer))
    n, m = below.shape[:2]
    low, low_faces, low_rim = sheet(below)
    high, high_faces, high_rim = sheet(above)
    count = n * m
    a, b = low_rim[:, 0], low_rim[:, 1]
    wall = np.vstack([np.column_stack([a, b, b + count]), np.column_stack([a, b + count, a + count])])
    corners = np.array([0, (n - 1) * m, n * m - 1, m - 1])
    edges = np.vstack([low_rim, high_rim + count, np.column_stack([corners, corners + count])])
    return Net(np.vstack([low, high]), np.vstack([low_faces[:, ::-1], high_faces + count, wall]), edges)


def box(centre: ArrayLike, size: ArrayLike, turn_rad: float = 0.0) -> Net:
    """A box of `size` (3,) about its centre, turned about the third axis."""
    half = np.asarray(size, dtype=float) / 2
    net = np.array([[[-1.0, -1.0], [-1.0, 1.0]], [[1.0, -1.0], [1.0, 1.0]]]) * half[:2]
    cos, sin = np.cos(turn_rad), np.sin(turn_rad)
    net = net @ np.array([[cos, sin], [-sin, cos]])
    low, high = (np.dstack([net, np.full(net.shape[:2], side * half[2])]) for side in (-1, 1))
    points, faces, edges = swept(low, high)
    return Net(points + np.asarray(centre, dtype=float), faces, edges)
