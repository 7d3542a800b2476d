"""Port and starboard: faired as one hull, apart, or held against each other frame by frame.

Old hulls are rarely alike on both sides. What the comparison finds is weighed against what measuring error alone would
show, so that nobody builds a twist into a frame that was only measured twice.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc
from threadpoolctl import threadpool_limits

from scrieve.boat import Boat
from scrieve.errors import CannotFair
from scrieve.fairing.hull import fair
from scrieve.fairing.result import FairHull
from scrieve.takeoff.marks import Mark

Array = NDArray[np.float64]
Tick = Callable[[str, float], None]
How = Literal["together", "separately", "compared"]

#: With fewer frames than this the ± of a hull was found too small (docs/fairing.md, "For the builder").
FEW_FRAMES = 10
_NAMES = {"P": "port", "S": "starboard"}
#: Places on each frame at which the sides are compared.
_PLACES = 61
#: Share of the variance of a frame's difference that the ways it can vary, taken largest first, must make up.
_WAYS = 0.995
#: A difference that measuring error would show on fewer than one hull in a hundred is more than that.
_DOUBT = 0.01
#: A mark on the wrong side lies this far out on its own side, and less than that on the other, in standard deviations.
_OUT_SD, _HOME_SD = 4.0, 2.0
#: How far past its ends a line is followed to see whether it is met there, as a share of its girth; halvings.
_BEYOND, _HALVINGS = 0.03, 30


@dataclass(frozen=True, slots=True, eq=False)
class Asymmetry:
    """How port and starboard differ at one frame; arrays are (n,), heel to head.

    Attributes
    ----------
    frame : str
        The builder's label.
    station_mm : float
    half_breadth_mm, height_mm : ndarray
        The mean line of both sides [mm].
    difference_mm : ndarray
        Port less starboard, square to the mean line, above zero where port lies further out [mm]. Not a number where
        one side's line does not reach so far.
    sd_mm : ndarray
        One standard deviation of that difference, from the ± of both sides [mm].
    mean_mm, largest_mm : float
        Mean along the line, and the largest either way, both with their sign [mm].
    mean_sd_mm, largest_sd_mm : float
        One standard deviation of each of these [mm].
    largest_at_mm : (half-breadth, height)
        Where the largest is [mm].
    head_mm : (half-breadth, height)
        Port's head less starboard's [mm].
    chance : float
        How likely measuring error alone would make the lines differ as much as this, or more.
    real : bool
        Whether that is less than one in a hundred, all frames of the hull taken together.
    """

    frame: str
    station_mm: float
    half_breadth_mm: Array
    height_mm: Array
    difference_mm: Array
    sd_mm: Array
    mean_mm: float
    mean_sd_mm: float
    largest_mm: float
    largest_sd_mm: float
    largest_at_mm: tuple[float, float]
    head_mm: tuple[float, float]
    chance: float
    real: bool

    @property
    def points_mm(self) -> Array:
        """(n, 2): the mean line [mm]."""
        return np.column_stack([self.half_breadth_mm, self.height_mm])


@dataclass(frozen=True, slots=True)
class WrongSide:
    """A mark that fits the other side: how far out it lies on each, in standard deviations, and by how much [mm]."""

    number: int
    frame: str
    side: str
    out_by_sd: float
    out_by_mm: float
    other_by_sd: float
    other_by_mm: float


@dataclass(frozen=True, slots=True)
class Shift:
    """The one bodily move of port against starboard that explains most of the differences [mm].

    Half of `out_mm` is how far a centreline set off to starboard would make port look wider.
    """

    out_mm: float
    out_sd_mm: float
    up_mm: float
    up_sd_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """The hull as one, or its two sides, and how they differ where that was asked."""

    how: How
    together: FairHull | None
    port: FairHull | None
    starboard: FairHull | None
    frames: tuple[Asymmetry, ...] = ()
    wrong_side: tuple[WrongSide, ...] = ()
    shift: Shift | None = None

    def of(self, side: str) -> FairHull:
        """The hull that holds for a side: its own where the sides were faired apart, else that of both."""
        own = {"P": self.port, "S": self.starboard}.get(side) if self.how == "separately" else None
        hull = own or self.together or self.port
        assert hull is not None
        return hull

    @property
    def real(self) -> tuple[Asymmetry, ...]:
        """Frames whose sides differ by more than measuring error explains."""
        return tuple(frame for frame in self.frames if frame.real)

    def table(self) -> tuple[tuple[str, ...], ...]:
        """Heading and rows, one for each frame, for a sheet or a file; lengths in mm."""
        head = (
            "frame",
            "mean, mm",
            "± 2 sd, mm",
            "largest, mm",
            "± 2 sd, mm",
            "at height, mm",
            "port head higher, mm",
            "more than measuring error",
        )
        rows = [
            (
                frame.frame,
                f"{frame.mean_mm:+.1f}",
                f"{2 * frame.mean_sd_mm:.1f}",
                f"{frame.largest_mm:+.1f}",
                f"{2 * frame.largest_sd_mm:.1f}",
                f"{frame.largest_at_mm[1]:.0f}",
                f"{frame.head_mm[1]:+.1f}",
                "yes" if frame.real else "no",
            )
            for frame in self.frames
        ]
        return (head, *rows)


def sides(
    marks: Sequence[Mark],
    boat: Boat,
    how: How = "together",
    *,
    answers: Mapping[int, str] | None = None,
    tick: Tick | None = None,
) -> Sides:
    """Fair the hull from the marks of both sides.

    'together' takes both sides as two measures of one shape; 'separately' fairs each by itself; 'compared' does both
    and tells how the sides differ, frame by frame. A mark that stands for both sides counts on each.

    Where the sides differ by many times the measuring error, 'together' has to doubt the marks of one of them: compare
    first, and fair such a hull separately.

    Parameters
    ----------
    marks : sequence of Mark
    boat : Boat
    how : 'together', 'separately' or 'compared'
    answers, tick
        As `fair` takes them.

    Raises
    ------
    CannotFair
        As `fair`; or one side, to be faired by itself, has no marks of its own. The message says which side.

    References
    ----------
    .. [1] docs/fairing-lines.md, "Port and starboard": what is compared, and how it is weighed.
    """
    say = tick or (lambda what, share: None)
    if how == "together":
        return Sides(how, fair(marks, boat, answers=answers, tick=tick), None, None)
    parts = 3 if how == "compared" else 2

    def step(number: int, name: str) -> Tick:
        return lambda what, share: say(f"{name}: {what}", (number + share) / parts)

    port = one_side(marks, boat, "P", answers, step(0, "port"))
    starboard = one_side(marks, boat, "S", answers, step(1, "starboard"))
    if how == "separately":
        return Sides(how, None, port, starboard)
    both = fair(marks, boat, answers=answers, tick=step(2, "both sides"))
    measured = [{mark.frame for mark in own_marks(marks, side)} for side in "PS"]
    frames = [frame for frame in port.stations if frame in measured[0] & measured[1] & set(starboard.stations)]
    if not frames:
        raise CannotFair("port and starboard share no frame; measure some frames on both sides to compare them.")
    with threadpool_limits(1, "blas"):  # the matrices are small: threads would only wait for each other
        compared = [_Difference.at(frame, port, starboard) for frame in frames]
        doubt = _DOUBT / len(compared)
        judged = tuple(difference.judged(doubt) for difference in compared)
        return Sides(how, both, port, starboard, judged, wrong_side(marks, boat, port, starboard), _shift(compared))


def own_marks(marks: Sequence[Mark], side: str) -> list[Mark]:
    """The marks that one side is faired from by itself: its own, and those that stand for both."""
    return [mark for mark in marks if mark.side in (side, "")]


def one_side(
    marks: Sequence[Mark],
    boat: Boat,
    side: str,
    answers: Mapping[int, str] | None = None,
    tick: Tick | None = None,
) -> FairHull:
    """Fair one side, 'P' or 'S', by itself.

    Its hull knows every frame of the boat between its own first and last, whether that side was measured there or not.

    Raises
    ------
    CannotFair
        The side has no marks of its own, or too few; the message says which side.
    """
    name = _NAMES[side]
    if not any(mark.side == side for mark in marks):
        raise CannotFair(f"no mark is given for {name}; write P or S in the column 'side', or fair both together.")
    try:
        hull = fair(own_marks(marks, side), boat, answers=answers, tick=tick)
    except CannotFair as error:
        raise CannotFair(f"{name} by itself: {error}") from error
    low, high = hull.x_range
    within = {mark.frame: mark.station_mm for mark in marks if low <= mark.station_mm <= high}
    stations = sorted({**within, **hull.stations}.items(), key=lambda item: item[1])
    return replace(hull, stations=dict(stations))


def thin_words(marks: Sequence[Mark], side: str, station_mm: float) -> tuple[str, ...]:
    """What a builder should know who makes a member at a station from one side's own marks, where these are thin.

    Parameters
    ----------
    marks : sequence of Mark
        Those of the boat that stand.
    side : 'P' or 'S'
    station_mm : float
        Where the member stands.
    """
    name, own = _NAMES[side], own_marks(marks, side)
    frames = sorted({mark.station_mm: mark.frame for mark in own}.items())
    said = []
    if len(frames) < FEW_FRAMES:
        said.append(
            f"{name.capitalize()} by itself is faired from {len(frames)} frames: between so few the ± is too small. "
            f"Measure more of {name}, or make this from both sides as one."
        )
    there = {mark.frame for mark in marks if abs(mark.station_mm - station_mm) < 0.05}
    if there and not there & {frame for _, frame in frames}:
        near = [frame for x, frame in frames if x < station_mm][-1:] + [frame for x, frame in frames if x > station_mm][
            :1
        ]
        said.append(
            f"{name.capitalize()} was not measured at this frame, only the other side: its line here lies between "
            f"{name}'s frames {' and '.join(near)}. Measure it, or spring a batten through it before wood is cut."
        )
    return tuple(said)


@dataclass(frozen=True, slots=True, eq=False)
class _Difference:
    """Port less starboard at n places of a frame that both lines reach, with its covariance."""

    frame: str
    station: float
    mean: Array  # (all, 2)
    normal: Array  # (n, 2)
    reached: NDArray[np.bool_]  # (all,)
    difference: Array  # (n,)
    covariance: Array  # (n, n)
    head: tuple[float, float]

    @classmethod
    def at(cls, frame: str, port: FairHull, starboard: FairHull) -> _Difference:
        x = starboard.stations[frame]
        lines = [hull.section(frame, 4 * _PLACES) for hull in (port, starboard)]
        share = np.linspace(0, 1, _PLACES)
        ways = [
            np.column_stack([np.interp(share * line.girth_mm, line.s_mm, axis) for axis in line.points_mm.T])
            for line in lines
        ]
        mean = (ways[0] + ways[1]) / 2
        along = np.gradient(mean, axis=0)
        along /= np.hypot(*along.T)[:, None]
        normal = np.column_stack([along[:, 1], -along[:, 0]])
        feet = [_square_on(hull, x, mean, along) for hull in (port, starboard)]
        reached = feet[0][1] & feet[1][1]
        out, cover = [], []
        for hull, (v, _) in zip((port, starboard), feet, strict=True):
            at = np.full(int(reached.sum()), x)
            points = hull.fit.value(at, v[reached])
            own, _ = hull.normal(at, v[reached])
            # a line that moves by e square to itself moves by e / (n·m) along the mean line's normal m
            lean = np.maximum((own * normal[reached]).sum(axis=1), 0.2)
            index, value = hull.fit.grid.rows(at, v[reached], own / lean[:, None])
            cover.append(hull.fit.row_covariance(index[None], value[None])[0])
            out.append(((points - mean[reached]) * normal[reached]).sum(axis=1))
        head = hull_head(port, x) - hull_head(starboard, x)
        return cls(
            frame,
            x,
            mean,
            normal[reached],
            reached,
            out[0] - out[1],
            cover[0] + cover[1],
            (float(head[0]), float(head[1])),
        )

    def judged(self, doubt: float) -> Asymmetry:
        n = len(self.difference)
        whole = np.full(len(self.mean), np.nan)
        whole[self.reached] = self.difference
        sd = np.full(len(self.mean), np.nan)
        sd[self.reached] = np.sqrt(np.maximum(np.diagonal(self.covariance), 0))
        most = int(np.abs(self.difference).argmax())
        place = self.mean[self.reached][most]
        chance = _chance(self.difference, self.covariance)
        return Asymmetry(
            self.frame,
            self.station,
            self.mean[:, 0],
            self.mean[:, 1],
            whole,
            sd,
            float(self.difference.mean()),
            float(np.sqrt(max(self.covariance.sum(), 0.0)) / n),
            float(self.difference[most]),
            float(np.sqrt(max(self.covariance[most, most], 0.0))),
            (float(place[0]), float(place[1])),
            self.head,
            chance,
            chance < doubt,
        )


def hull_head(hull: FairHull, x: float) -> Array:
    """Half-breadth and height (2,) of the head at a station [mm]."""
    return np.asarray(hull.fit.value(x, 1.0)[0])


def _square_on(hull: FairHull, x: float, mean: Array, along: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Share of girth at which a side's line is met by the normals of the mean line, and whether it is met at all."""
    n = len(mean)
    fine = np.linspace(-_BEYOND, 1 + _BEYOND, 4 * n)
    way = hull.fit.value(np.full(len(fine), x), fine)
    before = ((way - mean[:, None]) * along[:, None]).sum(axis=2) < 0  # (n, fine): whether the line has yet to pass
    cut = before[:, :-1] & ~before[:, 1:]
    near = np.where(cut, np.abs(fine[:-1] - np.linspace(0, 1, n)[:, None]), np.inf).argmin(axis=1)
    low, high = fine[near], fine[near + 1]
    for _ in range(_HALVINGS):  # halving, not a tangent: at a knuckle the line turns
        v = (low + high) / 2
        short = ((hull.fit.value(np.full(n, x), v) - mean) * along).sum(axis=1) < 0
        low, high = np.where(short, v, low), np.where(short, high, v)
    met = cut.any(axis=1) & (v > -1e-3) & (v < 1 + 1e-3)
    return np.clip(v, 0, 1), met


