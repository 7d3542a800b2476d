"""Sides: marks written down for the wrong hand, and points set off to the wrong side of a straight-edge or of nails."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

import numpy as np

from scrieve.boat import Side
from scrieve.takeoff.doubt import Doubt, by_frame_and_side, doubt, mark_name
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.swapped import distances, lengths, line_through
from scrieve.units import Units

_NAMES: dict[Side, str] = {"P": "port", "S": "starboard"}
_OTHER: dict[Side, Side] = {"P": "S", "S": "P"}

#: So many times the marks that other frames have on one hand say that both hands were written down as one.
_BOTH_HANDS = 1.6
_FEWEST_FRAMES = 2
#: A point lies so many usual steps off the line of the others before it is doubted ...
_FAR_OFF = 1.2
#: ... and the point on the other side must be this many times nearer to it.
_NEARER = 4.0
_FEWEST, _MOST = 5, 200


def other_hand(marks: Sequence[Mark], within: Collection[str] | None = None) -> list[Doubt]:
    """Return a doubt for each frame (of those named `within`) in which marks of both hands were written down for one.

    A label that comes twice on one hand and never on the other, where both hands are measured; or a frame with marks on
    one hand alone, about twice as many as other frames have on each.
    """
    frames: dict[str, list[Mark]] = {}
    for mark in marks:
        frames.setdefault(mark.frame, []).append(mark)
    found = []
    for frame, group in frames.items():
        if within is not None and frame not in within:
            continue
        for side in ("P", "S"):
            if those := _twice(group, side, frames, frame):
                found.append(_labels(those, side, frame))
            elif _both(group, side, frames, frame):
                text = (
                    f"frame {frame}: all {len(group)} marks are to {_NAMES[side]}, about twice as many as other frames "
                    f"have on each hand; half of them may be {_NAMES[_OTHER[side]]}'s. Put the side right if so."
                )
                found.append(doubt("wrong hand", group, text, frame))
    return found


def _labels(those: Sequence[Mark], side: Side, frame: str) -> Doubt:
    names = ", ".join(dict.fromkeys(mark.label for mark in those))
    come = "comes" if len(those) == 2 else "come"
    text = (
        f"frame {frame}: {names} {come} twice to {_NAMES[side]} and never to {_NAMES[_OTHER[side]]}; one of the two "
        f"may be {_NAMES[_OTHER[side]]}'s. Put the side right if so."
    )
    return doubt("wrong hand", those, text, frame)


def _twice(group: Sequence[Mark], side: Side, frames: dict[str, list[Mark]], frame: str) -> list[Mark]:
    """Return the marks whose label comes twice on this hand and never on the other."""
    here = Counter(mark.label.casefold() for mark in group if mark.side == side and mark.label)
    there = {mark.label.casefold() for mark in group if mark.side != side}
    both = bool(there) or any(_hands(others) == {"P", "S"} for name, others in frames.items() if name != frame)
    names = {label for label, count in here.items() if count == 2 and label not in there} if both else set()
    return [mark for mark in group if mark.side == side and mark.label.casefold() in names]


def _both(group: Sequence[Mark], side: Side, frames: dict[str, list[Mark]], frame: str) -> bool:
    """Whether a frame has marks on this hand alone, about as many as other frames have on both."""
    if _hands(group) != {side}:
        return False
    others = [those for name, those in frames.items() if name != frame]
    with_both = [those for those in others if _hands(those) == {"P", "S"}]
    if len(with_both) < max(_FEWEST_FRAMES, len(others) / 2):
        return False
    return len(group) >= _BOTH_HANDS * float(np.median([len(those) / 2 for those in with_both]))


def _hands(group: Sequence[Mark]) -> set[str]:
    return {mark.side for mark in group}


def other_side(marks: Sequence[Mark], units: Units = "mm") -> list[Doubt]:
    """Return a doubt for each point that fits its frame much better on the other side of what it was set off from."""
    found = []
    for group in by_frame_and_side(marks).values():
        if not _FEWEST <= len(group) <= _MOST or not any(mark.raw for mark in group):
            continue
        points = np.array([[mark.half_breadth_mm, mark.height_mm] for mark in group])
        others = np.array([_mirrored(mark) for mark in group])
        apart, there = (np.hypot(*(each[:, None] - points).transpose(2, 0, 1)) for each in (points, others))
        np.fill_diagonal(apart, np.inf)
        np.fill_diagonal(there, np.inf)
        # worth the work only where the mirror image lies nearer to some other mark than the mark itself does
        for i in np.flatnonzero(there.min(axis=1) < apart.min(axis=1)).tolist():
            segments = line_through(np.delete(points, i, axis=0))
            off, mirrored_off = distances(np.stack([points[i], others[i]]), segments)
            if off > _FAR_OFF * float(np.median(lengths(segments))) and off > _NEARER * mirrored_off:
                text = (
                    f"{mark_name(group[i], units)}: fits its frame much better on the other side of what it was set "
                    "off from. Look at 'lies', and turn it if so."
                )
                found.append(doubt("wrong side", [group[i]], text, group[i].frame))
    return found


def _mirrored(mark: Mark) -> tuple[float, float]:
    """Return the point on the other side of what the mark was set off from; far away where there is none."""
    other = mark.found.get("other_mm")
    return (float(other[0]), float(other[1])) if isinstance(other, list) and len(other) == 2 else (1e9, 1e9)
