"""Diagonal skins: thin planks laid askew over a side, and a second layer that crosses the first."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline

from scrieve.boat import Side
from scrieve.errors import BadPlank
from scrieve.planking.choice import PlankEnds, SeamMark
from scrieve.planking.curvature import unit
from scrieve.planking.lining.choice import known
from scrieve.planking.seams import Hull, Seam, fair_seam, station_of

Array = NDArray[np.float64]
Made = Literal["both", "port", "starboard"]

#: Step of the seams over the hull, and of the differences that give the metric's slopes.
_STEP_MM = 25.0
_BY_X_MM, _BY_V = 2.0, 2e-4
#: A place and those aft, forward, above and below it that tell its slopes; over places (n, 2).
_ROUND_ABOUT = np.array([[0, 0], [_BY_X_MM, 0], [-_BY_X_MM, 0], [0, _BY_V], [0, -_BY_V]])[:, None]
_MOST = 150


@dataclass(frozen=True, slots=True)
class SkinChoice:
    """One layer of diagonal planks over a side, and one plank of it; plain values that can be kept as JSON.

    `angle_deg` is that of the planks to the run of the strakes, halfway up: under 90 they rise going aft, over 90 going
    forward. Planks of `width_mm` there; `skin` 1 lies on the frames, 2 on a first layer of `under_mm`. Without marks
    `lower` is the rabbet and `upper` the sheer; `first` and `last` are frames or stations. `plank` counts from the
    first plank of the layer. `hull` tells whose marks the hull is faired from.
    """

    name: str
    thickness_mm: float
    angle_deg: float = 45.0
    width_mm: float = 125.0
    skin: Literal[1, 2] = 1
    under_mm: float = 0.0
    plank: int = 1
    side: Side = ""
    hull: Made = "both"
    lower: tuple[SeamMark, ...] = ()
    upper: tuple[SeamMark, ...] = ()
    first: str = ""
    last: str = ""
    planing_mm: float = 1.0
    trim_mm: float = 50.0
    wany_margin_mm: float = 5.0
    timber: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        where = f"skin {self.name!r}"
        if not self.name.strip():
            raise BadPlank("the skin's plank has no name; give it one, such as 'inner 7'.")
        for name, least, most in (("thickness_mm", 1, 100), ("angle_deg", 15, 165), ("width_mm", 20, 600),
                                  ("under_mm", 0, 100), ("planing_mm", 0, 50), ("trim_mm", 0, 500),
                                  ("wany_margin_mm", 0, 200)):  # fmt: skip
            value = getattr(self, name)
            if isinstance(value, bool) or not isinstance(value, (int, float)) or not least <= value <= most:
                words = name.rpartition("_")[0].replace("_", " ")
                raise BadPlank(f"{where}, {words}: found {value!r}; give {least:g} to {most:g}.")
        if self.skin not in (1, 2) or self.plank < 1:
            raise BadPlank(f"{where}: layer {self.skin!r}, plank {self.plank!r}; layers are 1 and 2, planks from 1.")
        if self.side not in ("P", "S", "") or self.hull not in ("both", "port", "starboard"):
            raise BadPlank(f"{where}: side {self.side!r}, hull {self.hull!r}; say P, S or blank; both, port or "
                           "starboard.")  # fmt: skip

    @property
    def ends(self) -> PlankEnds:
        """Both ends are cut in place."""
        return PlankEnds()

    @classmethod
    def from_mapping(cls, given: Mapping[str, Any]) -> SkinChoice:
        """Read a choice from plain values such as `dataclasses.asdict` gives; raise BadPlank for what is not one."""
        values = known(cls, given)
        for edge in ("lower", "upper"):
            marks = values.get(edge, ())
            values[edge] = tuple(m if isinstance(m, SeamMark) else SeamMark(**known(SeamMark, m)) for m in marks)
        return cls(**values)


@dataclass(frozen=True, slots=True, eq=False)
class SkinSeam:
    """A seam of a skin: station and share of the girth (n, 2) from its lower end to its upper, evenly along it, and the
    curve through them; `ends` names where it leaves the region: 'lower', 'upper', 'first', 'last'."""

    points: Array
    curve: CubicSpline
    ends: tuple[str, str]
    length_mm: float


@dataclass(frozen=True, slots=True)
class SkinPlank:
    """One plank of a skin: number, length, least and greatest width [mm], and whether an end takes a corner."""

    number: int
    length_mm: float
    least_mm: float
    greatest_mm: float
    corner: bool


@dataclass(frozen=True, slots=True, eq=False)
class Skin:
    """A layer laid out: seams in order, planks between them (plank n lies between seams n − 1 and n)."""

    choice: SkinChoice
    seams: tuple[SkinSeam, ...]
    planks: tuple[SkinPlank, ...]
    surface: OffsetHull

    def strip(self, number: int) -> CrossStrip:
        """One plank, as `expand` takes it: u from its lower end to its upper, w from its after edge to its forward one.

        Raises
        ------
        BadPlank
            There is no such plank.
        """
        if not 1 <= number <= len(self.planks):
            raise BadPlank(f"skin {self.choice.name!r}: plank {number}; this layer has planks 1 to {len(self.planks)}.")
        one, other = self.seams[number - 1], self.seams[number]
        after, forward = (other, one) if self.choice.angle_deg < 90 else (one, other)
        return CrossStrip(self.surface, after.curve, forward.curve)


@dataclass(frozen=True, slots=True)
class OffsetHull:
    """A hull moved outwards by the thickness of what lies on it [mm]."""

    hull: Hull
    out_mm: float

    def point(self, x: ArrayLike, v: ArrayLike) -> Array:
        """Points (..., 3) [mm]."""
        point = self.hull.point(x, v)
        if not self.out_mm:
            return np.asarray(point)
        by_x, by_v = self.hull.partials(x, v)
        return np.asarray(point - self.out_mm * unit(np.cross(by_x, by_v)))

    def partials(self, x: ArrayLike, v: ArrayLike) -> tuple[Array, Array]:
        """Derivatives by station and by share, (..., 3) each."""
        if not self.out_mm:
            return self.hull.partials(x, v)
        x_, v_ = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        first, last = self.hull.x_range
        low, high = np.maximum(x_ - _BY_X_MM, first), np.minimum(x_ + _BY_X_MM, last)
        down, up = np.maximum(v_ - _BY_V, 0), np.minimum(v_ + _BY_V, 1)
        aft, fore, above, below = self.point(np.stack([high, low, x_, x_]), np.stack([v_, v_, up, down]))
        return (aft - fore) / (high - low)[..., None], (above - below) / (up - down)[..., None]


@dataclass(frozen=True, slots=True, eq=False)
class CrossStrip:
    """The strip of a surface between two curves in station and share; it bends to the hull both ways."""

    surface: OffsetHull
    lower: CubicSpline
    upper: CubicSpline

    def at(self, u: Array, w: Array) -> Array:
        """Station and share (..., 2)."""
        share = np.asarray(w, dtype=float)[..., None]
        return np.asarray((1 - share) * self.lower(u) + share * self.upper(u))

    def __call__(self, u: Array, w: Array) -> tuple[Array, Array, Array]:
        """Points and derivatives by u and w, each (..., 3) [mm]."""
        share = np.asarray(w, dtype=float)[..., None]
        at = self.at(u, w)
        by_u = (1 - share) * self.lower(u, 1) + share * self.upper(u, 1)
        by_w = self.upper(u) - self.lower(u)
        by_x, by_v = self.surface.partials(at[..., 0], at[..., 1])
        return (
            self.surface.point(at[..., 0], at[..., 1]),
            by_x * by_u[..., :1] + by_v * by_u[..., 1:],
            by_x * by_w[..., :1] + by_v * by_w[..., 1:],
        )


def lay_skin(hull: Hull, choice: SkinChoice) -> Skin:
    """Lay one layer of diagonal planks over a side, or over the region between two seams and two stations.

    Every seam is a straightest line (geodesic) of the hull, so that a plank's edges are as nearly straight on the flat
    as the hull allows and no plank is set edgewise; planks taper where the hull is round both ways. Seams start from a
    line halfway up, a plank's width apart square to them, all at the same angle to the run of the strakes there; beyond
    both ends of that line, from the region's ends.

    Raises
    ------
    BadPlank
        The region cannot be, or takes no plank or more than 150.
    NoSuchFrame
        An end is neither a frame nor a number.
    """
    surface = OffsetHull(hull, choice.under_mm if choice.skin == 2 else 0.0)
    region = _Region.of(hull, choice)
    starts, directions = _starts(surface, region, choice)
    if len(starts) < 2:
        raise BadPlank(f"skin {choice.name!r}: the region takes no plank {choice.width_mm:.0f} mm wide at "
                       f"{choice.angle_deg:.0f}°; give a longer region or narrower planks.")  # fmt: skip
    if len(starts) > _MOST:
        raise BadPlank(f"skin {choice.name!r}: over {_MOST} planks; give wider planks or a shorter region.")
    up = _shoot(surface, region, starts, directions)
    down = _shoot(surface, region, starts, -directions)
    seams = []
    for above, below in zip(up, down, strict=True):
        points = np.concatenate([below[0][::-1], above[0][1:]])
        run = np.linalg.norm(np.diff(surface.point(*points.T), axis=0), axis=1)
        if run.sum() < choice.width_mm / 2 or len(points) < 4:
            continue
        along = np.concatenate([[0.0], np.cumsum(np.maximum(run, 1e-6))])
        seams.append(SkinSeam(points, CubicSpline(along / along[-1], points), (below[1], above[1]), float(along[-1])))
    planks = []
    for i, (one, other) in enumerate(pairwise(seams)):
        width = _widths(surface, one, other)
        planks.append(SkinPlank(i + 1, max(one.length_mm, other.length_mm), float(width.min()), float(width.max()),
                                one.ends != other.ends))  # fmt: skip
    return Skin(choice, tuple(seams), tuple(planks), surface)


def _widths(surface: OffsetHull, one: SkinSeam, other: SkinSeam) -> Array:
    """Distances from points of one seam to the other, where that lies abreast of them [mm]."""
    points, across = (surface.point(*seam.curve(np.linspace(0, 1, n)).T) for seam, n in ((one, 41), (other, 1201)))
    apart = np.linalg.norm(points[:, None] - across, axis=-1)
    nearest = np.argmin(apart, axis=1)
    abreast = (nearest > 0) & (nearest < len(across) - 1)
    return np.asarray(apart.min(axis=1)[abreast] if abreast.any() else apart.min(axis=1))


@dataclass(frozen=True, slots=True, eq=False)
class _Region:
    first: float
    last: float
    lower: Seam | None
    upper: Seam | None

    @classmethod
    def of(cls, hull: Hull, choice: SkinChoice) -> _Region:
        edges = [fair_seam(hull, marks, name=f"skin {choice.name!r}, {edge} seam") if marks else None
                 for edge, marks in (("lower", choice.lower), ("upper", choice.upper))]  # fmt: skip
        first, last = hull.x_range
        for seam in edges:
            if seam is not None:
                first, last = max(first, seam.first_mm), min(last, seam.last_mm)
        asked = sorted([station_of(hull, choice.first) if choice.first.strip() else first,
                        station_of(hull, choice.last) if choice.last.strip() else last])  # fmt: skip
        low, high = max(asked[0], first), min(asked[1], last)
        if high - low < 300:
            raise BadPlank(f"skin {choice.name!r}: the region is {high - low:.0f} mm long; give ends that lie apart.")
        found = cls(low, high, edges[0], edges[1])
        x = np.linspace(low, high, 41)
        if np.any(found.high(x) - found.low(x) < 0.02):
            raise BadPlank(f"skin {choice.name!r}: its upper seam meets or crosses the lower; change one of them.")
        return found

    def low(self, x: Array) -> Array:
        return np.zeros_like(x) if self.lower is None else np.clip(self.lower(x), 0, 1)

    def high(self, x: Array) -> Array:
        return np.ones_like(x) if self.upper is None else np.clip(self.upper(x), 0, 1)


def _starts(surface: OffsetHull, region: _Region, choice: SkinChoice) -> tuple[Array, Array]:
    """Where seams begin, (n, 2) station and share, and their directions (n, 2) in those."""
    rising = choice.angle_deg < 90
    share = np.linspace(1, 0.5, 61)
    x = np.linspace(region.first, region.last, 301)
    begin, end = (region.first, region.last) if rising else (region.last, region.first)
    path = np.concatenate([
        np.column_stack([np.full(61, begin), share]),
        np.column_stack([x if rising else x[::-1], np.full(301, 0.5)])[1:],
        np.column_stack([np.full(61, end), share[::-1] - 0.5])[::-1][1:],
    ])  # fmt: skip
    low, high = region.low(path[:, 0]), region.high(path[:, 0])
    path[:, 1] = low + path[:, 1] * (high - low)
    by_x, by_v = surface.partials(path[:, 0], path[:, 1])
    fraction = np.where(high > low, (path[:, 1] - low) / (high - low), 0.0)
    slope = np.zeros(len(path))
    for seam, part in ((region.lower, 1 - fraction), (region.upper, fraction)):
        if seam is not None:
            slope += part * seam.slope(path[:, 0])
    aft = unit(by_x + by_v * slope[:, None])
    up = unit(by_v - np.sum(by_v * aft, axis=1, keepdims=True) * aft)
    angle = math.radians(choice.angle_deg)
    across = -math.sin(angle) * aft + math.cos(angle) * up  # to the left of the planks' run
    points = surface.point(*path.T)
    steps = np.diff(points, axis=0)
    passed = np.abs(np.sum(steps * (across[1:] + across[:-1]) / 2, axis=1))
    count = np.concatenate([[0.0], np.cumsum(passed)])
    whole = math.floor(count[-1] / choice.width_mm + 1e-9)
    rest = (count[-1] - whole * choice.width_mm) / 2
    at = rest + choice.width_mm * np.arange(whole + 1)
    spots = np.column_stack([np.interp(at, count, path[:, k]) for k in (0, 1)])
    run = math.cos(angle) * aft + math.sin(angle) * up
    metric = np.stack([np.sum(by_x * by_x, 1), np.sum(by_x * by_v, 1), np.sum(by_v * by_v, 1)])
    right = np.stack([np.sum(run * by_x, 1), np.sum(run * by_v, 1)])
    det = metric[0] * metric[2] - metric[1] ** 2
    flat = np.column_stack([(metric[2] * right[0] - metric[1] * right[1]) / det,
                            (metric[0] * right[1] - metric[1] * right[0]) / det])  # fmt: skip
    return spots, np.column_stack([np.interp(at, count, flat[:, k]) for k in (0, 1)])


def _metric(surface: OffsetHull, q: Array) -> Array:
    by_x, by_v = surface.partials(q[:, 0], q[:, 1])
    return np.stack([np.sum(by_x * by_x, 1), np.sum(by_x * by_v, 1), np.sum(by_v * by_v, 1)], axis=1)


def _acceleration(surface: OffsetHull, region: _Region, q: Array, speed: Array) -> Array:
    """Second derivative of a straightest line in station and share, from the metric and its slopes (n, 2)."""
    inner = np.column_stack([np.clip(q[:, 0], region.first + _BY_X_MM, region.last - _BY_X_MM),
                             np.clip(q[:, 1], _BY_V, 1 - _BY_V)])  # fmt: skip
    here, aft, fore, up, down = _metric(surface, (inner + _ROUND_ABOUT).reshape(-1, 2)).reshape(5, -1, 3)
    (e, f, g), by_x, by_v = here.T, (aft - fore) / (2 * _BY_X_MM), (up - down) / (2 * _BY_V)
    dx, dv = speed.T
    # d/ds(g q') = ½ q'ᵀ(∂g)q'
    half = np.stack([b[:, 0] * dx**2 + 2 * b[:, 1] * dx * dv + b[:, 2] * dv**2 for b in (by_x, by_v)]) / 2
    change = by_x * dx[:, None] + by_v * dv[:, None]
    right = np.stack([half[0] - change[:, 0] * dx - change[:, 1] * dv, half[1] - change[:, 1] * dx - change[:, 2] * dv])
    det = e * g - f**2
    return np.column_stack([(g * right[0] - f * right[1]) / det, (e * right[1] - f * right[0]) / det])


def _shoot(surface: OffsetHull, region: _Region, starts: Array, directions: Array) -> list[tuple[Array, str]]:
    """Straightest lines from the starts until they leave the region: points (n, 2), and where each left."""
    q, speed = starts.copy(), directions.copy()
    lines: list[list[Array]] = [[at.copy()] for at in q]
    left = [""] * len(q)
    alive = np.arange(len(q))
    for _ in range(2000):
        if not alive.size:
            break
        a, b = q[alive], speed[alive]

        def force(at: Array, by: Array) -> Array:
            return _acceleration(surface, region, at, by)

        h = _STEP_MM
        k1, m1 = b, force(a, b)
        k2, m2 = b + h / 2 * m1, force(a + h / 2 * k1, b + h / 2 * m1)
        k3, m3 = b + h / 2 * m2, force(a + h / 2 * k2, b + h / 2 * m2)
        k4, m4 = b + h * m3, force(a + h * k3, b + h * m3)
        new = a + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        speed[alive] = b + h / 6 * (m1 + 2 * m2 + 2 * m3 + m4)
        out = np.column_stack(_outside(region, new))
        before = np.column_stack(_outside(region, a))
        names = ("first", "last", "lower", "upper")
        going = []
        for row, i in enumerate(alive):
            if np.any(out[row] > 0):
                part = np.where(
                    out[row] > 0, -before[row] / np.where(out[row] > before[row], out[row] - before[row], 1), 2
                )
                which = int(np.argmin(part))
                share = float(np.clip(part[which], 0, 1))
                end = a[row] + share * (new[row] - a[row])
                if share * h > 1.0:
                    lines[i].append(end)
                left[i] = names[which]
            else:
                lines[i].append(new[row].copy())
                q[i] = new[row]
                going.append(i)
        alive = np.array(going, dtype=np.intp)
    return [(np.array(line), name) for line, name in zip(lines, left, strict=True)]


def _outside(region: _Region, q: Array) -> tuple[Array, Array, Array, Array]:
    """How far points lie outside each bound of the region, above zero outside; stations and shares."""
    x = np.clip(q[:, 0], region.first, region.last)
    return region.first - q[:, 0], q[:, 0] - region.last, region.low(x) - q[:, 1], q[:, 1] - region.high(x)
