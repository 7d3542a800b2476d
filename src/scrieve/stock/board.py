"""Boards as they lie in the rack: outline on both faces, thickness, defects, sapwood, grain, best face, cost."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from scrieve.errors import BadBoard
from scrieve.planking.board import least_strip

Array = NDArray[np.float64]
Points = tuple[tuple[float, float], ...]
Face = Literal["top", "under", "through"]
DefectKind = Literal["knot", "shake", "rot", "bite"]
BestFace = Literal["", "top", "under"]

#: A shake is a crack: so much wood along it is taken as gone where no width is given [mm]. Common practice, no source.
SHAKE_WIDTH_MM = 6.0


@dataclass(frozen=True, slots=True)
class Defect:
    """A place to be kept clear of, on the board's plan; lengths in mm.

    `points` are one point (a round of `across_mm`), two or more (a line `across_mm` wide, as a shake), or, with
    `closed`, the corners of a region. `face` is where it shows; 'through' on both. `sound` is a knot that is live and
    tight. A 'bite' is wood that is not there.
    """

    kind: DefectKind
    points: Points
    across_mm: float = 0.0
    closed: bool = False
    face: Face = "through"
    sound: bool = False
    note: str = ""

    def region(self) -> BaseGeometry:
        """Return the region it takes up."""
        if self.closed:
            return Polygon(self.points)
        half = max(self.across_mm, 0.0) / 2
        shape: BaseGeometry = Point(self.points[0]) if len(self.points) == 1 else LineString(self.points)
        # Corners of the many-sided figure lie on the round: grown by what its sides fall short.
        return shape.buffer(half / math.cos(math.pi / 32), quad_segs=8)


@dataclass(frozen=True, slots=True)
class Edges:
    """Both edges of one face: at `x_mm` along the datum line the offsets `lower_mm` and `upper_mm`, straight between.

    Offsets are above zero towards the upper edge.
    """

    x_mm: tuple[float, ...]
    lower_mm: tuple[float, ...]
    upper_mm: tuple[float, ...]

    def at(self, x: ArrayLike) -> tuple[Array, Array]:
        """Return the offsets of both edges at `x`; past the first and last station they run on level."""
        where = np.asarray(x, dtype=float)
        return np.interp(where, self.x_mm, self.lower_mm), np.interp(where, self.x_mm, self.upper_mm)


@dataclass(frozen=True, slots=True)
class Board:
    """One board; lengths in mm.

    Attributes
    ----------
    name : str
        What the builder calls it; written on its end.
    length_mm, thickness_mm : float
        From end to end along the datum line; as it is now, before planing.
    top : Edges
        The wany edges on the face that lay up when it was measured.
    under : Edges or None
        The same on the under face, measured from the same datum line; None where the edges stand square.
    heart : Edges or None
        Where the heartwood begins at each edge; None where there is no sapwood.
    defects : tuple of Defect
        Knots, shakes, rot, bites.
    grain : points
        The run of the grain along the board, seen on the top face; empty where it follows the datum line.
    best_face : '', 'top' or 'under'
        Which face is fit to be seen; '' where both are alike.
    cost : float or None
        What it cost, in the shop's money; None where it is not known.
    timber, note : str
    """

    name: str
    length_mm: float
    thickness_mm: float
    top: Edges
    under: Edges | None = None
    heart: Edges | None = None
    defects: tuple[Defect, ...] = ()
    grain: Points = ()
    best_face: BestFace = ""
    cost: float | None = None
    timber: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        """Refuse what cannot be a board."""
        called = f"board {self.name!r}"
        for what, value in (("length", self.length_mm), ("thickness", self.thickness_mm)):
            if not (math.isfinite(value) and value > 0):
                raise BadBoard(f"{called}: {what} {value:g} mm; give a value above zero.")
        for face, edges in (("top face", self.top), ("under face", self.under), ("heartwood", self.heart)):
            if edges is not None:
                _check_edges(f"{called}, {face}", edges, self.length_mm, crossing=face == "heartwood")
        if len(self.grain) == 1 or any(b[0] <= a[0] for a, b in zip(self.grain, self.grain[1:], strict=False)):
            raise BadBoard(f"{called}: the grain line needs two points or more, each further along than the last.")
        for defect in self.defects:
            if not defect.points or (defect.closed and not Polygon(defect.points).is_valid):
                raise BadBoard(f"{called}: a {defect.kind} has no outline, or one that crosses itself.")

    @property
    def breaks(self) -> Array:
        """(n,) all stations at which an edge may bend, both ends included, sorted [mm]."""
        given = [x for edges in (self.top, self.under, self.heart) if edges is not None for x in edges.x_mm]
        inside = [x for x in given if 0 < x < self.length_mm]
        return np.unique(np.array([0.0, self.length_mm, *inside]))

    def face(self, edges: Edges | None = None) -> Polygon:
        """Return the outline of a face, the top one unless another is given."""
        x = self.breaks
        lower, upper = (edges or self.top).at(x)
        return Polygon(np.concatenate([np.column_stack([x, lower]), np.column_stack([x, upper])[::-1]]))

    @property
    def area_mm2(self) -> float:
        """Area of the top face [mm²]."""
        return float(self.face().area)

    @property
    def volume_m3(self) -> float:
        """Wood in it, wane counted as it is [m³]."""
        under = self.area_mm2 if self.under is None else float(self.face(self.under).area)
        return (self.area_mm2 + under) / 2 * self.thickness_mm * 1e-9

    def grain_segments(self) -> tuple[Array, Array]:
        """Return the stations (n + 1,) between which the grain runs straight, and its slope angles (n,) [rad]."""
        if not self.grain:
            return np.array([-np.inf, np.inf]), np.zeros(1)
        points = np.array(self.grain)
        angles = np.arctan2(np.diff(points[:, 1]), np.diff(points[:, 0]))
        return np.r_[-np.inf, points[1:-1, 0], np.inf], angles


def _check_edges(called: str, edges: Edges, length: float, *, crossing: bool) -> None:
    x = np.array(edges.x_mm)
    if len(x) < 1 or len(x) != len(edges.lower_mm) or len(x) != len(edges.upper_mm):
        raise BadBoard(f"{called}: {len(x)} stations, {len(edges.lower_mm)} lower and {len(edges.upper_mm)} upper "
                       "offsets; give one of each at every station.")  # fmt: skip
    if not np.all(np.isfinite([*edges.x_mm, *edges.lower_mm, *edges.upper_mm])):
        raise BadBoard(f"{called}: a value is not a number; look at its stations and offsets.")
    back = np.flatnonzero(np.diff(x) <= 0)
    if back.size:
        raise BadBoard(f"{called}: station {x[back[0] + 1]:g} mm follows {x[back[0]]:g} mm; each must lie further "
                       "along.")  # fmt: skip
    if x[0] < -1e-6 or x[-1] > length + 1e-6:
        off = x[0] if x[0] < 0 else x[-1]
        raise BadBoard(f"{called}: station {off:g} mm lies off the board, which runs from 0 to {length:g} mm.")
    low, high = np.array(edges.lower_mm), np.array(edges.upper_mm)
    wrong = np.flatnonzero(high <= low)
    if wrong.size and not crossing:
        at = wrong[0]
        raise BadBoard(f"{called}, {x[at]:g} mm along: lower edge {low[at]:g} mm is not below upper edge {high[at]:g} "
                       "mm; offsets below the datum line are written below zero.")  # fmt: skip


def rectangular(name: str, length_mm: float, width_mm: float, thickness_mm: float, **more: object) -> Board:
    """Return a square-edged board, datum line along its lower edge; `more` are further fields of Board.

    Examples
    --------
    >>> round(rectangular("A", 2000, 150, 30).volume_m3, 9)
    0.009
    """
    if not (math.isfinite(width_mm) and width_mm > 0):
        raise BadBoard(f"board {name!r}: width {width_mm:g} mm; give a value above zero.")
    ends = Edges((0.0, float(length_mm)), (0.0, 0.0), (float(width_mm), float(width_mm)))
    return Board(name, float(length_mm), float(thickness_mm), ends, **more)  # type: ignore[arg-type]


def from_outline(
    name: str,
    outline: ArrayLike,
    thickness_mm: float,
    *,
    holes: Sequence[ArrayLike] = (),
    under: ArrayLike | None = None,
    heart: Sequence[ArrayLike] = (),
    grain: ArrayLike = (),
    defects: Sequence[Defect] = (),
    **more: object,
) -> Board:
    """Return a board traced as closed polylines, as from a drawing: laid with its length along x, from 0.

    Parameters
    ----------
    outline, under : array_like (n, 2)
        Top face and, where it was traced too in the same axes, the under face [mm].
    holes : sequence of array_like (n, 2)
        Outlines of regions to be kept clear of.
    heart : sequence of array_like (n, 2)
        Lines where the heartwood begins; each belongs to the edge of the board that it lies nearer to.
    grain : array_like (n, 2)
        A line that follows the grain.
    defects : sequence of Defect
        In the same axes.
    thickness_mm : float
    more
        Further fields of Board.

    Raises
    ------
    BadBoard
        An outline encloses nothing or crosses itself.
    """
    called = f"board {name!r}"
    top = _polygon(called, outline)
    angle = math.remainder(least_strip(outline)[2], math.pi)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])
    laid = np.array(top.exterior.coords)[:-1] @ turn
    origin = np.array([laid[:, 0].min(), (laid[:, 1].min() + laid[:, 1].max()) / 2])
    length = float(np.ptp(laid[:, 0]))

    def moved(points: ArrayLike) -> Array:
        return np.asarray(np.asarray(points, dtype=float) @ turn - origin)

    edges, bites = edges_of_shape(Polygon(laid - origin), length)
    below = None
    if under is not None:
        turned = Polygon(moved(np.array(_polygon(f"{called}, under face", under).exterior.coords)[:-1]))
        below, more_bites = edges_of_shape(turned.intersection(box(0, -1e7, length, 1e7)), length)
        bites += more_bites
    for hole in holes:
        ring = moved(np.array(_polygon(f"{called}, a hole", hole).exterior.coords)[:-1])
        bites.append(Defect("bite", _points(ring), closed=True))
    bites += [replace(defect, points=_points(moved(defect.points))) for defect in defects]
    fibre = _points(_along(moved(grain))) if len(np.asarray(grain)) else ()
    return Board(name, length, thickness_mm, edges, under=below, heart=_heart(edges, [moved(one) for one in heart]),
                 defects=tuple(bites), grain=fibre, **more)  # type: ignore[arg-type]  # fmt: skip


def _points(points: Array) -> Points:
    return tuple((float(x), float(y)) for x, y in points)


def _along(line: Array) -> Array:
    """Return a line with x rising; what turns back is left out."""
    line = line[np.argsort(line[:, 0], kind="stable")]
    return line[np.r_[True, np.diff(line[:, 0]) > 1e-6]]


def _heart(edges: Edges, lines: Sequence[Array]) -> Edges | None:
    if not lines:
        return None
    own = [_along(line) for line in lines]
    inside = [x for line in own for x in line[:, 0] if edges.x_mm[0] < x < edges.x_mm[-1]]
    x = np.unique(np.r_[edges.x_mm, inside])
    lower, upper = edges.at(x)
    for line in own:
        low, high = edges.at(line[:, 0])
        heart = np.interp(x, line[:, 0], line[:, 1])
        if float(np.mean(line[:, 1] - (low + high) / 2)) < 0:
            lower = np.maximum(lower, heart)
        else:
            upper = np.minimum(upper, heart)
    return Edges(tuple(x.tolist()), tuple(lower.tolist()), tuple(upper.tolist()))


def _polygon(called: str, outline: ArrayLike) -> Polygon:
    points = np.asarray(outline, dtype=float)
    if points.ndim != 2 or points.shape[1] != 2 or len(points) < 3 or not np.all(np.isfinite(points)):
        raise BadBoard(f"{called}: the outline has {len(points)} points; draw it as a closed polyline of 3 or more.")
    shape = Polygon(points)
    if not shape.is_valid or shape.area <= 0:
        raise BadBoard(f"{called}: the outline crosses itself or encloses nothing; draw it again.")
    return shape


def edges_of_shape(shape: BaseGeometry, length: float) -> tuple[Edges, list[Defect]]:
    """Return the lowest and highest edge of a shape, and what is missing between them."""
    if not isinstance(shape, Polygon) or shape.is_empty:
        raise BadBoard("the outline falls apart where it is laid along its length; draw one closed line.")
    corners = np.unique(np.round(np.array(shape.exterior.coords)[:, 0], 6))
    x = np.unique(np.clip(np.r_[0.0, corners, length], 0, length))
    low, high = [], []
    for at in x:
        inside = min(max(float(at), shape.bounds[0]), shape.bounds[2])
        cut = shape.intersection(box(inside - 1e-6, -1e7, inside + 1e-6, 1e7))
        low.append(float(cut.bounds[1]))
        high.append(float(cut.bounds[3]))
    edges = Edges(tuple(x.tolist()), tuple(low), tuple(high))
    hull = Polygon(np.concatenate([np.column_stack([x, low]), np.column_stack([x, high])[::-1]]))
    missing = hull.difference(shape.buffer(1e-4))
    parts = getattr(missing, "geoms", [missing])
    bites = [
        Defect("bite", tuple(map(tuple, np.array(part.exterior.coords)[:-1].tolist())), closed=True)
        for part in parts
        if isinstance(part, Polygon) and part.area > 1.0
    ]
    return edges, bites
