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

#: An outline is drawn with as few points as keep it within this of itself; coarsely, within that.
OUTLINE_WITHIN_MM, COARSE_WITHIN_MM = 0.5, 6.0
#: Coarsely, of a net of points every so manieth row and column.
_COARSE_EVERY = 3


class Net(NamedTuple):
    """Corners (n, 3), the triangles (m, 3) between them, the edges (k, 2) to be drawn.

    `coarse` are fewer triangles between the same corners: enough while a picture moves.
    """

    points: Array
    faces: Index
    edges: Index
    coarse: Index


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
    coarse : ndarray (l, 3) of int
        Fewer triangles between the same corners, closed where the body is: enough while a picture moves.
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
    coarse: Index
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
        return closed(self.faces)

    def mirrored(self, key: str, name: str, hand: Literal["P", "S", ""]) -> Solid:
        """The same on the other side of the middle line."""
        net = Net(self.points_mm * [1, -1, 1], self.faces[:, ::-1], self.edges, self.coarse[:, ::-1])
        return Solid(key, self.kind, *net, name, hand)


def closed(faces: Index) -> bool:
    """Whether every edge of a triangle is met by exactly one other triangle, the other way round."""
    ways = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    there = {(int(a), int(b)) for a, b in ways}
    return len(there) == len(ways) and all((b, a) in there for a, b in there)


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
    faces = _between(a, b, np.arange(n), np.arange(n, n + m))
    few_a, few_b = _few(a), _few(b)
    coarse = _between(a[few_a], b[few_b], few_a, n + few_b)
    if near_at > far_at:
        faces, coarse = faces[:, ::-1], coarse[:, ::-1]
    run = [np.column_stack([np.arange(k), np.roll(np.arange(k), -1)]) + start for k, start in ((n, 0), (m, n))]
    return Net(points, faces, np.vstack(run), coarse)


def _ring(given: ArrayLike, what: str) -> Array:
    whole = Polygon(np.asarray(given, dtype=float))
    polygon = whole.simplify(OUTLINE_WITHIN_MM, preserve_topology=False)
    if not isinstance(polygon, Polygon) or not polygon.is_valid:
        polygon = whole.simplify(OUTLINE_WITHIN_MM)  # ten times as slow
    if not isinstance(polygon, Polygon) or not polygon.area > 0:
        raise BadGeometry(f"the {what} outline encloses nothing; no body can be drawn from it.")
    polygon = orient(polygon)
    return np.asarray(polygon.exterior.coords, dtype=float)[:-1]


def _few(ring: Array) -> Index:
    """Which corners of an outline draw it coarsely, the first among them."""
    polygon = Polygon(ring).simplify(COARSE_WITHIN_MM, preserve_topology=False)
    if not isinstance(polygon, Polygon) or polygon.is_empty or not polygon.is_valid:
        return np.arange(len(ring))
    kept = {*map(tuple, np.asarray(polygon.exterior.coords).tolist()), tuple(ring[0].tolist())}
    return np.flatnonzero([corner in kept for corner in map(tuple, ring.tolist())])


def _between(a: Array, b: Array, number_a: Index, number_b: Index) -> Index:
    """Triangles of the wall between two outlines and of their caps, the corners numbered so."""
    n, m = len(a), len(b)
    share = np.concatenate([_shares(a), _shares(b)])
    order = np.argsort(share, kind="stable")
    on_a = order < n
    i = np.concatenate([[0], np.cumsum(on_a)[:-1]])  # corners of each that have been passed
    j = np.arange(n + m) - i
    next_a, next_b = number_a[(i + 1) % n], number_b[(j + 1) % m]
    wall = np.column_stack([number_a[i % n], np.where(on_a, next_a, next_b), number_b[j % m]])
    return np.vstack([wall, _cap(a, number_a, turned=True), _cap(b, number_b, turned=False)])


