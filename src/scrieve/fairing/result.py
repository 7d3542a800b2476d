"""The fair hull as a result: sections, bevels, the ± of the line, and how far each mark lies off it."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import cumulative_simpson
from scipy.interpolate import CubicHermiteSpline

from scrieve.boat import Boat
from scrieve.errors import NoSuchFrame
from scrieve.fairing.placing import SUSPECT_SD, Placing
from scrieve.fairing.section import Section
from scrieve.fairing.smoother import Fit
from scrieve.takeoff.frame_names import frames_meant
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.slips import SLIPS

Array = NDArray[np.float64]

#: A slip that is told only when it is so many times as large as one of a usual mark is told late.
_LATE = 3.0


@dataclass(frozen=True, slots=True)
class MarkOff:
    """How one mark lies to the fair hull.

    `residual_mm` is mark less line, square to the line, above zero where the mark lies outside; `along_mm` is the same
    along the line for a mark of an end or knuckle. `out_by_sd` is how far off it lies of what all other marks say, in
    standard deviations; `suspect` marks did not count; `guess` says what the slip may have been. `told_from_mm` is how
    large a slip of it must be to be told: where the other marks hardly check it, it may be a large one.
    """

    number: int
    frame: str
    side: str
    v: float
    residual_mm: float
    along_mm: float
    out_by_sd: float
    counts: bool
    suspect: bool
    guess: str
    line_sd_mm: float
    told_from_mm: float = 0.0


@dataclass(frozen=True, eq=False)
class Laid:
    """What a hull was laid through, kept so that it can be faired again with one mark moved.

    `points` (n, 2) are half-breadth and height of the marks, brought in to the moulded line; `placing` where they
    stand on the surface; `start` the plain shape that the fairing began from; `features` the shares of the girth at
    heel, knuckles and head; `loose` the surface as it would be with the stiffness that its ± is of.
    """

    marks: tuple[Mark, ...]
    answers: Mapping[int, str]
    points: Array
    placing: Placing
    start: Array
    features: tuple[float, ...]
    loose: Fit | None = None


@dataclass(frozen=True, eq=False)
class FairHull:
    """The fair surface of the moulded lines: x aft from the datum station, v the share of girth from heel to head.

    `features` are the shares of the girth at heel, knuckles and head; `knuckles` tells from where to where each knuckle
    runs, by its share [mm]; one that is not in it runs the whole length.
    """

    boat: Boat
    fit: Fit
    stations: Mapping[str, float]
    offs: tuple[MarkOff, ...]
    features: tuple[float, ...]
    laid: Laid | None = None
    knuckles: Mapping[float, tuple[float, float]] = field(default_factory=dict)

    def knuckles_at(self, x: float) -> tuple[float, ...]:
        """Shares of the girth at which the section at a station [mm] has a knuckle, from heel to head."""
        run = {v: self.knuckles.get(v, self.x_range) for v in self.features[1:-1]}
        return tuple(v for v, (low, high) in run.items() if low - 0.05 <= x <= high + 0.05)

    @property
    def x_range(self) -> tuple[float, float]:
        """First and last measured station [mm]."""
        return float(self.fit.grid.along.breaks[0]), float(self.fit.grid.along.breaks[-1])

    @property
    def rms_mm(self) -> float:
        """Root mean square residual of the marks that count [mm]."""
        counted = [off.residual_mm for off in self.offs if off.counts]
        return float(np.sqrt(np.mean(np.square(counted))))

    @property
    def error_mm(self) -> float:
        """Measuring error of a usual mark, one standard deviation, as the marks themselves tell it [mm]."""
        return self.boat.sigma_mm * self.fit.error_scale

    @property
    def suspects(self) -> tuple[MarkOff, ...]:
        """Marks that did not count, the furthest out first."""
        return tuple(sorted((off for off in self.offs if off.suspect), key=lambda off: -off.out_by_sd))

    @property
    def kept_far(self) -> tuple[MarkOff, ...]:
        """Marks that count because the builder kept them, though all others say otherwise; the furthest out first."""
        kept = self.laid.answers if self.laid else {}
        far = (off for off in self.offs if kept.get(off.number) == "keep" and off.out_by_sd > SUSPECT_SD)
        return tuple(sorted(far, key=lambda off: -off.out_by_sd))

    @property
    def hardly_checked(self) -> tuple[MarkOff, ...]:
        """Marks in which a slip shows only when it is three times as large as of a usual one, or more; latest first."""
        usual = float(np.median([off.told_from_mm for off in self.offs]))
        late = (off for off in self.offs if off.counts and off.told_from_mm > _LATE * usual)
        return tuple(sorted(late, key=lambda off: -off.told_from_mm))

    def point(self, x: ArrayLike, v: ArrayLike) -> Array:
        """Points (..., 3) of the surface: x aft, y out to the side, z up [mm]."""
        return self._spread(x, v, 0, 0)

    def partials(self, x: ArrayLike, v: ArrayLike) -> tuple[Array, Array]:
        """First derivatives of the point by x and by v, each (..., 3)."""
        return self._spread(x, v, 1, 0), self._spread(x, v, 0, 1)

    def _spread(self, x: ArrayLike, v: ArrayLike, by_x: int, by_v: int) -> Array:
        at, share = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(v, dtype=float))
        plane = self.fit.value(at.ravel(), share.ravel(), by_x, by_v)
        along = {(0, 0): at.ravel(), (1, 0): np.ones(at.size)}.get((by_x, by_v), np.zeros(at.size))
        return np.column_stack([along, plane]).reshape(*at.shape, 3)

    def normal(self, x: ArrayLike, v: ArrayLike) -> tuple[Array, Array]:
        """Outward unit normal within the section's plane (n, 2), and the bevel [rad] (n,), at each (x, v)."""
        at, share = np.broadcast_arrays(np.atleast_1d(np.asarray(x, dtype=float)), np.asarray(v, dtype=float))
        slope = self.fit.value(at, share, by_v=1)
        slope /= np.hypot(*slope.T)[:, None]
        normal = np.column_stack([slope[:, 1], -slope[:, 0]])
        return normal, np.arctan((normal * self.fit.value(at, share, by_x=1)).sum(axis=1))

    def sd_mm(self, x: ArrayLike, v: ArrayLike) -> Array:
        """One standard deviation (n,) of the surface, square to the section, at each (x, v) [mm]."""
        at, share = np.broadcast_arrays(np.atleast_1d(np.asarray(x, dtype=float)), np.asarray(v, dtype=float))
        normal, _ = self.normal(at, share)
        spread = np.einsum("ni,nij,nj->n", normal, self.fit.point_covariance(at, share), normal)
        return np.asarray(np.sqrt(np.maximum(spread, 0.0)))

    def station_of(self, at: str | float) -> tuple[str, float]:
        """Label (may be empty) and station [mm] of a frame label, or of a station given in mm.

        Raises
        ------
        NoSuchFrame
            Neither a frame of this hull nor a station within the marks.
        """
        label = str(at).strip()
        if met := frames_meant(label, self.stations):
            return met[0], self.stations[met[0]]
        try:
            x = float(label)
        except ValueError as error:
            raise NoSuchFrame(
                f"frame {label!r} has no marks here; give one of {_few(list(self.stations))}, or a station in mm."
            ) from error
        low, high = self.x_range
        if not low - 1e-6 <= x <= high + 1e-6:
            raise NoSuchFrame(
                f"station {x:g} mm lies outside the marks, which run from {low:g} to {high:g} mm; "
                "a shape out there would be a guess."
            )
        return next((name for name, station in self.stations.items() if abs(station - x) < 0.05), ""), x

    def section(self, at: str | float, points: int = 200, *, doubt: bool = True) -> Section:
        """Moulded line at a frame label or a station [mm]: `points` points evenly by arc length, heel to head.

        Without `doubt` the ± of the line is left out: nan.

        Raises
        ------
        NoSuchFrame
            Neither a frame of this hull nor a station within the marks.
        """
        (line,), (share,) = self._cut([self.station_of(at)], points)
        return replace(line, sd_mm=self.sd_mm(np.full(points, line.station_mm), share)) if doubt else line

    def sections(self, at: Iterable[str | float], points: int = 200) -> tuple[Section, ...]:
        """Moulded lines at many frame labels or stations [mm] in one go, the ± of each left out: nan.

        Raises
        ------
        NoSuchFrame
            One is neither a frame of this hull nor a station within the marks.
        """
        return self._cut([self.station_of(each) for each in at], points)[0]

    def _cut(self, places: Sequence[tuple[str, float]], points: int) -> tuple[tuple[Section, ...], Array]:
        """Sections at labels and stations, without their ±; and the shares of the girth (n, points) they stand at."""
        if not places:
            return (), np.zeros((0, points))
        stations = np.array([x for _, x in places])
        across, by_x = self.fit.sections(stations), self.fit.sections(stations, 1)
        s, v = self._even(across, points)
        here = np.arange(len(stations)).repeat(points)[:, None]

        def value(coefficients: Array, order: int) -> Array:
            first, basis = self.fit.grid.around.row(v.ravel(), order)
            near = coefficients[here, first[:, None] + np.arange(basis.shape[1])]
            return np.asarray(np.einsum("nj,njc->nc", basis, near).reshape(*v.shape, 2))

        plane, first, second = (value(across, order) for order in range(3))
        speed = np.hypot(first[..., 0], first[..., 1])
        curvature = (first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]) / speed**3
        out = np.stack([first[..., 1], -first[..., 0]], axis=-1) / speed[..., None]
        bevel = np.arctan((out * value(by_x, 0)).sum(axis=-1))
        unsaid = np.full(points, np.nan)
        lines = tuple(
            Section(label, x, s[i], plane[i, :, 0], plane[i, :, 1], unsaid, bevel[i], curvature[i])
            for i, (label, x) in enumerate(places)
        )
        return lines, v

    def _even(self, across: Array, points: int) -> tuple[Array, Array]:
        """Arc lengths (n, points), evenly, and the shares of the girth that they stand at.

        `across` (n, around, 2) are the coefficients of each section.
        """
        corners = np.array(self.features)
        fine = np.unique(np.concatenate([np.linspace(a, b, 401) for a, b in itertools.pairwise(corners)]))
        slope = np.einsum("fa,nac->nfc", self.fit.grid.around.dense(fine, 1), across, optimize=True)
        speed = np.hypot(slope[..., 0], slope[..., 1])
        length = np.zeros(speed.shape)
        for a, b in itertools.pairwise(corners):
            here = np.flatnonzero((fine >= a) & (fine <= b))
            run = cumulative_simpson(speed[:, here], x=fine[here], axis=1, initial=0)
            length[:, here] = length[:, here[:1]] + run
        s = np.linspace(np.zeros(len(length)), length[:, -1], points, axis=1)
        share = np.empty(s.shape)
        for i, (way, rate) in enumerate(zip(length, speed, strict=True)):
            if np.all(np.diff(way) > 0) and np.all(rate > 0):
                share[i] = CubicHermiteSpline(way, fine, 1 / rate)(s[i])
            else:  # a section that shrinks to a point somewhere: nothing finer can be said
                share[i] = np.interp(s[i], way, fine)
        return s, np.clip(share, 0, 1)


