"""The fair hull: one surface through all frames, found from marks that are a little wrong, and some quite wrong.

Heel, knuckles and sheer are faired first as lines in space. Each mark then gets its share of the girth between them,
the surface is fitted, and every mark is carried square on to it; that is repeated until the marks no longer slide.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from threadpoolctl import threadpool_limits

from scrieve.boat import Boat
from scrieve.errors import CannotFair
from scrieve.fairing.lines import Line, along_breaks, fit_line, start_shape
from scrieve.fairing.placing import Placing, settle
from scrieve.fairing.result import FairHull, Laid, MarkOff, guess
from scrieve.fairing.smoother import Fit, Grid, Rows
from scrieve.fairing.tracks import Track, tracks
from scrieve.geometry.bspline import Basis
from scrieve.takeoff.marks import Mark

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Tick = Callable[[str, float], None]

#: Frames, and marks on a frame, below which no hull is tried.
LEAST_FRAMES = 4
LEAST_MARKS = 3
#: How far marks may slide along the section in each round, as a share of the girth.
_SLACK = (0.01, 0.01, 0.01, 0.003, 0.001)


@dataclass(frozen=True, eq=False)
class _Features:
    """Heel, knuckles in order, head: their lines, shares of the girth, and each track's mark of each (-1: none)."""

    lines: tuple[Line, ...]
    v: Array
    member: NDArray[np.intp]  # (tracks, features): position of the mark in the list, or -1
    doubted: frozenset[int]  # marks named as an end or a knuckle that lie off its line