def _chance(difference: Array, covariance: Array) -> float:
    """Chance of so great a difference from measuring error alone.

    The difference is taken apart into the ways in which error can bend it, independent of each other and largest
    first; the sum of their squares, each in its own standard deviations, follows chi-square.
    """
    size, way = np.linalg.eigh((covariance + covariance.T) / 2)
    size, way = np.maximum(size[::-1], 0), way[:, ::-1]
    count = int(np.searchsorted(np.cumsum(size), _WAYS * size.sum())) + 1
    told = (way[:, :count].T @ difference) ** 2 / np.maximum(size[:count], 1e-12)
    return float(chdtrc(count, told.sum()))


def _shift(compared: Sequence[_Difference]) -> Shift:
    """Least-squares move of port against starboard: differences against their normals, frames as independent."""
    # the places of one frame err together: each frame counts by the ± of its own two figures
    found, cover = [], []
    for one in compared:
        solve = np.linalg.pinv(one.normal)
        found.append(solve @ one.difference)
        cover.append(solve @ one.covariance @ solve.T)
    weight = [np.linalg.inv(c + 1e-6 * np.eye(2)) for c in cover]
    total = np.linalg.inv(np.sum(weight, axis=0))
    move = total @ np.sum([w @ f for w, f in zip(weight, found, strict=True)], axis=0)
    # errors of neighbouring frames go together, and frames differ for reasons of their own: no less than their scatter
    scatter = np.array([f - move for f in found])
    spread = np.sqrt(np.maximum(np.diagonal(total), (scatter**2).mean(axis=0) / max(len(found) - 1, 1)))
    return Shift(float(move[0]), float(spread[0]), float(move[1]), float(spread[1]))