def _few(names: list[str]) -> str:
    return ", ".join(names) if len(names) <= 12 else ", ".join([*names[:5], "…", *names[-3:]])


def guess(point: Array, line: Array, sd: float) -> str:
    """What slip would bring a suspect mark on to the line, in the builder's words; empty where none fits.

    One slip of each reading at most: where both explain the mark, only measuring again can tell.

    A slip of a foot in height shows on a sloping side as much less than a foot, so each slip is tried: the mark is
    shifted back by it, upright or level, and the slip is named where the mark then lies on the line.

    Parameters
    ----------
    point : ndarray (2,)
        Half-breadth and height [mm].
    line : ndarray (n, 2)
        Where the mark may lie: its moulded line, or the one point that an end or a knuckle has there.
    sd : float
        Standard deviation of the distance between a good mark and the line [mm].
    """
    tried = [
        (axis, sign, slip, words) for slip, words in SLIPS for axis in (1, 0) for sign in (1, -1)
    ]  # upright before level: heights are read off a tape that has further to run
    shifted = np.array([point - sign * slip * np.eye(2)[axis] for axis, sign, slip, _ in tried])
    off, was = distance(shifted, line), float(distance(point[None], line)[0])
    fits = np.flatnonzero((off < 3 * sd) & (off < 0.25 * was) & (shifted[:, 0] >= -3 * sd))
    if not fits.size:
        return ""
    order = fits[np.argsort(off[fits] / sd + 0.05 * fits)]
    first = order[0]
    # another slip of this reading, or one of the other, may explain the mark as well; then both are named
    as_well = [int(i) for i in order if off[i] < max(2 * off[first], sd)]

    def said(chosen: int) -> str:
        axis, sign, _, words = tried[chosen]
        same = sorted(i for i in as_well if tried[i][:2] == (axis, sign))[:2]
        words = " or ".join(tried[i][3] for i in same) if chosen in same else words
        return f"{('half-breadth', 'height')[axis]} {words} too {('small', 'great')[sign > 0]}"

    other = [i for i in as_well if tried[i][0] != tried[first][0]]
    return f"{', or '.join(said(int(i)) for i in (first, *other[:1]))}?"


def distance(points: Array, line: Array) -> Array:
    """Shortest distance (n,) of points (n, 2) from a chain of points (m, 2), m at least 1."""
    if len(line) == 1:
        return np.asarray(np.hypot(*(points - line[0]).T))
    a, d = line[:-1], np.diff(line, axis=0)
    off = points[:, None] - a
    t = np.clip((off * d).sum(-1) / np.maximum((d * d).sum(-1), 1e-12), 0, 1)
    return np.asarray(np.sqrt(((off - t[..., None] * d) ** 2).sum(-1).min(axis=1)))
