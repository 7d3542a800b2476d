"""Entries: what every form of marks says in each row, and how a file of such rows is gone through."""

from __future__ import annotations

import json
import math
import unicodedata
from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from scrieve.boat import Side
from scrieve.takeoff.columns import DATE_ADVICE, Cells, Opened, open_table
from scrieve.takeoff.marks import KINDS, Mark, Way
from scrieve.takeoff.tables import A_DATE, Given
from scrieve.takeoff.taken import Taken

Array = NDArray[np.float64]
T = TypeVar("T")

#: Two stations given for one frame are the same when no further apart [mm]: mm and eighths round differently.
SAME_STATION_MM = 1.0
#: The same for two positions given for one nail, or one end of a straight-edge [mm].
SAME_PLACE_MM = 1.0
#: More rows than this to one point, one edge or one template are a slip in the names.
MOST_TOGETHER = 300
#: A point may come out past the centreplane by so many of its standard deviations; it is then taken to lie on it.
_ERRORS_PAST = 3.0

SIDES: dict[str, Side] = {
    "": "", "both": "", "p": "P", "port": "P", "s": "S", "starboard": "S", "stbd": "S",
}  # fmt: skip
_SAME = {"halfbreadth": "half_breadth", "label": "mark"}


@dataclass(frozen=True, slots=True)
class Form:
    """The columns of one form: those that must be there, those that may, and which of them hold lengths."""

    required: tuple[str, ...]
    optional: tuple[str, ...]
    lengths: tuple[str, ...]
    same: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Entry(Generic[T]):
    """One row: what every form says of a mark, and the form's own readings."""

    cells: Cells
    frame: str
    station_mm: float
    has_station: bool
    side: Side
    label: str
    sigma_mm: float | None
    kind: str
    note: str
    own: T

    @property
    def line(self) -> int:
        """The row's line in the file."""
        return self.cells.row.line


