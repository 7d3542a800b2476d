"""The fair hull: one surface through all frames, found from marks that are a little wrong, and some quite wrong.

Heel, knuckles and sheer are faired first as lines in space. Each mark then gets its share of the girth between them,
the surface is fitted, and every mark is carried square on to it; that is repeated until the marks no longer slide.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from scrieve.boat import Boat
from scrieve.errors import CannotFair
from scrieve.fairing.features import LEAST_MARKS
from scrieve.fairing.judging import Line, guesses_of
from scrieve.fairing.placing import Placing, Stand, carry
from scrieve.fairing.ready import Ready
from scrieve.fairing.result import FairHull, Laid, MarkOff
from scrieve.fairing.settling import first_look, settle
from scrieve.fairing.smoother import Fit
from scrieve.fairing.tracks import tracks
from scrieve.takeoff.marks import Mark

Array = NDArray[np.float64]
Tick = Callable[[str, float], None]

#: Frames below which no hull is tried.
LEAST_FRAMES = 4
#: How far marks may slide along the section in each round, as a share of the girth.
_SLACK = (0.01, 0.01, 0.01, 0.003, 0.001)
#: The round from which on the grid is the fine one.
_FINE = 2
#: Suspects of the coarse grid nearer than this [standard deviations] are judged afresh on the fine one.
_WIDE = 10.0
#: Points of a frame's line on which a suspect's slip is looked for.
_GUESSED_ON = 161
#: How much hulls differ in the logarithm of their stiffness along, where only four frames tell of it.
_HULLS_DIFFER = 2.0
#: What one frame more tells of it, as one over a variance: each of the next four, and each after those.
_FIRST_TELL, _MORE_TELL = 0.5, 3.0
#: How far, for each of that variance, it is in doubt that a hull is the stiffer amidships.
_MIDDLE = 10.0


def fair(
    marks: Sequence[Mark], boat: Boat, *, answers: Mapping[int, str] | None = None, tick: Tick | None = None
) -> FairHull:
    """Find the fair hull through marks.

    Parameters
    ----------
    marks : sequence of Mark
        At least four frames with at least three marks each; heel and head are the lowest and topmost mark of each
        frame where none is named.
    boat : Boat
        Whether the marks are to the inside or outside of planking, its thickness, and the measuring error.
    answers : mapping of mark number to 'keep' or 'drop'
        What the builder has said of suspects: a kept mark is never taken out, a dropped one never counts.
    tick : callable (what, share done), optional
        Told of progress; may raise to stop.

    Raises
    ------
    CannotFair
        Frames or marks are missing; the message says which.

    References
    ----------
    .. [1] docs/fairing.md: equations, sources and measured accuracy.
    """
    say = tick or (lambda what, share: None)
    answers = answers or {}
    _enough(marks, answers)
    say("putting the marks in order", 0.02)
    points = np.array([(mark.half_breadth_mm, mark.height_mm) for mark in marks])
    with threadpool_limits(1, "blas"):  # the blocks are small: threads would only wait for each other
        hull = _fair(marks, points, boat, answers, say, 0.05, 0.95 if boat.planking == "inside" else 0.45)
        if boat.planking == "outside":
            for share in (0.45, 0.72):
                inner = _inside(hull, marks, points, boat.thickness_mm)
                hull = _fair(marks, inner, boat, answers, say, share, share + 0.26)
    say("done", 1.0)
    return hull


def _enough(marks: Sequence[Mark], answers: Mapping[int, str]) -> None:
    places: dict[str, set[tuple[float, float]]] = {mark.frame: set() for mark in marks}
    for mark in marks:
        if not np.all(np.isfinite([mark.station_mm, mark.half_breadth_mm, mark.height_mm])):
            raise CannotFair(f"mark {mark.number} of frame {mark.frame} is no number; mend or remove it.")
        if answers.get(mark.number) != "drop":
            places[mark.frame].add((round(mark.half_breadth_mm, 1), round(mark.height_mm, 1)))
    if not places:
        raise CannotFair(
            f"there are no marks yet; a hull needs at least {LEAST_FRAMES} frames with {LEAST_MARKS} or more each."
        )
    good = [frame for frame, found in places.items() if len(found) >= LEAST_MARKS]
    if len(good) < LEAST_FRAMES:
        short = ", ".join(f"{frame} ({len(found)})" for frame, found in places.items() if len(found) < LEAST_MARKS)
        raise CannotFair(
            f"a hull needs at least {LEAST_FRAMES} frames with {LEAST_MARKS} or more marks each, at different places; "
            f"{len(good)} found of {len(places)}" + (f"; too few marks on {short}." if short else ".")
        )


def _fair(
    marks: Sequence[Mark], points: Array, boat: Boat, answers: Mapping[int, str], say: Tick, low: float, high: float
) -> FairHull:
    def step(what: str, share: float) -> None:
        say(what, low + (high - low) * share)

    step("fairing heel, sheer and knuckles", 0.05)
    ready = Ready.of(marks, points, boat, answers)
    step("first surface", 0.15)
    fit, placing, start = _first_surface(ready)
    fit, placing, start = _on_to_the_surface(ready, fit, placing, start, step)
    laid = Laid(tuple(marks), dict(answers), points, placing, start, tuple(ready.features.v))
    return _result(boat, fit, laid, ready.knuckles)


def _first_surface(ready: Ready) -> tuple[Fit, Placing, Array]:
    """A first surface on the coarse grid, with the gross blunders out, and the plain shape that it began from."""
    grid, start, guides, knuckles = ready.grid(coarse=True)
    every, upright = np.ones(len(ready.x), bool), np.tile([1.0, 0.0], (len(ready.x), 1))
    stand = Stand(
        grid,
        ready.x,
        ready.v,
        ready.points,
        upright,
        ready.covariance,
        every,
        _SLACK[0] * ready.girth,
        1.0 * every,
        guides,
        knuckles,
    )
    usual = np.array([*np.subtract(grid.usual, 1.0), 0.0])
    look = first_look(Placing(stand, ~ready.dropped), start, usual, held=ready.held, dropped=ready.dropped)
    return *look, start


def _on_to_the_surface(
    ready: Ready, fit: Fit, placing: Placing, start: Array, step: Tick
) -> tuple[Fit, Placing, Array]:
    """Carry the marks square on to the surface and fit it again, until they slide no more; gives also the plain shape.

    Two rounds on the coarse grid tell about how stiff the hull and how wrong the marks are; from then on the fine one.
    """
    held, dropped = ready.held, ready.dropped
    for turn, slack in enumerate(_SLACK):
        step("carrying the marks square on to the surface", 0.3 + 0.65 * turn / len(_SLACK))
        stand = replace(carry(placing.stand, fit, ready.pinned, afresh=turn < 2), slack=slack * ready.girth)
        stiffness = fit.stiffness
        if turn == _FINE:
            grid, start, guides, knuckles = ready.grid(coarse=False)
            stiffness = grid.stiffness_of(stand.grid, stiffness)
            stand = replace(stand, grid=grid, guides=guides, fair=knuckles)
        placing = replace(placing, stand=stand)
        if turn in (0, 3):  # learn and judge when the marks have come on to the surface, and at the end
            fit, placing = settle(placing, start, stiffness, held=held, dropped=dropped, weigh=turn == 3)
        else:
            fit = placing.problem(start).solve(stiffness)
        if turn == _FINE:  # what was out on the coarse grid may only have been too sharp for it
            placing = replace(placing, active=~dropped & (placing.active | (placing.judge(fit) < _WIDE)))
            fit, placing = settle(placing, start, stiffness, held=held, dropped=dropped, learn=False, weigh=False)
    return (fit, replace(placing, stand=carry(placing.stand, fit, ready.pinned, afresh=False)), start)


def moved(hull: FairHull, number: int, half_breadth_mm: float, height_mm: float) -> FairHull:
    """Fair again with one mark moved, quickly: the stiffness and the error stay as they were learnt.

    For a mark being dragged or typed anew. The surface, the residuals and the judgement on every mark are those of the
    moved mark; only `fair` learns the stiffness anew, and fairs the feature lines anew.

    Parameters
    ----------
    hull : FairHull
        As `fair` or `moved` gave it.
    number : int
        The mark's own number.
    half_breadth_mm, height_mm : float
        Where it is now, inside or outside of planking as the boat's marks are [mm].

    Raises
    ------
    CannotFair
        The hull has no such mark, or the place is no number.
    """
    laid = hull.laid
    if laid is None:
        raise CannotFair("this hull was not laid through marks, so none can be moved.")
    which = [i for i, mark in enumerate(laid.marks) if mark.number == number]
    if not which:
        raise CannotFair(f"mark {number} is not among the marks of this hull; look its number up in the list.")
    if not np.all(np.isfinite([half_breadth_mm, height_mm])):
        raise CannotFair(f"mark {number}: give its half-breadth and height as lengths.")
    i = which[0]
    before = laid.marks[i]
    mark = replace(before, half_breadth_mm=half_breadth_mm, height_mm=height_mm)
    marks = (*laid.marks[:i], mark, *laid.marks[i + 1 :])
    points = laid.points.copy()
    points[i] += (half_breadth_mm - before.half_breadth_mm, height_mm - before.height_mm)
    held = np.array([laid.answers.get(mark.number) == "keep" for mark in marks])
    dropped = np.array([laid.answers.get(mark.number) == "drop" for mark in marks])
    active = laid.placing.active.copy()
    active[i] = not dropped[i]
    with threadpool_limits(1, "blas"):
        this = np.arange(len(marks)) == i
        stand = carry(replace(laid.placing.stand, points=points), hull.fit, laid.placing.stand.pinned, afresh=this)
        fit, placing = settle(
            Placing(stand, active), laid.start, hull.fit.stiffness, held=held, dropped=dropped, learn=False, weigh=False
        )
        placing = replace(placing, stand=carry(placing.stand, fit, stand.pinned, afresh=this))
        slips = {off.number: off.guess for off in hull.offs if off.suspect and off.number != number}
        laid = replace(laid, marks=marks, points=points, placing=placing)
        return _result(hull.boat, fit, laid, hull.knuckles, slips)


def _inside(hull: FairHull, marks: Sequence[Mark], points: Array, thickness: float) -> Array:
    """Marks brought in from the outside of planking, square to the surface: t / cos β in the section's plane."""
    v = np.clip([off.v for off in hull.offs], 0, 1)
    x = np.array([mark.station_mm for mark in marks])
    normal, bevel = hull.normal(x, v)
    inner = points - normal * (thickness / np.cos(bevel))[:, None]
    for track in tracks(marks):  # where the planking meets the centreplane the inside begins at the centreplane
        way = inner[track.index]
        outside = np.flatnonzero(way[:, 0] < 0)
        if outside.size and outside[-1] + 1 < len(way):
            a, b = way[outside[-1]], way[outside[-1] + 1]
            inner[track.index[: outside[-1] + 1]] = a + (b - a) * (a[0] / (a[0] - b[0]))
    return inner


