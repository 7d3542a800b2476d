"""Blunder traps at entry: what can be doubted of marks before anything is faired. Nothing is changed or refused."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Sequence

import numpy as np
from scipy.spatial import cKDTree

from scrieve.boat import Boat
from scrieve.takeoff.doubt import Doubt, by_frame_and_side, doubt, frame_name, mark_name
from scrieve.takeoff.listing import out_of_order
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.measured_twice import measured_twice, pairs
from scrieve.takeoff.sides import other_hand, other_side
from scrieve.takeoff.stations import stations
from scrieve.takeoff.swapped import swapped
from scrieve.units import Units, format_length
from scrieve.wording import inches

#: Two marks of one frame and side are the same when no further apart [mm].
SAME_MARK_MM = 1.0
#: More pairs than this in a frame are told in one text.
_TOLD_SINGLY = 3
#: A half-breadth may pass the half-beam by so many times the measuring error.
_ERRORS_OVER = 3.0


def traps(marks: Iterable[Mark], boat: Boat, about: Collection[int] | None = None) -> tuple[Doubt, ...]:
    """Return what is doubtful about marks, those of one boat together.

    Parameters
    ----------
    marks : iterable of Mark
        In the order in which they were written down; those stored before the new ones.
    boat : Boat
        Its half-beam (where known), measuring error and units.
    about : collection of int, optional
        Numbers of marks: only what is doubted of these, as while they are sent. What hangs on one hand of a frame alone
        is then not looked for in others.

    Returns
    -------
    tuple of Doubt
        Half-breadths over the half-beam; marks of the wrong hand, or set off to the wrong side of a straight-edge or of
        nails; marks and labels that come twice; points measured twice that differ by more than their errors allow;
        height and half-breadth changed over (the file, a frame, a mark); a mark out of the order of its frame; stations
        out of order, on one another, or in another unit. A doubt is no proof, and no doubt is no proof either: fairing
        finds what these cannot.
    """
    those = list(marks)
    new = None if about is None else frozenset(about)
    asked = None if new is None else {(mark.frame, mark.side) for mark in those if mark.number in new}
    changed_over = swapped(those, boat.half_beam_mm, boat.units, asked)
    whole_file = any(len(found.numbers) == len(those) for found in changed_over)
    near = those if asked is None else [mark for mark in those if (mark.frame, mark.side) in asked]
    over = [] if whole_file else over_half_beam(near, boat)
    hands = other_hand(those, None if asked is None else {frame for frame, _ in asked})
    again = pairs(near, boat)
    differ = _not_told(measured_twice(again, boat.units), [*over, *changed_over, *hands])
    twice = duplicates(near, boat.units, frozenset(id(pair.second) for pair in again))
    labels = [found for found in twice if found.kind == "label twice"]
    mirrored = _not_told(other_side(near, boat.units), changed_over)
    found = (
        *over,
        *hands,
        *(found for found in twice if found.kind != "label twice"),
        *differ,
        *_not_told(labels, hands),
        *changed_over,
        *mirrored,
        *_not_told(out_of_order(those, boat.units, asked), [*over, *changed_over, *mirrored, *differ]),
        *stations(those, boat.units),
    )
    return found if new is None else tuple(one for one in found if new & set(one.numbers))


def _not_told(found: Sequence[Doubt], before: Sequence[Doubt]) -> list[Doubt]:
    """Leave out doubts about marks that are doubted already: one slip, one text."""
    told = {place for other in before for place in zip(other.numbers, other.lines, strict=True)} - {(0, 0)}
    return [one for one in found if not told & set(zip(one.numbers, one.lines, strict=True))]


def over_half_beam(marks: Sequence[Mark], boat: Boat) -> list[Doubt]:
    """Return a doubt for each half-breadth over the boat's half-beam by more than the measuring error allows."""
    if boat.half_beam_mm is None:
        return []
    found = []
    for mark in marks:
        error = boat.sigma_mm if mark.sigma_mm is None else mark.sigma_mm
        if mark.half_breadth_mm > boat.half_beam_mm + _ERRORS_OVER * error:
            shown, beam = (format_length(mm, boat.units) for mm in (mark.half_breadth_mm, boat.half_beam_mm))
            text = (
                f"{mark_name(mark, boat.units)}: half-breadth {shown} is over the half-beam {beam}; measure again, or "
                "put the half-beam right."
            )
            found.append(doubt("half-beam", [mark], text, mark.frame))
    return found


def duplicates(marks: Sequence[Mark], units: Units = "mm", again: frozenset[int] = frozenset()) -> list[Doubt]:
    """Return the doubts about marks of one frame and side that lie on one another, or bear one label.

    `again` holds the identities of marks that are second measurings of a point: these may bear its label.
    """
    found = []
    for group in by_frame_and_side(marks).values():
        close = _on_one_another(group)
        if len(close) > _TOLD_SINGLY:
            text = (
                f"{frame_name(group[0])}: {len(close)} of {len(group)} marks lie on marks given before; was it entered "
                "twice? Drop one of the two sets."
            )
            found.append(doubt("duplicate", [mark for pair in close for mark in pair], text, group[0].frame))
        else:
            found += [_twice(*pair, units) for pair in close]
        told = {id(mark) for pair in close for mark in pair}
        found += _labels([mark for mark in group if id(mark) not in again], told, units)
    return found


def _twice(first: Mark, second: Mark, units: Units) -> Doubt:
    near = f"{SAME_MARK_MM:g} mm" if units == "mm" else inches(SAME_MARK_MM)
    text = (
        f"{mark_name(second, units)}: lies within {near} of {mark_name(first, units)}; if it is the same "
        "mark entered twice, drop one."
    )
    return doubt("duplicate", [first, second], text, second.frame)


def _on_one_another(group: Sequence[Mark]) -> list[tuple[Mark, Mark]]:
    """Return pairs of marks no further apart than `SAME_MARK_MM`, each later mark once."""
    if len(group) < 2:
        return []
    points = np.array([[mark.half_breadth_mm, mark.height_mm] for mark in group])
    apart, nearest = (np.asarray(found) for found in cKDTree(points).query(points, k=2))
    own = np.arange(len(group))
    other = np.where(nearest[:, 0] == own, nearest[:, 1], nearest[:, 0])
    close = np.flatnonzero(apart[:, 1] <= SAME_MARK_MM)
    pairs = {(min(int(i), int(other[i])), max(int(i), int(other[i]))) for i in close}
    later: dict[int, int] = {}
    for first, second in sorted(pairs):
        later.setdefault(second, first)
    return [(group[first], group[second]) for second, first in sorted(later.items())]


def _labels(group: Sequence[Mark], told: set[int], units: Units) -> list[Doubt]:
    counts = Counter(mark.label.casefold() for mark in group if mark.label)
    found = []
    for label, count in counts.items():
        those = [mark for mark in group if mark.label.casefold() == label]
        if count > 1 and not all(id(mark) in told for mark in those):
            lines = ", ".join(str(mark.line or mark.number) for mark in those)
            text = (
                f"{mark_name(those[-1], units)}: the label {those[-1].label} comes {count} times in "
                f"{frame_name(those[-1])} ({lines}); give each mark its own."
            )
            found.append(doubt("label twice", those, text, those[-1].frame))
    return found
