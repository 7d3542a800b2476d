"""Tracks: the marks of one side of one frame, put in order from heel to head."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scrieve.errors import CannotFair
from scrieve.takeoff.frame_names import part_hand
from scrieve.takeoff.marks import Mark

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """Marks of one side of one frame: `index` into the list of marks, heel to head."""

    frame: str
    station_mm: float
    side: str
    index: NDArray[np.intp]


def heel_to_head(points: Array, first: int | None = None, last: int | None = None) -> NDArray[np.intp]:
    """Order of points (n, 2: half-breadth, height) along the frame.

    They are first sorted by the angle at which they are seen from the centreline at the height of the topmost one,
    which every frame that can be seen whole from there keeps; then turned about wherever that makes the way along
    them shorter (2-opt), which mends the rest. `first` and `last` name known ends.
    """
    n = len(points)
    eye = np.array([0.0, points[:, 1].max() + 1.0])
    sight = points - eye
    angle = np.arctan2(sight[:, 1], np.maximum(sight[:, 0], 1e-9))
    order = np.lexsort((points[:, 1], np.round(angle, 6)))
    if first is not None:
        order = np.r_[first, order[order != first]]
    if last is not None:
        order = np.r_[order[order != last], last]
    gap = np.hypot(*(points[:, None] - points[None, :]).transpose(2, 0, 1))
    low, high = int(first is not None), n - int(last is not None)
    for _ in range(4 * n):
        best, turn = -1e-9, None
        for i in range(low, high - 1):
            for j in range(i + 1, high):
                before = gap[order[i - 1], order[i]] if i else 0.0
                after = gap[order[j], order[j + 1]] if j < n - 1 else 0.0
                now = (gap[order[i - 1], order[j]] if i else 0.0) + (gap[order[i], order[j + 1]] if j < n - 1 else 0.0)
                if now - before - after < best:
                    best, turn = now - before - after, (i, j)
        if turn is None:
            break
        order[turn[0] : turn[1] + 1] = order[turn[0] : turn[1] + 1][::-1]
    if first is None and last is None and points[order[0], 1] > points[order[-1], 1]:
        order = order[::-1]
    return order


def tracks(marks: Sequence[Mark]) -> tuple[Track, ...]:
    """Group marks by frame and side, each group in order from heel to head, by station.

    Raises
    ------
    CannotFair
        A frame has been given two stations, or two frames the same station.
    """
    stations: dict[str, float] = {}
    groups: dict[tuple[str, str], list[int]] = {}
    for number, mark in enumerate(marks):
        if abs(stations.setdefault(mark.frame, mark.station_mm) - mark.station_mm) > 0.5:
            raise CannotFair(
                f"frame {mark.frame} has two stations, {stations[mark.frame]:g} and {mark.station_mm:g} mm; "
                "give each frame one station."
            )
        groups.setdefault((mark.frame, mark.side), []).append(number)
    at: dict[float, str] = {}
    for frame, station in stations.items():
        if at.setdefault(round(station, 1), frame) != frame:
            other = at[round(station, 1)]
            name, hand = part_hand(frame)
            both = hand and part_hand(other)[0] == name
            advice = f"send both as frame {name}, with P and S in the column 'side'" if both else "mend one of them"
            raise CannotFair(f"frames {other} and {frame} stand at one station, {station:g} mm; {advice}.")
    made = []
    for (frame, side), members in groups.items():
        points = np.array([(marks[i].half_breadth_mm, marks[i].height_mm) for i in members])
        heel = next((k for k, i in enumerate(members) if marks[i].kind == "heel"), None)
        head = next((k for k, i in enumerate(members) if marks[i].kind == "head"), None)
        order = heel_to_head(points, heel, head)
        made.append(Track(frame, stations[frame], side, np.array(members)[order]))
    return tuple(sorted(made, key=lambda track: (track.station_mm, track.side)))
