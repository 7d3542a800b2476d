"""Seams on the hull: from heights, half-breadths or girths at frames to a fair line, and the strip between two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import BSpline, CubicSpline, make_interp_spline
from scipy.optimize import brentq

from scrieve.errors import BadLength, BadPlank, NoSuchFrame
from scrieve.geometry.surface import Surface
from scrieve.planking.choice import SeamMark, StrakeChoice
from scrieve.planking.fair_edge import fair_edge, stand_out
from scrieve.takeoff.frame_names import frames_meant
from scrieve.units import parse_length
from scrieve.wording import length, tell

Array = NDArray[np.float64]

_PANELS = 96
#: A mark this far past the heel or the head is taken to be on it.
_AT_THE_END_MM = 0.5


class Hull(Surface, Protocol):
    """A fair hull: a surface, and where its frames stand."""

    @property
    def x_range(self) -> tuple[float, float]:
        """First and last station of the hull [mm]."""
        ...

    @property
    def stations(self) -> Mapping[str, float]:
        """Frame label -> station [mm]."""
        ...


@dataclass(frozen=True, slots=True, eq=False)
class Seam:
    """A fair seam: the share v of the girth over the station x, between `first_mm` and `last_mm`.

    `suspects` names the places whose marks stand out from their neighbours; the line passes through them all the same.
    """

    first_mm: float
    last_mm: float
    share: BSpline
    suspects: tuple[str, ...] = ()

    def __call__(self, x: ArrayLike) -> Array:
        """Share of the girth at stations `x` [-]."""
        return np.asarray(self.share(np.asarray(x, dtype=float)), dtype=float)

    def slope(self, x: ArrayLike) -> Array:
        """Its derivative by x [1/mm]."""
        return np.asarray(self.share(np.asarray(x, dtype=float), 1), dtype=float)


def station_of(hull: Hull, frame: str, station_mm: float | None = None) -> float:
    """Station of a frame label, or of a length where no frame is called so; a bare number is mm [mm].

    Raises
    ------
    NoSuchFrame
        No frame is called so, and it is no length.
    BadPlank
        The station lies outside the hull.
    """
    label = frame.strip()
    if met := frames_meant(label, hull.stations):
        station_mm = float(hull.stations[met[0]])
    elif station_mm is None:
        try:
            station_mm = parse_length(label)
        except BadLength:
            known = ", ".join(hull.stations) or "none"
            raise NoSuchFrame(
                f"frame {label!r}: this hull has no such frame; its frames are {known}. A station is written as a "
                "length, such as 4650mm."
            ) from None
    first, last = hull.x_range
    if not first - 1e-6 <= station_mm <= last + 1e-6:
        raise BadPlank(
            f"{place(hull, station_mm)} lies outside the fair hull, which runs from {first:.0f} to {last:.0f} mm."
        )
    return float(np.clip(station_mm, first, last))


def place(hull: Hull, station_mm: float) -> str:
    """Say where a station is, in the builder's words: its frame, or the frames it lies between.

    Examples
    --------
    'frame 7', 'station 3250 mm (between frames 7 and 8)', 'station 120 mm (before frame 1)'; lengths in it as `tell`
    keeps them.
    """
    ordered = sorted((float(x), label) for label, x in hull.stations.items())
    for x, label in ordered:
        if abs(x - station_mm) < 0.5:
            return f"frame {label}"
    before = [label for x, label in ordered if x < station_mm]
    after = [label for x, label in ordered if x > station_mm]
    where = "station {x}"
    if before and after:
        return tell(
            f"{where} (between frames {{low}} and {{high}})", x=length(station_mm), low=before[-1], high=after[0]
        )
    if ordered:
        beyond, nearest = ("before", after[0]) if after else ("after", before[-1])
        return tell(f"{where} ({beyond} frame {{nearest}})", x=length(station_mm), nearest=nearest)
    return tell(where, x=length(station_mm))


def girths(hull: Surface, x: ArrayLike) -> tuple[Array, Array]:
    """Shares v (n,), evenly spaced 0 to 1, and the girth from the heel at each, integrated from the partials.

    Parameters
    ----------
    x : array_like
        Stations [mm].

    Returns
    -------
    v : ndarray (n,)
    girth : ndarray, shape of `x` + (n,) [mm]
    """
    at = np.asarray(x, dtype=float)
    node, weight = np.polynomial.legendre.leggauss(4)
    v = np.linspace(0, 1, _PANELS + 1)
    half = 0.5 / _PANELS
    inner = (v[:-1, None] + v[1:, None]) / 2 + half * node
    _, by_v = hull.partials(at[..., None, None], inner)
    piece = np.sum(np.linalg.norm(by_v, axis=-1) * weight, axis=-1) * half
    return v, np.concatenate([np.zeros((*at.shape, 1)), np.cumsum(piece, axis=-1)], axis=-1)


def share_at(hull: Hull, mark: SeamMark, *, seam: str = "seam") -> tuple[float, float]:
    """Station [mm] and share v of the girth of one seam mark.

    Raises
    ------
    BadPlank
        The section has no such height, half-breadth or girth, or has it more than once.
    NoSuchFrame
        The frame is not in this hull.
    """
    x = _stands(hull, mark, seam)
    return _located(hull, mark, seam, x, *girths(hull, x))[:2]


def _stands(hull: Hull, mark: SeamMark, seam: str) -> float:
    """Station of one seam mark [mm]."""
    if mark.frame and mark.station_mm is None and mark.frame.strip() not in hull.stations:
        known = ", ".join(hull.stations) or "none"
        raise NoSuchFrame(
            f"{seam}: frame {mark.frame!r} is not in this hull, whose frames are {known}; give its station beside it."
        )
    return station_of(hull, mark.frame, mark.station_mm)


def _located(hull: Hull, mark: SeamMark, seam: str, x: float, v: Array, girth: Array) -> tuple[float, float, float]:
    """Station, share of the girth, and girth [mm] of one seam mark at station x, where the girth at v is such."""
    where = f"{seam}, {place(hull, x)}"
    names = {"height": "height", "half_breadth": "half-breadth", "girth": "girth"}
    if mark.kind not in names:
        raise BadPlank(f"{where}: a seam is given by height, half-breadth or girth; found {mark.kind!r}.")
    if not np.isfinite(mark.value_mm):
        raise BadPlank(f"{where}, {names[mark.kind]}: found {mark.value_mm}; give a length.")
    along_girth = CubicSpline(v, girth)

    def value(at: Array) -> Array:
        if mark.kind == "girth":
            return np.asarray(along_girth(at), dtype=float)
        point = hull.point(x, at)
        return np.asarray(point[..., 2] if mark.kind == "height" else np.abs(point[..., 1]))

    def off(at: float) -> float:
        return float(value(np.asarray(at))) - mark.value_mm

    values = value(v)
    miss = values - mark.value_mm
    changes = np.flatnonzero(miss[:-1] * miss[1:] < 0)
    found = [float(brentq(off, v[i], v[i + 1], xtol=1e-13)) for i in changes]
    found += [float(v[i]) for i in np.flatnonzero(miss == 0)]
    if len(found) > 1:
        at = " and ".join(f"{np.interp(share, v, girth):.0f}" for share in sorted(found))
        raise BadPlank(
            f"{where}: {names[mark.kind]} {mark.value_mm:.0f} mm is met {len(found)} times, at girths {at} mm from the "
            "heel; give the girth of the one meant."
        )
    if found:
        return x, found[0], float(along_girth(found[0]))
    ends = np.array([miss[0], miss[-1]])
    nearest = int(np.argmin(np.abs(ends)))
    if abs(ends[nearest]) <= _AT_THE_END_MM:
        return x, float(nearest), float(girth[-1] * nearest)
    raise BadPlank(
        f"{where}: {names[mark.kind]} {mark.value_mm:.0f} mm is not on this section, which runs from "
        f"{values.min():.0f} to {values.max():.0f} mm; measure again."
    )


def fair_seam(hull: Hull, marks: Sequence[SeamMark], *, tolerance_mm: float = 0.0, name: str = "seam") -> Seam:
    """A fair line through seam marks, in share of the girth over the stations.

    A cubic spline through every mark, eased first by up to `tolerance_mm` of girth as `fair_edge` does. Its ends follow
    the run of the last marks ('not-a-knot': the end two spans are one cubic), so that a seam which is one smooth curve
    is not bent at its ends; three marks give a parabola, two a straight line.

    Raises
    ------
    BadPlank
        Fewer than two marks, two at one station, or one that is not on the hull.
    NoSuchFrame
        A frame is not in this hull.
    """
    if len(marks) < 2:
        raise BadPlank(f"{name}: {len(marks)} mark(s); a seam needs two or more, at different frames.")
    at = [_stands(hull, mark, name) for mark in marks]
    v, girth = girths(hull, at)  # of all stations at once
    found = sorted(_located(hull, mark, name, x, v, here) for mark, x, here in zip(marks, at, girth, strict=True))
    x, share, girth = (np.array(column) for column in zip(*found, strict=True))
    same = np.flatnonzero(np.diff(x) < 1.0)
    if same.size:
        raise BadPlank(f"{name}: two marks at {place(hull, float(x[same[0]]))}; keep one.")
    if tolerance_mm > 0:
        eased = fair_edge(x, girth, tolerance_mm=tolerance_mm, keep=[True] * len(x), name=name)(x)
        v, there = girths(hull, x)
        # only moved marks are placed anew, so that a seam on the heel or the head stays on it
        moved = np.abs(eased - girth) > 1e-6
        share[moved] = [np.interp(eased[i], there[i], v) for i in np.flatnonzero(moved)]
    spline = make_interp_spline(x, share, k=min(3, len(x) - 1))
    strays = stand_out(x, girth, 2.0, np.zeros(len(x), bool))
    return Seam(float(x[0]), float(x[-1]), spline, tuple(place(hull, float(at)) for at in x[strays]))


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """The strip of a hull between two seams and two stations, as `expand` takes it.

    `straight` lays the strip straight across from seam to seam at each station, which is how a solid plank lies: its
    inside is hollowed to the frames, it does not bend across. Otherwise it follows the hull, as a thin skin does.
    """

    hull: Surface
    lower: Seam
    upper: Seam
    first_mm: float
    last_mm: float
    straight: bool = True

    def station(self, u: ArrayLike) -> Array:
        """Station of the share `u` of the strip's run [mm]."""
        return np.asarray(self.first_mm + np.asarray(u, dtype=float) * (self.last_mm - self.first_mm))

    def __call__(self, u: Array, w: Array) -> tuple[Array, Array, Array]:
        """Points and derivatives by u and w, each (..., 3) [mm]."""
        run = self.last_mm - self.first_mm
        if self.straight:  # the hull is asked once at each station, however many points lie across
            once, back = np.unique(u, return_inverse=True)
            x = self.station(once)
            (start, by_start), (end, by_end) = (
                self._on_hull(x, seam(x), seam.slope(x)) for seam in (self.lower, self.upper)
            )
            start, by_start, end, by_end = (
                value[back.reshape(np.shape(u))] for value in (start, by_start, end, by_end)
            )
            w_ = np.asarray(w, dtype=float)[..., None]
            return start + w_ * (end - start), run * (by_start + w_ * (by_end - by_start)), end - start
        x = self.station(u)
        low, high = self.lower(x), self.upper(x)
        low_slope, high_slope = self.lower.slope(x), self.upper.slope(x)
        share = low + w * (high - low)
        point, by_x = self._on_hull(x, share, low_slope + w * (high_slope - low_slope))
        return point, run * by_x, self.hull.partials(x, share)[1] * (high - low)[..., None]

    def _on_hull(self, x: Array, share: Array, slope: Array) -> tuple[Array, Array]:
        by_x, by_v = self.hull.partials(x, share)
        return self.hull.point(x, share), by_x + by_v * slope[..., None]