def _doubting(fit: Fit, placing: Placing, start: Array) -> Fit:
    """The surface, and the ± that follows, when the stiffness along is itself in doubt.

    The variance of what marks do not hold goes with 1/θ, whose mean over a log-normal θ of variance s² is that of
    θ·exp(−s²/2). Hulls differ by 2 in log θ. How much each frame beyond the four without which there is none tells of
    it is our own figure, from seven forms: the first four little, for their own ends are not like their middles. That
    the middle is the stiffer, and how stiff a knuckle's own line is, is then in doubt with it: 1/θ grows by 10 s² of
    its measure amidships, everywhere along, and that of a knuckle's line as much as the hull's does amidships.
    """
    beyond = max(len(np.unique(placing.stand.x[placing.active])) - LEAST_FRAMES, 0)
    told = _FIRST_TELL * min(beyond, LEAST_FRAMES) + _MORE_TELL * max(beyond - LEAST_FRAMES, 0)
    doubt = 1 / (1 / _HULLS_DIFFER**2 + told)
    if doubt < 0.05:
        return fit
    unsure, stand = _MIDDLE * doubt, placing.stand
    grid = replace(fit.grid, unsure=unsure)
    lines = tuple(replace(rows, sd=rows.sd * np.sqrt(np.exp(doubt / 2) * (1 + unsure))) for rows in stand.fair)
    stiffness = grid.stiffness_of(fit.grid, fit.stiffness) - np.array([doubt / 2, 0.0, 0.0])
    wide = replace(placing, stand=replace(stand, grid=grid, fair=lines)).problem(start).solve(stiffness)
    return replace(wide, grid=fit.grid, stiffness=fit.stiffness, evidence=fit.evidence)