def fair(
    marks: Sequence[Mark],
    boat: Boat,
    *,
    answers: Mapping[int, str] | None = None,
    tick: Tick | None = None,
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

    x = np.array([mark.station_mm for mark in marks])
    covariance = np.array([mark.covariance_mm2(boat.sigma_mm) for mark in marks])
    held = np.array([answers.get(mark.number) == "keep" for mark in marks])
    dropped = np.array([answers.get(mark.number) == "drop" for mark in marks])
    ways = [replace(track, index=track.index[~dropped[track.index]]) for track in tracks(marks)]
    ways = [track for track in ways if track.index.size]

    step("fairing heel, sheer and knuckles", 0.05)
    whole = [_way_length(points[track.index]) for track in ways if track.index.size >= LEAST_MARKS]
    if not whole:
        raise CannotFair(
            f"no side of any frame has {LEAST_MARKS} marks; leave the side empty where a mark stands for both."
        )
    girth = max(float(np.median(whole)), 1.0)
    features = _features(ways, marks, x, points, covariance, held, girth)
    v, pinned = _shares(ways, features, x, points)
    v[dropped], pinned[dropped] = 0.5, False
    dropped = dropped | np.isin(np.arange(len(x)), list(features.doubted))  # off its own line: the surface knows less
    grid = _grid(ways, features, girth)
    start = start_shape(grid, x[~dropped], v[~dropped], points[~dropped])

    placing = Placing(
        grid,
        x,
        v,
        points,
        np.tile([1.0, 0.0], (len(x), 1)),
        covariance,
        np.ones(len(x), bool),
        _SLACK[0] * girth,
        ~dropped,
        np.ones(len(x)),
        _guides(grid, ways, features, dropped, float(np.sqrt(np.median(np.trace(covariance, axis1=1, axis2=2)) / 2))),
    )
    step("first surface", 0.15)
    fit, placing = settle(placing, start, np.array([*np.subtract(grid.usual, 1.0), 0.0]), held=held, dropped=dropped)
    for turn, slack in enumerate(_SLACK):
        step("carrying the marks square on to the surface", 0.3 + 0.65 * turn / len(_SLACK))
        placing = replace(_carry(placing, fit, pinned), slack=slack * girth)
        if turn in (0, len(_SLACK) - 2):  # learn and judge when the marks have come on to the surface, and at the end
            fit, placing = settle(placing, start, fit.stiffness, held=held, dropped=dropped, robust=False)
        else:
            fit = placing.problem(start).solve(fit.stiffness)
    placing = replace(_carry(placing, fit, pinned), active=placing.active)
    return _result(boat, fit, Laid(tuple(marks), dict(answers), points, placing, start, tuple(features.v)))


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
        placing = replace(laid.placing, points=points, active=active)
        placing = replace(_carry(placing, hull.fit, placing.pinned), active=active)
        fit, placing = settle(
            placing, laid.start, hull.fit.stiffness, held=held, dropped=dropped, learn=False, robust=False
        )
        placing = replace(_carry(placing, fit, placing.pinned), active=placing.active)
        return _result(hull.boat, fit, replace(laid, marks=marks, points=points, placing=placing))


def _way_length(points: Array) -> float:
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def _features(
    ways: Sequence[Track], marks: Sequence[Mark], x: Array, points: Array, covariance: Array, held: Flags, girth: float
) -> _Features:
    def named(track: Track, kind: str) -> list[int]:
        return [int(i) for i in track.index if marks[i].kind == kind]

    columns: list[list[int]] = []
    doubted: set[int] = set()
    for kind, place in (("heel", 0), ("head", -1)):
        given = [named(track, kind) for track in ways]
        if any(given):
            columns.append([found[place] if found else -1 for found in given])
        else:
            columns.append([int(track.index[place]) if track.index.size >= LEAST_MARKS else -1 for track in ways])
    knuckles = _knuckles(ways, marks)
    columns[1:1] = knuckles

    lines = []
    names = ["heel", *(f"knuckle {n + 1}" for n in range(len(knuckles))), "head"]
    for name, column in zip(names, columns, strict=True):
        here = np.array([i for i in column if i >= 0], dtype=np.intp)
        if len(np.unique(x[here])) < LEAST_MARKS:
            on = ", ".join(dict.fromkeys(marks[i].frame for i in here)) or "none"
            raise CannotFair(
                f"the {name} is marked on too few frames ({on}); mark it on at least {LEAST_MARKS}, or "
                + ("give those marks no kind." if "knuckle" in name else "name none and the outermost marks are taken.")
            )
        lines.append(fit_line(x[here], points[here], covariance[here], held[here], girth))
        for i in here[~lines[-1].kept]:  # a mark off its line is no end of its frame, unless the builder named it so
            if marks[i].kind == "":
                column[column.index(int(i))] = -1
            else:
                doubted.add(int(i))
    share = _knuckle_shares(ways, columns, lines, x)
    return _Features(tuple(lines), share, np.array(columns, dtype=np.intp).T, frozenset(doubted))


def _knuckles(ways: Sequence[Track], marks: Sequence[Mark]) -> list[list[int]]:
    """Knuckle marks of each track sorted into lines: by the builder's label where all have one, else by order."""
    found = [[int(i) for i in track.index if marks[i].kind == "knuckle"] for track in ways]
    most = max((len(on) for on in found), default=0)
    if not most:
        return []
    labels = {marks[i].label for on in found for i in on}
    if "" not in labels and all(len({marks[i].label for i in on}) == len(on) for on in found) and len(labels) == most:
        model = next(on for on in found if len(on) == most)
        order = [marks[i].label for i in model]
        return [[next((i for i in on if marks[i].label == label), -1) for on in found] for label in order]
    short = [track.frame for track, on in zip(ways, found, strict=True) if 0 < len(on) < most]
    if short:
        raise CannotFair(
            f"frame {short[0]} has fewer knuckle marks than others ({most}); give every knuckle mark the name of its "
            "line in the column 'mark', so that they can be told apart."
        )
    return [[on[n] if on else -1 for on in found] for n in range(most)]


def _knuckle_shares(ways: Sequence[Track], columns: Sequence[Sequence[int]], lines: Sequence[Line], x: Array) -> Array:
    """Share of the girth at each feature: 0, the usual share of each knuckle, 1."""
    if len(lines) == 2:
        return np.array([0.0, 1.0])
    stations = np.unique([track.station_mm for track in ways])
    corners = np.stack([line.at(stations) for line in lines], axis=1)
    lengths = np.hypot(*np.diff(corners, axis=1).transpose(2, 0, 1))
    share = np.cumsum(lengths, axis=1) / lengths.sum(axis=1, keepdims=True)
    return np.concatenate([[0.0], np.median(share[:, :-1], axis=0), [1.0]])


def _shares(ways: Sequence[Track], features: _Features, x: Array, points: Array) -> tuple[Array, Flags]:
    """First guess of each mark's share of the girth, by the length of the way along the marks of its track."""
    v, pinned = np.full(len(x), 0.5), np.zeros(len(x), dtype=bool)
    for track, members in zip(ways, features.member, strict=True):
        corners = np.stack([line.at([track.station_mm])[0] for line in features.lines])
        inner = [int(i) for i in track.index if i not in set(members.tolist())]
        way: list[tuple[Array, int, int]] = [(corners[0], -1, 0)]  # point, mark, feature
        way += [(points[i], i, -1) for i in inner]
        way.append((corners[-1], -1, len(corners) - 1))
        for number in range(1, len(corners) - 1):  # knuckles go in where they lengthen the way least
            at = corners[number]
            longer = [
                np.hypot(*(at - a[0])) + np.hypot(*(b[0] - at)) - np.hypot(*(b[0] - a[0]))
                for a, b in itertools.pairwise(way)
            ]
            way.insert(int(np.argmin(longer)) + 1, (at, -1, number))
        length = np.concatenate([[0.0], np.cumsum([np.hypot(*(b[0] - a[0])) for a, b in itertools.pairwise(way)])])
        fixed = [k for k, entry in enumerate(way) if entry[2] >= 0]
        share = np.interp(length, length[fixed], features.v)
        for (_, mark, _), value in zip(way, share, strict=True):
            if mark >= 0:
                v[mark] = value
        for member, value in zip(members, features.v, strict=True):
            if member >= 0:
                v[member], pinned[member] = value, True
    return v, pinned


def _grid(ways: Sequence[Track], features: _Features, girth: float) -> Grid:
    most = max(track.index.size for track in ways)
    pieces = int(np.clip(most, 8, 24))
    breaks = [0.0]
    for a, b in zip(features.v, features.v[1:], strict=False):
        count = max(round(pieces * (b - a)), 2)
        breaks += list(np.linspace(a, b, count + 1)[1:])
        if b < 1:
            breaks += [b, b]  # three times in all: the section may turn sharply there, and nowhere else
    along = along_breaks(np.array([track.station_mm for track in ways]))
    return Grid.of_size(Basis(along), Basis(np.array(breaks)), girth)


def _guides(grid: Grid, ways: Sequence[Track], features: _Features, dropped: Flags, sd: float) -> Rows | None:
    """Rows for the ends and knuckles of frames that have no good mark of them.

    Their lines were fitted to marks that count again in the surface, so twice their own ± is taken, and an error.
    """
    marked: dict[tuple[float, int], bool] = {}
    for track, members in zip(ways, features.member, strict=True):
        for number, mark in enumerate(members):
            here = (track.station_mm, number)
            marked[here] = marked.get(here, False) or (mark >= 0 and not dropped[mark])
    bare = [here for here, is_marked in marked.items() if not is_marked]
    parts = []
    for number, line in enumerate(features.lines):
        x = np.array([station for station, which in bare if which == number])
        low, high = line.fit.grid.along.breaks[[0, -1]]
        x = x[(x >= low) & (x <= high)]  # beyond its marks a line says nothing
        if x.size:
            point, wide = line.at(x), 2 * line.sd_mm(x) + sd
            for axis in (0, 1):
                direction = np.tile(np.eye(2)[axis], (len(x), 1))
                index, value = grid.rows(x, np.full(len(x), features.v[number]), direction)
                parts.append(Rows(index, value, point[:, axis], wide))
    return Rows.joined(*parts) if parts else None


def _carry(placing: Placing, fit: Fit, pinned: Flags) -> Placing:
    """Move each mark's foot to where the mark stands square on to its section, and take the normal there."""
    n = len(placing.x)
    grid = np.linspace(0, 1, 8 * placing.grid.around.size + 1)
    stations, which = np.unique(placing.x, return_inverse=True)
    section = fit.value(np.repeat(stations, len(grid)), np.tile(grid, len(stations))).reshape(len(stations), -1, 2)
    a, d = section[which, :-1], np.diff(section, axis=1)[which]
    t = np.clip(((placing.points[:, None] - a) * d).sum(-1) / np.maximum((d * d).sum(-1), 1e-12), 0, 1)
    near = ((a + t[..., None] * d - placing.points[:, None]) ** 2).sum(-1).argmin(axis=1)
    v = grid[near] + t[np.arange(n), near] * (grid[1] - grid[0])
    for _ in range(3):
        off, slope = placing.points - fit.value(placing.x, v), fit.value(placing.x, v, by_v=1)
        move = (off * slope).sum(-1) / (slope * slope).sum(-1)
        v = np.clip(v + np.clip(move, -0.02, 0.02), -0.03, 1.03)
    v = np.where(pinned, placing.v, v)
    slope = fit.value(placing.x, v, by_v=1)
    slope /= np.hypot(*slope.T)[:, None]
    return replace(placing, v=v, normal=np.column_stack([slope[:, 1], -slope[:, 0]]), pinned=pinned)


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


def _result(boat: Boat, fit: Fit, laid: Laid) -> FairHull:
    marks, placing = laid.marks, laid.placing
    residual, z = placing.residual(fit), placing.judge(fit)
    line_sd = np.sqrt(np.maximum(placing.spread(fit)[:, 0, 0], 0.0))
    sd = placing.sd * fit.error_scale

    def slip(i: int) -> str:
        share = placing.v[i : i + 1] if placing.pinned[i] else np.linspace(0, 1, 401)
        line = fit.value(np.full(len(share), placing.x[i]), share)
        return guess(placing.points[i], line, float(np.hypot(sd[i], line_sd[i])))

    suspect = [
        not active and laid.answers.get(mark.number) != "drop"
        for active, mark in zip(placing.active, marks, strict=True)
    ]
    offs = tuple(
        MarkOff(
            number=mark.number,
            frame=mark.frame,
            side=mark.side,
            v=float(placing.v[i]),
            residual_mm=float(residual[i, 0]),
            along_mm=float(residual[i, 1]) if placing.pinned[i] else 0.0,
            out_by_sd=float(z[i]),
            counts=bool(placing.active[i]),
            suspect=suspect[i],
            guess=slip(i) if suspect[i] else "",
            line_sd_mm=float(line_sd[i]),
        )
        for i, mark in enumerate(marks)
    )
    stations = dict(sorted({mark.frame: mark.station_mm for mark in marks}.items(), key=lambda item: item[1]))
    return FairHull(boat, fit, stations, offs, laid.features, laid)
