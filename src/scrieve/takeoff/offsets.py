"""Offsets: a table of heights and half-breadths -> marks, with every cell that cannot be read named at once."""

from __future__ import annotations

from collections.abc import Mapping

from scrieve.takeoff.columns import Cells, Opened
from scrieve.takeoff.entries import SAME_STATION_MM as SAME_STATION_MM
from scrieve.takeoff.entries import Form, Sheet
from scrieve.takeoff.marks import Mark
from scrieve.takeoff.tables import Given
from scrieve.takeoff.taken import Taken

REQUIRED = ("frame", "station", "height", "half_breadth")
OPTIONAL = ("side", "mark", "sigma", "kind", "note")
LENGTHS = ("station", "height", "half_breadth", "sigma")
FORM = Form(REQUIRED, OPTIONAL, LENGTHS)

Reading = Taken


def read_marks(data: Given, name: str, *, units: str = "mm", known: Mapping[str, float] | None = None) -> Taken:
    """Read a file of marks; nothing is stored here: the caller decides by `bad`.

    Parameters
    ----------
    data : bytes or Table
        A CSV or XLSX file with the columns of docs/formats.md, "The marks file".
    name : str
        The file's name, for the messages.
    units : {'mm', 'cm', 'm', 'in', 'ft'}
        Unit of bare numbers under a head without a unit.
    known : mapping of str to float, optional
        Station [mm] of each frame that the boat has already.

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks a required column.
    """
    sheet = Sheet.open(data, name, FORM, units)
    sheet.warnings += _remarks_like_marks(sheet.table)
    for one in sheet.entries(_offsets, "mark", known or {}):
        height, half_breadth = one.own
        sheet.marks.append(
            Mark(
                one.frame, one.station_mm, height, half_breadth, one.side, label=one.label, sigma_mm=one.sigma_mm,
                kind=one.kind, note=one.note, line=one.line,
            )
        )  # fmt: skip
    return sheet.taken()


def _offsets(cells: Cells) -> tuple[float, float]:
    height, half_breadth = cells.length("height"), cells.length("half_breadth")
    if half_breadth is not None and half_breadth < 0:
        cells.complain("half_breadth", "a length out from the centreplane: give it above zero and the side as P or S")
    return height or 0.0, half_breadth or 0.0


def _remarks_like_marks(table: Opened) -> list[str]:
    """Name the rows that begin with # and yet read like marks: # may be part of a frame's name."""
    alike = []
    for row in table.remarks:
        cells = Cells(table.columns, row)
        if all(cells.length(column) is not None for column in ("station", "height", "half_breadth")):
            alike.append(str(row.line))
    if not alike:
        return []
    return [
        f"{table.columns.file} line {', '.join(alike[:20])}: begins with # and was passed over as a remark, though "
        "it reads like a mark; take the # away if it is one."
    ]
