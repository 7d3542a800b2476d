"""Boards out of a DXF file."""

from __future__ import annotations

from scrieve.sheets.dxf_read import read_lines
from scrieve.stock.forms import BoardsReading
from scrieve.stock.traced import boards_of
from scrieve.units import Units


def read_boards_dxf(data: bytes, name: str, *, units: Units = "mm", thickness_mm: float | None = None) -> BoardsReading:
    """Read the boards traced in a DXF file, with the layers of docs/boards.md, "A drawing of boards".

    Parameters
    ----------
    data : bytes
    name : str
        The file's name, for the messages.
    units : {'mm', 'ft'}
        Of a bare thickness in the lettering; the drawing's own unit is that which the file says.
    thickness_mm : float, optional
        Of boards whose lettering does not give it.

    Raises
    ------
    BadMarks
        The file is no DXF that can be read, or does not say its unit.
    """
    drawn, texts, _, unread = read_lines(data, name, also=("CIRCLE",), of="a board")
    found = boards_of(drawn, texts, name, units=units, thickness_mm=thickness_mm)
    return BoardsReading(found.boards, found.bad, (*unread, *found.warnings))