def _shares(ring: Array) -> Array:
    """(n,) share of the way round at which each next corner is reached; the last is the first again."""
    steps = np.hypot(*(np.roll(ring, -1, axis=0) - ring).T)
    return np.asarray(np.cumsum(steps) / steps.sum())


def _cap(ring: Array, numbers: Index, *, turned: bool) -> Index:
    """Triangles that fill an outline, its corners numbered so."""
    number = {(x, y): i for (x, y), i in zip(ring.tolist(), numbers.tolist(), strict=True)}
    pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(Polygon(ring)))
    corners = shapely.get_coordinates(pieces).reshape(-1, 4, 2)[:, :3]  # the fourth is the first again
    ahead, aside = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    left = ahead[:, 0] * aside[:, 1] - ahead[:, 1] * aside[:, 0] > 0
    found = np.array([number[x, y] for x, y in corners.reshape(-1, 2).tolist()], dtype=np.int64).reshape(-1, 3)
    return np.asarray(np.where((left == turned)[:, None], found[:, ::-1], found))


def sheet(points: ArrayLike) -> Net:
    """A surface through a net of points (n, m, 3): its triangles and the lines round it."""
    net = np.asarray(points, dtype=float)
    number = np.arange(net.shape[0] * net.shape[1]).reshape(net.shape[:2])
    return Net(net.reshape(-1, 3), _tiles(number), _rim(number), _tiles(_sparse(number)))


def _tiles(number: Index) -> Index:
    """Two triangles in each mesh of a net whose corners are numbered (n, m)."""
    a, b, c, d = (each.ravel() for each in (number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]))
    return np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])


def _rim(number: Index) -> Index:
    """The lines round a net, one after the other."""
    rim = np.concatenate([number[:-1, 0], number[-1, :-1], number[:0:-1, -1], number[0, :0:-1]])
    return np.column_stack([rim, np.roll(rim, -1)])


def _sparse(number: Index) -> Index:
    """Some rows and columns of a net, both ends among them."""
    rows, columns = (np.unique(np.append(np.arange(0, k, _COARSE_EVERY), k - 1)) for k in number.shape)
    return np.asarray(number[np.ix_(rows, columns)])


def swept(inner: ArrayLike, outer: ArrayLike) -> Net:
    """The body between two faces, each a net of points (n, m, 3) whose corners face each other.

    The outer face lies on the side from which its rows, then its columns, turn anticlockwise.
    """
    below, above = (np.asarray(each, dtype=float) for each in (inner, outer))
    n, m = below.shape[:2]
    number = np.arange(n * m).reshape(n, m)
    corners = np.array([0, (n - 1) * m, n * m - 1, m - 1])
    rim = _rim(number)
    edges = np.vstack([rim, rim + n * m, np.column_stack([corners, corners + n * m])])
    points = np.vstack([below.reshape(-1, 3), above.reshape(-1, 3)])
    return Net(points, _shell(number, n * m), edges, _shell(_sparse(number), n * m))


def _shell(number: Index, count: int) -> Index:
    """Triangles of both faces of a body and of the wall round it; a corner of the outer is `count` past the inner's."""
    low, (a, b) = _tiles(number), _rim(number).T
    wall = np.vstack([np.column_stack([a, b, b + count]), np.column_stack([a, b + count, a + count])])
    return np.vstack([low[:, ::-1], low + count, wall])


def box(centre: ArrayLike, size: ArrayLike, turn_rad: float = 0.0) -> Net:
    """A box of `size` (3,) about its centre, turned about the third axis."""
    half = np.asarray(size, dtype=float) / 2
    flat = np.array([[[-1.0, -1.0], [-1.0, 1.0]], [[1.0, -1.0], [1.0, 1.0]]]) * half[:2]
    cos, sin = np.cos(turn_rad), np.sin(turn_rad)
    flat = flat @ np.array([[cos, sin], [-sin, cos]])
    low, high = (np.dstack([flat, np.full(flat.shape[:2], side * half[2])]) for side in (-1, 1))
    net = swept(low, high)
    return net._replace(points=net.points + np.asarray(centre, dtype=float))
