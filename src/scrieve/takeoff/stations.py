"""Stations: frames whose station does not rise with their number, stands on another's, or is in another unit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from scrieve.takeoff.doubt import Doubt, doubt
from scrieve.takeoff.marks import Mark
from scrieve.units import MM_PER, Units, format_length

Array = NDArray[np.float64]

_NUMBERED = re.compile(r"(\d+(?:\.\d+)?)\s*([A-Za-z]?)")
_FEWEST = 4
#: Share of the numbered frames that may stand out of order before the numbers are taken to mean something else.
_MOST_STRAYS = 0.2
#: A station in another unit comes this near to where its neighbours put it, in the space between them.
_NEAR = 0.35
#: Usual space between frames by the size of a section, below and above which the units are doubted.
_LEAST_SPACE, _MOST_SPACE = 0.025, 10.0
_TIMES = {"m": 1000.0, "cm": 10.0, "in": MM_PER["in"], "ft": MM_PER["ft"]}


def stations(marks: Sequence[Mark], units: Units = "mm") -> list[Doubt]:
    """Return the doubts about the stations of the frames."""
    groups: dict[str, list[Mark]] = {}
    for mark in marks:
        groups.setdefault(mark.frame, []).append(mark)
    at = {frame: group[0].station_mm for frame, group in groups.items()}
    scale = _scale(marks, at, units)
    if scale:
        return scale
    said: list[Doubt] = []
    numbered = sorted((key, frame) for frame in at if (key := _number(frame)) is not None)
    frames = [frame for _, frame in numbered]
    numbers = np.array([key[0] + (ord(key[1].lower()) - 96) / 27 if key[1] else key[0] for key, _ in numbered])
    places = np.array([at[frame] for frame in frames])
    if len(frames) < _FEWEST:
        return _one_place(at, groups, units)
    kept = _in_order(places)
    strays = np.setdiff1d(np.arange(len(frames)), kept)
    orderly = len(strays) <= max(1.0, _MOST_STRAYS * len(frames))
    for i, frame in enumerate(frames):
        slip = _unit_slip(i, numbers, places, kept[kept != i]) if orderly else ""
        shown = format_length(places[i], units)
        if slip:
            mm = places[i] * _TIMES[slip]
            text = (
                f"frame {frame}: station {shown}, out of place among its neighbours; taken as {slip} it would be "
                f"{format_length(mm, units)}, which fits them. Give it with its unit if so."
            )
            said.append(doubt("station unit", groups[frame], text, frame))
        elif orderly and i in strays:
            beside = [frames[j] for j in (i - 1, i + 1) if 0 <= j < len(frames)]
            near = " and ".join(f"{name} at {format_length(at[name], units)}" for name in beside)
            text = f"frame {frame}: station {shown} does not rise with the frame numbers ({near}); measure it again."
            said.append(doubt("station", groups[frame], text, frame))
    told = {found.frame for found in said}
    return said + _one_place({frame: mm for frame, mm in at.items() if frame not in told}, groups, units)


def _number(frame: str) -> tuple[float, str] | None:
    match = _NUMBERED.fullmatch(frame.strip())
    return (float(match.group(1)), match.group(2)) if match else None


def _in_order(places: Array) -> NDArray[np.intp]:
    """Return the indices of the longest run (not side by side) that rises, or that falls, whichever is longer."""
    runs = []
    for values in (places, -places):
        length = np.ones(len(values), dtype=int)
        before = np.full(len(values), -1)
        for i in range(1, len(values)):
            lower = np.flatnonzero(values[:i] < values[i])
            if lower.size:
                best = int(lower[np.argmax(length[lower])])
                length[i], before[i] = length[best] + 1, best
        run = [int(np.argmax(length))]
        while before[run[-1]] >= 0:
            run.append(int(before[run[-1]]))
        runs.append(run[::-1])
    return np.asarray(max(runs, key=len), dtype=np.intp)


def _unit_slip(i: int, numbers: Array, places: Array, others: NDArray[np.intp]) -> str:
    """Return the unit in which a station would fall where the frames beside it put it, if it does not so as given.

    Where that is goes by the numbers, or by the frames counted one after the other: 7a stands next after 7, however
    near its name says that it is.
    """
    if len(others) < _FEWEST - 1 or places[i] == 0:
        return ""
    below, above = others[others < i], others[others > i]
    if below.size and above.size:
        one, two = below[-1], above[0]
    else:
        one, two = below[-2:] if below.size else above[:2]
    fits = dict.fromkeys(_TIMES, np.inf)
    for count in (numbers, np.arange(len(numbers), dtype=float)):
        if not count[two] > count[one]:
            continue
        slope = (places[two] - places[one]) / (count[two] - count[one])
        expected, reach = places[one] + slope * (count[i] - count[one]), float(np.abs(slope))
        if abs(places[i] - expected) < 0.75 * reach:
            return ""
        for unit, times in _TIMES.items():
            fits[unit] = min(fits[unit], abs(places[i] * times - expected) / reach)
    best = min(fits, key=lambda unit: fits[unit])
    return best if fits[best] <= _NEAR else ""


def _one_place(at: Mapping[str, float], groups: Mapping[str, list[Mark]], units: Units) -> list[Doubt]:
    said = []
    for (one, here), (two, there) in pairwise(sorted(at.items(), key=lambda item: item[1])):
        if there - here < 1.0:
            text = (
                f"frames {one} and {two} both stand at {format_length(here, units)}; give each its own station, "
                "or both the same name and each mark its side, P or S."
            )
            said.append(doubt("station", groups[two], text, two))
    return said


def _scale(marks: Sequence[Mark], at: Mapping[str, float], units: Units) -> list[Doubt]:
    """Doubt all stations when the frames stand too close or too far for sections of this size."""
    places = np.unique(list(at.values()))
    size = max((max(mark.half_breadth_mm, abs(mark.height_mm)) for mark in marks), default=0.0)
    if len(places) < 3 or size == 0:
        return []
    space = float(np.median(np.diff(places)))
    if _LEAST_SPACE * size <= space <= _MOST_SPACE * size:
        return []
    closeness = "close" if space < size else "far apart"
    text = (
        f"the frames stand {closeness} for sections of this size: {format_length(space, units, 1)} from one to the "
        f"next (the middle value), on sections that reach {format_length(size, units)}. Stations and offsets may be in "
        "different units; give the unit in the head of each column, such as station_m."
    )
    return [doubt("station unit", marks, text)]
