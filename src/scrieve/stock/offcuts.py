"""Off-cuts: what is left of a board once its parts are sawn out, kept as boards of their own with names derived."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from shapely import Polygon, box

from scrieve.stock.board import Board, Defect, Edges, Points, edges_of_shape
from scrieve.stock.laying import Keep
from scrieve.stock.parts import Rules
from scrieve.stock.poses import Saw
from scrieve.stock.ripping import clear_pieces

#: From one board no more straight-edged pieces than this are kept.
MOST_STRIPS = 3
#: So much is left off each end of a slab, where a turned part comes to a point [mm].
_SLAB_END_MM = 1.0

#: How an off-cut comes off its board: sawn square across it, with both its edges; a straight-edged piece clear of
#: defects, from beside the parts; or what is left of the thickness where a part is resawn, with the part's own outline.
How = Literal["across", "beside", "resawn"]


@dataclass(frozen=True, slots=True)
class OffCut:
    """A piece left of a board: the board it becomes, its corners on the board it comes from, and how it comes off."""

    board: Board
    outline: Points
    how: How


def off_cuts(
    board: Board,
    shapes: Sequence[Polygon],
    *,
    saw: Saw,
    keep: Keep,
    names: Collection[str] = (),
    left_mm: Sequence[float] = (),
) -> tuple[OffCut, ...]:
    """Return what is worth keeping of a board: longest lengths sawn across, straight pieces from beside, then slabs.

    Parameters
    ----------
    board : Board
    shapes : sequence of Polygon
        The parts as they lie on it.
    left_mm : sequence of float
        For each part how much of the thickness is left where it is resawn; 0 where it is planed.
    saw, keep
        Room for the saw; the least length and width that is kept.
    names : collection of str
        Names taken already.
    """
    if not shapes:
        return ()
    found: list[tuple[Board, Points, How]] = []
    taken = [(shape.bounds[0] - saw.apart_mm, shape.bounds[2] + saw.apart_mm) for shape in shapes]
    gone = list(shapes)
    for first, last in _gaps(taken, board.length_mm):
        piece = cropped(board, first, last, board.name) if last - first >= keep.length_mm else None
        if piece is not None and piece.area_mm2 / piece.length_mm >= keep.width_mm:
            found.append((piece, tuple((x + first, y) for x, y in piece.face().exterior.coords[:-1]), "across"))
            gone.append(box(first, -1e6, last, 1e6))
    bites = tuple(
        Defect("bite", tuple(map(tuple, np.array(shape.exterior.coords)[:-1].tolist())), closed=True) for shape in gone
    )
    rules = Rules(grain_limit_rad=None, edge_margin_mm=0.0, defect_margin_mm=saw.apart_mm)
    left = replace(board, defects=(*board.defects, *bites))
    for clear in clear_pieces(left, board.thickness_mm, rules=rules, least_length_mm=keep.length_mm,
                              least_width_mm=keep.width_mm, most=MOST_STRIPS):  # fmt: skip
        width = clear.upper_mm - clear.lower_mm
        edges = Edges((0.0, clear.length_mm), (0.0, 0.0), (width, width))
        grain = tuple((x - clear.first_mm, y - clear.lower_mm) for x, y in board.grain)
        piece = replace(board, length_mm=clear.length_mm, top=edges, under=None, heart=None, defects=(), grain=grain)
        corners = box(clear.first_mm, clear.lower_mm, clear.last_mm, clear.upper_mm)
        found.append((piece, tuple(map(tuple, np.array(corners.exterior.coords)[:-1].tolist())), "beside"))
    for shape, thick in zip(shapes, left_mm, strict=False):
        slab = _slab(board, shape, thick, keep) if thick > 0 else None
        if slab is not None:
            found.append((slab, tuple(map(tuple, np.array(shape.exterior.coords)[:-1].tolist())), "resawn"))
    used = set(names)
    out = []
    for piece, outline, how in found:
        name = _name(board.name, used)
        used.add(name)
        cost = None if board.cost is None else round(board.cost * piece.volume_m3 / board.volume_m3, 2)
        out.append(OffCut(replace(piece, name=name, cost=cost, note=f"off {board.name}"), outline, how))
    return tuple(out)


def _slab(board: Board, shape: Polygon, thickness_mm: float, keep: Keep) -> Board | None:
    """Return what is left of the thickness under a part that is sawn to its outline and then resawn, if worth keeping.

    A defect of the board is taken to go through it, whichever face it showed on.
    """
    first, last = shape.bounds[0] + _SLAB_END_MM, shape.bounds[2] - _SLAB_END_MM
    sound = shape.intersection(box(first, -1e7, last, 1e7)).intersection(board.face())
    if board.under is not None:
        sound = sound.intersection(board.face(board.under))
    if not isinstance(sound, Polygon) or sound.is_empty:
        return None
    first, last = sound.bounds[0], sound.bounds[2]
    if last - first < keep.length_mm or sound.area / (last - first) < keep.width_mm:
        return None
    piece = cropped(board, first, last, board.name)
    moved = Polygon(np.array(sound.exterior.coords) - [first, 0.0])
    edges, bites = edges_of_shape(moved, last - first)
    defects = tuple(replace(one, face="through") for one in piece.defects if one.region().intersects(moved))
    return replace(piece, thickness_mm=thickness_mm, top=edges, under=None, defects=(*defects, *bites), best_face="")


def cropped(board: Board, first_mm: float, last_mm: float, name: str) -> Board:
    """Return the length of a board between two cuts square across it, with what lies on it; its x begins at the cut.

    Raises
    ------
    BadBoard
        The cuts do not lie one past the other.
    """

    def edges(given: Edges | None) -> Edges | None:
        if given is None:
            return None
        x = np.array([first_mm, *(x for x in given.x_mm if first_mm < x < last_mm), last_mm])
        low, high = given.at(x)
        return Edges(tuple((x - first_mm).tolist()), tuple(low.tolist()), tuple(high.tolist()))

    window = box(first_mm, -1e7, last_mm, 1e7)
    defects = tuple(
        replace(one, points=tuple((x - first_mm, y) for x, y in one.points))
        for one in board.defects
        if one.region().intersects(window)
    )
    grain = tuple((x - first_mm, y) for x, y in board.grain)
    top = edges(board.top)
    assert top is not None
    return replace(board, name=name, length_mm=last_mm - first_mm, top=top, under=edges(board.under),
                   heart=edges(board.heart), defects=defects, grain=grain)  # fmt: skip


def _gaps(taken: Sequence[tuple[float, float]], length: float) -> list[tuple[float, float]]:
    """Return the lengths of a board over which nothing lies, longest first."""
    merged: list[list[float]] = [[-1.0, 0.0]]
    for first, last in sorted(taken):
        if first <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], last)
        else:
            merged.append([first, last])
    ends = [*merged, [length, length]]
    gaps = [(max(a[1], 0.0), min(b[0], length)) for a, b in pairwise(ends)]
    return sorted((gap for gap in gaps if gap[1] > gap[0]), key=lambda gap: gap[0] - gap[1])


def _name(parent: str, used: Collection[str]) -> str:
    """Return the parent's name with the first letter that is free: B2 a, B2 b ...

    Examples
    --------
    >>> _name("B2", {"B2", "B2 a"}), _name("B2 a", {"B2 a"})
    ('B2 b', 'B2 a/a')
    """
    joint = "/" if " " in parent else " "
    number = 0
    while True:
        letters = chr(ord("a") + number % 26) * (number // 26 + 1)
        if (name := f"{parent}{joint}{letters}") not in used:
            return name
        number += 1
