"""Write each example of a form beside itself as a spreadsheet: `python examples/formats/make_xlsx.py`.

Every column is formatted as text, so that a spreadsheet takes 3-4-5 for what it is and not for a date. The same CSV
gives the same bytes each time.
"""

from __future__ import annotations

import csv
import io
import re
import zipfile
from datetime import datetime
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

HERE = Path(__file__).parent
#: Where the pages keep the examples that they hand out.
PAGES = HERE.parents[1] / "src" / "scrieve" / "web" / "static" / "examples"
_NUMBER = re.compile(r"-?(0|[1-9]\d*)(\.\d+)?")
#: Columns of names: 14 is a name there, and no number.
_NAMES = {"frame", "mark", "nail", "edge", "template", "board", "note"}
_LONG_AGO = datetime(2000, 1, 1)


def spreadsheet(text: str, title: str) -> bytes:
    """Return a CSV as an XLSX file: remarks and head as they stand, numbers as numbers, all else as text."""
    remarks = [line for line in text.splitlines() if line.startswith("#")]
    head, *rows = csv.reader(line for line in text.splitlines() if not line.startswith("#"))
    book = Workbook()
    book.properties.creator, book.properties.created, book.properties.modified = "Scrieve", _LONG_AGO, _LONG_AGO
    sheet = book.active
    sheet.title = title
    for remark in remarks:
        sheet.append([remark])
    sheet.append(head)
    for cell in sheet[sheet.max_row]:
        cell.font = Font(bold=True)
    sheet.freeze_panes = f"A{sheet.max_row + 1}"
    for row in rows:
        sheet.append([_value(column, cell) for column, cell in zip(head, row, strict=False)])
        for cell in sheet[sheet.max_row]:
            cell.number_format = "@"
    for place, column in enumerate(head, start=1):
        letter = sheet.column_dimensions[get_column_letter(place)]
        letter.number_format, letter.width = "@", max(8, len(column) + 2)
    out = io.BytesIO()
    book.save(out)
    return _dateless(out.getvalue())


def _value(column: str, cell: str) -> str | float | None:
    number = column not in _NAMES and _NUMBER.fullmatch(cell)
    return float(cell) if number else cell or None


def _dateless(data: bytes) -> bytes:
    """Return the archive with one date throughout, the library's stamp in its properties too."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as given, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name in sorted(given.namelist(), key=lambda name: (name != "[Content_Types].xml", name)):
            content = given.read(name)
            if name == "docProps/core.xml":
                stamp = f"{_LONG_AGO:%Y-%m-%dT%H:%M:%SZ}".encode()
                content = re.sub(rb"\d{4}-\d\d-\d\dT[\d:]+Z", stamp, content)
            made.writestr(zipfile.ZipInfo(name, _LONG_AGO.timetuple()[:6]), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


if __name__ == "__main__":
    for path in sorted(HERE.glob("*.csv")):
        made = spreadsheet(path.read_text(encoding="utf-8"), path.stem)
        for folder in (HERE, PAGES):
            if (folder / path.name).exists():
                (folder / f"{path.stem}.xlsx").write_bytes(made)
        print(f"{path.stem}.xlsx: {len(made)} bytes")
