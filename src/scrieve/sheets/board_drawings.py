"""Drawings of boards: the board with its wane, grain and defects, the parts on it hatched, its off-cuts dashed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from shapely import Polygon, box

from scrieve.sheets.drawing import Array, Drawing, Hatch, HatchStyle, Item, Text, one_to, polyline, shorten
from scrieve.sheets.figures import sized
from scrieve.stock.board import Board, Defect, Points
from scrieve.stock.laying import Laying
from scrieve.stock.offcuts import OffCut
from scrieve.units import Units

#: Room on the page that a board is drawn for [mm]; its lettering is sized by it.
ROOM_MM = (240.0, 60.0)
_CAPITAL_MM = 3.2


def board_drawing(
    board: Board,
    laying: Laying | None = None,
    off_cuts: tuple[OffCut, ...] = (),
    *,
    units: Units = "mm",
    links: dict[str, str] | None = None,
    broken: Sequence[Points] = (),
    room: bool = False,
) -> Drawing:
    """Return a board as it lies with its top face up, first end to the left.

    Parameters
    ----------
    laying : Laying, optional
        With the parts that lie on it.
    off_cuts : tuple of OffCut
        Those kept of it.
    units : {'mm', 'ft'}
        For the lettering.
    links : mapping part -> address, optional
        Makes parts selectable.
    broken : sequence of outlines
        Where a rule is broken.
    room : bool
        With room round the board, in which a part may be moved without the drawing growing.
    """
    low, high = board.top.at(board.breaks)
    n = one_to(board.length_mm, float(high.max() - low.min()), ROOM_MM)
    letter = _CAPITAL_MM * n
    items: list[Item] = [polyline(_ring(board.face()), "BOARD", closed=True)]
    items.append(polyline([(0.0, 0.0), (board.length_mm, 0.0)], "DATUM LINE"))
    if board.under is not None:
        items.append(polyline(_ring(board.face(board.under)), "UNDER FACE", closed=True))
    if board.heart is not None:
        x = board.breaks
        for edge, wane in zip(board.heart.at(x), (low, high), strict=True):
            if np.abs(edge - wane).max() > 0.5:
                items.append(polyline(np.column_stack([x, np.clip(edge, low, high)]), "HEARTWOOD"))
    if board.grain:
        items.append(polyline(board.grain, "GRAIN"))
    for defect in board.defects:
        items += _defect(defect, n)
    for place in laying.on(board.name) if laying is not None else ():
        assert laying is not None
        part = laying.part(place.part)
        named = f"{place.part} (pair)" if part.book_matched else place.part
        items += _part(named, laying.outline(place), n, letter, (links or {}).get(place.part, ""), held=place.held)
    for one in (one for one in off_cuts if one.how != "resawn"):  # that one lies under its part
        ring = np.array(one.outline)
        items.append(polyline(ring, "OFF CUTS", closed=True, title=one.board.name))
        items.append(_lettering(one.board.name, ring, letter * 0.8, "FIGURES"))
    for outline in broken:
        ring = np.array(outline)
        items += [Hatch(ring, "cross", 0.8 * n, "DEFECTS"), polyline(ring, "JIG FACE", closed=True)]
    below = float(low.min()) - 1.6 * letter
    size = f"{sized(board.length_mm, units)} long, {sized(float((high - low).max()), units)} at the widest"
    items.append(Text((0.0, below), shorten(size, 60), letter * 0.8, level="top"))
    if room:
        more = max(0.3 * float(high.max() - low.min()), 3 * letter)
        corners = ((-more, float(low.min()) - more), (board.length_mm + more, float(high.max()) + more))
        items += [polyline([corner, corner], "GRID") for corner in corners]
    return Drawing(tuple(items), f"board {board.name}", n)


def _defect(defect: Defect, n: float) -> list[Item]:
    """Cross-hatched; a sound knot hatched one way; dashed where it shows on the under face alone."""
    shape = defect.region()
    if not isinstance(shape, Polygon) or shape.is_empty:
        return []
    ring = _ring(shape)
    word = f"{'sound ' if defect.sound else ''}{defect.kind}" + (f", {defect.face} face" * (defect.face != "through"))
    layer = "UNDER FACE" if defect.face == "under" else "DEFECTS"
    return [polyline(ring, layer, closed=True, title=word), Hatch(ring, "back" if defect.sound else "cross", 1.2 * n)]


def _part(name: str, outline: Points, n: float, letter: float, link: str, *, held: bool) -> list[Item]:
    ring = np.array(outline)
    line = polyline(ring, "SEAM EDGE", closed=True, link=link, title=name if link else "")
    # What the builder holds in place is hatched the other way.
    text = _lettering(name, ring, letter, "TEXT")
    style: HatchStyle = "back" if held else "diagonal"
    return [*(Hatch(piece, style, 2.5 * n) for piece in _round_text(ring, text)), line, text]


def _round_text(ring: Array, text: Text) -> list[Array]:
    """Return what is hatched of a ring, so that no hatching runs through the text: rings left, right, over, under."""
    room = 0.4 * text.height_mm
    (left, low), (right, high) = text.corners().min(axis=0) - room, text.corners().max(axis=0) + room
    (x0, y0), (x1, y1) = ring.min(axis=0), ring.max(axis=0)
    shape = Polygon(ring).buffer(0.0)
    found: list[Array] = []
    for a, b, c, d in ((x0, y0, left, y1), (right, y0, x1, y1), (left, high, right, y1), (left, y0, right, low)):
        part = shape.intersection(box(a, b, c, d)) if c > a and d > b else Polygon()
        pieces = getattr(part, "geoms", (part,))
        found += [_ring(piece) for piece in pieces if isinstance(piece, Polygon) and not piece.is_empty]
    return found


def _lettering(name: str, ring: Array, height: float, layer: str) -> Text:
    """Return a name within a ring, smaller where the ring is short."""
    left, low = ring.min(axis=0)
    right, high = ring.max(axis=0)
    text = shorten(name, 24)
    inside = Polygon(ring).representative_point()
    fits = 0.9 * float(right - left) / max(len(text), 1)
    level = float(inside.y) if high - low > 3 * height else float((low + high) / 2)
    return Text((float(left + right) / 2, level), text, min(height, fits), layer, "middle", "middle")


def _ring(shape: Polygon) -> Array:
    return np.asarray(shape.exterior.coords)[:-1]