@dataclass(slots=True)
class Sheet:
    """A file of marks being read: gathers marks, bad cells and warnings.

    `spoilt` names the groups of rows of which one has a bad cell, `refused` the lines that were complained of whole.
    """

    name: str
    table: Opened
    warnings: list[str] = field(default_factory=list)
    bad: list[tuple[int, str]] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    spoilt: set[tuple[str, str, str]] = field(default_factory=set)
    refused: set[int] = field(default_factory=set)

    @classmethod
    def open(cls, data: Given, name: str, form: Form, units: str) -> Sheet:
        """Read the table and its head.

        Raises
        ------
        BadMarks
            The file is no table, has no rows, or lacks a required column.
        """
        table = open_table(
            data, name, required=form.required, lengths=form.lengths, others=form.optional,
            same=_SAME | dict(form.same), units=units,
        )  # fmt: skip
        return cls(name, table, list(table.warnings))

    def entries(self, own: Callable[[Cells], T], group_by: str, known: Mapping[str, float]) -> list[Entry[T]]:
        """Return the good rows, each frame with its one station; the others are gathered in `bad`.

        `own` reads the form's own cells, and complains of them. Rows that are alike in frame, side and the column
        `group_by` belong together: the group of a bad row is noted in `spoilt`.
        """
        found = []
        for cells in self.table.cells():
            read = self._entry(cells, own)
            self._complained(cells, group_by)
            if read is not None:
                found.append(read)
        stations = _stations(found, known)
        good = []
        for one in found:
            _judge_station(one, stations, known)
            if one.cells.bad:
                self._complained(one.cells, group_by)
            else:
                good.append(replace(one, station_mm=stations[one.frame]))
        return good

    def _complained(self, cells: Cells, group_by: str) -> None:
        self.bad += [(cells.row.line, text) for text in cells.bad]
        if cells.bad:
            side = SIDES.get(cells.text("side").lower(), "")
            self.spoilt.add((_name(cells.text("frame")), side, cells.text(group_by).removesuffix(A_DATE)))

    def _entry(self, cells: Cells, own: Callable[[Cells], T]) -> Entry[T] | None:
        if cells.bad:
            return None
        frame = _name(cells.text("frame"))
        if frame.endswith(A_DATE):
            cells.complain("frame", f"the frame's number or name ({DATE_ADVICE})")
        elif not frame:
            cells.complain("frame", "the frame's number or name")
        station = cells.length("station") if cells.text("station") else None
        readings = own(cells)
        side = SIDES.get(cells.text("side").lower())
        if side is None:
            cells.complain("side", "P, S, or nothing where the mark stands for both")
        sigma = cells.length("sigma") if cells.text("sigma") else None
        if sigma is not None and not sigma > 0:
            cells.complain("sigma", "the measuring error, above zero; leave it empty for the boat's own")
        if cells.bad or side is None:
            return None
        word, note = cells.text("kind"), cells.text("note").removesuffix(A_DATE)
        kind = KINDS.get(word.lower())
        if kind is None:
            self.warnings.append(
                f'{self.name} line {cells.row.line}, kind: found "{word}", which is not known; kept as a plain '
                f"mark with the word in its note. Known: {', '.join(filter(None, KINDS))}."
            )
            note = "; ".join(filter(None, (word, note)))
        label = cells.text("mark").removesuffix(A_DATE)
        return Entry(cells, frame, station or 0.0, station is not None, side, label, sigma, kind or "", note, readings)

    def whole(self, key: tuple[str, str, str], entries: Sequence[Entry[T]]) -> bool:
        """Whether all rows of a group could be read, and are no more than can belong together."""
        if len(entries) > MOST_TOGETHER:
            self.complain(
                entries, f"{len(entries)} rows belong together; give points, edges and templates their names."
            )
        return key not in self.spoilt and not any(one.line in self.refused for one in entries)

    def unread(self, frame: str, side: str, column: str, name: str, place: str) -> int:
        """Return the line of a row that could not be read and gives a place for `name`; 0 where there is none."""
        spoilt = {line for line, _ in self.bad} - self.refused
        for cells in self.table.cells():
            if (
                cells.row.line in spoilt
                and cells.text(place)
                and cells.text(column).casefold() == name.casefold()
                and _name(cells.text("frame")) == frame
                and SIDES.get(cells.text("side").lower(), "") == side
            ):
                return cells.row.line
        return 0

    def complain(self, entries: Sequence[Entry[T]], text: str) -> None:
        """Keep a remark on rows that belong together."""
        lines = ", ".join(str(one.line) for one in entries[:12]) + (", …" if len(entries) > 12 else "")
        self.bad.append((entries[0].line, f"{self.name} line {lines}: {text}"))
        self.refused |= {one.line for one in entries}

    def place(
        self,
        entry: Entry[T],
        way: Way,
        point: Array,
        covariance: Array,
        read: Mapping[str, Any],
        found: Mapping[str, Any],
        advice: str,
    ) -> None:
        """Keep the mark at `point` (half-breadth, height), or a remark where it lies past the centreplane."""
        across, up = (float(value) for value in point)
        past = _ERRORS_PAST * math.sqrt(float(covariance[0, 0]))
        if across < -past:
            self.complain([entry], f"{called(entry)} comes out {-across:.0f} mm past the centreplane; {advice}.")
            return
        kept = {"read": dict(read), "found": dict(found)}
        if across < 0:
            kept["found"]["point_mm"] = [across, up]
            self.warnings.append(
                f"{self.name} line {entry.line}: {called(entry)} comes out {-across:.1f} mm past the centreplane, "
                "within its error; kept as a mark on it."
            )
        self.marks.append(
            Mark(
                entry.frame, entry.station_mm, up, max(across, 0.0), entry.side, entry.label,
                math.sqrt(float(np.trace(covariance)) / 2), entry.kind, entry.note, line=entry.line,
                var_height_mm2=float(covariance[1, 1]), var_half_breadth_mm2=float(covariance[0, 0]),
                cov_mm2=float(covariance[0, 1]), way=way, raw=json.dumps(kept, sort_keys=True, allow_nan=False),
            )
        )  # fmt: skip

    def taken(self) -> Taken:
        """Return all that was gathered, bad cells in the order of their lines."""
        if not self.marks and not self.bad:
            self.warnings.append(f"{self.name}: the columns are there, but no rows of marks under them.")
        self.bad.sort(key=lambda found: found[0])
        return Taken(tuple(self.marks), tuple(text for _, text in self.bad), tuple(self.warnings))


