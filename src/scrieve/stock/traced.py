"""Boards traced in a drawing: outline, under face, heartwood, grain, defects by layer; name, thickness lettered."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Point, Polygon

from scrieve.errors import BadBoard, BadLength
from scrieve.planking.tracing import Drawn
from scrieve.stock.board import SHAKE_WIDTH_MM, Board, Defect, DefectKind, Face, from_outline
from scrieve.stock.forms import BoardsReading
from scrieve.units import parse_length

Array = NDArray[np.float64]
Lettering = tuple[str, tuple[float, float]]

BOARD, UNDER, HEART, GRAIN = "BOARD", "UNDER FACE", "HEARTWOOD", "GRAIN"
#: Layers of defects: the kind, and whether a knot is sound.
DEFECTS: dict[str, tuple[DefectKind, bool]] = {
    "KNOT": ("knot", False), "SOUND KNOT": ("knot", True), "SHAKE": ("shake", False), "ROT": ("rot", False),
    "BITE": ("bite", False),
}  # fmt: skip
_FACES: dict[str, Face] = {"": "through", " TOP": "top", " UNDER": "under"}
#: Ends of a line nearer than this close it [mm].
MEET_MM = 0.5


def boards_of(
    drawn: Sequence[Drawn],
    texts: Sequence[Lettering],
    name: str,
    *,
    units: str = "mm",
    thickness_mm: float | None = None,
) -> BoardsReading:
    """Return the boards of a drawing, each with what lies on it.

    Parameters
    ----------
    drawn : sequence of Drawn
        Lines by layer [mm], as docs/boards.md tells under "A drawing of boards".
    texts : sequence of (text, place)
        Inside each outline `name; thickness; timber; cost 64; best face top`, all but the name may be left out.
    name : str
        Of the file, for the messages.
    units : {'mm', 'cm', 'm', 'in', 'ft'}
        Unit of a bare thickness.
    thickness_mm : float, optional
        Of boards whose lettering does not give it.
    """
    outlines = [one.points for one in drawn if _word(one.layer) == BOARD]
    bad: list[str] = []
    if not outlines:
        layers = ", ".join(sorted({one.layer for one in drawn})) or "none"
        return BoardsReading((), (f"{name}: no outline on layer BOARD; layers with lines are: {layers}.",))
    boards: list[Board] = []
    used: set[int] = set()
    for number, outline in enumerate(outlines, 1):
        called = f"{name}, outline {number}"
        try:
            found = _board(called, outline, drawn, texts, units, thickness_mm, used)
            if any(found.name == other.name for other in boards):
                raise BadBoard(f"{called}: a second board {found.name!r}; give each its own name.")
            boards.append(found)
        except (BadBoard, BadLength) as error:
            bad.append(str(error) if str(error).startswith(name) else f"{called}: {error}")
    left: dict[str, int] = {}
    for at, one in enumerate(drawn):
        if at not in used and _word(one.layer) != BOARD:
            left[one.layer] = left.get(one.layer, 0) + 1
    warnings = tuple(
        f"{name}: {count} line(s) on layer {layer!r} not read: {_why(layer)}." for layer, count in sorted(left.items())
    )
    return BoardsReading(tuple(boards), tuple(bad), warnings)


def _why(layer: str) -> str:
    word = _word(layer)
    known = word in (UNDER, HEART, GRAIN) or _defect_layer(word) is not None
    return "they lie on no board" if known else "no layer that is read for boards"


def _board(called: str, outline: Array, drawn: Sequence[Drawn], texts: Sequence[Lettering], units: str,
           thickness_mm: float | None, used: set[int]) -> Board:  # fmt: skip
    if not _closed(outline):
        apart = float(np.hypot(*(outline[0] - outline[-1])))
        raise BadBoard(f"{called}: it is not closed; its ends lie {apart:.1f} mm apart.")
    shape = Polygon(outline)
    if not shape.is_valid or shape.area <= 0:
        raise BadBoard(f"{called}: it crosses itself or encloses nothing; draw it again.")
    words = [text for text, place in texts if shape.contains(Point(place))]
    if len(words) != 1:
        said = " and ".join(repr(word) for word in words) if words else "none"
        raise BadBoard(f"{called}: letter one name inside it, as in 'B2; 40 mm; larch'; found {said}.")
    more = _lettered(called, words[0], units, thickness_mm)
    under: Array | None = None
    heart, grain, defects = [], [], []
    for at, one in enumerate(drawn):
        word = _word(one.layer)
        if word == BOARD or not _on(shape, one.points):
            continue
        if word == UNDER:
            under = one.points
        elif word == HEART:
            heart.append(one.points)
        elif word == GRAIN:
            grain.append(one.points)
        elif (kind := _defect_layer(word)) is not None:
            defects.append(_defect(f"{called}, layer {one.layer!r}", one.points, *kind))
        else:
            continue
        used.add(at)
    if len(grain) > 1:
        raise BadBoard(f"{called}: {len(grain)} lines on layer GRAIN; draw one that follows the grain.")
    return from_outline(more.pop("name"), outline[:-1], more.pop("thickness_mm"), under=under, defects=defects,
                        heart=heart, grain=grain[0] if grain else (), **more)  # fmt: skip


def _lettered(called: str, text: str, units: str, thickness_mm: float | None) -> dict[str, Any]:
    """Return name, thickness, timber, cost and best face as they are lettered."""
    name, *rest = [word.strip() for word in text.split(";")]
    if not name:
        raise BadBoard(f"{called}: {text!r} gives no name; letter it first, as in 'B2; 40 mm; larch'.")
    found: dict[str, Any] = {"name": name, "thickness_mm": thickness_mm}
    for word in (word for word in rest if word):
        if match := re.fullmatch(r"cost\s+(\d+(?:\.\d+)?)", word, re.IGNORECASE):
            found["cost"] = float(match[1])
        elif match := re.fullmatch(r"best face\s+(top|under)", word, re.IGNORECASE):
            found["best_face"] = match[1].lower()
        elif word[0].isdigit():
            found["thickness_mm"] = parse_length(word, units)
        elif "timber" not in found:
            found["timber"] = word.lower()
        else:
            found["note"] = word
    if found["thickness_mm"] is None:
        raise BadBoard(f"{called}: {text!r} gives no thickness; letter it after the name, as in '{name}; 40 mm'.")
    return found


def _defect(called: str, points: Array, kind: DefectKind, sound: bool, face: Face) -> Defect:
    if _closed(points):
        ring = tuple((float(x), float(y)) for x, y in points[:-1])
        size = 2 * float(np.sqrt(Polygon(ring).area / np.pi))  # a sound knot is judged by the round of its area
        return Defect(kind, ring, size, closed=True, face=face, sound=sound)
    if kind != "shake":
        raise BadBoard(f"{called}: a {kind} is drawn closed, round what is bad; this is an open line or a point.")
    if len(points) < 2:
        raise BadBoard(f"{called}: a shake is a line; this is a point.")
    return Defect(kind, tuple((float(x), float(y)) for x, y in points), SHAKE_WIDTH_MM, face=face)


def _defect_layer(word: str) -> tuple[DefectKind, bool, Face] | None:
    for end, face in _FACES.items():
        if (kind := DEFECTS.get(word.removesuffix(end) if end else word)) is not None and word.endswith(end):
            return (*kind, face)
    return None


def _word(layer: str) -> str:
    return " ".join(re.split(r"[\s_-]+", layer.strip().upper()))


def _closed(points: Array) -> bool:
    return len(points) > 3 and bool(np.hypot(*(points[0] - points[-1])) <= MEET_MM)


def _on(shape: Polygon, points: Array) -> bool:
    return bool(shape.intersects(Point(points.mean(axis=0))) or shape.intersects(Point(points[0])))
