"""Order: a mark that stands out of the order in which the others of its frame are listed, heel to head or back."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from scrieve.takeoff.doubt import Doubt, by_frame_and_side, doubt, mark_name
from scrieve.takeoff.marks import Mark
from scrieve.units import Units

Array = NDArray[np.float64]

#: Moving the stray must shorten the line through the marks by so many times the usual step between them.
_LEAST_GAIN = 1.5
#: The line through the others must be no longer than so many times the shortest through them.
_IN_ORDER = 1.02
_FEWEST = 5
_MOST = 200


def out_of_order(
    marks: Sequence[Mark], units: Units = "mm", within: Collection[tuple[str, str]] | None = None
) -> list[Doubt]:
    """Return a doubt for each frame in which one mark, and one alone, stands out of the order of the others; none where
    that is so of none of the frames and sides `within`.

    A first or last mark, and one that stands so in a second frame too, is how the builder writes a table (heights after
    half-breadths, the sheer first), and is passed over.
    """
    groups = by_frame_and_side(marks)
    if within is not None and not any(_stray(group) for key, group in groups.items() if key in within):
        return []
    strays = [stray for group in groups.values() if (stray := _stray(group)) is not None]
    habits = _habits(strays)
    return [
        doubt(
            "order",
            [mark],
            f"{mark_name(mark, units)}: stands out of order between its neighbours as listed; it may have another "
            "row's figures. Look at it again; if it is right, nothing need be done.",
            mark.frame,
        )
        for mark, place, count in strays
        if not {("place", place), ("from the end", count - place), ("label", mark.label)} & habits
    ]


def _habits(strays: Sequence[tuple[Mark, int, int]]) -> set[tuple[str, object]]:
    """Return what strays of different frames have in common: place from either end, or label."""
    frames: dict[tuple[str, object], set[str]] = {}
    for mark, place, count in strays:
        signs: list[tuple[str, object]] = [("place", place), ("from the end", count - place)]
        signs += [("label", mark.label)] if mark.label else []
        for sign in signs:
            frames.setdefault(sign, set()).add(mark.frame)
    return {sign for sign, names in frames.items() if len(names) > 1}


def _stray(group: Sequence[Mark]) -> tuple[Mark, int, int] | None:
    """Return the one mark out of order, its place in the list, and the length of the list."""
    if not _FEWEST <= len(group) <= _MOST:
        return None
    points = np.array([[mark.half_breadth_mm, mark.height_mm] for mark in group])
    apart = np.hypot(*(points[:, None] - points).transpose(2, 0, 1))
    steps = np.diagonal(apart, 1)
    gains = _gains(apart)
    place = int(np.argmax(gains))
    if place in (0, len(group) - 1) or gains[place] <= _LEAST_GAIN * float(np.median(steps)):
        return None
    others = np.delete(np.arange(len(group)), place)
    listed = float(apart[others[:-1], others[1:]].sum())
    if listed > _IN_ORDER * _shortest(apart[np.ix_(others, others)]):
        return None
    return group[place], place, len(group)


def _gains(apart: Array) -> Array:
    """Return by how much the listed line gets shorter when each mark is put where it fits best."""
    count = len(apart)
    steps = np.diagonal(apart, 1)
    gains = np.zeros(count)
    for mark in range(count):
        before, after = mark - 1, mark + 1
        inner = 0 < mark < count - 1
        out = (steps[before] if mark > 0 else 0.0) + (steps[mark] if after < count else 0.0)
        closed = apart[before, after] if inner else 0.0
        rest = np.delete(np.arange(count), mark)
        between = apart[rest[:-1], mark] + apart[rest[1:], mark] - apart[rest[:-1], rest[1:]]
        back = min(float(between.min()), float(apart[rest[0], mark]), float(apart[rest[-1], mark]))
        gains[mark] = out - closed - back
    return gains


def _shortest(apart: Array) -> float:
    """Return the length of a short line through all points: the best of nearest-neighbour walks from each point."""
    starts = np.arange(len(apart))
    left = ~np.eye(len(apart), dtype=bool)
    at, walked = starts, np.zeros(len(apart))
    for _ in starts[1:]:  # all walks at once
        candidates = np.where(left, apart[at], np.inf)
        at = np.argmin(candidates, axis=1)
        walked += candidates[starts, at]
        left[starts, at] = False
    return float(walked.min())
