"""Heel, knuckles and head of every frame, and each mark's share of the girth between them.

A knuckle (a chine) runs from the first frame that it is marked on to the last; beyond, the section is smooth.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import CannotFair
from scrieve.fairing.lines import Line, along_breaks, fit_line
from scrieve.fairing.smoother import Grid, Rows
from scrieve.fairing.tracks import Track
from scrieve.geometry.bspline import Basis
from scrieve.takeoff.marks import Mark

Array = NDArray[np.float64]
Index = NDArray[np.intp]
Flags = NDArray[np.bool_]

#: Marks on a frame, and frames of a feature line, below which neither is tried.
LEAST_MARKS = 3
#: Feature lines keep this share of the girth between them, at the least.
_APART = 0.03
#: Where a knuckle has ended, how far the section may still turn there [rad], its curvature jump [1/girth], and the jump
#: of the third derivative, by the same measure.
_TURN, _JUMP, _JERK = 1e-4, 1e-2, 1.0
#: Degree of the spline both ways, on a hull of few frames, and of so many or more.
_FEW, _MANY, _FRAMES = 3, 4, 14
#: Pieces along a hull of more frames than this: one for each frame up to here, and then one for every fourth.
_ONE_EACH, _EVERY = 25, 4
#: A grid with more breaks along has half of them on the coarse one.
_LONG = 30
#: How far a knuckle on the surface is held to the stiffness of its own line: that was learnt from marks that count
#: again there.
_LINE_TRUST = 0.3


@dataclass(frozen=True, eq=False)
class Features:
    """Heel, knuckles in order, head.

    Attributes
    ----------
    lines : tuple of Line
        Each as a fair line along the hull.
    v : ndarray (f,)
        Their shares of the girth: 0, one for each knuckle, 1.
    member : ndarray of int (tracks, f)
        Which mark of the list is each track's mark of each feature; -1 where it has none.
    doubted : frozenset of int
        Marks that were named as an end or a knuckle but lie off its line.
    span : ndarray (f, 2)
        First and last station of each [mm]; heel and head run the whole length.
    """

    lines: tuple[Line, ...]
    v: Array
    member: Index
    doubted: frozenset[int]
    span: Array

    def here(self, station_mm: float) -> Flags:
        """Which features a section has at a station (f,)."""
        return (self.span[:, 0] - 0.05 <= station_mm) & (station_mm <= self.span[:, 1] + 0.05)


def find_features(
    ways: Sequence[Track],
    marks: Sequence[Mark],
    x: Array,
    points: Array,
    covariance: Array,
    held: Flags,
    girth: float,
    whole: Sequence[Track],
) -> Features:
    """Sort out which marks are heel, knuckles and head, and fair each of these as a line along the hull.

    `whole` are the same tracks with the marks that the builder dropped: these tell which frames have a knuckle.

    Raises
    ------
    CannotFair
        A feature is marked on fewer than three frames, or knuckles cannot be told apart.
    """
    try:  # a dropped mark tells that its frame has a knuckle, and no more
        corners = _knuckles(whole, marks)
    except CannotFair:
        corners = _knuckles(ways, marks)
    stay = {int(i) for track in ways for i in track.index}
    corners = [column for column in corners if stay.intersection(column)]
    left = [[i if i in stay else -1 for i in column] for column in corners]
    columns = [_ends(ways, marks, "heel", 0), *left, _ends(ways, marks, "head", -1)]
    names = ["heel", *(_knuckle_name(n + 1, column, marks) for n, column in enumerate(left)), "head"]
    lines: list[Line] = []
    doubted: set[int] = set()
    span = np.tile([-np.inf, np.inf], (len(columns), 1))
    for number, (name, column) in enumerate(zip(names, columns, strict=True)):
        here = np.array([i for i in column if i >= 0], dtype=np.intp)
        if len(np.unique(x[here])) < LEAST_MARKS:
            on = ", ".join(dict.fromkeys(marks[i].frame for i in here)) or "none"
            raise CannotFair(
                f"the {name} is marked on too few frames ({on}); mark it on at least {LEAST_MARKS}, or "
                + ("give those marks no kind." if "knuckle" in name else "name none and the outermost marks are taken.")
            )
        lines.append(fit_line(x[here], points[here], covariance[here], held[here], girth))
        # a mark off its line is no end of its frame, unless the builder named it so
        for i in here[~lines[-1].kept]:
            if marks[i].kind == "":
                column[column.index(int(i))] = -1
            else:
                doubted.add(int(i))
        if "knuckle" in name:
            marked = x[[i for i in corners[number - 1] if i >= 0]]
            span[number] = marked.min(), marked.max()
    found = Features(tuple(lines), np.zeros(len(lines)), np.array(columns, dtype=np.intp).T, frozenset(doubted), span)
    usual = np.nanmedian([walk.share for walk in _walks(ways, found, points)], axis=0)
    return replace(found, v=_apart(usual))


def _ends(ways: Sequence[Track], marks: Sequence[Mark], kind: str, place: int) -> list[int]:
    """Each track's heel or head: the mark named so, or on a hull where none is named its outermost mark."""
    named = [[int(i) for i in track.index if marks[i].kind == kind] for track in ways]
    if any(named):
        return [found[place] if found else -1 for found in named]
    return [int(track.index[place]) if track.index.size >= LEAST_MARKS else -1 for track in ways]


