"""Boards to order for laminations that lie on none of the rack's."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from scrieve.stock.board import Board
from scrieve.stock.cutting import Piece, Stock, first_fit
from scrieve.stock.result import ORDER_LENGTH_STEP_MM, ORDER_YIELD, OWN_YIELD_FROM, Order, price_m3, rounded_up
from scrieve.stock.rip_kept import Ripped

#: Clear width of the boards that are asked for, where a lamination is not wider. Shop default, no source.
ORDER_CLEAR_MM = 200.0


def rip_orders(ripped: Ripped, boards: Sequence[Board]) -> tuple[Order, ...]:
    """Return what to order for the pieces of a plan of ripping that are short, by timber and thickness of board.

    The boards are as thick as the laminations are wide, as long as the longest piece and its trim, and clear over
    200 mm or the thickest strip; `count` of them hold all pieces, each first strip that holds it. Wany board is
    reckoned with the yield of the boards ripped, where three are, before that with 50 %; cost by what the rack's own
    boards of the timber cost.

    Parameters
    ----------
    ripped : Ripped
    boards : sequence of Board
        The rack, for costs and for the area of the boards ripped.
    """
    groups: dict[tuple[str, float], list[tuple[str, Piece]]] = defaultdict(list)
    for at, count in ripped.plan.plan.short:
        piece = ripped.plan.pieces[at]
        number = int(piece.name.removeprefix("order ").split(",")[0]) - 1
        order = ripped.orders[number]
        groups[order.timber, round(order.sawn_width_mm, 3)].append(
            (ripped.frames[number], Piece(piece.length_mm, count, piece.width_mm, piece.name))
        )
    share = _share(ripped, boards)
    return tuple(_order(timber, thick, own, ripped, boards, share) for (timber, thick), own in sorted(groups.items()))


def _share(ripped: Ripped, boards: Sequence[Board]) -> float:
    """Area of the pieces in that of the whole boards ripped, once enough are; else the shop's default."""
    area = {board.name: board.area_mm2 for board in boards}
    used = {ripped.plan.clear[one.stock].board for one in ripped.plan.plan.boards}
    if len(used) < OWN_YIELD_FROM or not used <= set(area):
        return ORDER_YIELD
    pieces = sum(
        ripped.plan.pieces[at].length_mm * strip.width_mm
        for one in ripped.plan.plan.boards
        for strip in one.strips
        for at in strip.pieces
    )
    return float(pieces / sum(area[name] for name in used))


def _order(
    timber: str, thick: float, own: Sequence[tuple[str, Piece]], ripped: Ripped, boards: Sequence[Board], share: float
) -> Order:
    pieces = [piece for _, piece in own]
    long = rounded_up(max(piece.length_mm for piece in pieces) + 2 * ripped.trim_mm, ORDER_LENGTH_STEP_MM)
    wide = max(ORDER_CLEAR_MM, *(piece.width_mm for piece in pieces))
    most = sum(piece.count for piece in pieces)
    plan = first_fit(pieces, [Stock(long - 2 * ripped.trim_mm, most, wide)], kerf_mm=ripped.kerf_mm)
    count = len(plan.boards)
    wanted = sum(piece.length_mm * piece.width_mm * piece.count for piece in pieces)
    area = max(wanted / share, count * long * wide) * 1e-6
    volume = area * thick * 1e-3
    price = price_m3(boards, timber)
    frames: dict[str, int] = defaultdict(int)
    for frame, piece in own:
        frames[frame] += piece.count
    told = tuple(f"frame {frame}: {number} pieces" for frame, number in frames.items())
    cost = None if price is None else price * volume
    return Order(timber, thick, long, wide, count, area, volume, share, told, price, cost)
