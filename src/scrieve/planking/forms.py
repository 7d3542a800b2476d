"""The files of planking: seams of a strake, and marks on a spiling batten; every bad cell named at once."""

from __future__ import annotations

from dataclasses import dataclass

from scrieve.errors import BadMarks
from scrieve.planking.choice import Edge, SeamMark, SpilingBatten, SpilingMark
from scrieve.takeoff.columns import Cells, open_table
from scrieve.takeoff.tables import A_DATE

SEAM_VALUES = ("height", "half_breadth", "girth")
SPILING_KINDS = ("offset", "block", "arc", "width", "nail")

_EDGES: dict[str, Edge] = {"lower": "lower", "l": "lower", "upper": "upper", "u": "upper"}
_SIDES = {"above": 1, "up": 1, "+": 1, "below": -1, "down": -1, "-": -1}
_SAME = {"halfbreadth": "half_breadth", "radius": "opening", "block": "opening", "width": "opening", "mark": "point"}


@dataclass(frozen=True, slots=True)
class SeamsReading:
    """What a seams file holds: the marks of its good rows, one text per bad cell, and what to look at besides."""

    lower: tuple[SeamMark, ...]
    upper: tuple[SeamMark, ...]
    bad: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SpilingReading:
    """What a spiling file holds: the marks of its good rows, one text per bad cell, and what to look at besides."""

    batten: SpilingBatten
    bad: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def read_seams(data: bytes, name: str, *, units: str = "mm") -> SeamsReading:
    """Read a seams file: the two seams of one strake.

    Parameters
    ----------
    data : bytes
        A CSV or XLSX file with the columns of docs/planking-formats.md, "The seams file".
    name : str
        The file's name, for the messages.
    units : {'mm', 'cm', 'm', 'in', 'ft'}
        Unit of bare numbers under a head without a unit.

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks a required column.
    """
    table = open_table(
        data, name, required=("edge",), lengths=("station", *SEAM_VALUES), others=("frame", "note"), same=_SAME,
        units=units, expected=("frame", "edge", "height"),
    )  # fmt: skip
    columns = table.columns
    if not {"frame", "station"} & set(columns.places):
        raise BadMarks(f"{name}: no column frame or station; one of them says where each mark of a seam lies.")
    if not set(SEAM_VALUES) & set(columns.places):
        raise BadMarks(f"{name}: no column height, half_breadth or girth; one of them says where each seam lies.")
    marks: dict[Edge, list[SeamMark]] = {"lower": [], "upper": []}
    bad: list[str] = []
    for cells in table.cells():
        frame, station = _where(cells)
        edge = _EDGES.get(cells.text("edge").lower())
        if edge is None:
            cells.complain("edge", "lower or upper")
        given = [column for column in SEAM_VALUES if cells.text(column)]
        if len(given) != 1:
            first = next(column for column in SEAM_VALUES if column in columns.places)
            cells.complain(given[1] if given else first, "one height, half_breadth or girth in each row")
        value = cells.length(given[0]) if len(given) == 1 else None
        if value is not None and value < 0 and given[0] != "height":
            cells.complain(given[0], "a length not below zero")
        bad += cells.bad
        if not cells.bad and edge is not None and value is not None:
            marks[edge].append(SeamMark(value, given[0], frame, station))  # type: ignore[arg-type]
    return SeamsReading(tuple(marks["lower"]), tuple(marks["upper"]), tuple(bad), table.warnings)


def read_spiling(data: bytes, name: str, *, units: str = "mm") -> SpilingReading:
    """Read a spiling file: the marks on one spiling batten.

    Parameters
    ----------
    data : bytes
        A CSV or XLSX file with the columns of docs/planking-formats.md, "The spiling file".
    name, units
        As in `read_seams`.

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks a required column.
    """
    table = open_table(
        data, name, required=("edge", "x"), lengths=("x", "y", "opening"),
        others=("frame", "kind", "side", "point", "note"), same=_SAME, units=units,
        expected=("frame", "edge", "kind", "x", "y", "opening"),
    )  # fmt: skip
    marks: list[SpilingMark] = []
    bad: list[str] = []
    for cells in table.cells():
        mark = _spiling_mark(cells)
        bad += cells.bad
        if mark is not None and not cells.bad:
            marks.append(mark)
    return SpilingReading(SpilingBatten(tuple(marks)), tuple(bad), table.warnings)


def _spiling_mark(cells: Cells) -> SpilingMark | None:
    kind = cells.text("kind").lower() if "kind" in cells.columns.places else "offset"
    edge = _EDGES.get(cells.text("edge").lower() or ("lower" if kind == "nail" else ""))  # a nail lies on neither
    if edge is None:
        cells.complain("edge", "lower or upper")
    if kind not in SPILING_KINDS:
        cells.complain("kind", "offset, block, arc, width or nail")
    x = cells.length("x")
    y = _given(cells, "y", needed=kind in ("offset", "block", "arc", "nail"))
    opening = _given(cells, "opening", needed=kind in ("block", "arc", "width"))
    if kind in ("block", "arc", "width") and opening is not None and opening <= 0:
        cells.complain("opening", "a length above zero: the block's width, the compass opening or the plank's width")
    if kind == "width" and edge == "lower":
        cells.complain("edge", "upper: a width is set off from the lower edge to the upper")
    side = cells.text("side").lower()
    if side and side not in _SIDES:
        cells.complain("side", "above or below: where the plank's edge lies from the mark; empty: the edge's own side")
    if cells.bad or edge is None or x is None:
        return None
    return SpilingMark(
        frame=cells.text("frame"), edge=edge, kind=kind,  # type: ignore[arg-type]
        x_mm=x, y_mm=y or 0.0, opening_mm=opening or 0.0,
        side=_SIDES.get(side, 1 if edge == "upper" else -1),  # type: ignore[arg-type]
        point=cells.text("point").removesuffix(A_DATE), line=cells.row.line,
    )  # fmt: skip


def _given(cells: Cells, column: str, *, needed: bool) -> float | None:
    if column not in cells.columns.places:
        if needed:
            cells.complain(column, f"a column {column}: rows of kind {cells.text('kind')} need it")
        return None
    return cells.length(column) if needed or cells.text(column) else None


def _where(cells: Cells) -> tuple[str, float | None]:
    frame = cells.text("frame")
    if frame.endswith(A_DATE):
        cells.complain("frame", "the frame's number or name, as text")
    station = cells.length("station") if cells.text("station") else None
    if not frame and station is None and not cells.bad:
        cells.complain("frame" if "frame" in cells.columns.places else "station", "the frame, or its station")
    return frame, station