def _knuckle_name(number: int, column: Sequence[int], marks: Sequence[Mark]) -> str:
    """Name a knuckle as the builder does, where all its marks bear one label."""
    labels = {marks[i].label for i in column if i >= 0}
    return f"knuckle {labels.pop()!r}" if len(labels) == 1 and "" not in labels else f"knuckle {number}"


def _knuckles(ways: Sequence[Track], marks: Sequence[Mark]) -> list[list[int]]:
    """Knuckle marks of each track sorted into lines: by the builder's label where all have one, else by order.

    Where labels count the marks of a frame, plain marks bear them too: they name no line, and order tells as long as
    every frame that has a knuckle has as many.
    """
    found = [[int(i) for i in track.index if marks[i].kind == "knuckle"] for track in ways]
    most = max((len(on) for on in found), default=0)
    if not most:
        return []
    labels = list(dict.fromkeys(marks[i].label for on in found for i in on))
    counted = not {marks[i].label for track in ways for i in track.index if marks[i].kind != "knuckle"}.isdisjoint(
        labels
    )
    by_order = counted and all(len(on) in (0, most) for on in found)
    if not by_order and "" not in labels and all(len({marks[i].label for i in on}) == len(on) for on in found):
        place = {
            label: np.median(
                [(k + 1) / (len(track.index) + 1) for track in ways for k, i in enumerate(track.index)
                 if marks[i].kind == "knuckle" and marks[i].label == label]
            )
            for label in labels
        }  # fmt: skip
        return [
            [next((i for i in on if marks[i].label == label), -1) for on in found]
            for label in sorted(labels, key=lambda label: float(place[label]))
        ]
    short = [track.frame for track, on in zip(ways, found, strict=True) if 0 < len(on) < most]
    if short:
        raise CannotFair(
            f"frame {short[0]} has fewer knuckle marks than others ({most}); give every knuckle mark the name of its "
            "line in the column 'mark', so that they can be told apart."
        )
    return [[on[n] if on else -1 for on in found] for n in range(most)]


@dataclass(frozen=True, eq=False)
class _Way:
    """The way along a track: its marks, the length to each, and the share of the girth at each feature (or nan)."""

    marks: Index
    length: Array
    share: Array


def _walks(ways: Sequence[Track], features: Features, points: Array) -> list[_Way]:
    stations = [track.station_mm for track in ways]
    corners = np.stack([line.at(stations) for line in features.lines], axis=1)
    made = []
    for track, member, at in zip(ways, features.member, corners, strict=True):
        here = np.flatnonzero(features.here(track.station_mm))
        made.append(_way(track, member, {int(f): at[f] for f in here}, len(features.lines) - 1, points))
    return made


