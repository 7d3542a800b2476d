"""Tables: the bytes of a CSV or XLSX file -> rows of text cells, each with its line in the file."""

from __future__ import annotations

import csv
import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from openpyxl import load_workbook

from scrieve.errors import BadMarks

MOST_ROWS = 200_000
MOST_COLUMNS = 100
MOST_BYTES = 50_000_000
MOST_UNPACKED = 500_000_000

#: Ends the text of a cell that the spreadsheet keeps as a date; such a cell is never a length.
A_DATE = " (a date)"

_CONTROL = re.compile(r"[\x00-\x08\x0e-\x1f]")


@dataclass(frozen=True, slots=True)
class Row:
    """One row that is not blank: its line in the file (from 1), and its cells as text without outer blanks.

    `ruled` says that its cells stand under their columns for certain, as in a sheet, not in a CSV.
    """

    line: int
    cells: tuple[str, ...]
    ruled: bool = False

    @property
    def is_remark(self) -> bool:
        """Whether the row begins with # and so is a remark of the writer."""
        return self.cells[0].startswith("#")


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of a file, and what the reader of it should know besides."""

    rows: tuple[Row, ...]
    warnings: tuple[str, ...] = ()


#: A file of marks, or what was typed into a form.
Given = bytes | Table


def rows(data: bytes, name: str) -> tuple[Row, ...]:
    """Read the rows of a CSV or XLSX file; as `read_table`, without its warnings."""
    return read_table(data, name).rows


def read_table(data: Given, name: str) -> Table:
    """Read a CSV or XLSX file.

    Parameters
    ----------
    data : bytes or Table
        The whole file, or a table typed into a form, which is given back as it is. CSV:
        UTF-8, UTF-16 with its mark, or Windows Western; cells parted by comma, semicolon or tab. XLSX: the first
        sheet; numbers come as the shortest text that gives the same number back.
    name : str
        The file's name, for the messages.

    Raises
    ------
    BadMarks
        It is neither, is damaged, or is too large; the message says so.
    """
    if isinstance(data, Table):
        return data
    if len(data) > MOST_BYTES:
        raise BadMarks(
            f"{name}: {len(data) / 1e6:.0f} MB; a table of marks is read up to {MOST_BYTES / 1e6:.0f} MB. Split it."
        )
    if data[:4] == b"PK\x03\x04":
        return _xlsx(data, name)
    if data[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        raise BadMarks(f"{name}: an old spreadsheet file (.xls) or one locked by a password; save it as XLSX or CSV.")
    return Table(tuple(_capped(_csv(_text(data, name), name), name)))


def _capped(found: Iterator[Row], name: str) -> Iterator[Row]:
    for count, row in enumerate(found):
        if count == MOST_ROWS:
            raise BadMarks(f"{name}: more than {MOST_ROWS} rows; split the file. Nothing was read.")
        yield row


def _text(data: bytes, name: str) -> str:
    tries = ("utf-16",) if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252")
    for encoding in tries:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if not _CONTROL.search(text):
            return text.removeprefix("\ufeff")
    raise BadMarks(f"{name}: neither a CSV nor an XLSX file; save the table as one of these.")


def _csv(text: str, name: str) -> Iterator[Row]:
    lines = text.splitlines()
    head = next((line for line in lines if line.strip() and not line.lstrip().startswith("#")), "")
    unquoted = re.sub(r'"[^"]*"', "", head)
    parted_by = max("\t;,", key=unquoted.count)
    # A quotation mark in a remark must not open a cell that swallows the lines after it.
    fed = (line.replace('"', "'") if line.lstrip().startswith("#") else line for line in lines)
    reader = csv.reader((line + "\n" for line in fed), delimiter=parted_by, strict=True, skipinitialspace=True)
    line = 1
    try:
        for cells in reader:
            if row := _row(line, cells):
                yield row
            line = reader.line_num + 1
    except csv.Error as error:
        raise BadMarks(
            f'{name} line {line}: a quotation mark is not closed, or the cell is too long ({error}). Write " inside a '
            "quoted cell twice, or take it away."
        ) from error


def _row(line: int, cells: list[str], ruled: bool = False) -> Row | None:
    stripped = [cell.strip() for cell in cells]
    while stripped and not stripped[-1]:
        stripped.pop()
    return Row(line, tuple(stripped), ruled) if stripped else None


def _xlsx(data: bytes, name: str) -> Table:
    neither = f"{name}: neither a CSV nor an XLSX file that can be read; it may be damaged. Save the table again."
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            unpacked = sum(member.file_size for member in archive.infolist())
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError) as error:
        raise BadMarks(neither) from error
    if unpacked > MOST_UNPACKED:
        raise BadMarks(f"{name}: {unpacked / 1e6:.0f} MB when unpacked; split it, or save it as CSV.")
    try:
        with warnings.catch_warnings():  # remarks on styles and the like are no matter of the builder's
            warnings.simplefilter("ignore")
            book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            sheet = book.worksheets[0]
            others = [f"'{other.title}'" for other in book.worksheets[1:]]
            found = tuple(_capped(_sheet(sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True)), name))
            said = f"{name}: only the first sheet, '{sheet.title}', was read; not {', '.join(others)}."
            book.close()
    except BadMarks:
        raise
    except Exception as error:  # a damaged file makes the reader fail in a dozen ways
        raise BadMarks(neither) from error
    return Table(found, (said,) if others else ())


def _sheet(values: Iterator[tuple[object, ...]]) -> Iterator[Row]:
    for line, cells in enumerate(values, start=1):
        if row := _row(line, [_cell(cell) for cell in cells], ruled=True):
            yield row


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, (int, float)):
        return _number(value)
    if isinstance(value, datetime):
        value = value.date() if value.time() == time() else value
    if isinstance(value, (date, time, timedelta)):
        return f"{value}{A_DATE}"
    return str(value)


def _number(value: float) -> str:
    plain = f"{Decimal(repr(value)):f}"  # without an exponent, and the same number when read back
    return plain.rstrip("0").rstrip(".") if "." in plain else plain