def wrong_side(marks: Sequence[Mark], boat: Boat, port: FairHull, starboard: FairHull) -> tuple[WrongSide, ...]:
    """Marks that belong to the other side: far out on their own, at home on the other. The furthest out first.

    Only where the sides differ can this be told. Marks that were named heel, head or knuckle are judged like the rest,
    by how far they lie from the line.
    """
    found = []
    for side, own_hull, other in (("P", port, starboard), ("S", starboard, port)):
        here = [mark for mark in marks if mark.side in (side, "")]
        for mark, own in zip(here, own_hull.offs, strict=True):
            if mark.side != side or own.out_by_sd < _OUT_SD or mark.frame not in other.stations:
                continue
            away, sd = _away(other, mark, boat)
            z = away / float(np.hypot((mark.sigma_mm or boat.sigma_mm) * other.fit.error_scale, sd))
            if z < _HOME_SD:
                out = float(np.hypot(own.residual_mm, own.along_mm))
                found.append(WrongSide(mark.number, mark.frame, mark.side, own.out_by_sd, out, z, away))
    return tuple(sorted(found, key=lambda one: -one.out_by_sd))


def _away(hull: FairHull, mark: Mark, boat: Boat) -> tuple[float, float]:
    """Distance of a mark from a side's line (the outside of planking's, if taken there), and the line's sd [mm]."""
    line = hull.section(mark.frame, 400)
    points = line.points_mm
    if boat.planking == "outside":
        normal = np.column_stack([np.sin(line.direction_rad), -np.cos(line.direction_rad)])
        points = points + normal * (boat.thickness_mm / np.cos(line.bevel_rad))[:, None]
    gap = np.hypot(*(points - (mark.half_breadth_mm, mark.height_mm)).T)
    near = int(gap.argmin())
    return float(gap[near]), float(line.sd_mm[near])
