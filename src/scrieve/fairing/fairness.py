"""How fair a hull is, told as a loftsman tests it: by the second differences of its diagonals and waterlines.

Each line is read off at the frames, once where the marks themselves put it and once where the fair hull puts it, and
the same arithmetic is done on both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from scrieve.errors import BadGeometry
from scrieve.fairing.lines_plan import PENCIL_MM, HullLine, Plane, Run, default_diagonals, line_in
from scrieve.fairing.result import FairHull, MarkOff

Array = NDArray[np.float64]

#: Where a plane meets the section more slantingly than this (sine), the marks do not settle the line: not read there.
_SLANT = 0.35
#: Readings that a line must have to be judged.
_LEAST = 4


@dataclass(frozen=True, slots=True)
class Kinks:
    """What the second differences of one row of readings say.

    Attributes
    ----------
    second_mm : float
        The largest second difference: how far a reading lies off the straight line between its neighbours [mm]. A fair
        line has them too: they are how it bends.
    kink_mm : float
        The largest kink: how far a reading would have to move for the second differences there to change evenly, which
        is how far it lies off the cubic through its two neighbours on either side [mm].
    kink_at : int
        Which reading that is; -1 where there are too few to tell.
    reversals : int
        How often the second differences change sign, those under a pencil line's width left out.
    """

    second_mm: float
    kink_mm: float
    kink_at: int
    reversals: int


@dataclass(frozen=True, slots=True, eq=False)
class LineFairness:
    """One line of the hull on one side, before and after fairing; arrays are (n,), one for each frame it is read at.

    Attributes
    ----------
    plane : Plane
    name : str
    side : str
        'P', 'S', or '' where the marks stand for both.
    frames : tuple of str
    x_mm : ndarray
        Stations [mm].
    before_mm, after_mm : ndarray
        Ordinate in the line's plane by the frame's own marks, and by the fair hull [mm].
    knuckles_mm : ndarray
        Stations where the line crosses a knuckle of the hull, across which nothing is judged [mm].
    before, after : Kinks
    taken_out_mm : float
        The largest kink of what fairing moved: that part of 'before' which is not the hull's own shape [mm].
    reversals : int
        Changes of sign of the curvature of the fair line itself, all along it.
    """

    plane: Plane
    name: str
    side: str
    frames: tuple[str, ...]
    x_mm: Array
    before_mm: Array
    after_mm: Array
    knuckles_mm: Array
    before: Kinks
    after: Kinks
    taken_out_mm: float
    reversals: int

    @property
    def moved_mm(self) -> float:
        """The furthest that fairing moved a reading [mm]."""
        return float(np.abs(self.after_mm - self.before_mm).max())


@dataclass(frozen=True, slots=True, eq=False)
class Fairness:
    """The fairness report of a hull; `counted_only` says whether marks that did not count were left out of 'before'."""

    lines: tuple[LineFairness, ...]
    counted_only: bool

    @property
    def worst_before_mm(self) -> float:
        """The largest kink of all lines through the marks' own points [mm]; 0 where no line could be read."""
        return max((line.before.kink_mm for line in self.lines), default=0.0)

    @property
    def worst_after_mm(self) -> float:
        """The largest kink of all lines of the fair hull [mm]; 0 where no line could be read."""
        return max((line.after.kink_mm for line in self.lines), default=0.0)

    def table(self) -> tuple[tuple[str, ...], ...]:
        """Heading and rows, one for each line and side; lengths in mm."""
        head = (
            "line",
            "side",
            "frames",
            "kink before, mm",
            "at frame",
            "kink after, mm",
            "at frame",
            "kink taken out, mm",
            "second difference after, mm",
            "reversals before",
            "reversals after",
            "moved at most, mm",
        )
        rows = [
            (
                line.name,
                line.side or "both",
                str(len(line.frames)),
                f"{line.before.kink_mm:.1f}",
                line.frames[line.before.kink_at] if line.before.kink_at >= 0 else "–",
                f"{line.after.kink_mm:.1f}",
                line.frames[line.after.kink_at] if line.after.kink_at >= 0 else "–",
                f"{line.taken_out_mm:.1f}",
                f"{line.after.second_mm:.1f}",
                str(line.before.reversals),
                str(line.reversals),
                f"{line.moved_mm:.1f}",
            )
            for line in self.lines
        ]
        return (head, *rows)


def second_differences(x: ArrayLike, y: ArrayLike) -> Array:
    """Divided second differences of readings at uneven spacing: the second derivative of the parabola through three.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Rising stations and readings; n at least 3.

    Returns
    -------
    ndarray, shape (n - 2,)
        2·((y₂ - y₁)/(x₂ - x₁) - (y₁ - y₀)/(x₁ - x₀))/(x₂ - x₀) for every three neighbours.

    Raises
    ------
    BadGeometry
        Fewer than three readings, or stations that do not rise.

    Examples
    --------
    >>> second_differences([0, 1, 3, 7], [0, 1, 9, 49])  # of y = x²
    array([2., 2.])
    """
    at, value = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    if len(at) < 3 or not (np.diff(at) > 0).all():
        raise BadGeometry(f"second differences: found {len(at)} readings; give three or more, at rising stations.")
    slope = np.diff(value) / np.diff(at)
    return np.asarray(2 * np.diff(slope) / (at[2:] - at[:-2]))


