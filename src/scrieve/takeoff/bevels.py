"""Bevels: the readings of a bevel board, frame by frame and mark by mark."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

from scrieve.boat import Side
from scrieve.takeoff.columns import DATE_ADVICE, Cells, open_table, plain_name
from scrieve.takeoff.entries import SIDES
from scrieve.takeoff.tables import A_DATE, Given, read_table

REQUIRED = ("frame", "bevel", "face")
OPTIONAL = ("mark", "height", "girth", "side", "note")
LENGTHS = ("height", "girth")
_SAME = {"bevel_deg": "bevel", "bevel_(deg)": "bevel", "bevel_(°)": "bevel", "label": "mark"}

Face = Literal["fore", "aft"]
_FACES: dict[str, Face] = {"fore": "fore", "f": "fore", "forward": "fore", "aft": "aft", "a": "aft", "after": "aft"}
_ANGLE = re.compile(r"([+\-−–]?)(\d{1,3}(?:[.,]\d*)?)\s*(?:°|deg(?:rees)?)?\s*(?:(\d{1,2})\s*['′])?\s*([a-z]*)")
_SENSES = {"": 1, "standing": 1, "st": 1, "under": -1, "u": -1}
#: A reading further from square than this is likely the gauge's whole angle [°].
MOST_DEG = 60.0


@dataclass(frozen=True, slots=True)
class BevelReading:
    """One bevel as read: from square, as worked from `face`, the moulding edge: standing above zero, under below.

    Its place is a height above the baseline, a girth from the heel, or the label of a mark of its frame.
    """

    frame: str
    bevel_rad: float
    face: Face
    height_mm: float | None = None
    girth_mm: float | None = None
    label: str = ""
    side: Side = ""
    note: str = ""
    line: int = 0

    @property
    def slope_rad(self) -> float:
        """The same as the hull's slope towards aft: above zero where she swells going aft [rad]."""
        return self.bevel_rad if self.face == "fore" else -self.bevel_rad


@dataclass(frozen=True, slots=True)
class BevelsTaken:
    """What a file of bevels holds: its good rows, one text per bad cell, and what to look at besides."""

    bevels: tuple[BevelReading, ...]
    bad: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def is_bevel_board(data: Given, name: str) -> bool:
    """Return whether a table is a bevel board, by the columns that no form of marks has.

    Raises
    ------
    BadMarks
        The file is no table.
    """
    head = next((row for row in read_table(data, name).rows if not row.is_remark), None)
    names = [plain_name(cell) for cell in head.cells] if head else []
    return {"bevel", "face"} <= {_SAME.get(each, each) for each in names}


def read_bevels(data: Given, name: str, *, units: str = "mm") -> BevelsTaken:
    """Read a bevel-board table.

    Parameters
    ----------
    data : bytes or Table
        A CSV or XLSX file with the columns of docs/formats.md, "The bevel board".
    name : str
        The file's name, for the messages.
    units : {'mm', 'cm', 'm', 'in', 'ft'}
        Unit of bare lengths under a head without a unit.

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks a required column.
    """
    table = open_table(data, name, required=REQUIRED, lengths=LENGTHS, others=OPTIONAL, same=_SAME, units=units)
    found: list[BevelReading] = []
    bad: list[str] = []
    for cells in table.cells():
        reading = None if cells.bad else _reading(cells)
        bad += cells.bad
        if reading is not None and not cells.bad:
            found.append(reading)
    said = list(table.warnings)
    if not found and not bad:
        said.append(f"{name}: the columns are there, but no rows of bevels under them.")
    return BevelsTaken(tuple(found), tuple(bad), tuple(said))


def _reading(cells: Cells) -> BevelReading | None:
    frame = unicodedata.normalize("NFC", cells.text("frame"))
    if not frame or frame.endswith(A_DATE):
        cells.complain("frame", "the frame's number or name" + (f" ({DATE_ADVICE})" if frame else ""))
    bevel = _angle(cells)
    face = _FACES.get(cells.text("face").lower())
    if face is None:
        cells.complain("face", "fore or aft: the face of the frame from whose edge the bevel was taken")
    label = cells.text("mark").removesuffix(A_DATE)
    lengths = {column: cells.length(column) for column in LENGTHS if cells.text(column)}
    if len(lengths) > 1 or not (lengths or label):
        cells.complain("height", "the bevel's place: a height or a girth, one of them, or the mark's name")
    side = SIDES.get(cells.text("side").lower())
    if side is None:
        cells.complain("side", "P, S, or nothing where the bevel stands for both")
    if bevel is None or face is None or side is None:
        return None
    note = cells.text("note").removesuffix(A_DATE)
    return BevelReading(
        frame, bevel, face, lengths.get("height"), lengths.get("girth"), label, side, note, cells.row.line
    )


def _angle(cells: Cells) -> float | None:
    found = _ANGLE.fullmatch(cells.text("bevel").lower())
    sense = _SENSES.get(found.group(4)) if found else None
    if found is None or sense is None or (found.group(1) not in ("", "+") and found.group(4)):
        cells.complain(
            "bevel", "degrees from square such as 4.5, -3, 4° 30' or '3 under'; standing above zero, under below"
        )
        return None
    degrees = float(found.group(2).replace(",", ".")) + float(found.group(3) or 0) / 60
    if degrees > MOST_DEG or float(found.group(3) or 0) >= 60:
        cells.complain("bevel", "degrees from square, standing above zero: where the gauge reads 94.5, write 4.5")
        return None
    return math.radians(degrees) * sense * (-1 if found.group(1) not in ("", "+") else 1)