def run_length(points: Array) -> float:
    """Return the length of a run of straight pieces through points (n, 2) or (n, 3), as they come [mm]."""
    return float(np.sum(np.linalg.norm(np.diff(points, axis=0), axis=-1)))


def strake_strip(hull: Hull, choice: StrakeChoice, *, straight: bool = True) -> Strip:
    """The strip that a plank drawn from its seams covers; raises as `fair_seam` and `strip_between`, which see."""
    name = f"plank {choice.name!r}"
    lower, upper = (
        fair_seam(hull, marks, tolerance_mm=choice.tolerance_mm, name=f"{name}, {edge} seam")
        for edge, marks in (("lower", choice.lower), ("upper", choice.upper))
    )
    return strip_between(hull, lower, upper, first=choice.first, last=choice.last, straight=straight, name=name)


def strip_between(
    hull: Hull,
    lower: Seam,
    upper: Seam,
    *,
    first: str = "",
    last: str = "",
    straight: bool = True,
    name: str = "plank",
) -> Strip:
    """The strip between two seams, from one end to the other.

    Parameters
    ----------
    first, last : str
        Frame label, or station in mm; blank: as far as both seams go.
    straight : bool
        Whether the plank lies straight across, or bends to the hull both ways; see `Strip`.

    Raises
    ------
    BadPlank
        An end lies past a seam, the ends coincide, or the seams meet or cross.
    NoSuchFrame
        An end is neither a frame nor a number.
    """
    start, end = max(lower.first_mm, upper.first_mm), min(lower.last_mm, upper.last_mm)
    if start >= end:
        raise BadPlank(
            f"{name}: the lower seam runs from {place(hull, lower.first_mm)} to {place(hull, lower.last_mm)}, the "
            f"upper from {place(hull, upper.first_mm)} to {place(hull, upper.last_mm)}; they have no length in common."
        )
    asked = sorted(
        [station_of(hull, first) if first.strip() else start, station_of(hull, last) if last.strip() else end]
    )
    for seam_name, seam in (("lower", lower), ("upper", upper)):
        for x in asked:
            if not seam.first_mm - 0.5 <= x <= seam.last_mm + 0.5:
                raise BadPlank(
                    f"{name}, {seam_name} seam: marked from {place(hull, seam.first_mm)} to "
                    f"{place(hull, seam.last_mm)}, but the plank is to end at {place(hull, x)}; mark it there too."
                )
    if asked[1] - asked[0] < 100:
        raise BadPlank(f"{name}: both ends are at {place(hull, asked[0])}; give two ends that lie apart.")
    strip = Strip(hull, lower, upper, asked[0], asked[1], straight)
    along = np.linspace(asked[0], asked[1], 401)
    gap = upper(along) - lower(along)
    width = np.sign(gap) * np.linalg.norm(hull.point(along, upper(along)) - hull.point(along, lower(along)), axis=-1)
    worst = int(np.argmin(width))
    if width[worst] <= 2.0:
        where = place(hull, float(along[worst]))
        if width[worst] < -2.0:
            raise BadPlank(
                f"{name}: the upper seam lies {-width[worst]:.0f} mm below the lower one at {where}; are the edges "
                "swapped, or is a mark wrong?"
            )
        raise BadPlank(f"{name}: the seams meet at {where}; end the plank before its point, with a nib.")
    for seam_name, seam in (("lower", lower), ("upper", upper)):
        past = np.flatnonzero((seam(along) < -1e-3) | (seam(along) > 1 + 1e-3))
        if past.size:
            raise BadPlank(
                f"{name}, {seam_name} seam: its fair line leaves the hull at {place(hull, float(along[past[0]]))}; "
                "mark it at more frames."
            )
    return strip