def _way(track: Track, members: Index, corners: Mapping[int, Array], last: int, points: Array) -> _Way:
    ends = {int(m) for m in members if m >= 0}
    way: list[tuple[Array, int, int]] = [(corners[0], -1, 0)]  # point, mark, feature
    way += [(points[i], int(i), -1) for i in track.index if int(i) not in ends]
    way.append((corners[last], -1, last))
    for number, at in corners.items():  # knuckles go in where they lengthen the way least
        if 0 < number < last:
            longer = [
                np.hypot(*(at - a[0])) + np.hypot(*(b[0] - at)) - np.hypot(*(b[0] - a[0]))
                for a, b in itertools.pairwise(way)
            ]
            way.insert(int(np.argmin(longer)) + 1, (at, -1, number))
    length = np.concatenate([[0.0], np.cumsum([np.hypot(*(b[0] - a[0])) for a, b in itertools.pairwise(way)])])
    share = np.full(last + 1, np.nan)
    for at_length, (_, _, feature) in zip(length, way, strict=True):
        if feature >= 0:
            share[feature] = at_length / max(length[-1], 1e-9)
    here_mark = [k for k, entry in enumerate(way) if entry[1] >= 0]
    return _Way(
        np.array([way[k][1] for k in here_mark], dtype=np.intp), length[here_mark] / max(length[-1], 1e-9), share
    )


def _apart(share: Array) -> Array:
    """The shares 0 … 1 of features in order, none nearer to the next than pieces of the spline need."""
    apart = min(_APART, 1 / len(share))
    out = np.clip(share, 0.0, 1.0)
    out[0], out[-1] = 0.0, 1.0
    for k in range(1, len(out) - 1):
        out[k] = max(out[k], out[k - 1] + apart)
    for k in range(len(out) - 2, 0, -1):
        out[k] = min(out[k], out[k + 1] - apart)
    return out


def shares(ways: Sequence[Track], features: Features, points: Array) -> tuple[Array, Flags]:
    """First guess of each mark's share of the girth (n,), and which marks are an end or a knuckle (n,).

    Between the features of its track a mark's share goes by the length of the way along the marks. Where a knuckle
    has ended, the place that it had at its end goes on, so that the shares run smoothly along the hull.
    """
    v, pinned = np.full(len(points), 0.5), np.zeros(len(points), dtype=bool)
    walks = _walks(ways, features, points)
    stations = np.array([track.station_mm for track in ways])
    real = np.array([walk.share for walk in walks])
    for track, members, walk in zip(ways, features.member, walks, strict=True):
        share = walk.share.copy()
        for gone in np.flatnonzero(np.isnan(share)):
            known = np.flatnonzero(np.isfinite(real[:, gone]))
            near = np.abs(stations[known] - track.station_mm)
            share[gone] = float(np.mean(real[known[near <= near.min() + 0.05], gone]))
        use = np.concatenate([[True], np.diff(np.maximum.accumulate(share)) > 1e-6])
        use[-1] = True
        use &= (share < 1 - 1e-6) | (np.arange(len(share)) == len(share) - 1)
        v[walk.marks] = np.interp(walk.length, share[use], features.v[use])
        for member, value in zip(members, features.v, strict=True):
            if member >= 0:
                v[member], pinned[member] = value, True
    return v, pinned


def surface_grid(ways: Sequence[Track], features: Features, girth: float, *, coarse: bool = False) -> Grid:
    """Spline grid for the hull: about as many pieces round as a frame has marks, and one along for each frame.

    The more frames, the smoother the spline along can be told to be, and the fewer pieces it needs.
    The coarse one, for a first look at stiffness and error, has half of that each way on a large hull.
    """
    pieces = int(np.clip(max(track.index.size for track in ways), 8, 24))
    stations = np.unique([track.station_mm for track in ways])
    along = along_breaks(stations)
    degree = _MANY if len(stations) >= _FRAMES else _FEW
    if len(along) > _ONE_EACH:
        count = _ONE_EACH + (len(along) - _ONE_EACH) // _EVERY
        along = np.interp(np.linspace(0, len(along) - 1, count), np.arange(len(along)), along)
    if coarse:
        pieces = max(round(0.5 * pieces), 8)
        if len(along) > _LONG:
            along = np.append(along[:-1:2], along[-1])
    breaks = [0.0]
    for a, b in itertools.pairwise(features.v):
        count = max(round(pieces * (b - a)) - (degree - _FEW), 2)
        breaks += list(np.linspace(a, b, count + 1)[1:])
        if b < 1:
            breaks += [b] * (degree - 1)  # as often as the degree in all: here alone the section may turn sharply
    return Grid.of_size(Basis(along, degree), Basis(np.array(breaks), degree), girth)


