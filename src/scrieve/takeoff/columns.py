"""Columns: which cell of a row means what, in which unit, and what to say of one that cannot be read."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field

from scrieve.errors import BadLength, BadMarks
from scrieve.takeoff.tables import A_DATE, Given, Row, read_table
from scrieve.units import MM_PER, parse_length

#: No hull, and nothing of one, is longer: a larger value is a slip of the pen.
LONGEST_MM = 1_000_000.0

_UNIT = re.compile(r"(.+?)(?:_(mm|cm|m|in|ft)|_?[(\[](mm|cm|m|in|ft)[)\]])")
_MONTH = r"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*"
_DATE = re.compile(
    r"\d{4}-\d{2}-\d{2}.*|\d{1,2}[/.]\d{1,2}[/.]\d{2,4}"
    rf"|\d{{1,2}}[-. ]?{_MONTH}([-. ]?\d{{2,4}})?|{_MONTH}[-. ]?\d{{1,4}}",
    re.IGNORECASE,
)
_LONGEST_TEXT = 40
_TEXT_SHOWN = 60

DATE_ADVICE = "the spreadsheet took it for a date; format the column as text and type it again"


@dataclass(frozen=True, slots=True)
class Columns:
    """The head of a table: where each column stands, and the unit of each column of lengths."""

    file: str
    places: Mapping[str, int]
    units: Mapping[str, str]
    width: int
    warnings: tuple[str, ...] = ()


@dataclass(slots=True)
class Cells:
    """One row being read: gives its cells by the column's name, and gathers what cannot be read."""

    columns: Columns
    row: Row
    bad: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Refuse a row of a CSV that is wider than the head: its cells may stand under the wrong columns."""
        count, width = len(self.row.cells), self.columns.width
        if count > width and not self.row.ruled:
            self.bad.append(
                f"{self.columns.file} line {self.row.line}: found {count} cells under {width} columns; a decimal comma "
                "parts a cell in two: write a point, put the cell in quotation marks, or part the cells with "
                "semicolons."
            )

    def text(self, column: str) -> str:
        """Return the cell as it stands; empty where the row or the table has none."""
        place = self.columns.places.get(column, len(self.row.cells))
        return self.row.cells[place] if place < len(self.row.cells) else ""

    def length(self, column: str) -> float | None:
        """Return the cell in mm, or None (and a remark) where it is no length."""
        found = self.text(column)
        unit = self.columns.units[column]
        if found.endswith(A_DATE) or _DATE.fullmatch(found):
            self.complain(column, f"{_expected(unit)} ({DATE_ADVICE})")
            return None
        if not found or len(found) > _LONGEST_TEXT:
            self.complain(column, _expected(unit))
            return None
        try:
            value = parse_length(found, unit)
        except BadLength as error:
            why = str(error).removeprefix(f"found {found!r}").replace("expected mm or feet", f"expected {_unit(unit)}")
            self.bad.append(f"{self._where(column)}{why}")
            return None
        if abs(value) > LONGEST_MM:
            self.complain(column, f"a length under {LONGEST_MM / 1000:g} m")
            return None
        return value

    def complain(self, column: str, expected: str) -> None:
        """Keep the remark: file, line, column, what was found, and what is expected."""
        self.bad.append(f"{self._where(column)}; expected {expected}.")

    def _where(self, column: str) -> str:
        found = self.text(column).removesuffix(A_DATE)
        shown = found if len(found) <= _TEXT_SHOWN else found[:_TEXT_SHOWN] + "…"
        said = f'"{shown}"' if shown else "nothing"
        return f"{self.columns.file} line {self.row.line}, {column}: found {said}"


@dataclass(frozen=True, slots=True)
class Opened:
    """A table whose head has been read: its columns, the rows under them without remarks, and what to look at besides.

    `remarks` are the rows under the head that begin with #.
    """

    columns: Columns
    rows: tuple[Row, ...]
    remarks: tuple[Row, ...]
    warnings: tuple[str, ...]

    def cells(self) -> Iterator[Cells]:
        """Return each row, ready to be read by the columns' names."""
        return (Cells(self.columns, row) for row in self.rows)


