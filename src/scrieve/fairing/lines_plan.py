"""The lines of a fair hull: waterlines, buttocks and diagonals, cut from the surface itself.

Each is the line that a plane standing fore and aft cuts on the surface. Its ends, its direction and its curvature are
those of the surface, not of a drawing of it. A diagonal is given as if laid flat: distance out from the centreplane
along its own slope, over the station.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import BadGeometry
from scrieve.fairing.result import FairHull
from scrieve.fairing.tracing import Trace, trace

Array = NDArray[np.float64]
Kind = Literal["waterline", "buttock", "diagonal"]
End = Literal["forward", "aft", "heel", "head", "closed"]

#: Meshes of the net to each piece of the spline, along and round.
_FINE = (4, 6)
#: A diagonal steeper than this is a buttock [rad].
_STEEPEST = np.radians(85.0)
#: Points of a line closer than this are one [mm].
_SAME_MM = 0.02
#: A heel or head that lies this near to the plane all along lies in it [mm].
_TINY_MM = 1e-7
#: What bends less than this bends neither way: the width of a pencil line [mm].
PENCIL_MM = 0.3


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane standing fore and aft, as it is seen from the end.

    Attributes
    ----------
    kind : str
        'waterline', 'buttock' or 'diagonal'.
    origin_mm : (half-breadth, height)
        Where the ordinate is nought [mm].
    angle_rad : float
        How far the plane slopes down going outwards: 0 a waterline, above zero a diagonal; -π/2 a buttock, whose
        ordinate is the height.
    """

    kind: Kind
    origin_mm: tuple[float, float]
    angle_rad: float

    @property
    def outward(self) -> Array:
        """(2,) unit vector along which the ordinate grows: half-breadth, height."""
        if self.kind == "buttock":
            return np.array([0.0, 1.0])
        return np.array([np.cos(self.angle_rad), -np.sin(self.angle_rad)])

    @property
    def square(self) -> Array:
        """(2,) unit vector square to the plane, a quarter turn to the left of `outward`."""
        out = self.outward
        return np.array([-out[1], out[0]])

    def off(self, points: Array) -> Array:
        """Distance (n,) of points (n, 2) from the plane [mm]."""
        return np.asarray((points - self.origin_mm) @ self.square)

    def ordinate(self, points: Array) -> Array:
        """Ordinate (n,) of points (n, 2) in the plane [mm]."""
        return np.asarray((points - self.origin_mm) @ self.outward)


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """One unbroken line on one side of the hull, from forward to aft where it is open; arrays are (n,).

    Attributes
    ----------
    x_mm, v : ndarray
        Station [mm] and share of the girth.
    half_breadth_mm, height_mm : ndarray
        The point [mm].
    ordinate_mm : ndarray
        Half-breadth of a waterline, height of a buttock, distance out along a diagonal, as if laid flat [mm].
    direction_rad : ndarray
        Angle of the line in its own plane from 'straight aft', above zero where the ordinate grows [rad].
    curvature_per_mm : ndarray
        In the line's own plane, above zero where hollow inboard [1/mm]. At a knuckle, that of the one side.
    sd_mm : ndarray
        One standard deviation, square to the line in its own plane [mm].
    starts, ends : str
        Where it runs out: at the 'forward' or 'aft' end of the marks, at the 'heel' or 'head' line; or it is 'closed'.
    """

    x_mm: Array
    v: Array
    half_breadth_mm: Array
    height_mm: Array
    ordinate_mm: Array
    direction_rad: Array
    curvature_per_mm: Array
    sd_mm: Array
    starts: End
    ends: End

    @property
    def flat_mm(self) -> Array:
        """(n, 2): station and ordinate, the line as it is drawn out [mm]."""
        return np.column_stack([self.x_mm, self.ordinate_mm])

    @property
    def length_mm(self) -> float:
        """Length of the line along the hull, by the chords of its points [mm]."""
        return float(np.hypot(*np.diff(self.flat_mm, axis=0).T).sum())

    @property
    def reversals(self) -> int:
        """How often the curvature changes sign, swings too slight to be seen left out.

        A swing counts once it stands off its own chord by the width of a pencil line.
        """
        step = np.hypot(*np.diff(self.flat_mm.T))
        turned = 0.5 * (self.curvature_per_mm[1:] + self.curvature_per_mm[:-1]) * step
        way, swing, length, count = 0, 0.0, 0.0, 0
        for turn, piece in zip(turned.tolist(), step.tolist(), strict=True):
            if turn * swing < 0:
                swing, length = 0.0, 0.0
            swing, length = swing + turn, length + piece
            if abs(swing) * length / 8 > PENCIL_MM and np.sign(swing) != way:  # an arc's rise: angle times length / 8
                count += way != 0
                way = int(np.sign(swing))
        return count


