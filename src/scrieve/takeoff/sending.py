"""Sending: one file or form of marks as it comes in, with what the boat has already left out, and what is doubted."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from scrieve.boat import Boat
from scrieve.takeoff.doubt import Doubt
from scrieve.takeoff.marks import Mark, Way
from scrieve.takeoff.reading import read_taken
from scrieve.takeoff.tables import Given
from scrieve.takeoff.traps import traps


@dataclass(frozen=True, slots=True)
class Sending:
    """What one file or form brings: marks that the boat does not have, and the numbers of those that it has.

    `bad` is one text per cell or row that cannot be read, `warnings` what to look at besides.
    """

    way: Way
    marks: tuple[Mark, ...]
    known: tuple[int, ...]
    bad: tuple[str, ...]
    warnings: tuple[str, ...]


def open_sending(
    data: Given,
    name: str,
    there: Sequence[Mark],
    boat: Boat,
    *,
    way: Way | None = None,
    units: str | None = None,
    second: bool = False,
) -> Sending:
    """Read a file or form of marks for a boat.

    Parameters
    ----------
    data : bytes or Table
        A CSV or XLSX file in one of the forms of docs/formats.md.
    name : str
        What it is called in the messages.
    there : sequence of Mark
        All marks of the boat, those that stand aside too.
    boat : Boat
        Its units and measuring error.
    way, units
        The form, told by its columns unless given; the unit of bare numbers, the boat's unless given.
    second : bool
        Rows like those that the boat has are a second measuring of these points, and are not left out.

    Raises
    ------
    BadMarks
        The file is no table, has no rows, lacks a required column, or has those of two forms.
    """
    stations = {mark.frame: mark.station_mm for mark in there}
    settled, taken = read_taken(
        data, name, way=way, units=units or boat.units, known=stations, sigma_mm=boat.sigma_mm
    )  # fmt: skip
    new, known = (taken.marks, ()) if second else told_apart(taken.marks, there)
    return Sending(settled, new, known, taken.bad, taken.warnings)


def told_apart(marks: Iterable[Mark], there: Iterable[Mark]) -> tuple[tuple[Mark, ...], tuple[int, ...]]:
    """Part marks into those that are new, and the numbers of those that are stored: alike in all but their line.

    A row that comes twice is left out once for each time that it is stored.

    Examples
    --------
    >>> one = Mark("14", 0.0, 900.0, 1200.0, number=7)
    >>> told_apart([Mark("14", 0.0, 900.0, 1200.0, line=3), Mark("14", 0.0, 900.0, 1201.0, line=4)], [one])[1]
    (7,)
    """
    marks = tuple(marks)
    frames = {mark.frame for mark in marks}
    stored: dict[str, list[int]] = {}
    for mark in (mark for mark in there if mark.frame in frames):
        stored.setdefault(_content(mark), []).append(mark.number)
    new, known = [], []
    for mark in marks:
        alike = stored.get(_content(mark))
        if alike:
            known.append(alike.pop(0))
        else:
            new.append(mark)
    return tuple(new), tuple(known)


def _content(mark: Mark) -> str:
    """What a row says of a mark: what was read, where that is kept; the point hangs on the boat's error too."""
    said = [mark.frame, mark.station_mm, mark.side, mark.label, mark.kind, mark.note, mark.way]
    readings = mark.readings if mark.way != "offsets" else {}
    said += [readings] if readings else [mark.height_mm, mark.half_breadth_mm, mark.sigma_mm]
    return json.dumps(said, sort_keys=True)


def doubts_of(numbers: Collection[int], standing: Iterable[Mark], boat: Boat) -> tuple[Doubt, ...]:
    """Return what is doubted of marks just stored, among all that stand."""
    return traps(standing, boat, numbers)


def known_words(count: int) -> str:
    """Say that rows were left out because the boat has them.

    Examples
    --------
    >>> known_words(1)[:40], known_words(0)
    ('1 row is in the boat already, from an ea', '')
    """
    if not count:
        return ""
    rows = "1 row is" if count == 1 else f"{count} rows are"
    return f"{rows} in the boat already, from an earlier sending, and left out."


def frames_words(marks: Sequence[Mark]) -> str:
    """Say how many marks on how many frames.

    Examples
    --------
    >>> frames_words([Mark("14", 0.0, 0.0, 0.0)])
    '1 mark on 1 frame'
    """
    frames = len(Counter(mark.frame for mark in marks))
    many = "1 mark" if len(marks) == 1 else f"{len(marks)} marks"
    return f"{many} on {frames} frame{'' if frames == 1 else 's'}"
