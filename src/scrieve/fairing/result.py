"""The fair hull as a result: sections, bevels, the ± of the line, and how far each mark lies off it."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.integrate import cumulative_simpson
from scipy.interpolate import CubicHermiteSpline

from scrieve.boat import Boat
from scrieve.errors import NoSuchFrame
from scrieve.fairing.section import Section
from scrieve.fairing.smoother import Fit
from scrieve.takeoff.marks import Mark

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class MarkOff:
    """How one mark lies to the fair hull.

    `residual_mm` is mark less line, square to the line, above zero where the mark lies outside; `along_mm` is the same
    along the line for a mark of an end or knuckle. `out_by_sd` is how far off it lies of what all other marks say, in
    standard deviations; `suspect` marks did not count; `guess` says what the slip may have been.
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


@dataclass(frozen=True, eq=False)
class FairHull:
    """The fair surface of the moulded lines: x aft from the datum station, v the share of girth from heel to head."""

    boat: Boat
    fit: Fit
    stations: Mapping[str, float]
    offs: tuple[MarkOff, ...]
    features: tuple[float, ...]

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
        index, value = self.fit.grid.rows(at, share, normal)
        return np.sqrt(np.maximum(self.fit.row_covariance(index[:, None], value[:, None])[:, 0, 0], 0.0))

    def station_of(self, at: str | float) -> tuple[str, float]:
        """Label (may be empty) and station [mm] of a frame label, or of a station given in mm.

        Raises
        ------
        NoSuchFrame
            Neither a frame of this hull nor a station within the marks.
        """
        label = str(at).strip()
        if label in self.stations:
            return label, self.stations[label]
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

    def section(self, at: str | float, points: int = 200) -> Section:
        """Moulded line at a frame label or a station [mm]: `points` points evenly by arc length, heel to head.

        Raises
        ------
        NoSuchFrame
            Neither a frame of this hull nor a station within the marks.
        """
        label, x = self.station_of(at)
        s, v = self._even(x, points)
        at_x = np.full(points, x)
        plane, first, second = (self.fit.value(at_x, v, by_v=order) for order in range(3))
        curvature = (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / np.hypot(*first.T) ** 3
        _, bevel = self.normal(at_x, v)
        return Section(label, x, s, plane[:, 0], plane[:, 1], self.sd_mm(at_x, v), bevel, curvature)

    def _even(self, x: float, points: int) -> tuple[Array, Array]:
        """Arc lengths, evenly, and the shares of the girth that they stand at."""
        corners = np.array(self.features)
        fine = np.unique(np.concatenate([np.linspace(a, b, 401) for a, b in itertools.pairwise(corners)]))
        speed = np.hypot(*self.fit.value(np.full(len(fine), x), fine, by_v=1).T)
        length = np.zeros(len(fine))
        for a, b in itertools.pairwise(corners):
            here = np.flatnonzero((fine >= a) & (fine <= b))
            length[here] = length[here[0]] + cumulative_simpson(speed[here], x=fine[here], initial=0)
        s = np.linspace(0, length[-1], points)
        share = CubicHermiteSpline(length, fine, 1 / speed)(s)
        return s, np.clip(share, 0, 1)


def _few(names: list[str]) -> str:
    return ", ".join(names) if len(names) <= 12 else ", ".join([*names[:5], "…", *names[-3:]])


def guess(mark: Mark, points: Array, foot: Array) -> str:
    """What slip would bring a suspect mark on to the line, in the builder's words; empty where none fits."""
    off = points - foot
    for name, miss in (("height", off[1]), ("half-breadth", off[0])):
        other = off[0] if name == "height" else off[1]
        for slip, words in ((304.8, "a foot"), (25.4, "an inch"), (100.0, "100 mm"), (10.0, "10 mm")):
            times = round(miss / slip)
            if 1 <= abs(times) <= 3 and abs(miss - times * slip) < 0.15 * slip and abs(other) < 0.3 * slip:
                many = words if abs(times) == 1 else f"{abs(times)} times {words}"
                return f"{name} {abs(miss):.0f} mm {'over' if miss > 0 else 'under'} the fair line: {many}?"
    return ""
