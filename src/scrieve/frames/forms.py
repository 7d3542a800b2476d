"""The list of frames to be made: one row a pair."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scrieve.errors import BadLamination
from scrieve.frames.choice import LIMITS_MM, MOST_LAMINATIONS
from scrieve.frames.written import SETTINGS, read_setting
from scrieve.takeoff.columns import open_table
from scrieve.units import MM_PER_INCH

__all__ = ["LENGTHS", "LIMITS_MM", "MOST_LAMINATIONS", "OTHERS", "FrameRow", "FramesReading", "first", "read_frames"]

LENGTHS = ("station", "sided", "moulded", "moulded_head", "lamination")
#: The settings that are written as docs/formats.md tells, "Settings of a frame"; their columns bear no unit.
WRITTEN = tuple(key.removesuffix("_mm") for key in SETTINGS if key.removesuffix("_mm") not in (*LENGTHS, "count"))
OTHERS = ("timber", "count", "note", *WRITTEN)

#: What a frame starts with in a boat kept in feet and inches, in inches: the usual sizes as they stand on a rule, and
#: a planer that is read to 32nds. Common practice, no source.
_IN_INCHES = {
    "sided_mm": 1.75, "moulded_mm": 2.375, "step_mm": 1 / 32, "kerf_mm": 1 / 8, "planing_mm": 1 / 16,
    "cleaning_mm": 1 / 16, "edge_cleaning_mm": 1 / 16, "trim_mm": 3.0, "pitch_mm": 10.0, "clearance_mm": 4.0,
    "caul_mm": 1.0,
}  # fmt: skip


def first(units: str) -> dict[str, Any]:
    """What a frame that is designed for the first time starts with, besides the defaults of `FrameChoice`.

    The jig is set so that the frame has its shape once it is cleaned off and bevelled; in a boat kept in feet and
    inches its sizes are those of a rule in inches, and its laminations are computed to 32nds.

    Examples
    --------
    >>> first("mm"), first("ft")["step_mm"]
    ({'allow_for_cleaning': True}, 0.79375)
    """
    sizes = {name: each * MM_PER_INCH for name, each in _IN_INCHES.items()} if units == "ft" else {}
    return {"allow_for_cleaning": True, **sizes}


@dataclass(frozen=True, slots=True)
class FrameRow:
    """One pair to be made: label, station where the hull has no marks there, and the settings that the row gives."""

    frame: str
    station_mm: float | None
    settings: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class FramesReading:
    """What a list of frames holds: its good rows, one text per bad cell, and what to look at besides."""

    rows: tuple[FrameRow, ...]
    bad: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def read_frames(data: bytes, name: str, *, units: str = "mm") -> FramesReading:
    """Read a list of frames to be made.

    Parameters
    ----------
    data : bytes
        A CSV or XLSX file with the columns of docs/formats.md, "The list of frames".
    name : str
        The file's name, for the messages.
    units : {'mm', 'cm', 'm', 'in', 'ft'}
        Unit of bare numbers under a head without a unit.

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks the column `frame`.
    """
    table = open_table(
        data, name, required=("frame",), lengths=LENGTHS, others=OTHERS, units=units,
        expected=("frame", "timber", "sided", "moulded"),
    )  # fmt: skip
    rows: list[FrameRow] = []
    bad: list[str] = []
    for cells in table.cells():
        label = cells.text("frame").strip()
        if not label:
            cells.complain("frame", "the frame's number or name")
        elif any(label == other.frame for other in rows):
            cells.complain("frame", "each frame once")
        lengths = {column: cells.length(column) for column in LENGTHS if cells.text(column).strip()}
        for column, (low, high) in LIMITS_MM.items():
            size = lengths.get(column)
            if size is not None and not low <= size <= high:
                cells.complain(column, f"a size of {low:g} to {high:g} mm")
        settings: dict[str, Any] = {
            f"{column}_mm": value for column, value in lengths.items() if column != "station" and value is not None
        }
        if cells.text("timber").strip():
            settings["timber"] = cells.text("timber").strip()
        if count := cells.text("count").strip():
            if count.isdecimal() and len(count) <= 3 and 2 <= int(count) <= MOST_LAMINATIONS:
                settings["count"] = int(count)
            else:
                cells.complain("count", f"a whole number of laminations, 2 to {MOST_LAMINATIONS}")
        for column in WRITTEN:
            if text := cells.text(column).strip():
                key = column if column in SETTINGS else f"{column}_mm"
                try:
                    settings[key] = read_setting(key, text, units)
                except BadLamination:
                    cells.complain(column, f"{SETTINGS[key].says}, written as {SETTINGS[key].example}")
        bad += cells.bad
        if not cells.bad:
            rows.append(FrameRow(label, lengths.get("station"), settings))
    return FramesReading(tuple(rows), tuple(bad), table.warnings)