def _result(
    boat: Boat,
    fit: Fit,
    laid: Laid,
    knuckles: Mapping[float, tuple[float, float]],
    slips: Mapping[int, str] | None = None,
) -> FairHull:
    marks, placing, stand = laid.marks, laid.placing, laid.placing.stand
    residual, spread = stand.residual(fit), stand.spread(fit)
    z = placing.judge(fit, spread=spread)
    wide = _doubting(fit, placing, laid.start)
    laid = replace(laid, loose=wide)
    if wide is not fit:
        fit, spread = replace(wide, c=fit.c), stand.spread(wide)
    line_sd = np.sqrt(np.maximum(spread[:, 0, 0], 0.0))
    told_from = placing.told_from(fit, spread)
    sd = np.sqrt(stand.stated[:, 0, 0]) * fit.error_scale

    stations = dict(sorted({mark.frame: mark.station_mm for mark in marks}.items(), key=lambda item: item[1]))
    bare = FairHull(boat, fit, stations, (), laid.features, laid, knuckles)

    def slip(i: int) -> str:
        """Name what may have been, on the side of the planking that the marks were taken from."""
        if slips and marks[i].number in slips:
            return slips[marks[i].number]
        line = Line(bare, float(stand.x[i]), _GUESSED_ON)
        where = line.at(stand.v[i : i + 1]) if stand.pinned[i] else line.points
        point = np.array([marks[i].half_breadth_mm, marks[i].height_mm])
        return " ".join(guesses_of(marks[i], point, where, float(np.hypot(sd[i], line_sd[i])), None))

    suspect = [
        not active and laid.answers.get(mark.number) != "drop"
        for active, mark in zip(placing.active, marks, strict=True)
    ]
    offs = tuple(
        MarkOff(
            number=mark.number,
            frame=mark.frame,
            side=mark.side,
            v=float(stand.v[i]),
            residual_mm=float(residual[i, 0]),
            along_mm=float(residual[i, 1]) if stand.pinned[i] else 0.0,
            out_by_sd=float(z[i]),
            counts=bool(placing.active[i]),
            suspect=suspect[i],
            guess=slip(i) if suspect[i] else "",
            line_sd_mm=float(line_sd[i]),
            told_from_mm=float(told_from[i]),
        )
        for i, mark in enumerate(marks)
    )
    return replace(bare, offs=offs)
