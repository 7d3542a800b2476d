"""The boards file: a stack of boards, their wany edges, grain and defects; every bad cell named at once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, get_args

from scrieve.errors import BadBoard
from scrieve.stock.board import SHAKE_WIDTH_MM, Board, Defect, DefectKind, Edges, Face, rectangular
from scrieve.takeoff.columns import Cells, open_table
from scrieve.takeoff.tables import A_DATE, Given

REQUIRED = ("board", "kind")
LENGTHS = ("length", "width", "thickness", "x", "y", "lower", "upper", "across")
OTHERS = ("mark", "face", "sound", "cost", "timber", "note")
EDGES = {"top": "top", "under": "under", "heart": "heart", "edge": "top", "edges": "top"}
DEFECTS: tuple[str, ...] = get_args(DefectKind)
KINDS = ("board", "top", "under", "heart", "grain", *DEFECTS)
_SAME = {"name": "board", "what": "kind", "size": "across", "best_face": "face", "species": "timber", "price": "cost"}
_YES = {"yes": True, "y": True, "sound": True, "no": False, "n": False, "": False}
_FACES = {"top": "top", "under": "under", "both": "through", "through": "through", "": "through"}


@dataclass(frozen=True, slots=True)
class BoardsReading:
    """What a boards file holds: its good boards, one text per bad cell or board, and what to look at besides."""

    boards: tuple[Board, ...]
    bad: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(slots=True)
class _Heap:
    """The rows of one board so far."""

    name: str
    line: int
    head: dict[str, Any] | None = None
    edges: dict[str, list[tuple[float, float, float]]] = field(default_factory=dict)
    grain: list[tuple[float, float]] = field(default_factory=list)
    defects: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)


def read_boards(data: Given, name: str, *, units: str = "mm") -> BoardsReading:
    """Read a boards file: any number of boards, as they were measured in the rack.

    Parameters
    ----------
    data : bytes or Table
        A CSV or XLSX file with the columns of docs/boards.md, "The boards file".
    name : str
        The file's name, for the messages.
    units : {'mm', 'cm', 'm', 'in', 'ft'}
        Unit of bare numbers under a head without a unit.

    Raises
    ------
    BadMarks
        The file is no table, has no rows, or lacks a required column.
    BadLength
        `units` is not a known unit.
    """
    table = open_table(
        data, name, required=REQUIRED, lengths=LENGTHS, others=OTHERS, same=_SAME, units=units,
        expected=("board", "kind", "length", "thickness", "x", "lower", "upper"),
    )  # fmt: skip
    heaps: dict[str, _Heap] = {}
    bad: list[str] = []
    spoilt: set[str] = set()
    for cells in table.cells():
        called = cells.text("board").removesuffix(A_DATE)
        if not called:
            cells.complain("board", "the board's name, in every row")
        heap = heaps.setdefault(called, _Heap(called, cells.row.line))
        _row(heap, cells)
        if cells.bad:
            bad += cells.bad
            spoilt.add(called)
    boards = []
    for heap in heaps.values():
        if heap.name in spoilt:
            continue
        try:
            boards.append(_made(heap))
        except BadBoard as error:
            bad.append(f"{name} line {heap.line}: {error}")
    return BoardsReading(tuple(boards), tuple(bad), table.warnings)


def _row(heap: _Heap, cells: Cells) -> None:
    kind = cells.text("kind").lower()
    if kind == "board":
        _head(heap, cells)
    elif kind in EDGES:
        values = [_needed(cells, column) for column in ("x", "lower", "upper")]
        if None not in values:
            heap.edges.setdefault(EDGES[kind], []).append(tuple(values))  # type: ignore[arg-type]
    elif kind == "grain":
        x, y = _needed(cells, "x"), _needed(cells, "y")
        if x is not None and y is not None:
            heap.grain.append((x, y))
    elif kind in DEFECTS:
        _defect(heap, cells, kind)
    else:
        cells.complain("kind", f"one of {', '.join(KINDS)}")


def _head(heap: _Heap, cells: Cells) -> None:
    if heap.head is not None:
        cells.complain("board", f"one row of kind board for each; {heap.name!r} had one before")
        return
    found = {column: _needed(cells, column) for column in ("length", "thickness")}
    found["width"] = cells.length("width") if cells.text("width") else None
    for column, value in found.items():
        if value is not None and value <= 0:
            cells.complain(column, "a length above zero")
    face = cells.text("face").lower()
    if face not in ("", "top", "under"):
        cells.complain("face", "the best face, top or under; empty where both are alike")
    heap.head = {
        **found,
        "best_face": face,
        "cost": _money(cells),
        "timber": cells.text("timber").removesuffix(A_DATE).lower(),
        "note": cells.text("note").removesuffix(A_DATE),
    }


def _defect(heap: _Heap, cells: Cells, kind: str) -> None:
    x, y = _needed(cells, "x"), _needed(cells, "y")
    across = cells.length("across") if cells.text("across") else None
    if across is not None and across <= 0:
        cells.complain("across", "a length above zero")
    face, sound = cells.text("face").lower(), cells.text("sound").lower()
    if face not in _FACES:
        cells.complain("face", "top, under, or both; empty for both")
    if sound not in _YES:
        cells.complain("sound", "yes or no; empty for no")
    if cells.bad or x is None or y is None:
        return
    # Rows of one mark are one defect; without a mark each row is its own.
    mark = cells.text("mark").removesuffix(A_DATE) or f"line {cells.row.line}"
    own = heap.defects.setdefault((kind, mark), {"points": [], "across": 0.0, "face": _FACES[face], "sound": False})
    own["points"].append((x, y))
    own["across"] = max(own["across"], across or 0.0)
    own["sound"] = own["sound"] or _YES[sound]
    own["note"] = cells.text("note").removesuffix(A_DATE) or own.get("note", "")


def _needed(cells: Cells, column: str) -> float | None:
    if column not in cells.columns.places:
        cells.complain(column, f"a column {column}: rows of kind {cells.text('kind') or '(none)'} need it")
        return None
    return cells.length(column)


def _money(cells: Cells) -> float | None:
    text = cells.text("cost")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not (math.isfinite(value) and value >= 0):
        cells.complain("cost", "a plain number such as 85.50, without the sign of the money")
        return None
    return value


def _made(heap: _Heap) -> Board:
    called, head = f"board {heap.name!r}", heap.head
    if head is None:
        raise BadBoard(f"{called} has no row of kind board; one such row gives its length and thickness.")
    length, width = head["length"], head["width"]
    edges = {what: _edges(rows) for what, rows in heap.edges.items()}
    if width is not None and "top" in edges:
        raise BadBoard(f"{called}: a width and rows of its edges too; give one or the other.")
    if width is None and "top" not in edges:
        raise BadBoard(f"{called}: neither a width nor rows of kind top; give the width of a square-edged board, or "
                       "its edges along the datum line.")  # fmt: skip
    more = {
        "under": edges.get("under"),
        "heart": edges.get("heart"),
        "defects": tuple(_shape(kind, own, called) for (kind, _), own in heap.defects.items()),
        "grain": tuple(heap.grain),
        **{key: head[key] for key in ("best_face", "cost", "timber", "note")},
    }
    if width is not None:
        board = rectangular(heap.name, length, width, head["thickness"], **more)
    else:
        board = Board(heap.name, length, head["thickness"], edges["top"], **more)
    _on_it(board, called)
    return board


def _edges(rows: Sequence[tuple[float, float, float]]) -> Edges:
    x, lower, upper = zip(*rows, strict=True)
    return Edges(x, lower, upper)


def _shape(kind: str, own: dict[str, Any], called: str) -> Defect:
    points, across = tuple(own["points"]), own["across"]
    closed = kind != "shake" and len(points) > 2
    if kind == "shake" and across == 0:
        across = SHAKE_WIDTH_MM
    if not closed and across == 0:
        at = points[0][0]
        raise BadBoard(f"{called}: the {kind} {at:g} mm along has no size; give it under across, or three corners or "
                       "more under one mark.")  # fmt: skip
    face: Face = own["face"]
    return Defect(kind, points, across, closed, face, own["sound"], own.get("note", ""))  # type: ignore[arg-type]


def _on_it(board: Board, called: str) -> None:
    """Refuse a defect that lies quite off its board: a slip of the pen."""
    face = board.face()
    for defect in board.defects:
        if not defect.region().intersects(face):
            x, y = defect.points[0]
            raise BadBoard(f"{called}: the {defect.kind} {x:g} mm along, {y:g} mm from the datum line lies off the "
                           "board; look at its x and y.")  # fmt: skip


def mapping_of(board: Board) -> dict[str, Any]:
    """Return a board as plain values, as it is kept."""

    def points(given: Sequence[tuple[float, float]]) -> list[list[float]]:
        return [[float(x), float(y)] for x, y in given]

    def edges(given: Edges | None) -> dict[str, list[float]] | None:
        if given is None:
            return None
        return {"x_mm": [*given.x_mm], "lower_mm": [*given.lower_mm], "upper_mm": [*given.upper_mm]}

    return {
        "name": board.name, "length_mm": board.length_mm, "thickness_mm": board.thickness_mm,
        "top": edges(board.top), "under": edges(board.under), "heart": edges(board.heart),
        "defects": [
            {"kind": one.kind, "points": points(one.points), "across_mm": one.across_mm, "closed": one.closed,
             "face": one.face, "sound": one.sound, "note": one.note}
            for one in board.defects
        ],
        "grain": points(board.grain), "best_face": board.best_face, "cost": board.cost, "timber": board.timber,
        "note": board.note,
    }  # fmt: skip


def board_from(mapping: dict[str, Any]) -> Board:
    """Return the board kept as `mapping`.

    Raises
    ------
    BadBoard
        A value is missing or cannot be.
    """

    def edges(given: dict[str, Any] | None) -> Edges | None:
        if given is None:
            return None
        x, lower, upper = (tuple(float(v) for v in given[key]) for key in ("x_mm", "lower_mm", "upper_mm"))
        return Edges(x, lower, upper)

    def points(given: Sequence[Sequence[float]]) -> tuple[tuple[float, float], ...]:
        return tuple((float(x), float(y)) for x, y in given)

    try:
        top = edges(mapping["top"])
        assert top is not None
        return Board(
            str(mapping["name"]), float(mapping["length_mm"]), float(mapping["thickness_mm"]), top,
            under=edges(mapping.get("under")), heart=edges(mapping.get("heart")),
            defects=tuple(Defect(**{**one, "points": points(one["points"])}) for one in mapping.get("defects", ())),
            grain=points(mapping.get("grain", ())), best_face=mapping.get("best_face", ""), cost=mapping.get("cost"),
            timber=mapping.get("timber", ""), note=mapping.get("note", ""),
        )  # fmt: skip
    except (KeyError, TypeError, AssertionError) as error:
        raise BadBoard(f"board {mapping.get('name')!r} is kept incompletely ({error}); add it again.") from error