def called(entry: Entry[T]) -> str:
    """Return what the mark of a row is called."""
    return f"mark {entry.label}" if entry.label else "the mark"


def one_sigma(entries: Iterable[Entry[T]], sigma_mm: float) -> Array:
    """Return the error (n,) of each row: its own, or else `sigma_mm`."""
    return np.array([sigma_mm if one.sigma_mm is None else one.sigma_mm for one in entries])


def stated_sigma(entries: Iterable[Entry[T]]) -> list[float | None]:
    """Return the error that each row states, None where it states none."""
    return [one.sigma_mm for one in entries]


def gathered(
    entries: Iterable[Entry[T]], name: Callable[[Entry[T]], str]
) -> dict[tuple[str, str, str], list[Entry[T]]]:
    """Gather rows by frame, side and name, in the order given."""
    groups: dict[tuple[str, str, str], list[Entry[T]]] = defaultdict(list)
    for one in entries:
        groups[one.frame, one.side, name(one)].append(one)
    return dict(groups)


def same_places(
    sheet: Sheet, given: Iterable[tuple[Entry[T], Hashable, Sequence[float] | None]], what: str
) -> dict[Hashable, Array]:
    """Return the position of each named thing, given in any of its rows; tell where it is given twice, and differs."""
    found: dict[Hashable, tuple[int, Array]] = {}
    for entry, key, place in given:
        if place is None:
            continue
        here = np.array(place, dtype=float)
        line, there = found.setdefault(key, (entry.line, here))
        if np.abs(here - there).max() > SAME_PLACE_MM:
            sheet.complain(
                [entry],
                f"{what} is given another position here than in line {line}; give it one, or a name of its own.",
            )
    return {key: place for key, (_, place) in found.items()}


def pair(cells: Cells, first: str, second: str) -> tuple[float, float] | None:
    """Return two lengths that go together, (second, first); None where both cells are empty, or either is bad."""
    if not cells.text(first) and not cells.text(second):
        return None
    one, two = cells.length(first), cells.length(second)
    return None if one is None or two is None else (two, one)


def not_below_zero(cells: Cells, column: str, expected: str) -> float | None:
    """Return a length that cannot be below zero; None, and a remark, where it is or is none."""
    value = cells.length(column)
    if value is not None and value < 0:
        cells.complain(column, expected)
        return None
    return value


def error_of(cells: Cells, column: str, *places: str) -> float:
    """Return the error of a known position, 0 where it is taken as exact; it stands beside the position."""
    if not cells.text(column):
        return 0.0
    value = not_below_zero(cells, column, "the error of the position, above zero")
    if not any(cells.text(place) for place in places):
        cells.complain(column, f"it in the row that gives {' or '.join(places)}, or nothing")
    return value or 0.0


def _name(cell: str) -> str:
    return unicodedata.normalize("NFC", cell)


def _stations(entries: Sequence[Entry[T]], known: Mapping[str, float]) -> dict[str, float]:
    """Return the station of each frame: the one known, or else the one that most rows give (the first of equals)."""
    given: dict[str, Counter[float]] = defaultdict(Counter)
    for one in entries:
        if one.has_station:
            given[one.frame][one.station_mm] += 1
    return {frame: counts.most_common(1)[0][0] for frame, counts in given.items()} | dict(known)


def _judge_station(one: Entry[T], stations: Mapping[str, float], known: Mapping[str, float]) -> None:
    frame, cells = one.frame, one.cells
    if frame not in stations:
        cells.complain("station", f"the station of frame {frame}, at least once")
    elif one.has_station and abs(one.station_mm - stations[frame]) > SAME_STATION_MM:
        who = "the boat has" if frame in known else "other rows give"
        mm = f"{stations[frame]:.1f}".removesuffix(".0")
        cells.complain("station", f"{mm} mm, which {who} for frame {frame}; one frame has one station")