def guides(grid: Grid, ways: Sequence[Track], features: Features, dropped: Flags, sd: float) -> tuple[Rows, ...]:
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
                parts.append(Rows(index, value, point[:, axis], wide[:, axis]))
    return (Rows.joined(*parts),) if parts else ()


def smooth_beyond(grid: Grid, ways: Sequence[Track], features: Features, girth: float) -> tuple[Rows, ...]:
    """Rows that keep the section smooth where a knuckle has ended: from the next frame on it turns no more.

    Between the last frame that has the knuckle and the next, it dies away.
    """
    stations = np.unique([track.station_mm for track in ways])
    along = grid.along
    at = np.array([along.knots[i + 1 : i + 1 + along.degree].mean() for i in range(along.size)])
    parts = []
    for v, (low, high) in zip(features.v[1:-1], features.span[1:-1], strict=True):
        before = stations[stations < low - 0.05].max(initial=-np.inf)
        after = stations[stations > high + 0.05].min(initial=np.inf)
        x = at[(at <= before + 1e-6) | (at >= after - 1e-6)]
        if x.size:
            limits = ((1, _TURN * girth), (2, _JUMP * girth), (3, _JERK * girth))[: grid.around.degree - 1]
            parts += [_jump(grid, x, float(v), to, order, sd) for order, sd in limits for to in np.eye(2)]
    return (Rows.joined(*parts),) if parts else ()


def fair_knuckles(grid: Grid, features: Features) -> tuple[Rows, ...]:
    """Rows that keep each knuckle of the surface a fair line, about as stiff as its own marks tell.

    The surface grows softer towards its ends, and a knuckle is in nobody's way there but its own.
    """
    breaks = np.unique(grid.along.breaks)
    parts = []
    for v, line, (low, high) in zip(features.v[1:-1], features.lines[1:-1], features.span[1:-1], strict=True):
        ends = np.unique(np.clip(breaks, low, high))
        # a cubic's third derivative is one number on each piece, so its energy is a sum over the pieces; a quartic's is
        # a straight line there, and two nodes of Gauss give it
        middle, long = (ends[1:] + ends[:-1]) / 2, np.diff(ends)
        if grid.along.degree > 3:
            aside = np.concatenate([long, -long]) / 12**0.5
            middle, long = np.tile(middle, 2) + aside, np.tile(long, 2) / 2
        stiffness = _LINE_TRUST * np.exp(line.fit.stiffness[:2] + line.fit.grid.scales)
        for to, stiff in zip(np.eye(2), stiffness, strict=True):
            index, value = grid.rows(middle, np.full(len(middle), float(v)), np.tile(to, (len(middle), 1)), by_x=3)
            parts.append(Rows(index, value, np.zeros(len(middle)), (stiff * long) ** -0.5))
    return (Rows.joined(*parts),) if parts else ()


def _jump(grid: Grid, x: Array, v: float, direction: Array, order: int, sd: float) -> Rows:
    """Rows for the jump of a derivative round the girth at a knuckle's share: the piece above less the piece below."""
    first_x, value_x = grid.along.row(x)
    (above,), (value_above,) = grid.around.row([v], order)
    (under,), (value_under,) = grid.around.row([v - 1e-9], order)
    reach = int(above - under)
    value_v = np.zeros(reach + len(value_above))
    value_v[reach:] += value_above
    value_v[: len(value_under)] -= value_under
    i = first_x[:, None] + np.arange(value_x.shape[1])
    j = under + np.arange(len(value_v))
    place = (i[:, :, None] * grid.around.size + j)[..., None] * 2 + np.arange(2)
    value = (value_x[:, :, None] * value_v)[..., None] * direction
    n = len(x)
    return Rows(place.reshape(n, -1), value.reshape(n, -1), np.zeros(n), np.full(n, sd))
