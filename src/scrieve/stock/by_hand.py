"""By hand: one part moved on the boards by the builder, held against the rules at once, put, taken off, put back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scrieve.errors import BadBoard
from scrieve.stock.board import Board
from scrieve.stock.check import Breach, breaches, placed
from scrieve.stock.laying import Laying, Placement
from scrieve.stock.parts import Part
from scrieve.stock.placing import Rack, nearest_place
from scrieve.stock.poses import Lie, laid
from scrieve.units import Units

#: Cells on which the nearest clear place is looked for [mm].
FINE_CELL_MM = 10.0


def breaches_of(laying: Laying, one: Placement, *, units: Units = "mm") -> tuple[Breach, ...]:
    """Return every rule that a part breaks where it lies, or would lie, among the others on its board.

    Raises
    ------
    BadBoard
        There is no such part or board.
    """
    board, part = _board(laying, one.board), _known(laying, one.part)
    others = [(other.part, placed(laying.part(other.part), other.lie, other.x_mm, other.y_mm))
              for other in laying.on(one.board) if other.part != one.part]  # fmt: skip
    return breaches(board, part, one.lie, one.x_mm, one.y_mm, others=others, saw=laying.saw, units=units)


def put(laying: Laying, one: Placement) -> Laying:
    """Return the laying with a part put where the builder wants it, and held there.

    Raises
    ------
    BadBoard
        No saw could cut it there: it lies over a neighbour or off the board, or the board is too thin.
    """
    no = [breach for breach in breaches_of(laying, one) if not breach.sawable]
    if no:
        raise BadBoard(f"{one.part} cannot be cut there: {no[0].text}")
    rest = tuple(other for other in laying.placements if other.part != one.part)
    missing = tuple(name for name in laying.missing if name != one.part)
    return replace(laying, placements=(*rest, replace(one, held=True)), missing=missing)


def taken_off(laying: Laying, part: str) -> Laying:
    """Return the laying with a part off its board, waiting for a place."""
    rest = tuple(one for one in laying.placements if one.part != part)
    if len(rest) == len(laying.placements):
        raise BadBoard(f"{part!r} lies on no board.")
    laid = {one.part for one in rest}
    return replace(laying, placements=rest, missing=tuple(p.name for p in laying.parts if p.name not in laid))


def corner(part: Part, one: Placement) -> tuple[float, float]:
    """Return where a part begins along its board and how low it reaches, as the cutting list has it [mm]."""
    low = laid(part.outline, one.lie, one.x_mm, one.y_mm).min(axis=0)
    return float(low[0]), float(low[1])


def at_corner(part: Part, one: Placement, first_mm: float, lowest_mm: float) -> Placement:
    """Return a place turned as it is, but beginning at `first_mm` and reaching down to `lowest_mm`."""
    first, lowest = corner(part, one)
    return replace(one, x_mm=one.x_mm + first_mm - first, y_mm=one.y_mm + lowest_mm - lowest)


def turned(part: Part, one: Placement, lie: Lie) -> Placement:
    """Return a place with the part lying otherwise, about the middle of the room it takes up."""
    before, after = (laid(part.outline, own) for own in (one.lie, lie))
    shift = (before.min(axis=0) + before.max(axis=0) - after.min(axis=0) - after.max(axis=0)) / 2
    return replace(one, lie=lie, x_mm=one.x_mm + float(shift[0]), y_mm=one.y_mm + float(shift[1]))


def let_go(laying: Laying) -> Laying:
    """Return the laying with nothing held: the next search may lay every part anew."""
    return replace(laying, placements=tuple(replace(one, held=False) for one in laying.placements))


def nearest(laying: Laying, one: Placement) -> Placement | None:
    """Return the clear place nearest to where a part lies, turned as it is; None where the board offers none."""
    board, part = _board(laying, one.board), _known(laying, one.part)
    others = [placed(laying.part(other.part), other.lie, other.x_mm, other.y_mm)
              for other in laying.on(one.board) if other.part != one.part]  # fmt: skip
    rack = Rack([board], [part], laying.saw, FINE_CELL_MM, {0: others}, (one.lie.angle_rad,))
    found = nearest_place(rack, 0, 0, one.lie, one.x_mm, one.y_mm)
    return None if found is None else replace(one, x_mm=found[0], y_mm=found[1])


def held(laying: Laying | None, boards: Sequence[Board], parts: Sequence[str]) -> tuple[Placement, ...]:
    """Return what the builder holds in place, of the boards and parts that there still are."""
    names = {board.name for board in boards}
    return tuple(one for one in (laying.placements if laying else ())
                 if one.held and one.board in names and one.part in parts)  # fmt: skip


def _board(laying: Laying, name: str) -> Board:
    found = next((board for board in laying.boards if board.name == name), None)
    if found is None:
        raise BadBoard(f"board {name!r} is not in the rack.")
    return found


def _known(laying: Laying, name: str) -> Part:
    found = next((part for part in laying.parts if part.name == name), None)
    if found is None:
        raise BadBoard(f"{name!r} is not to be cut.")
    return found