@dataclass(frozen=True, slots=True, eq=False)
class HullLine:
    """A waterline, buttock or diagonal: the plane, and every run of the line that it cuts on one side of the hull."""

    plane: Plane
    runs: tuple[Run, ...]

    @property
    def name(self) -> str:
        """What the line is called: 'waterline 600', 'buttock 300', 'diagonal 1250 at the centreline, 40° down'."""
        y, z = self.plane.origin_mm
        if self.plane.kind == "waterline":
            return f"waterline {z:.0f}"
        if self.plane.kind == "buttock":
            return f"buttock {y:.0f}"
        return f"diagonal {z:.0f} at the centreline, {np.degrees(self.plane.angle_rad):.0f}° down"


def level_line(hull: FairHull, height_mm: float) -> HullLine:
    """Cut the waterline at a height [mm]; no runs where the hull does not reach it.

    Raises
    ------
    BadGeometry
        The height is not a number.
    """
    return line_in(hull, Plane("waterline", (0.0, _number("height", height_mm)), 0.0))


def upright_line(hull: FairHull, half_breadth_mm: float) -> HullLine:
    """Cut the buttock at a half-breadth [mm]; no runs where the hull does not reach it.

    Raises
    ------
    BadGeometry
        The half-breadth is not a number.
    """
    return line_in(hull, Plane("buttock", (_number("half-breadth", half_breadth_mm), 0.0), -np.pi / 2))


def diagonal(hull: FairHull, through: tuple[float, float], angle_rad: float) -> HullLine:
    """Cut a diagonal, drawn out as if laid flat.

    Parameters
    ----------
    hull : FairHull
    through : (half-breadth, height)
        A point of the body plan that the plane passes through [mm].
    angle_rad : float
        How far the plane slopes down going outwards, from level [rad].

    Raises
    ------
    BadGeometry
        A figure is not a number, or the plane stands steeper than 85°: that is a buttock.

    References
    ----------
    .. [1] Guidelines for Recording Historic Ships, National Park Service, 3rd ed. 2004, 4.6.47: diagonals cut the hull
       as nearly square as may be, best through crossings of waterlines and buttocks, and are drawn out as if laid flat.
    """
    return line_in(hull, diagonal_plane(through, angle_rad))


def diagonal_plane(through: tuple[float, float], angle_rad: float) -> Plane:
    """Plane of a diagonal through a point of the body plan [mm], sloping down outwards by an angle [rad].

    Raises
    ------
    BadGeometry
        A figure is not a number, or the plane stands steeper than 85°.
    """
    y, z = (_number(name, value) for name, value in zip(("half-breadth", "height"), through, strict=True))
    if not abs(_number("angle", angle_rad)) <= _STEEPEST:
        raise BadGeometry(f"diagonal: a slope of {np.degrees(angle_rad):.0f}°; give 85° or less, or take a buttock.")
    return Plane("diagonal", (0.0, z + y * float(np.tan(angle_rad))), float(angle_rad))


def line_in(hull: FairHull, plane: Plane) -> HullLine:
    """Cut the line that a plane makes on the surface, with a point at every station of the hull that it crosses."""
    x, v = _net(hull)

    def off(at: Array, share: Array) -> Array:
        return plane.off(hull.fit.value(at, share))

    return HullLine(
        plane, tuple(_run(hull, plane, branch) for branch in trace(off, x, v, _TINY_MM) if len(branch.x) > 2)
    )


def _number(name: str, value: float) -> float:
    if not np.isfinite(value):
        raise BadGeometry(f"{name} of a line: found {value}; give a number.")
    return float(value)


def _net(hull: FairHull) -> tuple[Array, Array]:
    """Lines of the net: every break of the spline, finer ones between, and every station."""
    grids = []
    for breaks, fine in zip((hull.fit.grid.along.breaks, hull.fit.grid.around.breaks), _FINE, strict=True):
        at = np.unique(breaks)
        grids.append(np.unique(np.concatenate([np.linspace(a, b, fine + 1) for a, b in itertools.pairwise(at)])))
    low, high = hull.x_range
    stations = np.array([x for x in hull.stations.values() if low <= x <= high])
    # a line of the net that all but falls on a station gives way to it
    clear = np.abs(grids[0][:, None] - stations[None, :]).min(axis=1, initial=np.inf) > 0.5
    clear[[0, -1]] = True
    return np.unique(np.concatenate([grids[0][clear], stations])), grids[1]


