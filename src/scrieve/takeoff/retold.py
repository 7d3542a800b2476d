"""Readings told again: the marks that the rows of one would make, had a slip not been in one of its readings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from scrieve.errors import BadMarks, ScrieveError
from scrieve.takeoff.columns import Cells
from scrieve.takeoff.entries import Sheet
from scrieve.takeoff.marks import Mark, Way
from scrieve.takeoff.misread import misread
from scrieve.takeoff.reading import FORMS, read_taken
from scrieve.takeoff.slips import SLIPS
from scrieve.takeoff.tables import Given, Row, Table, read_table
from scrieve.units import parse_length

#: The readings in which a slip may lie, with their words; the columns that tell known positions, and whose they are.
_READINGS: Mapping[Way, Mapping[str, str]] = {
    "ordinates": {"along": "along", "off": "off"},
    "tapes": {"tape": "tape"},
    "templates": {"x": "across", "y": "up"},
    "arcs": {"opening": "opening"},
}
#: Both readings of an offset in another unit than was meant: how much larger they are then, and the words.
_UNITS = ((10.0, "both written in cm"), (25.4, "both written in inches"), (304.8, "both written in feet"))
_KNOWN: Mapping[Way, tuple[str, str]] = {
    "ordinates": ("from_height", "edge"),
    "tapes": ("nail_height", "nail"),
    "templates": ("height", ""),
}


class Retold:
    """Gives, for a mark of a table, the marks that its rows would make with one slip of one reading taken back.

    Parameters
    ----------
    data, name, way, units, known, sigma_mm
        As `read_taken` took them.
    """

    def __init__(
        self, data: Given, name: str, way: Way, *, units: str, known: Mapping[str, float], sigma_mm: float
    ) -> None:
        self._name, self._way, self._units, self._known, self._sigma = name, way, units, known, sigma_mm
        plain = [row for row in read_table(data, name).rows if not row.is_remark]
        self._head, self._rows = plain[0], plain[1:]
        self._columns = Sheet.open(data, name, FORMS[way], units).table.columns

    def __call__(self, mark: Mark) -> Iterator[tuple[str, Mark]]:
        """Go through the readings of the mark's rows, and the usual slips of each: words, and the mark without it."""
        if self._way == "offsets":
            yield from self._misread(mark)
            return
        readings = _READINGS.get(self._way, {})
        own = self._own(mark) if readings else []
        context = self._context(own)
        for at, row in enumerate(own):
            for column, words in readings.items():
                value = self._value(row, column)
                if value is None:
                    continue
                for size, called in SLIPS:
                    for sign in (1, -1):
                        changed = [*own[:at], self._with(row, column, value - sign * size), *own[at + 1 :]]
                        new = self._read([*changed, *context], mark.line)
                        if new is not None:
                            what = f"{words} {self._source(row)}".strip()
                            yield f"{what} {called} too {'great' if sign > 0 else 'small'}", new
                for called, mm in self._misread_cell(row, column):
                    if called.startswith("two"):
                        new = self._read([*own[:at], self._with(row, column, mm), *own[at + 1 :], *context], mark.line)
                        if new is not None:
                            yield f"{words} {self._source(row)} {called}".replace("  ", " "), new

    def _misread(self, mark: Mark) -> Iterator[tuple[str, Mark]]:
        """An offset with figures of one reading written down wrongly, or both in another unit."""
        row = next((row for row in self._rows if row.line == mark.line), None)
        if row is None:
            return
        for called, mm in self._misread_cell(row, "height"):
            yield f"height: {called}", replace(mark, height_mm=mm)
        for called, mm in self._misread_cell(row, "half_breadth"):
            if mm >= 0:
                yield f"half-breadth: {called}", replace(mark, half_breadth_mm=mm)
        for times, called in _UNITS:
            yield called, replace(mark, height_mm=mark.height_mm * times, half_breadth_mm=mark.half_breadth_mm * times)

    def _misread_cell(self, row: Row, column: str) -> Iterator[tuple[str, float]]:
        text = self._text(row, column)
        for called, other in misread(text):
            try:
                yield called, parse_length(other, self._columns.units[column])
            except (ScrieveError, KeyError):
                continue

    def _text(self, row: Row, column: str) -> str:
        return Cells(self._columns, row).text(column) if column in self._columns.places else ""

    def _source(self, row: Row) -> str:
        nail = self._text(row, "nail") if self._way == "tapes" else ""
        return f"from {nail}" if nail else ""

    def _own(self, mark: Mark) -> list[Row]:
        """The rows that place the mark, its first one first; none of a block, whose rows hang together."""
        first = next((row for row in self._rows if row.line == mark.line), None)
        if first is None:
            return []
        how = self._text(first, "how").lower()
        if self._way == "tapes" or how == "arc":
            names = [self._text(first, column) for column in ("frame", "side", "mark")]
            return [row for row in self._rows if [self._text(row, c) for c in ("frame", "side", "mark")] == names]
        return [] if how == "block" else [first]

    def _context(self, own: Sequence[Row]) -> list[Row]:
        """Other rows of the frame that tell the positions which those of the mark hang on, each position once."""
        if not own or self._way not in _KNOWN:
            return []
        told, whose = _KNOWN[self._way]
        frame = [self._text(own[0], column) for column in ("frame", "side", "template")]
        wanted = {self._text(row, whose).casefold() for row in own if not self._text(row, told)} if whose else None
        found: list[Row] = []
        for row in self._rows:
            if row in own or not self._text(row, told):
                continue
            if [self._text(row, column) for column in ("frame", "side", "template")] != frame:
                continue
            name = self._text(row, whose).casefold() if whose else ""
            if wanted is None or name in wanted:
                found.append(row)
                if wanted is not None:
                    wanted.discard(name)
        return found

    def _value(self, row: Row, column: str) -> float | None:
        try:
            return parse_length(self._text(row, column), self._columns.units[column])
        except (ScrieveError, KeyError):
            return None

    def _with(self, row: Row, column: str, mm: float) -> Row:
        cells = list(row.cells)
        cells[self._columns.places[column]] = f"{mm!r}mm"
        return replace(row, cells=tuple(cells))

    def _read(self, rows: Sequence[Row], line: int) -> Mark | None:
        table = Table((self._head, *sorted(rows, key=lambda row: row.line)))
        try:
            _, taken = read_taken(
                table, self._name, way=self._way, units=self._units, known=self._known, sigma_mm=self._sigma
            )  # fmt: skip
        except BadMarks:
            return None
        return next((mark for mark in taken.marks if mark.line == line), None)