def kinks(x: ArrayLike, y: ArrayLike, knuckles: ArrayLike = ()) -> Kinks:
    """Judge a row of readings by its second differences.

    Second differences of unequal spacing change evenly (by proportion of the stations' means) just where five readings
    lie on one cubic. A kink is how far the middle one lies off the cubic through the other four: a reading that is out
    by e on an otherwise fair line shows a kink of e. The outer two readings at each end have too few neighbours. A line
    whose bend truly changes quickly from frame to frame has kinks too, which no fairing will take out nor should.

    Parameters
    ----------
    x, y : array_like, shape (n,)
        Rising stations and readings [mm].
    knuckles : array_like, shape (k,)
        Stations where the line turns sharply and may: readings on either side are not judged by each other [mm].

    Raises
    ------
    BadGeometry
        Fewer than three readings, or stations that do not rise.

    Examples
    --------
    >>> round(kinks([0, 1, 2, 3, 4, 5, 6], [0, 0, 0, 1, 0, 0, 0]).kink_mm, 12)
    1.0
    """
    at, value = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    gap = np.diff(at)
    sag = second_differences(at, value) * gap[1:] * gap[:-1] / 2  # how far each inner reading lies off its chord
    part = np.searchsorted(np.sort(np.asarray(knuckles, dtype=float)), at)
    sag = np.where(part[2:] == part[:-2], sag, 0.0)
    bends = np.sign(sag[np.abs(sag) > PENCIL_MM])
    reversals = int(np.sum(bends[1:] != bends[:-1]))
    most = float(np.abs(sag).max())
    middle = np.arange(2, len(at) - 2)
    middle = middle[part[middle - 2] == part[middle + 2]]
    if not middle.size:
        return Kinks(most, 0.0, -1, reversals)
    others = middle[:, None] + np.array([-2, -1, 1, 2])
    share = np.ones((len(middle), 4))  # Lagrange's weights of the cubic through the other four
    for k in range(4):
        for other in {0, 1, 2, 3} - {k}:
            share[:, k] *= (at[middle] - at[others[:, other]]) / (at[others[:, k]] - at[others[:, other]])
    size = np.abs(value[middle] - (share * value[others]).sum(axis=1))
    worst = int(size.argmax())
    return Kinks(most, float(size[worst]), int(middle[worst]), reversals)


def fairness(hull: FairHull, planes: Sequence[Plane] | None = None, *, counted_only: bool = False) -> Fairness:
    """Report how fair the hull's lines are, before (by each frame's own marks) and after.

    Where a frame's marks put a line is found so: between two marks of the frame its own line lies off the fair one by
    the two marks' residuals, by proportion of girth; beyond the last mark by that mark's. That moves the point where
    the plane cuts the fair section by residual / sine of the angle between plane and section. Nothing of the
    neighbouring frames enters but the shape of the section between two marks. Frames where the plane cuts the section
    more slantingly than 20°, or which have fewer than three marks on that side, are not read.

    Parameters
    ----------
    hull : FairHull
    planes : sequence of Plane, optional
        The lines to be judged: the proposed diagonals, unless given.
    counted_only : bool
        Leave marks that did not count (suspects, dropped ones) out of 'before', which then shows what fairing did
        rather than what blunders there were.

    References
    ----------
    .. [1] docs/fairing-lines.md, "Fairness": definitions, and what they do not tell.
    """
    made = []
    for plane in default_diagonals(hull) if planes is None else planes:
        line = line_in(hull, plane)
        for side in sorted({off.side for off in hull.offs} - {""}) or [""]:
            made += [one for run in line.runs if (one := _read(hull, line, run, side, counted_only)) is not None]
    return Fairness(tuple(made), counted_only)


def _read(hull: FairHull, line: HullLine, run: Run, side: str, counted_only: bool) -> LineFairness | None:
    on_frame: dict[str, list[MarkOff]] = {}
    for off in hull.offs:
        if off.side in (side, "") and (off.counts or not counted_only):
            on_frame.setdefault(off.frame, []).append(off)
    plane, frames, places, before, after = line.plane, [], [], [], []
    for frame, x in hull.stations.items():
        here = np.flatnonzero(run.x_mm == x)
        offs = sorted(on_frame.get(frame, ()), key=lambda off: off.v)
        if len(here) != 1 or len(offs) < 3:
            continue
        i = int(here[0])
        normal, _ = hull.normal(x, run.v[i])
        sine = float(normal[0] @ plane.outward)
        if abs(sine) < _SLANT:
            continue
        residual = np.interp(run.v[i], [off.v for off in offs], [off.residual_mm for off in offs])
        frames.append(frame)
        places.append(x)
        after.append(float(run.ordinate_mm[i]))
        before.append(float(run.ordinate_mm[i] + residual / sine))
    if len(frames) < _LEAST:
        return None
    stations, marked, fair = (np.array(values) for values in (places, before, after))
    corners = _crossings(run, hull)
    return LineFairness(
        plane=plane,
        name=line.name,
        side=side,
        frames=tuple(frames),
        x_mm=stations,
        before_mm=marked,
        after_mm=fair,
        knuckles_mm=corners,
        before=kinks(stations, marked, corners),
        after=kinks(stations, fair, corners),
        taken_out_mm=kinks(stations, marked - fair, corners).kink_mm,
        reversals=run.reversals,
    )


def _crossings(run: Run, hull: FairHull) -> Array:
    """Stations where a run passes from one side of a knuckle to the other, as far as the knuckle runs."""
    found = []
    for v in hull.features[1:-1]:
        over = np.flatnonzero((run.v[1:] > v) != (run.v[:-1] > v))
        found += [float(run.x_mm[i]) for i in over if v in hull.knuckles_at(float(run.x_mm[i]))]
    return np.array(sorted(found))
