"""Swapped: height and half-breadth typed in each other's column, in one mark, in a frame, or in the whole file."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial import cKDTree

from scrieve.takeoff.doubt import Doubt, by_frame_and_side, doubt, frame_name, mark_name
from scrieve.takeoff.marks import Mark
from scrieve.units import Units, format_length

Array = NDArray[np.float64]

#: A mark lies so many usual steps off the line of the others before it is doubted ...
_FAR_OFF = 2.5
#: ... and swapping must bring it this many times nearer.
_NEARER = 3.0
#: A frame lies so many times further from its neighbours than frames of this hull do.
_FAR_FRAME = 1.5
#: Changed over, it lies no further from them than so many times what frames of this hull do.
_AS_OTHERS = 4.0
#: Places along a section at which it is compared with the next.
_PLACES = 24
#: Frames nearer than this share of the usual space stand on one another.
_LEAST_SPACE = 0.2
_FEWEST = 5
_MOST = 200
_FEWEST_FRAMES = 4
#: The whole file is doubted when so many half-breadths pass the half-beam so far ...
_SHARE_OVER, _OVER_BEAM = 0.1, 1.05
#: ... when the heads of both end frames are lower than this share of the highest (a sheer is highest at the ends), yet
#: no narrower (a hull is broadest amidships) ...
_ARCH = 0.75
#: ... or when so many frames bulge inboard (area by chord²) and their heads change in height much more than in breadth.
_MOST_FRAMES, _BULGE, _LEAST_CHANGE = 0.8, 0.02, 0.2


def swapped(
    marks: Sequence[Mark],
    half_beam_mm: float | None = None,
    units: Units = "mm",
    within: Collection[tuple[str, str]] | None = None,
) -> list[Doubt]:
    """Return the doubts about columns: the whole file, or else whole frames, or else single marks (those of the frames
    and sides `within`, where these are named).
    """
    groups = {key: group for key, group in by_frame_and_side(marks).items() if len(group) <= _MOST}
    if whole := _whole(groups, marks, half_beam_mm, units):
        return whole
    frames = _frames(groups, within)
    found = [
        doubt(
            "swapped",
            groups[key],
            f"{frame_name(groups[key][0])}: all {len(groups[key])} marks fit the frames beside it much better with "
            "height and half-breadth changed over. Compare with the notes, and change them over if so.",
            key[0],
        )
        for key in frames
    ]
    for key, group in groups.items():
        if key not in frames and (within is None or key in within):
            found += [_one(mark, units) for mark in _marks(group)]
    return found


def _one(mark: Mark, units: Units) -> Doubt:
    return doubt(
        "swapped",
        [mark],
        f"{mark_name(mark, units)}: fits its frame much better with height and half-breadth changed over. Compare with "
        "the notes, and change them over if so.",
        mark.frame,
    )


def _points(group: Sequence[Mark]) -> Array:
    return np.array([[mark.half_breadth_mm, mark.height_mm] for mark in group])


def line_through(points: Array) -> Array:
    """Return the segments (m, 2, 2) of the least tree that joins the points: along a section, the section."""
    return _tree(np.asarray(points, dtype=float).tobytes(), len(points))


@lru_cache(maxsize=2000)
def _tree(data: bytes, count: int) -> Array:
    points = np.frombuffer(data).reshape(count, 2)
    if count < 2:
        return np.repeat(points[:, None], 2, axis=1)
    # the same added to each leaves the tree as it is; a length of nothing would be no edge at all
    apart = np.hypot(*(points[:, None] - points).transpose(2, 0, 1)) + 1.0
    start, end = minimum_spanning_tree(apart).nonzero()
    return np.stack([points[start], points[end]], axis=1)


def lengths(segments: Array) -> Array:
    """Return the length (m,) of each segment (m, 2, 2)."""
    return np.asarray(np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1))


def distances(points: Array, segments: Array) -> Array:
    """Return the distance (n,) of each point from the nearest segment."""
    return np.asarray(_apart(points, segments).min(axis=1))


def _apart(points: Array, segments: Array) -> Array:
    """Return the distance (n, m) of each point from each segment."""
    start, way = segments[:, 0], segments[:, 1] - segments[:, 0]
    square = np.maximum(np.sum(way**2, axis=1), 1e-12)
    along = np.clip(np.sum((points[:, None] - start) * way, axis=2) / square, 0, 1)
    off = points[:, None] - (start + along[..., None] * way)
    return np.asarray(np.hypot(off[..., 0], off[..., 1]))


def _marks(group: Sequence[Mark]) -> list[Mark]:
    """Return the marks that lie far off the line through the others, and near it with their columns changed over."""
    if len(group) < _FEWEST:
        return []
    points = _points(group)
    tree = cKDTree(points)
    nearest = np.asarray(tree.query(points, k=2)[0])[:, 1]
    steps = lengths(line_through(points))
    # The line goes through the others: a mark is no further off than the nearest of them. Without the mark no step of
    # it is more than twice the longest: a place on it is no further from one of them than that longest.
    turned = np.asarray(tree.query(points[:, ::-1])[0]) - steps.max()
    far = (nearest > 0.8 * _FAR_OFF * float(np.median(steps))) & (nearest > _NEARER * turned)
    found = []
    for i in np.flatnonzero(far).tolist():
        mark = group[i]
        segments = line_through(np.delete(points, i, axis=0))
        step = float(np.median(lengths(segments)))
        here, there = distances(np.stack([points[i], points[i, ::-1]]), segments)
        if here > _FAR_OFF * step and here > _NEARER * there:
            found.append(mark)
    return found


def _frames(
    groups: dict[tuple[str, str], list[Mark]], within: Collection[tuple[str, str]] | None = None
) -> list[tuple[str, str]]:
    """Return the frames whose marks all fit the frames beside them much better when changed over, the worst first.

    None, where those named `within` do not.
    """
    found: list[tuple[str, str]] = []
    for side in ("P", "S", ""):
        keys = [key for key in groups if key[1] == side]
        keys.sort(key=lambda key: groups[key][0].station_mm)
        if len(keys) < _FEWEST_FRAMES:
            continue
        points = {key: _points(groups[key]) for key in keys}
        stations = np.array([groups[key][0].station_mm for key in keys])
        asked = [i for i, key in enumerate(keys) if within is None or key in within]
        first = _fits(asked, keys, points, stations)
        if not np.any(first[:, 0] > _NEARER * first[:, 1]):
            continue
        while len(found) < len(groups):
            fits = _fits(range(len(keys)), keys, points, stations)
            usual = float(np.median(fits[:, 0]))
            bad = (fits[:, 0] > _FAR_FRAME * usual) & (fits[:, 0] > _NEARER * fits[:, 1])
            bad &= fits[:, 1] < _AS_OTHERS * usual
            if not bad.any():
                break
            worst = keys[int(np.argmax(np.where(bad, fits[:, 0] - fits[:, 1], -np.inf)))]
            if worst in found:
                break
            found.append(worst)
            points[worst] = points[worst][:, ::-1]  # so that it no longer makes its neighbours look wrong
    return found


def _fits(
    which: Sequence[int], keys: Sequence[tuple[str, str]], points: dict[tuple[str, str], Array], stations: Array
) -> Array:
    """Return how far each frame of those asked for lies from its neighbours, as it is and changed over (n, 2)."""
    beside = sorted({j for i in which for j in range(max(i - 2, 0), min(i + 3, len(keys)))})
    lines = {keys[j]: line_through(points[keys[j]]) for j in beside}
    even = {keys[j]: _evenly(points[keys[j]]) for j in beside}
    found = []
    for i in which:
        near = [lines[keys[j]] for j in (i - 2, i - 1, i + 1, i + 2) if 0 <= j < len(keys)]
        found.append(_fit(points[keys[i]], near, _between(i, keys, even, stations)))
    return np.array(found).reshape(-1, 2)


def _fit(points: Array, beside: Sequence[Array], between: Sequence[Array]) -> Array:
    """Return how far a frame lies from its neighbours, as it is and changed over (2,).

    Of two neighbours to each hand the second nearest counts: one that is changed over too proves nothing. Of a frame
    whose neighbours tell its shape, how far it lies from that, where that is nearer.
    """
    lines = [*beside, *between]
    first = np.cumsum([0, *(len(line) for line in lines[:-1])])
    apart = _apart(np.concatenate([points, points[:, ::-1]]), np.concatenate(lines))
    off = np.minimum.reduceat(apart, first, axis=1).reshape(2, len(points), len(lines)).mean(axis=1)
    second = np.sort(off[:, : len(beside)], axis=1)[:, 1]
    return np.asarray(np.column_stack([second, off[:, len(beside) :]]).min(axis=1))


def _evenly(points: Array) -> Array:
    """Return places spaced evenly along the section through the marks, heel to head; none where it has no length.

    The marks are put in order by their direction from the centreplane at the height of the head.
    """
    down = points[:, 1].max() - points[:, 1]
    way = points[np.lexsort((points[:, 1], np.arctan2(points[:, 0], np.maximum(down, 0.0))))]
    girth = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(way, axis=0).T))])
    if girth[-1] <= 0:
        return np.empty((0, 2))
    at = np.linspace(0, girth[-1], _PLACES)
    return np.column_stack([np.interp(at, girth, axis) for axis in way.T])


def _between(
    i: int, keys: Sequence[tuple[str, str]], even: dict[tuple[str, str], Array], stations: Array
) -> list[Array]:
    """Return the segments of the sections that two neighbours tell of a frame: between them, or past the last two.

    Frames that stand nearly on one another tell nothing: one of their stations is wrong.
    """
    found = []
    least = _LEAST_SPACE * float(np.median(np.diff(stations)))
    for a, b in ((i - 1, i + 1), (i - 2, i - 1), (i + 1, i + 2)):
        if not (a >= 0 and b < len(keys)) or np.diff(np.sort(stations[[a, b, i]])).min() < max(least, 1.0):
            continue
        one, two = even[keys[a]], even[keys[b]]
        if len(one) and len(two):
            share = (stations[i] - stations[a]) / (stations[b] - stations[a])
            section = one + np.clip(share, -1.0, 2.0) * (two - one)
            found.append(np.stack([section[:-1], section[1:]], axis=1))
    return found


def _whole(
    groups: dict[tuple[str, str], list[Mark]], marks: Sequence[Mark], half_beam_mm: float | None, units: Units
) -> list[Doubt]:
    """Doubt the whole file by what no hull does: its sections, its heads from end to end, or its beam."""
    said = "height and half-breadth may be in each other's column throughout. Look at the heads of the columns."
    if half_beam_mm is not None:
        over = [mark for mark in marks if mark.half_breadth_mm > half_beam_mm * _OVER_BEAM]
        many = len(over) >= max(_FEWEST, _SHARE_OVER * len(marks))
        if many and all(mark.height_mm <= half_beam_mm * _OVER_BEAM for mark in marks):
            beam = format_length(half_beam_mm, units)
            text = f"{len(over)} half-breadths are over the half-beam {beam}: it may be wrong, or {said}"
            return [doubt("swapped", marks, text)]
    full = [group for group in groups.values() if len(group) >= _FEWEST]
    if len(full) < _FEWEST_FRAMES:
        return []
    heads = np.array([_points(group).max(axis=0)[::-1] for group in full])  # greatest height and half-breadth
    along = np.argsort([group[0].station_mm for group in full], kind="stable")
    heights, breadths = heads[along].T
    peak = int(np.argmax(heights))
    if max(heights[0], heights[-1]) < _ARCH * heights[peak] and min(breadths[0], breadths[-1]) > 0.9 * breadths[peak]:
        top, ends = (format_length(mm, units) for mm in (heights.max(), max(heights[0], heights[-1])))
        return [doubt("swapped", marks, f"the heads rise to {top} between ends of {ends} and less; {said}")]
    changes = np.ptp(heads, axis=0) / np.maximum(np.abs(heads).max(axis=0), 1e-9)
    if changes[0] <= max(2 * changes[1], _LEAST_CHANGE):
        return []
    inboard = np.array([_bulge(_points(group)) < -_BULGE for group in full])
    if inboard.mean() >= _MOST_FRAMES:
        return [doubt("swapped", marks, f"{int(inboard.sum())} of {len(full)} frames are hollow outboard; {said}")]
    return []


def _bulge(points: Array) -> float:
    """Area between the marks, in order of height, and their chord, by the chord squared; above zero outboard."""
    listed = points[np.lexsort((points[:, 0], points[:, 1]))]
    x, y = listed[:, 0], listed[:, 1]
    area = 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    chord = float(np.sum((listed[-1] - listed[0]) ** 2))
    return area / chord if chord > 0 else 0.0