def _unit(unit: str) -> str:
    return "feet" if unit == "ft" else f"{unit} or feet"


def _expected(unit: str) -> str:
    return f"{_unit(unit)}-inches-eighths such as 3-4-5"


def plain_name(cell: str) -> str:
    """Return the head of a column in the form in which names are compared."""
    return re.sub(r"[\s\-_]+", "_", cell.strip().lower()).strip("_")


def read_head(
    row: Row,
    file: str,
    *,
    required: Collection[str],
    lengths: Collection[str],
    others: Collection[str] = (),
    same: Mapping[str, str] | None = None,
    units: str = "mm",
) -> Columns:
    """Read the first row of a table.

    Parameters
    ----------
    row : Row
        The heads of the columns: case, blanks and hyphens do not matter; a column of lengths may carry its unit, as
        in `height_mm`, `height_ft` or `Height (mm)`.
    file : str
        The file's name, for the messages.
    required, lengths, others : collections of str
        The columns that must be there; those that hold lengths; those that may be there besides.
    same : mapping, optional
        Other heads that mean a known column.
    units : {'mm', 'cm', 'm', 'in', 'ft'}
        Unit of the bare numbers under a head without a unit.

    Raises
    ------
    BadMarks
        A required column is missing, or one comes twice.
    BadLength
        `units` is not a known unit.
    """
    if units not in MM_PER:
        raise BadLength(f"unit {units!r} is not known; use one of {', '.join(MM_PER)}.")
    known = {*required, *lengths, *others}
    places: dict[str, int] = {}
    found_units: dict[str, str] = {}
    unknown: list[str] = []
    twice: list[str] = []
    for place, cell in enumerate(row.cells):
        column, unit = plain_name(cell), units
        column = (same or {}).get(column, column)
        if column not in known and (match := _UNIT.fullmatch(column)):
            stem = match.group(1).rstrip("_")
            stem = (same or {}).get(stem, stem)
            if stem in lengths:
                column, unit = stem, match.group(2) or match.group(3)
        if column not in known:
            unknown += [cell] if cell else []
        elif column in places:
            twice.append(column)
        else:
            places[column] = place
            found_units[column] = unit
    found = ", ".join(cell for cell in row.cells if cell)[:300]
    if twice:
        raise BadMarks(f"{file} line {row.line}: the column {twice[0]} comes twice; found the columns {found}.")
    if missing := [column for column in required if column not in places]:
        raise BadMarks(
            f"{file} line {row.line}: no column {', '.join(missing)}; found the columns {found}. "
            f"The first row names the columns: {', '.join(required)}."
        )
    said = tuple(f"{file}: the column '{cell}' is not known and was not read." for cell in unknown)
    return Columns(file, places, found_units, len(row.cells), said)


def open_table(
    data: Given,
    name: str,
    *,
    required: Collection[str],
    lengths: Collection[str],
    others: Collection[str] = (),
    same: Mapping[str, str] | None = None,
    units: str = "mm",
    expected: Collection[str] | None = None,
) -> Opened:
    """Read a CSV or XLSX file and its head, the first row that is no remark.

    Parameters
    ----------
    data : bytes
        The whole file.
    name : str
        The file's name, for the messages.
    required, lengths, others, same, units
        As in `read_head`.
    expected : collection of str, optional
        The columns to be named where the file has no rows; the required ones unless given.

    Raises
    ------
    BadMarks
        The file is no table, has no rows, lacks a required column, or has one twice.
    BadLength
        `units` is not a known unit.
    """
    table = read_table(data, name)
    plain = [row for row in table.rows if not row.is_remark]
    if not plain:
        wanted = ", ".join(required if expected is None else expected)
        raise BadMarks(f"{name}: no rows; expected a first row with the columns {wanted}.")
    head, *rows = plain
    columns = read_head(head, name, required=required, lengths=lengths, others=others, same=same, units=units)
    remarks = tuple(row for row in table.rows if row.is_remark and row.line > head.line)
    return Opened(columns, tuple(rows), remarks, (*table.warnings, *columns.warnings))