def _run(hull: FairHull, plane: Plane, branch: Trace) -> Run:
    x, v = branch.x, branch.v
    points = hull.fit.value(x, v)
    flat = np.column_stack([x, plane.ordinate(points)])
    step = np.hypot(*np.diff(flat, axis=0).T)
    keep = np.r_[True, step > _SAME_MM] | np.isin(x, list(hull.stations.values()))
    keep[[0, -1]] = True
    x, v, points, flat = x[keep], v[keep], points[keep], flat[keep]

    square, out = plane.square, plane.outward
    s = {(a, b): hull.fit.value(x, v, a, b) for a, b in ((1, 0), (0, 1), (2, 0), (1, 1), (0, 2))}
    f = {order: value @ square for order, value in s.items()}
    # along the line the plane's own distance stays nought: (ẋ, v̇) ∝ (F_v, -F_x), and once more for the bend of it
    turn = np.where(f[0, 1] * np.gradient(x) - f[1, 0] * np.gradient(v) < 0, -1.0, 1.0)
    dx, dv = turn * f[0, 1], -turn * f[1, 0]
    ddx = turn * (f[1, 1] * dx + f[0, 2] * dv)
    ddv = -turn * (f[2, 0] * dx + f[1, 1] * dv)
    g = {order: value @ out for order, value in s.items()}
    du = g[1, 0] * dx + g[0, 1] * dv
    ddu = g[2, 0] * dx**2 + 2 * g[1, 1] * dx * dv + g[0, 2] * dv**2 + g[1, 0] * ddx + g[0, 1] * ddv
    speed = np.maximum(np.hypot(dx, du), 1e-300)
    left = (dx * ddu - du * ddx) / speed**3
    # the surface's outward normal, seen in the plane: (N_x, N·out)
    ty, tz = s[0, 1].T
    lean = -(tz * s[1, 0][:, 0] - ty * s[1, 0][:, 1])
    outside = np.sign(-du * lean + dx * (np.column_stack([tz, -ty]) @ out))
    normal = np.column_stack([tz, -ty]) / np.hypot(ty, tz)[:, None]
    across = np.maximum(np.abs(normal @ out), 1e-9)
    sd = hull.sd_mm(x, v) / across * np.abs(dx) / speed
    return Run(
        x,
        v,
        points[:, 0],
        points[:, 1],
        flat[:, 1],
        np.arctan2(du, dx),
        -outside * left,
        sd,
        *(("closed", "closed") if branch.closed else (_end(hull, x[i], v[i]) for i in (0, -1))),
    )


def _end(hull: FairHull, x: float, v: float) -> End:
    low, high = hull.x_range
    away: dict[End, float] = {"heel": v, "head": 1 - v, "forward": (x - low) / (high - low), "aft": (high - x)}
    away["aft"] /= high - low
    return min(away, key=lambda end: abs(away[end]))


def default_diagonals(hull: FairHull, count: int = 4) -> tuple[Plane, ...]:
    """Propose diagonals: through crossings of round waterlines and buttocks, as nearly square to the hull as may be.

    The points are those of the broadest section at even shares of the girth, moved to the nearest crossing inside the
    hull; the angle, in whole degrees, is the one for which the plane meets the sections most nearly square, all
    stations taken together, a section that it misses counting as one met edge on.

    Parameters
    ----------
    hull : FairHull
    count : int
        How many are wanted, at most; two that fall together are given once.

    References
    ----------
    .. [1] Guidelines for Recording Historic Ships, National Park Service, 3rd ed. 2004, 4.6.47.
    """
    x = np.linspace(*hull.x_range, 41)
    v = np.linspace(0, 1, 201)
    at, share = (grid.ravel() for grid in np.meshgrid(x, v, indexing="ij"))
    points = hull.fit.value(at, share).reshape(len(x), len(v), 2)
    tangent = np.diff(points, axis=1)
    tangent /= np.maximum(np.hypot(tangent[..., 0], tangent[..., 1]), 1e-12)[..., None]
    broadest = points[int(points[..., 0].max(axis=1).argmax())]
    low, high = broadest[:, 1].min(), broadest[:, 1].max()
    rise = _round(float(high - low) / 8)
    out = _round(float(broadest[:, 0].max()) / 8)
    made: dict[tuple[float, float, int], Plane] = {}
    for k in range(count):
        foot = broadest[round((k + 0.8) / (count + 0.4) * (len(v) - 1))]
        y = max(out * np.floor(foot[0] / out * 0.999), 0.0)
        z = rise * np.round(foot[1] / rise)
        planes = [diagonal_plane((float(y), float(z)), np.radians(angle)) for angle in range(81)]
        best = int(np.argmin([_edge_on(plane, points, tangent) for plane in planes]))
        made.setdefault((float(y), float(z), best), planes[best])
    return tuple(made.values())


def _edge_on(plane: Plane, points: Array, tangent: Array) -> float:
    """Mean square of the cosine between plane and section: 0 where all are met square, 1 where none is met."""
    above = plane.off(points.reshape(-1, 2)).reshape(points.shape[:2]) >= 0
    cut = above[:, 1:] != above[:, :-1]
    slope = (tangent @ plane.outward) ** 2
    worst = np.where(cut, slope, 0.0).max(axis=1)
    return float(np.where(cut.any(axis=1), worst, 1.0).mean())


def _round(length: float) -> float:
    """Nearest of 1, 2, 5, 10 … to a length."""
    power = 10.0 ** np.floor(np.log10(max(length, 1e-6)))
    return float(min((m * power for m in (1.0, 2.0, 5.0, 10.0)), key=lambda step: abs(np.log(step / length))))
