"""Frames and stations as typed: which of the two a bare number means."""

from __future__ import annotations

from typing import TYPE_CHECKING

from scrieve.errors import NoSuchFrame, ScrieveError
from scrieve.takeoff.frame_names import frames_meant
from scrieve.units import parse_length

if TYPE_CHECKING:
    from scrieve.chain import Kept
    from scrieve.fairing import FairHull


def station_at(hull: FairHull, work: Kept, typed: str) -> str | float:
    """Read a frame's label, or else a station as a length.

    A bare number within the numbers of the frames is a frame's, even where the boat has no such frame: taken as a
    station, it would show quite another place without a word. So it is wherever it lies outside the marks.

    Raises
    ------
    NoSuchFrame
        A bare number that is no frame here, and is not likely to be a station.
    """
    label = typed.strip()
    if met := frames_meant(label, hull.stations):
        return met[0]
    station = (work.frames.get(label) or {}).get("station_mm")
    if station is not None:
        return float(station)
    try:
        found = parse_length(label, "mm")
    except ScrieveError:
        return label
    number = _number(label)
    low, high = hull.x_range
    numbers = [value for name, x in hull.stations.items() if (value := _number(name)) is not None and value != x]
    if number is not None and (number <= max(numbers, default=-1.0) or not low <= number <= high):
        raise NoSuchFrame(
            f"frame {label} has no marks here, nor a station in the list of frames; give one of "
            f"{_few(list(hull.stations))}. A station is written with its unit, such as {number:g}mm; the marks run "
            f"from {low:g} to {high:g} mm."
        )
    return found


def _number(text: str) -> float | None:
    """Return a number written without a unit."""
    try:
        return float(text)
    except ValueError:
        return None


def _few(names: list[str]) -> str:
    return ", ".join(names) if len(names) <= 12 else ", ".join([*names[:5], "…", *names[-3:]])
