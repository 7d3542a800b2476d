"""A doubt about marks: what a trap found, and how a mark is called when the builder is spoken to."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from scrieve.takeoff.marks import Mark
from scrieve.units import Units, format_length

_HANDS = {"P": " port", "S": " starboard", "": ""}


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing to look at before the marks are faired; nothing is changed by it.

    `kind` is 'half-beam', 'duplicate', 'label twice', 'measured twice', 'wrong hand', 'wrong side', 'swapped', 'order',
    'station' or 'station unit'. `numbers` and `lines` are those of the marks (0 where they have none). `text` says what
    was found, where, and what to do.
    """

    kind: str
    text: str
    frame: str = ""
    numbers: tuple[int, ...] = ()
    lines: tuple[int, ...] = ()


def doubt(kind: str, marks: Iterable[Mark], text: str, frame: str = "") -> Doubt:
    """Return the doubt about `marks`."""
    those = tuple(marks)
    return Doubt(kind, text, frame, tuple(mark.number for mark in those), tuple(mark.line for mark in those))


def frame_name(mark: Mark) -> str:
    """Return the frame and hand of a mark in words."""
    return f"frame {mark.frame}{_HANDS[mark.side]}"


def mark_name(mark: Mark, units: Units) -> str:
    """Return what a mark is called: frame, hand, its own label or height, and its line in the file or its number."""
    own = mark.label or f"{format_length(mark.height_mm, units)} up"
    where = f" (line {mark.line})" if mark.line else f" (mark {mark.number})" if mark.number else ""
    return f"{frame_name(mark)}, {own}{where}"


def by_frame_and_side(marks: Iterable[Mark]) -> dict[tuple[str, str], list[Mark]]:
    """Gather marks by frame and side, each in the order given."""
    groups: dict[tuple[str, str], list[Mark]] = defaultdict(list)
    for mark in marks:
        groups[mark.frame, mark.side].append(mark)
    return dict(groups)
